//! Which way sparse infill runs, and whether its strands stand on each other.

use std::collections::HashSet;
use std::f64::consts::PI;

/// Directions are told apart by this many parts of half a turn: 15°.
const PARTS: usize = 12;

/// A direction counts from this share of the strands on (chosen).
const SHARE: f64 = 0.15;

/// Strands stand on each other where this share of them does (chosen).
const STANDS: f64 = 0.5;

/// The most strands kept of one layer.
const CAP: usize = 1 << 14;

/// Strands so far.
#[derive(Debug, Default)]
pub(super) struct Grain {
    length: [f64; PARTS],
    stands: f64,
    now: HashSet<(usize, i64)>,
    before: HashSet<(usize, i64)>,
}

impl Grain {
    /// A layer begins.
    pub fn begin(&mut self) {
        std::mem::swap(&mut self.now, &mut self.before);
        self.now.clear();
    }

    /// A straight strand: a point on it, its direction, its length and its bead, mm.
    pub fn strand(&mut self, at: [f64; 2], along: [f64; 2], length: f64, bead: f64) {
        let turn = along[1].atan2(along[0]).rem_euclid(PI) / PI * PARTS as f64;
        let part = turn.round() as usize % PARTS;
        let Some(sum) = self.length.get_mut(part) else {
            return;
        };
        *sum += length;
        // Its line's distance from the origin, the same whichever way it runs.
        let sign = if along[1] > 1e-6 || (along[1].abs() <= 1e-6 && along[0] > 0.0) {
            1.0
        } else {
            -1.0
        };
        let off = sign * (along[0] * at[1] - along[1] * at[0]);
        let place = (off / bead).round() as i64;
        if (-1..=1).any(|by| self.before.contains(&(part, place.saturating_add(by)))) {
            self.stands += length;
        }
        if self.now.len() < CAP {
            self.now.insert((part, place));
        }
    }

    /// In how many directions it bears: one or two in the layer, and one more across the layers where
    /// its strands stand on each other. None where it has no straight strands.
    pub fn bears(&self) -> Option<u32> {
        let total: f64 = self.length.iter().sum();
        if total <= 0.0 {
            return None;
        }
        let ways = self
            .length
            .iter()
            .filter(|length| **length > SHARE * total)
            .count();
        // Strands that run every way, as waves do, bear both ways.
        let level = if ways == 1 { 1 } else { 2 };
        Some(level + u32::from(self.stands > STANDS * total))
    }
}
