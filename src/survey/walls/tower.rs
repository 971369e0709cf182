//! Towers: blocks beside the part on which each tool begins.
//!
//! One tool's tower looks like any part, and nothing in the motion tells it: it is left a part.

use super::class::{self, Class, Confusion};
use super::region::Region;

/// A tower without walls keeps its place to within this, mm (chosen).
const STEP: f64 = 2.0;

/// Strokes outside of all walls with which tools begin, in one place.
#[derive(Debug, Clone, Default)]
pub(super) struct Loose {
    bounds: Option<[f64; 4]>,
    begun: u64,
    volume: f64,
    /// What comments say of it, and what its classes would be.
    shown: Confusion,
}

/// Whether two boxes come nearer than `by`, mm.
fn meets([a, b, c, d]: [f64; 4], [e, f, g, h]: [f64; 4], by: f64) -> bool {
    a < f + by && e < b + by && c < h + by && g < d + by
}

impl Loose {
    /// A tool begins with a stroke outside of all walls.
    pub fn begin(&mut self, bounds: [f64; 4]) {
        match self.bounds {
            Some(own) if meets(own, bounds, STEP) => {
                let ([a, b, c, d], [e, f, g, h]) = (own, bounds);
                self.bounds = Some([a.min(e), b.max(f), c.min(g), d.max(h)]);
                self.begun += 1;
            }
            Some(_) => {}
            None => {
                self.bounds = Some(bounds);
                self.begun = 1;
            }
        }
    }

    /// What is known of strokes in its place; none where a stroke lies elsewhere.
    pub fn share(&mut self, bounds: [f64; 4], volume: f64) -> Option<&mut Confusion> {
        let [a, b, c, d] = self.bounds?;
        let [e, f, g, h] = bounds;
        let is_within = e > a - STEP && f < b + STEP && g > c - STEP && h < d + STEP;
        is_within.then(|| {
            self.volume += volume;
            &mut self.shown
        })
    }
}

/// Whether every tool begins with a region, though another with more deposit is laid by several tools, too.
/// A part on which tools change is none: no other has what the tools lay.
pub(super) fn is_tower(regions: &[Region], index: usize, changes: u64) -> bool {
    regions
        .get(index)
        .is_some_and(|own| begins(regions, own.begun, own.volume, changes))
}

fn begins(regions: &[Region], begun: u64, volume: f64, changes: u64) -> bool {
    begun >= 2
        && begun * 10 >= changes * 9
        && regions.iter().any(|other| {
            other.tools.count_ones() > 1 && other.begun * 10 <= changes && other.volume > volume
        })
}

/// Adds what was kept of regions and of loose strokes, now that it is known what is a tower or a raft.
pub(super) fn settle(regions: &[Region], loose: &Loose, changes: u64, into: &mut Confusion) {
    let mut add = |shown: &Confusion, all: Option<Class>| {
        let Some(all) = all else {
            return class::join(into, shown);
        };
        for ((said, _), shown) in shown {
            class::add(into, *said, all, *shown);
        }
    };
    let tower = |is_tower: bool| is_tower.then_some(Class::Tower);
    for (index, region) in regions.iter().enumerate() {
        let raft = region.is_raft.then_some(Class::Raft);
        add(
            &region.shown,
            raft.or_else(|| tower(is_tower(regions, index, changes))),
        );
    }
    let is_apart = |region: &Region| match (region.bounds, loose.bounds) {
        (Some(one), Some(other)) => region.volume <= 0.0 || !meets(one, other, 0.0),
        _ => true,
    };
    let is_tower =
        begins(regions, loose.begun, loose.volume, changes) && regions.iter().all(is_apart);
    add(&loose.shown, tower(is_tower));
}
