//! One layer seen from above: loops in loops, walls side by side, and the zones between them.

use super::grain::Grain;
use super::path::{Path, apart, group, minus};
use super::slabs::Slabs;
use super::trail::Trail;
use crate::command::hint::PathKind;

/// The most loops of a layer that are told apart.
const LOOP_CAP: usize = 1 << 14;

/// Loops are walls side by side up to this many times the distance of beads that touch (chosen: with
/// infill of 70 % and more, concentric infill is taken for walls).
pub(super) const BESIDE: f64 = 1.35;

/// A zone is none below so many beads squared: what is left of the middle of walls (chosen).
const ZONE_FROM: f64 = 6.0;

/// A closed path is that of a stroke there and back where it encloses up to so many beads' width in the
/// mean (chosen).
const SLIVER: f64 = 1.15;

/// Concentric infill keeps its distance to within this share (chosen).
const EVEN: f64 = 0.12;

/// A closed path, and the zone within it where no further wall follows.
#[derive(Debug, Clone)]
pub(super) struct Loop {
    pub path: Path,
    /// Enclosed, mm².
    pub area: f64,
    /// Distance between such beads side by side, mm.
    pub bead: f64,
    /// The loop it lies in.
    pub parent: Option<u32>,
    /// Whether the loops in it are the next wall.
    pub is_linked: bool,
    /// Which wall of its chain it is, from 1; and the chain's first.
    pub depth: u32,
    pub root: u32,
    /// Whether it is a turn of concentric infill, and no wall.
    pub is_infill: bool,
    /// The loops just within: how many, their area and length.
    within: (u32, f64, f64),
    /// What lies between it and them.
    pub zone: Zone,
}

impl Loop {
    /// The length of the beads around its zone, its own and those of the loops just within, mm.
    pub fn zone_outline(&self) -> f64 {
        self.path.length + self.within.2
    }

    /// Whether one was laid right after the other.
    const fn follows(&self, other: &Self) -> bool {
        self.path.order.abs_diff(other.path.order) == 1
    }
}

/// What lies between loops.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Zone {
    /// mm², the beads around it left out; 0 where walls fill it.
    pub area: f64,
    /// Deposit of strokes in it, mm³.
    pub volume: f64,
    /// Length of strokes that lie side by side with others, and of those that lie apart, mm.
    pub solid: f64,
    pub apart: f64,
    /// Length of strokes, and of those that lie upon walls from end to end, mm.
    pub length: f64,
    pub along: f64,
    /// Strokes met; of those looked at closely their length, and how much of it lies upon the walls, mm.
    pub met: u32,
    pub looked: f64,
    pub upon: f64,
}

impl Zone {
    /// Area that solid strokes fill, mm², and volume of sparse ones, mm³.
    pub fn split(&self, height: f64) -> (f64, f64) {
        let whole = self.area * height;
        if self.area <= 0.0 {
            return (0.0, 0.0);
        }
        let marked = self.solid + self.apart;
        let share = if self.volume > 0.85 * whole || marked <= 0.0 {
            f64::from(self.volume > 0.8 * whole)
        } else {
            match self.solid / marked {
                share if share < 0.1 => 0.0,
                share if share > 0.9 => 1.0,
                share => share,
            }
        };
        let solid = (self.volume * share / height).min(self.area);
        let upon = if self.looked > 0.0 {
            self.upon / self.looked
        } else {
            0.0
        };
        let along = if self.length > 0.0 {
            self.along / self.length
        } else {
            0.0
        };
        (
            solid,
            self.volume * (1.0 - share) * (1.0 - along) * (1.0 - upon),
        )
    }
}

/// An open path: where it lies.
#[derive(Debug, Clone)]
pub(super) struct Stroke {
    pub path: Path,
    /// The innermost loop that holds it.
    pub within: Option<u32>,
    /// Length that lies side by side with other strokes, and apart from them, mm.
    pub solid: f64,
    pub apart: f64,
    /// Whether there is nothing below its middle.
    pub hangs: bool,
    /// Whether it rests on a support there.
    pub rests: bool,
}

/// A layer, told apart.
#[derive(Debug, Default)]
pub(super) struct Plan {
    pub height: f64,
    pub loops: Vec<Loop>,
    pub strokes: Vec<Stroke>,
    pub slabs: Slabs,
    /// How many paths were laid; of each stretch of one its path, what comments say, and volume, mm³.
    pub laid: usize,
    pub said: Vec<(usize, PathKind, f64)>,
    paths: Vec<Path>,
    /// Closed paths that enclose no more than a bead's width.
    slivers: Vec<Path>,
}

impl Loop {
    fn new(path: Path, height: f64) -> Self {
        Self {
            area: path.area.abs(),
            bead: path.spacing(height),
            parent: None,
            is_linked: false,
            depth: 1,
            root: 0,
            is_infill: false,
            within: (0, 0.0, 0.0),
            zone: Zone::default(),
            path,
        }
    }
}

impl Stroke {
    const fn new(path: Path) -> Self {
        Self {
            path,
            within: None,
            solid: 0.0,
            apart: 0.0,
            hangs: false,
            rests: false,
        }
    }
}

impl Plan {
    /// Tells a layer apart; else why it cannot be. `area` is a tool's filament's, mm²; around the first layers
    /// there may be a skirt.
    pub fn draw(
        &mut self,
        trail: &Trail,
        (height, is_first): (f64, bool),
        area: impl Fn(u32) -> f64,
        grain: &mut Grain,
    ) -> Result<(), &'static str> {
        self.height = height;
        self.loops.clear();
        self.strokes.clear();
        if trail.is_full {
            return Err("a layer has more beads than are kept of one");
        }
        group(trail, height, area, &mut self.paths, &mut self.said);
        self.laid = self.paths.last().map_or(0, |path| path.order + 1);
        self.slivers.clear();
        for path in self.paths.drain(..) {
            if path.returns {
                self.slivers.push(path);
            } else if !path.is_closed {
                self.strokes.push(Stroke::new(path));
            } else if 2.0 * path.area.abs() <= SLIVER * path.spacing(height) * path.length {
                self.slivers.push(path);
            } else {
                self.loops.push(Loop::new(path, height));
            }
        }
        if self.loops.len() > LOOP_CAP {
            return Err("a layer has more loops than are told apart");
        }
        self.nest(trail);
        self.link();
        self.place_slivers(trail);
        self.place_strokes(trail, grain);
        if is_first {
            self.open_fences(trail);
        }
        self.fold_concentric();
        self.measure_zones();
        if self.slabs.is_spent() {
            return Err("the loops of a layer are too tangled to be told apart");
        }
        Ok(())
    }

    /// A stroke there and back beside it ends where it began, and a wall in the middle of a thin part
    /// does so, too. It is a wall where it lies in no loop, or side by side with the one it lies in.
    fn place_slivers(&mut self, trail: &Trail) {
        let loops = self.loops.len();
        for path in std::mem::take(&mut self.slivers) {
            let begin = trail.points.get(path.points.start);
            let around = begin.and_then(|begin| self.slabs.innermost(begin.at, None));
            let is_wall = match around.and_then(|around| self.loops.get(around as usize)) {
                None => !path.returns,
                Some(around) => {
                    let apart = around.area - path.area.abs();
                    let bead = f64::midpoint(around.bead, path.spacing(self.height));
                    let is_along =
                        !path.returns || (0.6..1.05).contains(&(path.length / around.path.length));
                    around.within.0 == 0
                        && is_along
                        && 2.0 * apart <= BESIDE * bead * (around.path.length + path.length)
                }
            };
            if is_wall {
                self.loops.push(Loop::new(path, self.height));
            } else {
                self.strokes.push(Stroke::new(path));
            }
        }
        if self.loops.len() > loops {
            for one in &mut self.loops {
                one.within = (0, 0.0, 0.0);
            }
            self.nest(trail);
            self.link();
        }
    }

    /// Finds the loop that each lies in, the largest first.
    fn nest(&mut self, trail: &Trail) {
        self.loops.sort_by(|a, b| b.area.total_cmp(&a.area));
        self.slabs
            .fill(trail, self.loops.iter().map(|one| &one.path));
        for index in 0..self.loops.len() {
            let Some(one) = self.loops.get(index) else {
                break;
            };
            let Some(point) = trail.points.get(one.path.points.start) else {
                continue;
            };
            let (area, length) = (one.area, one.path.length);
            let parent = self.slabs.innermost(point.at, Some(index as u32));
            // A loop lies in none that is smaller.
            let parent = parent.filter(|parent| (*parent as usize) < index);
            if let Some(parent) = parent.and_then(|parent| self.loops.get_mut(parent as usize)) {
                parent.within.0 += 1;
                parent.within.1 += area;
                parent.within.2 += length;
            }
            if let Some(one) = self.loops.get_mut(index) {
                one.parent = parent;
            }
        }
    }

    /// Two parallel curves at distance d enclose areas that differ by d times their mean length
    /// (Steiner's formula for parallel curves, to the first order): so loops side by side are known
    /// without a look at their shapes.
    fn link(&mut self) {
        for index in 0..self.loops.len() {
            let Some(one) = self.loops.get(index) else {
                break;
            };
            let bead = match one.parent.and_then(|at| self.loops.get(at as usize)) {
                Some(parent) if parent.is_linked => f64::midpoint(parent.bead, one.bead),
                _ => one.bead,
            };
            if let Some(one) = self.loops.get_mut(index) {
                let (count, area, length) = one.within;
                let distance = 2.0 * (one.area - area) / (one.path.length + length);
                one.is_linked = count > 0 && distance <= BESIDE * bead;
            }
        }
        self.number();
    }

    /// Counts walls from the first of their chain.
    fn number(&mut self) {
        for index in 0..self.loops.len() {
            let parent = self
                .loops
                .get(index)
                .and_then(|one| self.loops.get(one.parent? as usize));
            let (depth, root) = match parent {
                Some(parent) if parent.is_linked => (parent.depth + 1, parent.root),
                _ => (1, index as u32),
            };
            if let Some(one) = self.loops.get_mut(index) {
                (one.depth, one.root) = (depth, root);
            }
        }
    }

    /// Whether a stroke in the zone of a loop is solid.
    pub fn is_solid(&self, stroke: &Stroke, within: u32) -> bool {
        let Some(one) = self.loops.get(within as usize) else {
            return true;
        };
        let zone = one.zone;
        if one.is_linked || zone.area <= 0.0 || zone.volume > 0.85 * zone.area * self.height {
            return true;
        }
        if stroke.solid + stroke.apart > 0.0 {
            return stroke.solid > stroke.apart;
        }
        zone.split(self.height).0 > 0.5 * zone.area
    }

    /// Loops in loops at one and the same distance, with nothing between, are concentric infill: they
    /// count as strokes of the zone around them.
    fn fold_concentric(&mut self) {
        let rings: Vec<Option<f64>> = (0..self.loops.len())
            .map(|index| self.ring(index))
            .collect();
        let gap = |at: u32| rings.get(at as usize).copied().flatten();
        for index in (0..self.loops.len()).rev() {
            let Some(one) = self.loops.get(index) else {
                continue;
            };
            let (Some(mine), Some(parent)) = (gap(index as u32), one.parent) else {
                continue;
            };
            let around = gap(parent);
            // The first turn may lie half as far from the walls.
            let alike = |mine: f64, outer: f64| {
                [outer, 2.0 * outer]
                    .iter()
                    .any(|outer| (mine - outer).abs() <= EVEN * mine.max(*outer))
            };
            let is_even = match around {
                // The last one has nothing in it to be even with: its distance to the one around is.
                Some(around) if mine == 0.0 => self
                    .loops
                    .get(parent as usize)
                    .and_then(|parent| gap(parent.parent?))
                    .is_some_and(|outer| alike(around, outer)),
                Some(around) => alike(mine, around),
                None => false,
            };
            // Also the first, whose distance to the walls is of another kind.
            let holds_one = one.is_infill;
            if !(is_even || holds_one) {
                continue;
            }
            let is_ring = around.is_some();
            self.fold(index);
            if let Some(parent) = self.loops.get_mut(parent as usize) {
                // What holds a turn of it is one too, if it is no wall.
                parent.is_infill = is_ring && parent.depth == 1 && parent.parent.is_some();
            }
        }
        if self.loops.iter().any(|one| one.is_infill) {
            self.trim();
            self.number();
        }
    }

    /// The turns of infill that touch walls are no walls: the nozzle lays them along with the other
    /// turns, and not along with the walls.
    fn trim(&mut self) {
        for index in 0..self.loops.len() {
            let Some(one) = self.loops.get(index) else {
                break;
            };
            let Some(parent) = one.parent.and_then(|at| self.loops.get(at as usize)) else {
                continue;
            };
            if one.is_infill {
                // The last of a chain, just outside of this turn.
                if !parent.is_infill
                    && parent.depth > 1
                    && !parent.is_linked
                    && parent.follows(one)
                    && let Some(at) = one.parent
                    && let Some(wall) = parent.parent
                    && self
                        .loops
                        .get(wall as usize)
                        .is_some_and(|wall| !wall.follows(parent))
                {
                    self.fold(at as usize);
                    if let Some(wall) = self.loops.get_mut(wall as usize) {
                        wall.is_linked = false;
                    }
                }
            } else if one.is_linked && parent.is_infill && one.follows(parent) {
                // The first of a chain, just within a turn.
                let is_apart =
                    |child: &Loop| child.parent != Some(index as u32) || !child.follows(one);
                if self.loops.iter().skip(index).all(is_apart) {
                    let wall = one.parent.and_then(|parent| self.wall(parent));
                    if let Some(one) = self.loops.get_mut(index) {
                        one.is_linked = false;
                        one.parent = wall;
                    }
                    self.fold(index);
                }
            }
        }
    }

    /// Takes a loop for infill of the zone around it.
    fn fold(&mut self, index: usize) {
        let Some(one) = self.loops.get_mut(index) else {
            return;
        };
        let Some(parent) = one.parent else { return };
        let (within, area, length) = (one.within, one.area, one.path.length);
        let zone = std::mem::take(&mut one.zone);
        let volume = one.path.volume + zone.volume;
        one.is_infill = true;
        if let Some(parent) = self.loops.get_mut(parent as usize) {
            let (count, parent_area, parent_length) = parent.within;
            parent.within = (
                count + within.0 - 1,
                parent_area - area + within.1,
                parent_length - length + within.2,
            );
            parent.zone.volume += volume;
            parent.zone.solid += zone.solid;
            parent.zone.apart += length + zone.apart;
        }
    }

    /// The distance from a loop to those just within, where nothing lies between and it is a chain of
    /// its own or a chain's last; 0 where there are none.
    fn ring(&self, index: usize) -> Option<f64> {
        let one = self.loops.get(index)?;
        let (_, area, length) = one.within;
        if one.is_linked || one.zone.volume > 0.0 {
            return None;
        }
        if length <= 0.0 {
            return (one.depth == 1).then_some(0.0);
        }
        Some(2.0 * (one.area - area) / (one.path.length + length))
    }

    fn measure_zones(&mut self) {
        for index in 0..self.loops.len() {
            let Some(one) = self.loops.get_mut(index) else {
                break;
            };
            if !one.is_linked && !one.is_infill {
                // Half a bead along the loop, and half of each just within, is no zone.
                let (_, area, length) = one.within;
                let inside = one.area - area - (one.path.length + length) * one.bead / 2.0;
                let is_zone = inside > ZONE_FROM * one.bead * one.bead;
                one.zone.area = if is_zone { inside } else { 0.0 };
            }
        }
    }

    /// The loop itself, or where it is a turn of infill, the wall around it.
    pub fn wall(&self, mut at: u32) -> Option<u32> {
        loop {
            let one = self.loops.get(at as usize)?;
            if !one.is_infill {
                return Some(at);
            }
            at = one.parent?;
        }
    }

    /// Whether a loop is the far side of a wall, as a tube's: empty within, and laid the other way round
    /// than the first of its chain.
    pub fn is_far_side(&self, index: usize) -> bool {
        let Some(one) = self.loops.get(index) else {
            return false;
        };
        !one.is_linked
            && one.zone.area > 0.0
            && one.zone.volume <= 0.0
            && self
                .loops
                .get(one.root as usize)
                .is_some_and(|first| first.path.area * one.path.area < 0.0)
    }

    /// Whether a stroke outside of all loops passes within `reach` of a point, mm.
    pub fn has_stroke(&self, trail: &Trail, at: [f64; 2], reach: f64) -> bool {
        let [x, y] = at;
        self.strokes
            .iter()
            .filter(|stroke| stroke.within.is_none())
            .filter(|stroke| {
                let [left, right, low, high] = stroke.path.bounds;
                x > left - reach && x < right + reach && y > low - reach && y < high + reach
            })
            .any(|stroke| {
                let points = trail.points.get(stroke.path.points.clone());
                points
                    .unwrap_or_default()
                    .windows(2)
                    .any(|pair| match pair {
                        [from, to] => {
                            let (way, off) = (minus(to.at, from.at), minus(at, from.at));
                            let square = way[0] * way[0] + way[1] * way[1];
                            let share = (off[0] * way[0] + off[1] * way[1]) / square;
                            let share = share.clamp(0.0, 1.0);
                            apart(off, [way[0] * share, way[1] * share]) < reach
                        }
                        _ => false,
                    })
            })
    }

    /// Nothing is laid.
    pub fn clear(&mut self) {
        self.loops.clear();
        self.strokes.clear();
        self.said.clear();
        self.laid = 0;
        self.slabs.clear();
    }

    /// A point within a loop, so many of its beads from it: beside the middle of its longest edge.
    pub fn beside(&self, trail: &Trail, one: &Loop, beads: f64) -> Option<[f64; 2]> {
        let [from, to] = trail.points.get(one.path.longest - 1..=one.path.longest)? else {
            return None;
        };
        let [dx, dy] = minus(to.at, from.at);
        let length = apart(to.at, from.at);
        let inward = one.path.area.signum() * beads * one.bead / length;
        (length > 0.0).then(|| {
            [
                f64::midpoint(from.at[0], to.at[0]) - dy * inward,
                f64::midpoint(from.at[1], to.at[1]) + dx * inward,
            ]
        })
    }
}

/// The middle of a path's longest bead.
pub(super) fn middle(trail: &Trail, path: &Path) -> Option<[f64; 2]> {
    let [from, to] = trail.points.get(path.longest - 1..=path.longest)? else {
        return None;
    };
    Some([
        f64::midpoint(from.at[0], to.at[0]),
        f64::midpoint(from.at[1], to.at[1]),
    ])
}
