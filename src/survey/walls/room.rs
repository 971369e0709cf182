//! Room for further walls: rays from a loop inward.

use super::path::{Path, apart, minus};
use super::plan::Plan;
use super::slabs::edges;
use super::trail::Trail;

/// Rays cast inward from a loop, at most (chosen).
const RAYS: usize = 12;

/// Edges that rays are tried against, at most, for a loop (chosen).
const TRIES: usize = 4096;

impl Plan {
    /// How many further walls fit within a loop, at some points along it: by rays inward to its far side
    /// or to what lies within it.
    pub fn room(&self, trail: &Trail, index: usize) -> Vec<u32> {
        let Some(one) = self.loops.get(index) else {
            return Vec::new();
        };
        let within = self
            .loops
            .iter()
            .skip(index + 1)
            .filter(|other| other.parent == Some(index as u32) && !other.is_infill);
        let bounds: Vec<&Path> = std::iter::once(&one.path)
            .chain(within.map(|other| &other.path))
            .collect();
        let count: usize = bounds.iter().map(|path| path.points.len()).sum();
        let rays = (TRIES / count.max(1)).min(RAYS);
        if rays == 0 {
            return Vec::new();
        }
        let own: Vec<_> = edges(trail, &one.path).collect();
        let inward = one.path.area.signum();
        let step = one.path.length / rays as f64;
        let (mut walked, mut next) = (0.0, step / 2.0);
        let mut found = Vec::with_capacity(rays);
        for (from, to) in own {
            let length = apart(from, to);
            while length > 0.0 && next < walked + length {
                let share = (next - walked) / length;
                let [dx, dy] = minus(to, from).map(|way| way / length);
                let at = [
                    from[0] + (to[0] - from[0]) * share,
                    from[1] + (to[1] - from[1]) * share,
                ];
                let way = [-dy * inward, dx * inward];
                let far = bounds
                    .iter()
                    .flat_map(|path| edges(trail, path))
                    .filter_map(|(a, b)| meets(at, way, a, b))
                    .filter(|far| *far > one.bead / 2.0)
                    .fold(f64::INFINITY, f64::min);
                if far.is_finite() {
                    found.push(((far - one.bead) / (2.0 * one.bead)).max(0.0) as u32);
                }
                next += step;
            }
            walked += length;
        }
        found
    }
}

/// How far along a ray from `at` an edge lies.
fn meets(at: [f64; 2], way: [f64; 2], a: [f64; 2], b: [f64; 2]) -> Option<f64> {
    let (edge, off) = (minus(b, a), minus(a, at));
    let across = way[0] * edge[1] - way[1] * edge[0];
    let along = (off[0] * edge[1] - off[1] * edge[0]) / across;
    let share = (off[0] * way[1] - off[1] * way[0]) / across;
    (across.abs() > 1e-12 && (0.0..=1.0).contains(&share) && along > 0.0).then_some(along)
}
