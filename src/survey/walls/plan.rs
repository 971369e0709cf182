//! One layer seen from above: loops in loops, walls side by side, and the zones between them.

use super::grain::Grain;
use super::path::{Path, Said, apart, group, minus};
use super::slabs::Slabs;
use super::trail::Trail;
use super::zone::Zone;

/// The most loops of a layer that are told apart.
const LOOP_CAP: usize = 1 << 14;

/// Loops are walls side by side up to this many times the distance of beads that touch (chosen: with
/// infill of 75 % and more, concentric infill is taken for walls).
pub(super) const BESIDE: f64 = 1.35;

/// A zone is none below so many beads squared: what is left of the middle of walls (chosen).
const ZONE_FROM: f64 = 6.0;

/// A closed path is that of a stroke there and back where it encloses up to so many beads' width in the
/// mean (chosen).
const SLIVER: f64 = 1.15;

/// Concentric infill keeps its distance to within this share (chosen).
const EVEN: f64 = 0.12;

/// Loops out from a loop that are looked at for the outermost (chosen).
const TURNS: usize = 256;

/// Walls further apart than so many beads do not touch (chosen: those laid with a tenth too little still do).
const LOOSE: f64 = 1.2;

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

    /// Whether a loop within lies looser than a wall, as the first turn of infill whose turns are so far apart, mm.
    fn is_loose(&self, turn: &Self, turns: f64) -> bool {
        let (_, area, length) = self.within;
        let apart = 2.0 * (self.area - area) / (self.path.length + length);
        let bead = f64::midpoint(self.bead, turn.bead);
        apart > LOOSE * bead
            && [2.0 * apart, 2.0 * apart - bead]
                .iter()
                .any(|apart| (apart - turns).abs() <= EVEN * turns)
    }

    /// Whether one was laid right after the other.
    const fn follows(&self, other: &Self) -> bool {
        self.path.order.abs_diff(other.path.order) == 1
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
    /// How many paths were laid, and what comments say of stretches of them.
    pub laid: usize,
    pub said: Vec<Said>,
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

/// Walls side by side, by the first of each chain; and what lies right within a loop.
struct Chains {
    /// How many walls a chain has, and when the last of them was laid.
    length: Vec<u32>,
    latest: Vec<usize>,
    /// The next wall within a wall.
    inner: Vec<Option<u32>>,
    /// The shortest and the longest chain within a loop.
    within: Vec<(u32, u32)>,
}

impl Chains {
    fn of(loops: &[Loop]) -> Self {
        let mut chains = Self {
            length: vec![0; loops.len()],
            latest: vec![0; loops.len()],
            inner: vec![None; loops.len()],
            within: vec![(u32::MAX, 0); loops.len()],
        };
        for (index, one) in loops.iter().enumerate().filter(|(_, one)| !one.is_infill) {
            let root = one.root as usize;
            if let (Some(length), Some(latest)) =
                (chains.length.get_mut(root), chains.latest.get_mut(root))
            {
                *length = (*length).max(one.depth);
                *latest = (*latest).max(one.path.order);
            }
            if one.depth > 1
                && let Some(inner) = one.parent.and_then(|at| chains.inner.get_mut(at as usize))
            {
                *inner = Some(index as u32);
            }
        }
        for (one, length) in loops.iter().zip(&chains.length) {
            if let Some(within) = one.parent.and_then(|at| chains.within.get_mut(at as usize))
                && one.depth == 1
            {
                *within = (within.0.min(*length), within.1.max(*length));
            }
        }
        chains
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
    /// Tells a layer apart; else why it cannot be. Around the first layers there may be a skirt.
    pub fn draw(
        &mut self,
        trail: &Trail,
        (height, is_first): (f64, bool),
        grain: &mut Grain,
    ) -> Result<(), &'static str> {
        self.height = height;
        self.loops.clear();
        self.strokes.clear();
        if trail.is_full {
            return Err("a layer has more beads than are kept of one");
        }
        group(trail, height, &mut self.paths, &mut self.said);
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
        if one.is_linked || zone.area <= 0.0 || zone.is_full(self.height) {
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
        let chains = Chains::of(&self.loops);
        for index in (0..self.loops.len()).rev() {
            let Some(one) = self.loops.get(index) else {
                continue;
            };
            let Some(parent) = one.parent else { continue };
            let Some(outer) = self.loops.get(parent as usize) else {
                continue;
            };
            let (mine, around) = (gap(index as u32), gap(parent));
            let is_single = one.depth == 1 && !one.is_linked;
            // Laid right after the turn around it, it is the next one whatever lies within.
            let is_next = is_single && one.follows(outer);
            // Between walls on either side that are two or more, no wall stands by itself.
            let is_alone = is_single
                && !outer.is_linked
                && outer.depth > 1
                && chains.within.get(index) == Some(&(outer.depth, outer.depth));
            if mine.is_none() && !is_next && !is_alone {
                continue;
            }
            let alike = |one: f64, other: f64| (one - other).abs() <= EVEN * one.max(other);
            // The first turn may lie half as far from the walls, or from their edge; one that has its distance
            // from another turn is not the first.
            let is_even = |apart: f64, outer: f64, before: Option<f64>| {
                let is_first = !before.is_some_and(|before| alike(outer, before));
                alike(apart, outer)
                    || is_first
                        && [2.0 * outer, 2.0 * outer - one.bead]
                            .iter()
                            .any(|outer| alike(apart, *outer))
            };
            let beyond = |at: Option<u32>| self.loops.get(at? as usize)?.parent;
            let outermost = outer.parent.and_then(gap);
            let before = beyond(outer.parent).and_then(gap);
            // A hole's wall is laid along with the outermost, and not with turns.
            let is_beside_wall = || {
                let outermost = outer.parent.and_then(|outer| self.outermost(outer));
                outermost.is_some_and(|outermost| outermost.follows(one))
            };
            let is_even = around.is_some_and(|around| {
                let inner = mine.filter(|mine| *mine > 0.0);
                // The last one has nothing in it to be even with: its distance to the one around is.
                let is_last = is_next || mine == Some(0.0) && !is_beside_wall();
                inner.is_some_and(|inner| is_even(inner, around, outermost))
                    || is_last
                        && outermost.is_some_and(|outermost| is_even(around, outermost, before))
            }) || is_alone;
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
            self.trim(&rings);
            self.number();
        }
        if self.even_out() {
            self.number();
        }
    }

    /// The loop around all others that a loop lies in: that one is a wall.
    fn outermost(&self, mut at: u32) -> Option<&Loop> {
        for _ in 0..TURNS {
            let one = self.loops.get(at as usize)?;
            match one.parent {
                Some(parent) => at = parent,
                None => return Some(one),
            }
        }
        None
    }

    /// Walls on both sides of a zone are as many: where one side has one more, and the one nearest to the
    /// zone was laid apart from all others, that is a turn of infill which touches them.
    fn even_out(&mut self) -> bool {
        let chains = Chains::of(&self.loops);
        let loop_at = |at: Option<u32>| self.loops.get(at? as usize);
        let inner = |at: usize| chains.inner.get(at).copied().flatten();
        let latest = |root: u32| chains.latest.get(root as usize).copied();
        let mut turns = Vec::new();
        for (index, first) in self.loops.iter().enumerate() {
            if first.depth > 1 || first.is_infill {
                continue;
            }
            let Some(at) = first.parent.and_then(|parent| self.wall(parent)) else {
                continue;
            };
            let Some(last) = loop_at(Some(at)).filter(|last| !last.is_linked) else {
                continue;
            };
            // Later than all walls, and not at the pace at which they follow each other.
            let is_apart = |turn: &Loop, mate: Option<&Loop>, next: Option<&Loop>| {
                let step = |one: &Loop, other: &Loop| one.path.order.abs_diff(other.path.order);
                mate.zip(next)
                    .is_some_and(|(mate, next)| step(turn, mate) > step(mate, next))
                    && [last.root, index as u32]
                        .iter()
                        .all(|root| latest(*root) <= Some(turn.path.order))
            };
            let chain = chains.length.get(index).copied().unwrap_or_default();
            if chain == last.depth + 1 {
                let mate = inner(index);
                let next = mate.and_then(|mate| inner(mate as usize));
                if is_apart(first, loop_at(mate), loop_at(next)) {
                    turns.push((index, Some(at)));
                }
            } else if last.depth == chain + 1 {
                let mate = loop_at(last.parent);
                if is_apart(last, mate, mate.and_then(|mate| loop_at(mate.parent))) {
                    turns.push((at as usize, None));
                }
            }
        }
        for (index, wall) in &turns {
            let Some(one) = self.loops.get_mut(*index).filter(|one| !one.is_infill) else {
                continue;
            };
            if wall.is_some() {
                one.is_linked = false;
                one.parent = *wall;
            }
            let parent = one.parent;
            self.fold(*index);
            if let Some(parent) = parent.and_then(|parent| self.loops.get_mut(parent as usize)) {
                parent.is_linked = false;
            }
        }
        !turns.is_empty()
    }

    /// The turns of infill that touch walls are no walls: the nozzle lays them along with the other
    /// turns, and not along with the walls; or the first lies looser than walls do, half as far from the last
    /// wall, or from its edge, as the turns from each other. `rings` is how far those are.
    fn trim(&mut self, rings: &[Option<f64>]) {
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
                    && self.loops.get(wall as usize).is_some_and(|outer| {
                        let turns = rings.get(at as usize).copied().flatten();
                        !outer.follows(parent)
                            || turns.is_some_and(|turns| outer.is_loose(parent, turns))
                    })
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
