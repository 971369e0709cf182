//! Sections of regions: level ones layer by layer, and upright ones, summed exactly over their beads.
//! Skins come out as the flanges they are.
//!
//! An upright cut stands for a slice, and has the mean of all that lies in it: none is missed between two
//! cuts. The smaller a region, the thinner its slices; where one has more of them than are kept, two by
//! two become one.

use super::path::Path;
use super::plan::{Loop, Plan, Stroke};
use super::trail::{Point, Trail};
use crate::physics::section::Section;

/// The distance of upright cuts, mm: at most and at least at first, halved until so many lie along the
/// shorter side of a region's first layer (chosen).
const EVERY: [f64; 2] = [2.0, 0.25];
const ALONG: f64 = 32.0;

/// The most cuts along X or Y, and the most level ones; with the most regions some twenty megabytes.
const UPRIGHT_CAP: i64 = 256;
const LEVEL_CAP: usize = 1024;
const REGION_CAP: usize = 64;

/// No cut is thicker than this, mm: nothing is that large.
const THICKEST: f64 = 1e6;

/// One cut: what lies in it. Areas are those of the plastic, voids between beads left out.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Cut {
    /// How long a piece of the part it stands for, mm.
    pub length: f64,
    /// Walls and skins.
    pub solid: Section,
    /// Sparse infill.
    pub sparse: Section,
    /// One more wall, where there is room for it.
    pub wall: Section,
    /// The solid of the same outline.
    pub outline: Section,
}

/// The part of a cut that something is added to.
#[derive(Debug, Clone, Copy)]
enum Stuff {
    Solid,
    Sparse,
    Wall,
    Outline,
}

impl Cut {
    /// One cut for two that lie one behind the other.
    fn joined(self, other: Self) -> Self {
        let length = self.length + other.length;
        let mean = |one: Section, other_one: Section| {
            one.times(self.length / length) + other_one.times(other.length / length)
        };
        Self {
            length,
            solid: mean(self.solid, other.solid),
            sparse: mean(self.sparse, other.sparse),
            wall: mean(self.wall, other.wall),
            outline: mean(self.outline, other.outline),
        }
    }

    const fn of(&mut self, stuff: Stuff) -> &mut Section {
        match stuff {
            Stuff::Solid => &mut self.solid,
            Stuff::Sparse => &mut self.sparse,
            Stuff::Wall => &mut self.wall,
            Stuff::Outline => &mut self.outline,
        }
    }
}

/// The cuts of one region across X, Y and Z.
#[derive(Debug, Clone)]
pub(super) struct Cuts {
    pub across: [Vec<Cut>; 3],
    /// How far upright cuts lie apart, mm.
    pub every: f64,
    /// The first upright cut's place along X and Y, in cuts.
    first: [i64; 2],
    /// So many layers make a level cut, and so many the last one.
    layers: u32,
    last: u32,
    /// The level cut of the layer at hand.
    now: Option<Cut>,
}

/// The cuts of all regions.
#[derive(Debug, Default)]
pub(super) struct Sections {
    regions: Vec<Option<Cuts>>,
}

/// A straight piece of a bead.
#[derive(Debug, Clone, Copy)]
struct Piece {
    from: [f64; 2],
    to: [f64; 2],
    width: f64,
}

impl Piece {
    /// The same, so far to its left.
    fn beside(self, far: f64) -> Self {
        let ([fx, fy], [tx, ty]) = (self.from, self.to);
        let length = (tx - fx).hypot(ty - fy);
        if length <= 0.0 {
            return self;
        }
        let [x, y] = [-(ty - fy) / length * far, (tx - fx) / length * far];
        Self {
            from: [fx + x, fy + y],
            to: [tx + x, ty + y],
            ..self
        }
    }
}

/// Where a layer lies, mm.
#[derive(Debug, Clone, Copy)]
struct Level {
    middle: f64,
    height: f64,
}

impl Level {
    /// A piece of this level in an upright cut: `area` about `at` along the cut, its square spread.
    fn upright(self, area: f64, at: f64, square: f64) -> Section {
        let z = self.middle;
        Section {
            area,
            x: area * at,
            y: area * z,
            xx: area * square,
            yy: area * (z * z + self.height * self.height / 12.0),
            xy: area * at * z,
        }
    }
}

impl Sections {
    /// Takes a layer: `of` tells whose a loop is by its place, and `is_hole` whether it bounds a hole.
    pub fn layer(
        &mut self,
        trail: &Trail,
        plan: &Plan,
        z: f64,
        of: impl Fn(usize) -> Option<usize>,
        is_hole: impl Fn(usize) -> bool,
    ) {
        let height = plan.height;
        let level = Level {
            middle: z - height / 2.0,
            height,
        };
        for (index, one) in plan.loops.iter().enumerate() {
            if let Some(cuts) = of(index).and_then(|region| self.region(region, &one.path)) {
                cuts.lay_loop(trail, plan, one, level, is_hole(index));
            }
        }
        for stroke in &plan.strokes {
            let within = stroke.within.and_then(|within| plan.wall(within));
            let region = within.and_then(|within| of(within as usize));
            if let (Some(within), Some(region)) = (within, region)
                && let Some(cuts) = self.region(region, &stroke.path)
            {
                cuts.lay_stroke(trail, plan, stroke, within, level);
            }
        }
        for cuts in self.regions.iter_mut().flatten() {
            cuts.close(height);
        }
    }

    /// The cuts of a region, where so many are kept.
    pub fn of(&self, region: usize) -> Option<&Cuts> {
        self.regions.get(region)?.as_ref()
    }

    /// The same; a new one's first loop is its largest.
    fn region(&mut self, region: usize, path: &Path) -> Option<&mut Cuts> {
        if region >= REGION_CAP {
            return None;
        }
        if self.regions.len() <= region {
            self.regions.resize(region + 1, None);
        }
        let cuts = self.regions.get_mut(region)?;
        Some(cuts.get_or_insert_with(|| Cuts::of_size(path.bounds)))
    }
}

impl Cuts {
    fn of_size([left, right, low, high]: [f64; 4]) -> Self {
        let size = (right - left).min(high - low);
        let [mut every, least] = EVERY;
        while every > least && size < ALONG * every {
            every /= 2.0;
        }
        Self {
            across: [const { Vec::new() }; 3],
            every,
            first: [0; 2],
            layers: 1,
            last: 1,
            now: None,
        }
    }

    /// The layer at hand is whole.
    fn close(&mut self, height: f64) {
        let Some(mut flat) = self.now.take() else {
            return;
        };
        flat.length = height;
        let level = &mut self.across[2];
        if self.last < self.layers
            && let Some(last) = level.last_mut()
        {
            *last = last.joined(flat);
            self.last += 1;
            return;
        }
        if level.len() >= LEVEL_CAP {
            let pairs = level.chunks(2).map(|pair| match pair {
                [one, other] => one.joined(*other),
                rest => rest.first().copied().unwrap_or_default(),
            });
            *level = pairs.collect();
            self.layers *= 2;
        }
        level.push(flat);
        self.last = 1;
    }

    fn lay_loop(&mut self, trail: &Trail, plan: &Plan, one: &Loop, level: Level, is_hole: bool) {
        let points = trail
            .points
            .get(one.path.points.clone())
            .unwrap_or_default();
        let stuff = if one.is_infill {
            Stuff::Sparse
        } else {
            Stuff::Solid
        };
        let inward = one.path.area.signum();
        let is_leaf = !one.is_linked && !one.is_infill;
        // The outline is that of a chain's first loop, and of a hole's last.
        let bounds = if is_hole {
            is_leaf
        } else {
            one.depth == 1 && !one.is_infill
        };
        let (solid, _) = one.zone.split(plan.height);
        let has_room = is_leaf && !is_hole && one.zone.area - solid > 0.2 * one.zone.area;
        for (from, to) in pairs(points, true) {
            let piece = Piece {
                from,
                to,
                width: one.bead,
            };
            self.lay(piece, stuff, level);
            if bounds {
                let side = if is_hole { inward } else { -inward };
                self.bound(from, to, if is_hole { -inward } else { inward }, level);
                let half = Piece {
                    width: one.bead / 2.0,
                    ..piece.beside(side * one.bead / 4.0)
                };
                self.lay(half, Stuff::Outline, level);
            }
            if has_room {
                self.lay(piece.beside(inward * one.bead), Stuff::Wall, level);
            }
        }
        if bounds {
            let corners: Vec<[f64; 2]> = points.iter().map(|point| point.at).collect();
            let whole = Section::polygon(&corners);
            let flat = self.now.get_or_insert_default();
            flat.outline += whole.times(if is_hole { -inward } else { inward });
        }
    }

    fn lay_stroke(
        &mut self,
        trail: &Trail,
        plan: &Plan,
        stroke: &Stroke,
        within: u32,
        level: Level,
    ) {
        let path = &stroke.path;
        let points = trail.points.get(path.points.clone()).unwrap_or_default();
        let is_solid = plan.is_solid(stroke, within);
        let stuff = if is_solid {
            Stuff::Solid
        } else {
            Stuff::Sparse
        };
        let width = path.spacing(plan.height);
        for (from, to) in pairs(points, false) {
            self.lay(Piece { from, to, width }, stuff, level);
        }
    }

    /// Adds a piece to the level cut and to the upright ones it passes.
    fn lay(&mut self, piece: Piece, stuff: Stuff, level: Level) {
        let ([fx, fy], [tx, ty]) = (piece.from, piece.to);
        let length = (tx - fx).hypot(ty - fy);
        if length <= 0.0 || !length.is_finite() {
            return;
        }
        let flat = self.now.get_or_insert_default();
        *flat.of(stuff) += Section::bead(piece.from, piece.to, piece.width);
        let volume = length * piece.width * level.height;
        for (axis, along, aside) in [(0, [fx, tx], [fy, ty]), (1, [fy, ty], [fx, tx])] {
            let share = |of: [f64; 2]| (of[1] - of[0]).abs() / length;
            let half = piece.width / 2.0 * share(aside);
            let [start, end, near, far] = if along[0] <= along[1] {
                [along[0], along[1], aside[0], aside[1]]
            } else {
                [along[1], along[0], aside[1], aside[0]]
            };
            let (low, high) = (start - half, end + half);
            let spread = (piece.width * share(along)).powi(2) / 12.0;
            self.each_cut(axis, low, high, |cut, every, from, to| {
                // Of its middle line, what lies within the cut or half a width from it.
                let at = |place: f64| {
                    let share = ((place - start) / (end - start).max(1e-9)).clamp(0.0, 1.0);
                    near + (far - near) * share
                };
                let (one, other) = (at(from - half), at(to + half));
                let middle = f64::midpoint(one, other);
                let square = middle * middle + (other - one).powi(2) / 12.0 + spread;
                let area = volume * (to - from) / (high - low) / every;
                *cut.of(stuff) += level.upright(area, middle, square);
            });
        }
    }

    /// Adds what an edge of the outline bounds to the upright cuts it passes (Green's theorem).
    fn bound(&mut self, from: [f64; 2], to: [f64; 2], sign: f64, level: Level) {
        let flipped = |[x, y]: [f64; 2]| [y, x];
        // Seen along Y the plane is mirrored, and so is the sense of the outline.
        for (axis, from, to, sign) in [(0, from, to, sign), (1, flipped(from), flipped(to), -sign)]
        {
            let ([fx, fy], [tx, ty]) = (from, to);
            let way = (tx - fx).signum() * sign * level.height;
            self.each_cut(axis, fx.min(tx), fx.max(tx), |cut, every, low, high| {
                let at = |x: f64| fy + (ty - fy) * (x - fx) / (tx - fx);
                let (a, b) = (at(low), at(high));
                let step = -(high - low) * way / every;
                let area = f64::midpoint(a, b) * step;
                let first = (a * a + a * b + b * b) / 6.0 * step;
                let second = (a * a * a + a * a * b + a * b * b + b * b * b) / 12.0 * step;
                let z = level.middle;
                cut.outline += Section {
                    area,
                    x: first,
                    y: area * z,
                    xx: second,
                    yy: area * (z * z + level.height * level.height / 12.0),
                    xy: first * z,
                };
            });
        }
    }

    /// Every upright cut between two places, with how far cuts lie apart and what of the stretch is its
    /// own.
    fn each_cut(
        &mut self,
        axis: usize,
        low: f64,
        high: f64,
        mut tell: impl FnMut(&mut Cut, f64, f64, f64),
    ) {
        if low >= high || !(high - low).is_finite() {
            return;
        }
        let Some([from, to]) = self.hold(axis, low, high) else {
            return;
        };
        let every = self.every;
        let (Some(cuts), Some(first)) = (self.across.get_mut(axis), self.first.get(axis)) else {
            return;
        };
        let own = cuts.iter_mut().skip((from - first) as usize);
        for (place, cut) in (from..=to).zip(own) {
            let (start, end) = (place as f64 * every, (place + 1) as f64 * every);
            let (start, end) = (start.max(low), end.min(high));
            if end > start {
                tell(cut, every, start, end);
            }
        }
    }

    /// Makes sure that there are cuts between two places, and says which.
    fn hold(&mut self, axis: usize, low: f64, high: f64) -> Option<[i64; 2]> {
        loop {
            let index = |at: f64| (at / self.every).floor() as i64;
            let (from, to) = (index(low), index(high));
            let (cuts, first) = (self.across.get_mut(axis)?, self.first.get_mut(axis)?);
            if cuts.is_empty() {
                *first = from;
            }
            let end = (*first + cuts.len() as i64).max(to + 1);
            if end - from.min(*first) <= UPRIGHT_CAP {
                let new = Cut {
                    length: self.every,
                    ..Cut::default()
                };
                if from < *first {
                    let more = (*first - from) as usize;
                    cuts.splice(0..0, std::iter::repeat_n(new, more));
                    *first = from;
                }
                if cuts.len() < (end - *first) as usize {
                    cuts.resize((end - *first) as usize, new);
                }
                return Some([from, to]);
            }
            if self.every > THICKEST {
                return None;
            }
            self.coarsen();
        }
    }

    /// Makes one upright cut of every two.
    fn coarsen(&mut self) {
        let every = self.every;
        for (cuts, first) in self.across.iter_mut().zip(&mut self.first) {
            let empty = Cut {
                length: every,
                ..Cut::default()
            };
            if first.rem_euclid(2) == 1 {
                cuts.insert(0, empty);
            }
            let pairs = cuts.chunks(2).map(|pair| match pair {
                [one, other] => one.joined(*other),
                rest => rest.first().copied().unwrap_or_default().joined(empty),
            });
            *cuts = pairs.collect();
            *first = first.div_euclid(2);
        }
        self.every *= 2.0;
    }
}

fn pairs(points: &[Point], closed: bool) -> impl Iterator<Item = ([f64; 2], [f64; 2])> + '_ {
    let open = points.windows(2).filter_map(|pair| match pair {
        [one, other] => Some((one.at, other.at)),
        _ => None,
    });
    let seam = match (points.first(), points.last()) {
        (Some(first), Some(last)) if closed => Some((last.at, first.at)),
        _ => None,
    };
    open.chain(seam)
}

#[cfg(test)]
mod tests {
    use super::*;

    const LEVEL: Level = Level {
        middle: 0.1,
        height: 0.2,
    };

    fn volume(cuts: &[Cut]) -> f64 {
        let of = |cut: &Cut| cut.solid.area * cut.length;
        cuts.iter().map(of).sum()
    }

    /// However far a part reaches, nothing of it is lost, and no more is kept than the cap.
    #[test]
    fn thicker_slices_hold_as_much() {
        let mut cuts = Cuts::of_size([0.0, 6.0, 0.0, 8.0]);
        assert_eq!(cuts.every, 0.25);
        let mut laid = 0.0;
        for reach in [3.0, 50.0, -40.0, 333.0, -1e5] {
            let piece = Piece {
                from: [0.3, 1.0],
                to: [reach, 2.0],
                width: 0.4,
            };
            cuts.lay(piece, Stuff::Solid, LEVEL);
            laid += (reach - 0.3_f64).hypot(1.0) * 0.4 * 0.2;
            for axis in [0, 1] {
                let kept = &cuts.across[axis];
                assert!(kept.len() as i64 <= UPRIGHT_CAP);
                assert!(kept.iter().all(|cut| cut.length == cuts.every));
                assert!((volume(kept) / laid - 1.0).abs() < 1e-9, "{axis} {reach}");
            }
        }
        assert_eq!(cuts.every, 512.0);
    }

    #[test]
    fn many_layers_are_joined_two_by_two() {
        let mut cuts = Cuts::of_size([0.0, 100.0, 0.0, 100.0]);
        assert_eq!(cuts.every, 2.0);
        let layers = 5 * LEVEL_CAP + 3;
        for _ in 0..layers {
            let piece = Piece {
                from: [0.0; 2],
                to: [10.0, 0.0],
                width: 0.5,
            };
            cuts.lay(piece, Stuff::Solid, LEVEL);
            cuts.close(0.2);
        }
        let level = &cuts.across[2];
        assert!(level.len() <= LEVEL_CAP && level.len() > LEVEL_CAP / 2);
        assert!((volume(level) / (layers as f64) - 1.0).abs() < 1e-9);
    }
}
