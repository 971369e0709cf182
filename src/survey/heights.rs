//! The table of layer heights, coarsened past a cap.

use std::collections::BTreeSet;

/// The most heights kept one by one.
const CAP: usize = 1 << 16;

/// Heights closer than this are one layer, pm: a micrometre.
const GRAIN: i64 = 1_000_000;

/// The distinct heights at which the part was laid.
#[derive(Debug, Default)]
pub(super) struct Heights {
    seen: BTreeSet<i64>,
    is_full: bool,
}

impl Heights {
    pub(super) fn add(&mut self, z: i64) {
        let z = (z + GRAIN / 2).div_euclid(GRAIN);
        if self.seen.len() < CAP {
            self.seen.insert(z);
        } else if !self.seen.contains(&z) {
            self.is_full = true;
        }
    }

    /// The height next below `z`, pm; 0 where there is none.
    pub(super) fn below(&self, z: i64) -> i64 {
        let z = (z + GRAIN / 2).div_euclid(GRAIN);
        self.seen
            .range(..z)
            .next_back()
            .map_or(0, |below| below * GRAIN)
    }

    /// How many there are; None past the cap.
    pub(super) fn count(&self) -> Option<u64> {
        (!self.is_full).then_some(self.seen.len() as u64)
    }
}
