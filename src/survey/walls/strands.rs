//! Strokes: the zone each lies in, and what of it lies side by side with others.

use super::grain::Grain;
use super::path::{apart, minus};
use super::plan::{Plan, Stroke, middle};
use super::slabs::Slabs;
use super::trail::Trail;
use super::zone::Zone;

/// Strokes side by side up to this distance are solid (chosen: 70 % and more).
const SOLID: f64 = 1.4;

/// Strokes are parallel up to this sine between them, 10° (chosen).
const PARALLEL: f64 = 0.17;

/// Parallel strokes are looked for among so many before (chosen).
const NEIGHBOURS: usize = 6;

/// Infill comes as near to the walls around it, in beads (chosen: skirts lie further out).
const FENCE: f64 = 4.0;

/// So many strokes of a zone are looked at closely, and then every sixteenth (chosen).
const CLOSELY: u32 = 8;

const EVERY: u32 = 16;

impl Plan {
    /// Finds the zone of each stroke, and what of it lies side by side with others.
    pub(super) fn place_strokes(&mut self, trail: &Trail, grain: &mut Grain) {
        let mut before: [Option<Long>; NEIGHBOURS] = [None; NEIGHBOURS];
        let mut next = 0;
        for stroke in &mut self.strokes {
            let path = &stroke.path;
            let Some(middle) = middle(trail, path) else {
                continue;
            };
            stroke.within = self.slabs.innermost(middle, None);
            let bead = path.spacing(self.height);
            let mut zone = stroke
                .within
                .and_then(|within| self.loops.get_mut(within as usize))
                .filter(|one| !one.is_linked)
                .map(|one| &mut one.zone);
            if let Some(zone) = &mut zone {
                zone.volume += path.volume;
            }
            let points = trail.points.get(path.points.clone()).unwrap_or_default();
            for pair in points.windows(2) {
                let [from, to] = pair else { break };
                let Some(long) = Long::of(from.at, to.at, stroke.within, bead) else {
                    continue;
                };
                if let Some(zone) = &mut zone {
                    zone.length += long.length;
                    if long.lies_along(&mut self.slabs, bead) {
                        zone.along += long.length;
                        continue;
                    }
                    zone.met += 1;
                    if zone.met <= CLOSELY || zone.met % EVERY == 0 {
                        zone.looked += long.length;
                        zone.upon += long.upon(&mut self.slabs, bead);
                    }
                }
                let nearest = before
                    .iter()
                    .flatten()
                    .filter_map(|other| long.beside(other))
                    .reduce(f64::min);
                match nearest {
                    Some(distance) if distance <= SOLID * bead => stroke.solid += long.length,
                    Some(_) => {
                        stroke.apart += long.length;
                        if zone.is_some() {
                            grain.strand(long.from, long.along, long.length, bead);
                        }
                    }
                    None => {}
                }
                if let Some(slot) = before.get_mut(next) {
                    *slot = Some(long);
                }
                next = (next + 1) % NEIGHBOURS;
            }
            if let Some(zone) = zone {
                zone.solid += stroke.solid;
                zone.apart += stroke.apart;
            }
        }
    }
}

impl Plan {
    /// Strokes around which a skirt runs lie in no zone: infill reaches the walls around it, a support or a raft
    /// does not reach a skirt.
    pub(super) fn open_fences(&mut self, trail: &Trail) {
        for index in 0..self.loops.len() {
            let Some(one) = self.loops.get(index) else {
                break;
            };
            let first = self.loops.get(one.root as usize);
            let is_outside = first.is_some_and(|first| first.parent.is_none());
            if one.is_linked || !is_outside || one.zone.volume <= 0.0 {
                continue;
            }
            let reach = FENCE * one.bead;
            let slabs = &mut self.slabs;
            let mut reaches = |at: [f64; 2]| {
                let near = slabs.nearest(at, [1.0, 0.0], reach);
                near.is_some_and(|near| near.of as usize == index)
            };
            let own = |stroke: &&mut Stroke| stroke.within == Some(index as u32);
            let joins = self.strokes.iter_mut().filter(own).any(|stroke| {
                let points = trail.points.get(stroke.path.points.clone());
                points
                    .unwrap_or_default()
                    .iter()
                    .any(|point| reaches(point.at))
            });
            if joins {
                continue;
            }
            for stroke in self.strokes.iter_mut().filter(own) {
                stroke.within = None;
            }
            if let Some(one) = self.loops.get_mut(index) {
                one.zone = Zone::default();
            }
        }
    }
}

/// A bead long enough to have neighbours.
#[derive(Debug, Clone, Copy)]
struct Long {
    from: [f64; 2],
    along: [f64; 2],
    length: f64,
    within: Option<u32>,
}

impl Long {
    fn of(from: [f64; 2], to: [f64; 2], within: Option<u32>, bead: f64) -> Option<Self> {
        let length = apart(from, to);
        let [dx, dy] = minus(to, from);
        (length > 2.0 * bead).then(|| Self {
            from,
            along: [dx / length, dy / length],
            length,
            within,
        })
    }

    /// Whether its middle lies upon the bead of a wall: a strand that runs along it.
    fn lies_along(&self, slabs: &mut Slabs, bead: f64) -> bool {
        let middle = [
            self.from[0] + self.along[0] * self.length / 2.0,
            self.from[1] + self.along[1] * self.length / 2.0,
        ];
        slabs.nearest(middle, self.along, bead / 2.0).is_some()
    }

    /// How much of it lies upon the beads of walls, mm: infill overlaps them so that they join.
    fn upon(&self, slabs: &mut Slabs, bead: f64) -> f64 {
        let half = bead / 2.0;
        let to = [
            self.from[0] + self.along[0] * self.length,
            self.from[1] + self.along[1] * self.length,
        ];
        let end = |at: [f64; 2]| match slabs.nearest(at, self.along, half) {
            Some(near) => (half - near.far) / near.sine.max(1e-3),
            None => 0.0,
        };
        [self.from, to]
            .map(end)
            .iter()
            .sum::<f64>()
            .min(self.length)
    }

    /// The distance to a parallel one beside it.
    fn beside(&self, other: &Self) -> Option<f64> {
        let ([ax, ay], [bx, by]) = (self.along, other.along);
        if self.within != other.within || (ax * by - ay * bx).abs() > PARALLEL {
            return None;
        }
        let [dx, dy] = minus(other.from, self.from);
        let start = dx * ax + dy * ay;
        let end = start + other.length * (ax * bx + ay * by);
        let overlap = start.max(end).min(self.length) - start.min(end).max(0.0);
        (overlap > 0.3 * self.length.min(other.length)).then(|| {
            let middle = other.length / 2.0;
            let [mx, my] = [dx + bx * middle, dy + by * middle];
            (mx * ay - my * ax).abs()
        })
    }
}
