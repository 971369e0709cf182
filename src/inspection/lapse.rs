//! How much time passes from laying one layer until the next is laid on it.
//!
//! A layer's own time counts, the way to it does not; ways, dwells and waits up to the layer that is
//! laid on it do, and so does all that is laid elsewhere meanwhile.

use crate::machine::Span;
use crate::survey::{Layer, Stroke};

/// The most layers that wait at a time: of several objects side by side with layers of their own.
const CAP: usize = 8;

struct Waiting<T> {
    z: i64,
    x: Span,
    y: Span,
    seconds: f64,
    what: T,
}

/// Layers that wait to be laid on.
pub(super) struct Lapses<T> {
    waiting: Vec<Waiting<T>>,
}

impl<T> Default for Lapses<T> {
    fn default() -> Self {
        Self {
            waiting: Vec::new(),
        }
    }
}

/// Seconds of a layer itself, the way to it left out.
pub(super) fn own_seconds(layer: &Layer) -> Option<f64> {
    Some(layer.pace?.seconds() - way_to(layer))
}

/// Seconds from the end of the layer before until this one begins.
fn way_to(layer: &Layer) -> f64 {
    let first = layer.strokes.first().and_then(|stroke| stroke.pace);
    first.map_or(0.0, |pace| pace.seconds() - pace.print)
}

fn bounds(layer: &Layer) -> Option<(Span, Span)> {
    let one = |stroke: &Stroke| (stroke.x, stroke.y);
    layer.part().map(one).reduce(|(x, y), (ox, oy)| {
        let both = |a: Span, b: Span| Span {
            least: a.least.min(b.least),
            most: a.most.max(b.most),
        };
        (both(x, ox), both(y, oy))
    })
}

fn meets(a: Span, b: Span) -> bool {
    a.least <= b.most && b.least <= a.most
}

impl<T> Lapses<T> {
    /// Takes a layer: `upon` is told of every layer that this one is laid on, with the seconds that
    /// passed; then this one waits as `what`, where that is wanted. A layer with nothing laid on it
    /// is never told of.
    pub fn take(&mut self, layer: &Layer, what: Option<T>, mut upon: impl FnMut(T, f64)) {
        let Some(pace) = layer.pace else { return };
        if self.waiting.is_empty() && what.is_none() {
            return;
        }
        let way = way_to(layer);
        let Some((x, y)) = bounds(layer) else {
            for waiting in &mut self.waiting {
                waiting.seconds += pace.seconds();
            }
            return;
        };
        for mut waiting in std::mem::take(&mut self.waiting) {
            let is_above = meets(waiting.x, x) && meets(waiting.y, y);
            if is_above && layer.z > waiting.z {
                upon(waiting.what, waiting.seconds + way);
            } else if !is_above || layer.z == waiting.z {
                waiting.seconds += pace.seconds();
                self.waiting.push(waiting);
            }
        }
        if let Some(what) = what {
            if self.waiting.len() >= CAP {
                self.waiting.remove(0);
            }
            self.waiting.push(Waiting {
                z: layer.z,
                x,
                y,
                seconds: pace.seconds() - way,
                what,
            });
        }
    }
}
