//! What stands on the bed: the beads of the part's first layers, and travel that goes through them.

use super::layer::Layer;
use super::stroke::Deposit;
use crate::machine::{MILLIMETRE, Motion, mm};

/// The most beads kept; past it nothing more is told.
const BEAD_CAP: usize = 1 << 16;

/// Beads looked at over a whole job, at most.
const LOOKS: usize = 1 << 26;

/// A travel goes through what stands higher than this above it, pm: more than beads that curl up or a
/// first layer's trim (chosen).
pub(super) const DEEPER: i64 = 3 * MILLIMETRE / 10;

/// A straight bead, and the stroke of its layer that it belongs to.
#[derive(Debug, Clone, Copy)]
pub(super) struct Laid {
    pub from: [i64; 2],
    pub to: [i64; 2],
    pub stroke: u32,
}

/// A bead that stands.
#[derive(Debug, Clone, Copy)]
struct Stands {
    from: [f64; 2],
    to: [f64; 2],
    top: i64,
}

/// The beads of the part's first layers.
#[derive(Debug)]
pub(super) struct Standing {
    beads: Vec<Stands>,
    /// Travel above this goes through nothing, pm.
    below: i64,
    looks: usize,
}

impl Default for Standing {
    fn default() -> Self {
        Self {
            beads: Vec::new(),
            below: i64::MIN,
            looks: LOOKS,
        }
    }
}

fn point(at: [i64; 2]) -> [f64; 2] {
    at.map(mm)
}

impl Standing {
    /// A layer is told apart: the part's beads of it stand from now on.
    pub fn build(&mut self, layer: &Layer) {
        for bead in &layer.beads {
            let stroke = layer.strokes.get(bead.stroke as usize);
            if stroke.is_some_and(|stroke| stroke.deposit == Deposit::Part)
                && self.beads.len() < BEAD_CAP
            {
                self.beads.push(Stands {
                    from: point(bead.from),
                    to: point(bead.to),
                    top: layer.z,
                });
                self.below = self.below.max(layer.z - DEEPER);
            }
        }
    }

    /// Nothing stands any more, or nobody knows what does.
    pub fn clear(&mut self) {
        self.beads.clear();
        self.below = i64::MIN;
    }

    /// Below which height a travel is worth a look, pm.
    pub const fn below(&self) -> i64 {
        self.below
    }

    /// How far below the top of what it goes through a level travel passes, mm; None where it goes
    /// through nothing.
    #[inline(never)]
    pub fn through(&mut self, motion: &Motion) -> Option<f64> {
        let ([fx, fy, fz], [tx, ty, tz]) = (motion.from, motion.to);
        if fz != tz || motion.is_arc || motion.filament > 0 || self.looks < self.beads.len() {
            return None;
        }
        self.looks -= self.beads.len();
        let (from, to) = (point([fx, fy]), point([tx, ty]));
        let deepest = self
            .beads
            .iter()
            .filter(|bead| bead.top - tz > DEEPER && crosses(from, to, bead.from, bead.to))
            .map(|bead| bead.top - tz)
            .max()?;
        Some(mm(deepest))
    }
}

/// Whether two stretches cross each other, touching left out.
fn crosses(a: [f64; 2], b: [f64; 2], c: [f64; 2], d: [f64; 2]) -> bool {
    let side = |from: [f64; 2], to: [f64; 2], at: [f64; 2]| {
        (to[0] - from[0]) * (at[1] - from[1]) - (to[1] - from[1]) * (at[0] - from[0])
    };
    side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
}
