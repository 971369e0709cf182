//! Sections of a region: level ones layer by layer, and upright ones two millimetres apart, summed exactly
//! over their beads. Skins come out as the flanges they are.

use super::plan::{Loop, Plan, Stroke};
use super::trail::{Point, Trail};
use crate::physics::section::Section;

/// The distance of upright cuts, mm (chosen).
const EVERY: f64 = 2.0;

/// The most cuts along one axis.
const CUT_CAP: usize = 1 << 13;

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
    const fn of(&mut self, stuff: Stuff) -> &mut Section {
        match stuff {
            Stuff::Solid => &mut self.solid,
            Stuff::Sparse => &mut self.sparse,
            Stuff::Wall => &mut self.wall,
            Stuff::Outline => &mut self.outline,
        }
    }
}

/// The cuts across X, Y and Z.
#[derive(Debug, Clone, Default)]
pub(super) struct Cuts {
    pub across: [Vec<Cut>; 3],
    /// The first upright cut's place along X and Y, in cuts.
    first: [i64; 2],
    pub is_full: bool,
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

impl Cuts {
    /// Takes what of a layer belongs to a region: `owns` tells that of a loop by its place, and
    /// `is_hole` whether it bounds a hole.
    pub fn layer(
        &mut self,
        trail: &Trail,
        plan: &Plan,
        z: f64,
        owns: impl Fn(usize) -> bool,
        is_hole: impl Fn(usize) -> bool,
    ) {
        let height = plan.height;
        let level = Level {
            middle: z - height / 2.0,
            height,
        };
        if self.across[2].len() >= CUT_CAP {
            self.is_full = true;
            return;
        }
        let mut flat = Cut {
            length: height,
            ..Cut::default()
        };
        let mut any = false;
        for (index, one) in plan.loops.iter().enumerate() {
            if !owns(index) {
                continue;
            }
            any = true;
            self.lay_loop(trail, plan, one, level, is_hole(index), &mut flat);
        }
        for stroke in &plan.strokes {
            let Some(within) = stroke.within.and_then(|within| plan.wall(within)) else {
                continue;
            };
            if owns(within as usize) {
                self.lay_stroke(trail, plan, stroke, within, level, &mut flat);
            }
        }
        if any {
            self.across[2].push(flat);
        }
    }

    fn lay_loop(
        &mut self,
        trail: &Trail,
        plan: &Plan,
        one: &Loop,
        level: Level,
        is_hole: bool,
        flat: &mut Cut,
    ) {
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
            self.lay(piece, stuff, level, flat);
            if bounds {
                let side = if is_hole { inward } else { -inward };
                self.bound(from, to, if is_hole { -inward } else { inward }, level);
                let half = Piece {
                    width: one.bead / 2.0,
                    ..piece.beside(side * one.bead / 4.0)
                };
                self.lay(half, Stuff::Outline, level, flat);
            }
            if has_room {
                self.lay(piece.beside(inward * one.bead), Stuff::Wall, level, flat);
            }
        }
        if bounds {
            let corners: Vec<[f64; 2]> = points.iter().map(|point| point.at).collect();
            let whole = Section::polygon(&corners);
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
        flat: &mut Cut,
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
            self.lay(Piece { from, to, width }, stuff, level, flat);
        }
    }

    /// Adds a piece to the level cut and to the upright ones it passes.
    fn lay(&mut self, piece: Piece, stuff: Stuff, level: Level, flat: &mut Cut) {
        let ([fx, fy], [tx, ty]) = (piece.from, piece.to);
        let length = (tx - fx).hypot(ty - fy);
        if length <= 0.0 || !length.is_finite() {
            return;
        }
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
            self.each_cut(axis, low, high, |cut, from, to| {
                // Of its middle line, what lies within the cut or half a width from it.
                let at = |place: f64| {
                    let share = ((place - start) / (end - start).max(1e-9)).clamp(0.0, 1.0);
                    near + (far - near) * share
                };
                let (one, other) = (at(from - half), at(to + half));
                let middle = f64::midpoint(one, other);
                let square = middle * middle + (other - one).powi(2) / 12.0 + spread;
                let area = volume * (to - from) / (high - low) / EVERY;
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
            let way = (tx - fx).signum() * sign * level.height / EVERY;
            self.each_cut(axis, fx.min(tx), fx.max(tx), |cut, low, high| {
                let at = |x: f64| fy + (ty - fy) * (x - fx) / (tx - fx);
                let (a, b) = (at(low), at(high));
                let step = -(high - low) * way;
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

    /// Every upright cut between two places, with what of the stretch is its own.
    fn each_cut(
        &mut self,
        axis: usize,
        low: f64,
        high: f64,
        mut tell: impl FnMut(&mut Cut, f64, f64),
    ) {
        if low >= high || !(high - low).is_finite() {
            return;
        }
        let (Some(cuts), Some(first)) = (self.across.get_mut(axis), self.first.get_mut(axis))
        else {
            return;
        };
        let index = |at: f64| (at / EVERY).floor() as i64;
        let (from, to) = (index(low), index(high));
        let new = Cut {
            length: EVERY,
            ..Cut::default()
        };
        if cuts.is_empty() {
            *first = from;
        }
        let reach = (to.max(*first + cuts.len() as i64)) - from.min(*first);
        if reach >= CUT_CAP as i64 {
            self.is_full = true;
            return;
        }
        if from < *first {
            let more = (*first - from) as usize;
            cuts.splice(0..0, std::iter::repeat_n(new, more));
            *first = from;
        }
        let needed = (to - *first) as usize + 1;
        if cuts.len() < needed {
            cuts.resize(needed, new);
        }
        for place in from..=to {
            let (start, end) = (place as f64 * EVERY, (place + 1) as f64 * EVERY);
            let (start, end) = (start.max(low), end.min(high));
            if end > start
                && let Some(cut) = cuts.get_mut((place - *first) as usize)
            {
                tell(cut, start, end);
            }
        }
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
