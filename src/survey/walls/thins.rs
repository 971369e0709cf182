//! Whether sparse infill thins: from the walls inwards, and with height.
//!
//! From the walls inwards: strands and area on either side of a line so far from the walls that about half of
//! the zone lies within it, both at sampled points. With height: deposit over space in slices of layers.

use super::path::{apart, minus};
use super::plan::Plan;
use super::trail::Trail;
use crate::survey::told::Told;

/// Half of a zone's area lies so much further in than its walls, as a share of area over outline: for
/// squares and disks 1 - √½ of half their width (plane geometry).
const HALF: f64 = 0.586;

/// So near to a wall, in beads, strands are left out: they join there (chosen).
const MARGIN: f64 = 1.3;

/// Points of strands and of area that are looked at in a zone (chosen).
const POINTS: u32 = 32;

/// So many zones are looked at, then as many of every fourth one, and so on (chosen).
const ZONES: u64 = 12;

/// Halves are told from so many points of strands on, slices from so many on (chosen).
const POINTS_FROM: u64 = 200;
const SLICES_FROM: usize = 3;

/// Layers that a slice begins with, and the most slices (chosen).
const SLICE: u64 = 4;
const SLICES: usize = 64;

/// A slice with less than this share of the space of the mean one says nothing (chosen).
const SLICE_FROM: f64 = 0.5;

/// Infill thins where the one is less dense than this share of the other (chosen: further apart than what
/// strands and joints of one density come to).
const THIN: f64 = 0.75;

/// Densities of sparse infill in two places, 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Densities {
    /// In the outer half, or in the densest slice of height.
    pub dense: f64,
    /// In the inner half, or in the least dense slice.
    pub thin: f64,
}

impl Densities {
    /// Whether they are further apart than those of an even infill.
    #[must_use]
    pub fn differ(&self) -> bool {
        self.thin < THIN * self.dense
    }
}

/// Deposit by height in a region.
#[derive(Debug, Clone)]
pub(super) struct Slices {
    /// Deposit and space of each slice, mm³, and how many layers one has.
    slices: Vec<[f64; 2]>,
    each: u64,
    /// Layers in the last slice.
    open: u64,
    /// The layer at hand.
    now: [f64; 2],
}

impl Default for Slices {
    fn default() -> Self {
        Self {
            slices: Vec::new(),
            each: SLICE,
            open: 0,
            now: [0.0; 2],
        }
    }
}

impl Slices {
    /// A sparse zone of the layer at hand, or one that turns out to be empty: deposit and space, mm³.
    pub fn zone(&mut self, volume: f64, space: f64) {
        self.now[0] += volume;
        self.now[1] += space;
    }

    /// The layer at hand is whole.
    pub fn close(&mut self) {
        let now = std::mem::take(&mut self.now);
        if now[1] <= 0.0 {
            return;
        }
        if self.slices.is_empty() || self.open >= self.each {
            if self.slices.len() >= SLICES {
                self.slices = self.slices.chunks(2).map(sum).collect();
                self.each *= 2;
            }
            self.slices.push([0.0; 2]);
            self.open = 0;
        }
        if let Some(last) = self.slices.last_mut() {
            *last = sum(&[*last, now]);
        }
        self.open += 1;
    }

    /// Densities of the densest slice of height and of the least dense one.
    pub fn told(&self) -> Told<Densities> {
        let space: f64 = self.slices.iter().map(|slice| slice[1]).sum();
        let from = SLICE_FROM * space / self.slices.len().max(1) as f64;
        let dense = || {
            let whole = self.slices.iter().filter(|slice| slice[1] >= from);
            whole.map(|slice| slice[0] / slice[1])
        };
        if dense().count() < SLICES_FROM {
            return Err("it has too few layers of infill".into());
        }
        Ok(Densities {
            dense: dense().fold(0.0, f64::max),
            thin: dense().fold(f64::INFINITY, f64::min),
        })
    }

    /// Takes what another region of the same object comes to.
    pub fn join(&mut self, other: &Self) {
        if other.slices.len() > self.slices.len() {
            self.slices.clone_from(&other.slices);
        }
    }
}

/// Deposit in the outer half of sparse zones and in the inner.
#[derive(Debug, Clone, Default)]
pub(super) struct Halves {
    /// Deposit of strands, mm³, and space, mm³.
    halves: [[f64; 2]; 2],
    /// Points of strands, sparse zones met, and to how many one is looked at, as a power of four.
    points: u64,
    met: u64,
    stage: u32,
}

impl Halves {
    /// Whether the strands of the zone at hand are to be looked at.
    pub const fn is_wanted(&mut self) -> bool {
        self.met += 1;
        let every = self.every();
        if self.met >= ZONES * every {
            self.met = 0;
            self.stage += 1;
        }
        self.met.is_multiple_of(every)
    }

    const fn every(&self) -> u64 {
        4_u64.saturating_pow(self.stage)
    }

    /// The strands of a zone, that of the loop at `index`.
    pub fn look(&mut self, plan: &mut Plan, trail: &Trail, index: u32, turn: f64) {
        let Some(one) = plan.loops.get(index as usize) else {
            return;
        };
        let (bead, height) = (one.bead, plan.height);
        plan.slabs.refill(trail.points.len());
        let half = HALF * one.zone.area / one.zone_outline() + bead / 2.0;
        let weight = self.every() as f64;
        let [left, right, low, high] = one.path.bounds;
        let cell = (right - left) * (high - low) / f64::from(POINTS);
        // Points spread evenly by the plastic number (Roberts's sequence).
        let (mut x, mut y) = (turn.fract(), (turn * 0.37).fract());
        for _ in 0..POINTS {
            x = (x + 0.754_877_666_246_693).fract();
            y = (y + 0.569_840_290_998_053).fract();
            let at = [left + (right - left) * x, low + (high - low) * y];
            if plan.slabs.innermost(at, None) == Some(index)
                && let Some(of) = part(plan, at, bead, half)
                && let Some(sums) = self.halves.get_mut(of)
            {
                sums[1] += weight * cell * height;
            }
        }
        let strokes = std::mem::take(&mut plan.strokes);
        let strands = || strokes.iter().filter(|one| one.within == Some(index));
        let length: f64 = strands().map(|one| one.path.length).sum();
        let step = length / f64::from(POINTS);
        let (mut walked, mut next) = (0.0, step * turn.fract());
        for stroke in strands() {
            let points = trail.points.get(stroke.path.points.clone());
            let each = stroke.path.volume / stroke.path.length;
            for pair in points.unwrap_or_default().windows(2) {
                let [from, to] = pair else { break };
                let length = apart(from.at, to.at);
                while length > 0.0 && next < walked + length {
                    let [dx, dy] = minus(to.at, from.at).map(|way| way / length);
                    let far = next - walked;
                    let at = [from.at[0] + dx * far, from.at[1] + dy * far];
                    if let Some(of) = part(plan, at, bead, half)
                        && let Some(sums) = self.halves.get_mut(of)
                    {
                        sums[0] += weight * step * each;
                        self.points += 1;
                    }
                    next += step;
                }
                walked += length;
            }
        }
        plan.strokes = strokes;
    }

    /// Densities of the outer and the inner half of sparse zones.
    pub fn told(&self) -> Told<Densities> {
        let [outer, inner] = self.halves;
        if self.points < POINTS_FROM || outer[1] <= 0.0 || inner[1] <= 0.0 {
            return Err("it has too little infill of strands".into());
        }
        Ok(Densities {
            dense: outer[0] / outer[1],
            thin: inner[0] / inner[1],
        })
    }
}

/// Whether a point of a zone lies in the outer half, 0, or in the inner, 1; neither at the walls' edge.
fn part(plan: &mut Plan, at: [f64; 2], bead: f64, half: f64) -> Option<usize> {
    match plan.slabs.nearest(at, [1.0, 0.0], half) {
        Some(near) if near.far < MARGIN * bead => None,
        Some(_) => Some(0),
        None => Some(1),
    }
}

fn sum(of: &[[f64; 2]]) -> [f64; 2] {
    of.iter()
        .fold([0.0; 2], |sum, one| [sum[0] + one[0], sum[1] + one[1]])
}
