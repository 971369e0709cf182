//! The heights of the part's own layers.
//!
//! A layer's height in the survey is above whatever was laid before, a support of other heights
//! included; here it is above the part itself.

use crate::machine::MILLIMETRE;
use crate::survey::Layer;

/// Lower steps are no layers of their own: a path that follows a surface or a warped bed (chosen).
const LEAST: i64 = MILLIMETRE / 100;

/// Follows the part's layers.
#[derive(Debug, Default)]
pub(super) struct PartHeights {
    below: i64,
    recent: [i64; 3],
}

/// The height of one layer of the part, pm.
#[derive(Debug, Clone, Copy)]
pub(super) struct Height {
    /// Above the part's layer before it.
    pub own: i64,
    /// The least it may be, where layers of several heights are laid in turn.
    pub least: i64,
    /// The greatest it may be: then the layers just before were of that height.
    pub greatest: i64,
    /// Whether it lies on the bed.
    pub is_first: bool,
}

impl PartHeights {
    /// The height of the next layer; None where it holds no part or has no height of its own.
    pub fn next(&mut self, layer: &Layer) -> Option<Height> {
        layer.part().next()?;
        let own = if layer.number > 0 && layer.z > self.below {
            layer.z - self.below
        } else {
            // The first one, or the next of several objects.
            layer.height
        };
        self.below = layer.z;
        if own < LEAST {
            return None;
        }
        let [a, b, c] = self.recent;
        self.recent = [b, c, own];
        let above_all = if layer.is_rising || layer.height < LEAST {
            own
        } else {
            layer.height
        };
        let is_first = if layer.number == 0 {
            layer.stands_on_bed
        } else {
            own >= layer.z
        };
        Some(Height {
            own,
            least: own.min(above_all),
            greatest: if is_first {
                own
            } else {
                own.max(a).max(b).max(c)
            },
            is_first,
        })
    }
}
