//! Sections of regions: level ones layer by layer, and upright ones, summed exactly over their beads.
//! Skins come out as the flanges they are.
//!
//! An upright cut stands for a slice, and has the mean of all that lies in it: none is missed between two
//! cuts. The smaller a region, the thinner its slices; where one has more of them than are kept, two by
//! two become one.

use super::path::{Path, apart, minus};
use super::plan::{Loop, Plan, Stroke};
use super::trail::{Point, Trail};
use super::upright::{Strip, Stuff, Upright};
use crate::physics::section::Section;

/// The distance of upright cuts, mm: at most and at least at first, halved until so many lie along the
/// shorter side of a region's first layer (chosen).
const EVERY: [f64; 2] = [2.0, 0.25];
const ALONG: f64 = 32.0;

/// The most level cuts, and regions; with as many upright ones as there may be some thirty megabytes.
const LEVEL_CAP: usize = 1024;
const REGION_CAP: usize = 64;

/// Corners sharper than 37 degrees are cut off: one and the cosine of the turn (chosen).
const BLUNT: f64 = 0.2;

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

impl Cut {
    /// One cut for two that lie one behind the other.
    pub fn joined(self, other: Self) -> Self {
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

    pub const fn of(&mut self, stuff: Stuff) -> &mut Section {
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
    upright: [Upright; 2],
    level: Vec<Cut>,
    /// So many layers make a level cut, and so many the last one.
    layers: u32,
    last: u32,
    /// The level cut of the layer at hand.
    now: Option<Cut>,
    /// Where that lies.
    at: Level,
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
    /// Its width over its length, and its area, mm².
    wide: f64,
    area: f64,
    /// As seen from above, about its middle.
    flat: Section,
}

impl Piece {
    /// From one point to another, so wide, mm; none where it is no piece of anything.
    fn new(from: [f64; 2], to: [f64; 2], width: f64) -> Option<Self> {
        let flat = Section::strip(minus(to, from), width);
        let area = flat.area;
        if !(area > 0.0 && area.is_finite()) {
            return None;
        }
        Some(Self {
            from,
            to,
            wide: width * width / area,
            area,
            flat,
        })
    }

    /// The same, so many widths to its left.
    fn beside(&self, widths: f64) -> Self {
        let ([fx, fy], [tx, ty]) = (self.from, self.to);
        let by = widths * self.wide;
        let [x, y] = [-(ty - fy) * by, (tx - fx) * by];
        Self {
            from: [fx + x, fy + y],
            to: [tx + x, ty + y],
            ..*self
        }
    }

    /// As seen from above, where it lies.
    fn level(&self) -> Section {
        let ([fx, fy], [tx, ty]) = (self.from, self.to);
        self.flat.shifted([0.5 * (fx + tx), 0.5 * (fy + ty)])
    }
}

/// Where a layer lies, mm.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Level {
    pub middle: f64,
    pub height: f64,
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
                cuts.at = level;
                cuts.lay_loop(trail, plan, one, is_hole(index));
            }
        }
        for stroke in &plan.strokes {
            let within = stroke.within.and_then(|within| plan.wall(within));
            let region = within.and_then(|within| of(within as usize));
            if let (Some(within), Some(region)) = (within, region)
                && let Some(cuts) = self.region(region, &stroke.path)
            {
                cuts.at = level;
                cuts.lay_stroke(trail, plan, stroke, within);
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
            upright: [Upright::new(every), Upright::new(every)],
            level: Vec::new(),
            layers: 1,
            last: 1,
            now: None,
            at: Level::default(),
        }
    }

    /// The cuts across X, Y or Z.
    pub fn across(&self, axis: usize) -> &[Cut] {
        let upright = self.upright.get(axis);
        upright.map_or(&self.level, |upright| &upright.cuts)
    }

    /// The layer at hand is whole.
    fn close(&mut self, height: f64) {
        let Some(mut flat) = self.now.take() else {
            return;
        };
        for upright in &mut self.upright {
            upright.settle(self.at);
        }
        flat.length = height;
        let level = &mut self.level;
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

    fn lay_loop(&mut self, trail: &Trail, plan: &Plan, one: &Loop, is_hole: bool) {
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
        let pieces = pairs(points, true).filter_map(|(from, to)| Piece::new(from, to, one.bead));
        self.lay(pieces, stuff, has_room.then_some(inward));
        if bounds {
            let (side, sign) = if is_hole {
                (inward, -inward)
            } else {
                (-inward, inward)
            };
            let corners = around(points, side * one.bead / 2.0);
            let next = corners.iter().cycle().skip(1);
            for (from, to) in corners.iter().zip(next) {
                self.bound(*from, *to, sign);
            }
            let flat = self.now.get_or_insert_default();
            flat.outline += Section::polygon(&corners).times(sign);
        }
    }

    fn lay_stroke(&mut self, trail: &Trail, plan: &Plan, stroke: &Stroke, within: u32) {
        let path = &stroke.path;
        let points = trail.points.get(path.points.clone()).unwrap_or_default();
        let is_solid = plan.is_solid(stroke, within);
        let stuff = if is_solid {
            Stuff::Solid
        } else {
            Stuff::Sparse
        };
        let width = path.spacing(plan.height);
        let pieces = pairs(points, false).filter_map(|(from, to)| Piece::new(from, to, width));
        self.lay(pieces, stuff, None);
    }

    /// Adds pieces to the level cut and to the upright ones they pass, and one more wall so many widths to
    /// their left.
    fn lay(&mut self, pieces: impl Iterator<Item = Piece>, stuff: Stuff, further: Option<f64>) {
        let (mut flat, mut wall) = (Section::default(), Section::default());
        for piece in pieces {
            flat += piece.level();
            self.pass(&piece, stuff);
            if let Some(widths) = further {
                let further = piece.beside(widths);
                wall += further.level();
                self.pass(&further, Stuff::Wall);
            }
        }
        let now = self.now.get_or_insert_default();
        *now.of(stuff) += flat;
        now.wall += wall;
    }

    /// Adds a piece to the upright cuts it passes.
    fn pass(&mut self, piece: &Piece, stuff: Stuff) {
        let ([fx, fy], [tx, ty]) = (piece.from, piece.to);
        let volume = piece.area * self.at.height;
        for (axis, along, aside) in [(0, [fx, tx], [fy, ty]), (1, [fy, ty], [fx, tx])] {
            let strip = Strip::new(along, aside, piece.wide, volume);
            if let Some(upright) = self.hold(axis, strip.reach()) {
                upright.lay(&strip, stuff);
            }
        }
    }

    /// Adds what an edge of the outline bounds to the upright cuts it passes.
    fn bound(&mut self, from: [f64; 2], to: [f64; 2], sign: f64) {
        let flipped = |[x, y]: [f64; 2]| [y, x];
        let times = sign * self.at.height;
        // Seen along Y the plane is mirrored, and so is the sense of the outline.
        for (axis, from, to, times) in [
            (0, from, to, times),
            (1, flipped(from), flipped(to), -times),
        ] {
            let reach = [from[0].min(to[0]), from[0].max(to[0])];
            if reach[0] < reach[1]
                && let Some(upright) = self.hold(axis, reach)
            {
                upright.bound(from, to, times);
            }
        }
    }

    /// The upright cuts along an axis, with some between two places.
    fn hold(&mut self, axis: usize, reach: [f64; 2]) -> Option<&mut Upright> {
        let level = self.at;
        let [x, y] = &mut self.upright;
        while !(if axis == 0 { &mut *x } else { &mut *y }).hold(reach, level) {
            if x.every() > THICKEST {
                return None;
            }
            x.coarsen(level);
            y.coarsen(level);
        }
        self.upright.get_mut(axis)
    }
}

/// The corners of a loop so far to the left of another, mm.
fn around(points: &[Point], far: f64) -> Vec<[f64; 2]> {
    let left = |from: [f64; 2], to: [f64; 2]| {
        let ([x, y], length) = (minus(to, from), apart(from, to));
        (length > 0.0).then(|| [-y / length, x / length])
    };
    let mut before = pairs(points, true)
        .filter_map(|(from, to)| left(from, to))
        .last();
    let mut corners = Vec::with_capacity(points.len());
    for (from, to) in pairs(points, true) {
        let Some(own) = left(from, to) else { continue };
        let [bx, by] = before.replace(own).unwrap_or(own);
        let [x, y] = own;
        let reach = far / (1.0 + bx * x + by * y).max(BLUNT);
        corners.push([from[0] + (bx + x) * reach, from[1] + (by + y) * reach]);
    }
    corners
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

    use super::super::upright::UPRIGHT_CAP;

    fn volume(cuts: &[Cut]) -> f64 {
        let of = |cut: &Cut| cut.solid.area * cut.length;
        cuts.iter().map(of).sum()
    }

    /// However far a part reaches, nothing of it is lost, and no more is kept than the cap.
    #[test]
    fn thicker_slices_hold_as_much() {
        let mut cuts = Cuts::of_size([0.0, 6.0, 0.0, 8.0]);
        assert_eq!(cuts.upright[0].every(), 0.25);
        cuts.at = LEVEL;
        let mut laid = 0.0;
        for reach in [3.0, 50.0, -40.0, 333.0, -1e5] {
            let piece = Piece::new([0.3, 1.0], [reach, 2.0], 0.4);
            cuts.lay(piece.into_iter(), Stuff::Solid, None);
            let both = &mut cuts.upright;
            both.iter_mut().for_each(|upright| upright.settle(LEVEL));
            laid += (reach - 0.3_f64).hypot(1.0) * 0.4 * 0.2;
            for axis in [0, 1] {
                let kept = cuts.across(axis);
                assert!(kept.len() as i64 <= UPRIGHT_CAP);
                assert!(
                    kept.iter()
                        .all(|cut| cut.length == cuts.upright[axis].every())
                );
                assert!((volume(kept) / laid - 1.0).abs() < 1e-9, "{axis} {reach}");
            }
        }
        assert_eq!(cuts.upright[0].every(), 512.0);
    }

    #[test]
    fn many_layers_are_joined_two_by_two() {
        let mut cuts = Cuts::of_size([0.0, 100.0, 0.0, 100.0]);
        assert_eq!(cuts.upright[0].every(), 2.0);
        cuts.at = LEVEL;
        let layers = 5 * LEVEL_CAP + 3;
        for _ in 0..layers {
            let piece = Piece::new([0.0; 2], [10.0, 0.0], 0.5);
            cuts.lay(piece.into_iter(), Stuff::Solid, None);
            cuts.close(0.2);
        }
        let level = cuts.across(2);
        assert!(level.len() <= LEVEL_CAP && level.len() > LEVEL_CAP / 2);
        assert!((volume(level) / (layers as f64) - 1.0).abs() < 1e-9);
    }
}
