//! Rafts: layers that carry the part with air between, so that it comes off them.
//!
//! The first layer upon a raft lies as high above it as a layer and the air are together, with beads that fill a
//! layer alone: they seem too thin for its height. And a raft reaches out under the part on all sides. Where a
//! raft has no walls, its strokes tell (`class.rs`).

use super::grain::Grain;
use super::thins::Halves;
use super::{RAFT_LAYERS, Trail, Walls};

/// The layer upon a raft is so many times as high as the one below, at least, and its beads fill so much less of
/// it, at least (chosen: half a layer of air and more is common practice, no source).
const HIGHER: f64 = 1.2;
const THINNER: f64 = 0.8;

/// A raft has so many layers at least (chosen: a part's own first layer may have wide beads and reach out, too).
const FROM: u64 = 2;

impl Walls {
    /// Takes for rafts what the layer at hand stands on with air between; false where there is none.
    pub(super) fn find_rafts(&mut self, trail: &Trail) -> bool {
        if self.now.height < HIGHER * self.before.height || self.drawn > RAFT_LAYERS + 1 {
            return false;
        }
        let mut found = false;
        for index in 0..self.now.loops.len() {
            let raft = self
                .below(trail, index)
                .and_then(|below| self.raft(index, below));
            if let Some(region) = raft.and_then(|raft| self.regions.get_mut(raft)) {
                region.is_raft = true;
                found = true;
            }
        }
        if found {
            // What was told of strands and beads so far was the raft's.
            self.grain = Grain::default();
            self.halves = Halves::default();
            self.wide = (0.0, 0.0);
        }
        found
    }

    /// Whether a zone of the layer before is a raft's.
    pub(super) fn is_raft(&self, below: usize) -> bool {
        let region = self.known_before.get(below).and_then(|known| known.region);
        let region = region.and_then(|region| self.regions.get(region));
        region.is_some_and(|region| region.is_raft)
    }

    /// The region on which a loop lies with air between, and steps in all around; `below` is the loop within which
    /// it lies there.
    fn raft(&self, index: usize, below: usize) -> Option<usize> {
        // With air counted in, walls side by side seem apart: only what lies in no other is an outline for sure.
        let own = self.now.loops.get(index);
        let own = own.filter(|one| one.parent.is_none())?;
        let under = self.before.loops.get(below)?.root;
        let under = self.before.loops.get(under as usize)?;
        let index = self.known_before.get(below)?.region?;
        let region = self.regions.get(index)?;
        let ([first, last], [bottom, _]) = (region.laid?, region.z?);
        let has_air = own.bead <= THINNER * under.bead
            && (FROM..=RAFT_LAYERS).contains(&(last - first + 1))
            && bottom < self.before.height / 2.0;
        let [left, right, low, high] = own.path.bounds;
        let [far_left, far_right, far_low, far_high] = region.bounds?;
        let steps = [
            left - far_left,
            far_right - right,
            low - far_low,
            far_high - high,
        ];
        (has_air && steps.iter().all(|step| *step >= under.bead)).then_some(index)
    }
}
