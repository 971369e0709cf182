//! What hangs: outlines that lean out from layer to layer, and deposit with nothing below it.
//!
//! An outline's overhang is an angle from the vertical: how far the outer edge of an outermost bead lies
//! beyond the outer edge of what lies below, over the height of the layer. A bead is over nothing where its
//! middle lies beyond that edge, and bridged where a straight stretch over nothing rests at both its ends.

use super::class::faces_out;
use super::ground::Ground;
use super::path::{Path, apart, minus};
use super::plan::{Loop, Plan};
use super::slabs::edges;
use super::trail::Trail;
use super::{Known, Walls, Where, owner};
use crate::physics::bead;

/// Outlines lean out so far without a support, degrees: common practice, no source.
pub const LEANS: f64 = 45.0;

/// Points of an outline that are looked at: of one like the one below, and of another (chosen).
const POINTS: [usize; 2] = [2, 32];

/// Outlines are alike up to this lean in the mean, and up to this one on any side, as slopes (chosen).
const ALIKE: [f64; 2] = [0.1, 0.25];

/// From this slope on, a point is looked for on a support (chosen: 20°).
const STEEP: f64 = 0.36;

/// An edge below is looked for as far as this, mm (chosen): an outline farther off lies flat over nothing.
const REACH: f64 = 3.0;

/// Beads are looked at in steps of this length, mm, in so many steps of a layer at most (chosen).
const STEP: f64 = 0.5;
const STEPS: f64 = 4096.0;

/// Shorter beads, such as a curve's, bridge nothing, and are looked at in their middle, mm (chosen).
const BRIDGES_FROM: f64 = 2.0;

/// How far an outline leans out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Overhang {
    /// The steepest lean, degrees from the vertical: 90 is flat over nothing.
    pub steepest: f64,
    /// Where that is first.
    pub at: Where,
    /// The share of the outline that leans out further than [`LEANS`], 0 to 1.
    pub beyond: f64,
}

/// What hangs so far.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Hang {
    steepest: Option<(f64, Where)>,
    /// Outline looked at, and what of it leans out further than usual, mm.
    looked: f64,
    beyond: f64,
    /// Deposit over nothing that rests at both ends, and that does not, mm³.
    pub bridged: f64,
    pub unsupported: f64,
    first: Option<Where>,
}

impl Hang {
    fn lean(&mut self, degrees: f64, length: f64, at: Where) {
        self.looked += length;
        if degrees > LEANS {
            self.beyond += length;
        }
        if self.steepest.is_none_or(|(most, _)| degrees > most) {
            self.steepest = Some((degrees, at));
        }
    }

    pub fn join(&mut self, other: &Self) {
        if let Some((degrees, at)) = other.steepest {
            self.lean(degrees, 0.0, at);
        }
        self.looked += other.looked;
        self.beyond += other.beyond;
        self.bridged += other.bridged;
        self.unsupported += other.unsupported;
        let lower = |one: Where, other: Where| if other.z < one.z { other } else { one };
        self.first = match (self.first, other.first) {
            (Some(one), Some(other)) => Some(lower(one, other)),
            (one, other) => one.or(other),
        };
    }

    pub fn overhang(&self) -> Option<Overhang> {
        let (steepest, at) = self.steepest.filter(|_| self.looked > 0.0)?;
        Some(Overhang {
            steepest,
            at,
            beyond: self.beyond / self.looked,
        })
    }

    /// Where deposit lies over nothing first, that rests on less than two ends.
    pub const fn first(&self) -> Option<Where> {
        self.first
    }
}

/// The layer below, to be asked what lies there.
struct Below<'a> {
    plan: &'a mut Plan,
    known: &'a [Known],
    ground: &'a mut Ground,
    /// No bead below is wider to either side, mm.
    near: f64,
}

/// A point that lies on nothing within walls: how far it is from the nearest bead's middle, and that
/// bead's half width, mm.
#[derive(Clone, Copy)]
struct Out {
    far: f64,
    off: [f64; 2],
    edge: f64,
}

impl Out {
    /// A bead with its middle here lies beyond what is below.
    fn is_over(self) -> bool {
        self.far > self.edge
    }
}

fn half_width(one: &Loop, height: f64) -> f64 {
    bead::width(one.bead * height, height).unwrap_or(one.bead) / 2.0
}

/// Whether deposit lies between a loop's own bead and the loops within.
fn is_laid(plan: &Plan, known: &[Known], within: u32) -> bool {
    let Some(one) = plan.loops.get(within as usize) else {
        return false;
    };
    one.is_linked
        || one.zone.area <= 0.0
        || known
            .get(within as usize)
            .is_some_and(|known| known.is_filled)
}

impl Below<'_> {
    fn out(&mut self, at: [f64; 2], reach: f64) -> Option<Out> {
        let within = self.plan.slabs.innermost(at, None);
        let within = within.and_then(|within| self.plan.wall(within));
        if within.is_some_and(|within| is_laid(self.plan, self.known, within)) {
            return None;
        }
        let near = [self.near, reach]
            .into_iter()
            .find_map(|reach| self.plan.slabs.nearest(at, [1.0, 0.0], reach));
        let Some(near) = near else {
            return Some(Out {
                far: f64::INFINITY,
                off: [0.0; 2],
                edge: 0.0,
            });
        };
        let bead = self.plan.loops.get(near.of as usize);
        Some(Out {
            far: near.far,
            off: near.off,
            edge: bead.map_or(0.0, |one| half_width(one, self.plan.height)),
        })
    }

    /// Whether a bead with its middle here rests on something.
    fn rests(&mut self, at: [f64; 2]) -> bool {
        self.out(at, 0.0).is_none_or(|out| !out.is_over()) || self.ground.carries(at)
    }

    /// Whether a loop of the layer below is much like one of this layer.
    fn is_alike(&mut self, one: &Loop, at: [f64; 2], height: f64) -> bool {
        let near = self.plan.slabs.nearest(at, [1.0, 0.0], self.near);
        let Some(other) = near.and_then(|near| self.plan.loops.get(near.of as usize)) else {
            return false;
        };
        let [mean, side] = ALIKE.map(|slope| slope * height);
        (one.area - other.area).abs() <= mean * one.path.length
            && one
                .path
                .bounds
                .iter()
                .zip(other.path.bounds)
                .all(|(one, other)| (one - other).abs() <= side)
    }

    /// Deposit of a path over nothing, mm³: bridged, and the rest.
    fn over_nothing(&mut self, trail: &Trail, path: &Path, half: f64, step: f64) -> [f64; 2] {
        let points = trail.points.get(path.points.clone()).unwrap_or_default();
        let each = path.volume / path.length;
        let mut found = [0.0; 2];
        for pair in points.windows(2) {
            let [from, to] = pair else { break };
            let (from, to) = (from.at, to.at);
            let length = apart(from, to);
            if length <= 0.0 {
                continue;
            }
            let way = minus(to, from).map(|way| way / length);
            let at = |far: f64| [from[0] + way[0] * far, from[1] + way[1] * far];
            if length < BRIDGES_FROM {
                if !self.rests(at(length / 2.0)) {
                    let [_, open] = &mut found;
                    *open += length * each;
                }
                continue;
            }
            let pieces = (length / step).ceil().max(1.0);
            let piece = length / pieces;
            let mut begun: Option<f64> = None;
            for index in 0..=pieces as usize {
                let far = index as f64 * piece;
                let is_over = (index as f64) < pieces && !self.rests(at(far + piece / 2.0));
                match begun {
                    None if is_over => begun = Some(far),
                    Some(first) if !is_over => {
                        begun = None;
                        let rests = (first > 0.0 || self.rests(at(-half)))
                            && ((index as f64) < pieces || self.rests(at(length + half)));
                        let [bridged, open] = &mut found;
                        *(if rests { bridged } else { open }) += (far - first) * each;
                    }
                    _ => {}
                }
            }
        }
        found
    }
}

impl Walls {
    /// What of the layer at hand hangs over the one below.
    pub(super) fn lean(&mut self, trail: &Trail, height: f64, z: f64) {
        self.hung = Hang::default();
        let stands = z - height < height / 2.0;
        if stands || (self.known_before.is_empty() && self.ground.is_empty()) {
            return;
        }
        let points = self.kept.points.len() + trail.points.len();
        self.before.slabs.refill(points);
        let is_all = self.closes_void();
        let (now, known) = (&self.now, &self.known);
        let mut below = Below {
            plan: &mut self.before,
            known: &self.known_before,
            ground: &mut self.ground,
            near: 0.0,
        };
        let widest = below.plan.loops.iter().map(|one| one.bead);
        below.near = widest.fold(0.5, f64::max);
        let phase = (self.drawn as f64 * 0.618).fract();
        let place = |path: &Path| Where {
            z,
            line: trail.runs.get(path.run).map_or(0, super::trail::Run::line),
        };
        // The owner of a path, where it is known what it stands on.
        let region = |within: u32| {
            let root = now.loops.get(now.wall(within)? as usize)?.root as usize;
            known.get(root).filter(|known| !known.is_unsure)?;
            owner(now, known, within)
        };
        let mut hangs: Vec<u32> = Vec::new();
        let mut farthest: f64 = 0.0;
        for index in 0..now.loops.len() as u32 {
            let Some(one) = now.loops.get(index as usize) else {
                break;
            };
            if !faces_out(now, known, index as usize) {
                continue;
            }
            let Some(region) = region(index).and_then(|region| self.regions.get_mut(region)) else {
                continue;
            };
            let half = half_width(one, height);
            let first = trail.points.get(one.path.points.start);
            let is_alike = first.is_some_and(|first| below.is_alike(one, first.at, height));
            let [few, many] = POINTS;
            let count = if is_alike { few } else { many };
            let length = one.path.length / count as f64;
            let mut is_over = false;
            let at = place(&one.path);
            for (point, across) in along(trail, one, count, phase) {
                let out = below
                    .out(point, REACH)
                    .filter(|out| out.far > 0.02 * height);
                let mut slope: f64 = 0.0;
                if let Some(out) = out {
                    // Off a corner the way to it is longer than the step.
                    let far = if out.far <= 2.0 * half {
                        (out.off[0] * across[0] + out.off[1] * across[1]).abs()
                    } else {
                        out.far
                    };
                    slope = ((far + half - out.edge) / height).max(0.0);
                    if slope > STEEP && below.ground.carries(point) {
                        continue;
                    }
                    if out.is_over() {
                        is_over = true;
                        farthest = farthest.max(out.far);
                    }
                }
                let degrees = slope.atan().to_degrees();
                region.hang.lean(degrees, length, at);
                self.hung.lean(degrees, length, at);
            }
            if is_over {
                hangs.push(index);
            }
        }
        // The next bead within lies as much less far out as it is wide: is it over nothing, too?
        let is_all = is_all
            || hangs.iter().any(|index| {
                let one = now.loops.get(*index as usize);
                one.is_some_and(|one| farthest - one.bead > one.bead / 2.0)
            });
        let loops: Vec<u32> = if is_all {
            // So many steps are asked about, each of a few edges.
            let steps = 4 * STEPS as usize;
            below.plan.slabs.refill(points + steps);
            (0..now.loops.len() as u32).collect()
        } else {
            hangs
        };
        let loops = loops
            .iter()
            .filter_map(|index| Some((*index, &now.loops.get(*index as usize)?.path)));
        let strokes = now.strokes.iter().filter(|_| is_all);
        let paths = loops.chain(strokes.filter_map(|one| Some((one.within?, &one.path))));
        let whole: f64 = paths.clone().map(|(_, path)| path.length).sum();
        let step = (whole / STEPS).max(STEP);
        for (within, path) in paths {
            let Some(region) = region(within).and_then(|region| self.regions.get_mut(region))
            else {
                continue;
            };
            let half = path.spacing(height) / 2.0;
            let [bridged, open] = below.over_nothing(trail, path, half, step);
            let mut found = Hang {
                bridged,
                unsupported: open,
                ..Hang::default()
            };
            if open > 0.0 {
                found.first = Some(place(path));
            }
            region.hang.join(&found);
            self.hung.join(&found);
        }
        if below.plan.slabs.is_spent() {
            self.hung_unknown = Some("a layer has too many loops to tell what hangs over it");
        }
    }

    /// Whether a hole or a hollow of the layer below is covered now.
    fn closes_void(&mut self) -> bool {
        let (before, known) = (&mut self.before, &self.known_before);
        for index in 0..before.loops.len() {
            if is_laid(before, known, index as u32) {
                continue;
            }
            let Some(one) = before.loops.get(index).filter(|one| !one.is_infill) else {
                continue;
            };
            let Some(at) = before.beside(&self.kept, one, 3.0) else {
                continue;
            };
            if before.slabs.innermost(at, None) != Some(index as u32) {
                continue;
            }
            let over = self.now.slabs.innermost(at, None);
            let over = over.and_then(|over| self.now.wall(over));
            if over.is_some_and(|over| is_laid(&self.now, &self.known, over)) {
                return true;
            }
        }
        false
    }

    /// How far the layer closed last leans out, degrees, and what of it hangs unsupported, mm³.
    #[must_use]
    pub fn hung(&self) -> Option<(f64, f64)> {
        let steepest = self.hung.overhang()?.steepest;
        Some((steepest, self.hung.unsupported))
    }
}

/// Points along a loop, and the direction across it there.
fn along(
    trail: &Trail,
    one: &Loop,
    count: usize,
    phase: f64,
) -> impl Iterator<Item = ([f64; 2], [f64; 2])> {
    let step = one.path.length / count as f64;
    let (mut walked, mut next) = (0.0, step * phase);
    edges(trail, &one.path).flat_map(move |(from, to)| {
        let length = apart(from, to);
        let first = next;
        walked += length;
        let here = if length > 0.0 && next < walked {
            ((walked - next) / step).ceil() as usize
        } else {
            0
        };
        next += here as f64 * step;
        let begin = walked - length;
        (0..here).map(move |index| {
            let way = minus(to, from).map(|way| way / length);
            let far = first + index as f64 * step - begin;
            (
                [from[0] + way[0] * far, from[1] + way[1] * far],
                [way[1], -way[0]],
            )
        })
    })
}
