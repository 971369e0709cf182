//! Walls and infill from motion alone: which beads are closed loops, which loops lie side by side, and
//! what lies between them.
//!
//! Nothing is painted. A layer's loops are nested by crossings of their edges; loops side by side are
//! known by the areas and lengths they enclose, and the density of infill by the volume that lies in a
//! zone of known area. Comments play no part in it.
//!
//! Whether an empty zone is a hole or a hollow within the part shows only in the layers above: until
//! then what it would add is pending.

mod class;
mod cuts;
mod figures;
mod grain;
mod path;
mod plan;
mod region;
mod room;
mod slabs;
mod stiffness;
mod strands;
mod trail;

pub use class::{Class, Confusion};
pub use figures::{RegionFigures, WallFigures};
pub use region::{COUNTED, WallCount, Where};
pub use stiffness::{Bounds, Carried, Stiffness};
pub use trail::{Laid, Trail};

use crate::physics::bead;
use class::{Above, Between, class_is_wall};
use cuts::Sections;
use grain::Grain;
use plan::{Plan, middle};
use region::{Pending, Region};

/// The most regions told apart; further ones count with the last.
const REGION_CAP: usize = 256;

/// Points of an outline that are tried for something below them (chosen).
const TRIED: usize = 32;

/// Layers from one look for room to the next (chosen).
const ROOM_EVERY: u64 = 4;

/// A raft has up to so many layers (chosen).
const RAFT_LAYERS: u64 = 10;

/// Strokes of a layer that are tried for a support below them (chosen).
const LOOKS: usize = 256;

/// The most places kept of deposit in the air.
const AIR_CAP: usize = 16;

/// What is known of the zone within a loop.
#[derive(Debug, Clone, Default)]
struct Known {
    region: Option<usize>,
    /// Whose the beads around it are: also a hole's.
    owner: Option<usize>,
    side: Side,
    is_filled: bool,
    pending: Option<Box<Pending>>,
}

/// On which side of the part walls stand.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
enum Side {
    /// The outside.
    #[default]
    Outside,
    /// A hole's.
    Hole,
    /// Neither: loops amid infill.
    Amid,
}

/// Follows walls from layer to layer.
#[derive(Debug, Default)]
pub struct Walls {
    now: Plan,
    before: Plan,
    known: Vec<Known>,
    known_before: Vec<Known>,
    regions: Vec<Region>,
    /// The beads of the layer before, and where it lies.
    kept: Trail,
    kept_at: Option<(f64, f64)>,
    classes: Vec<Class>,
    grain: Grain,
    /// Layers so far.
    drawn: u64,
    confusion: Confusion,
    /// Until a wall is laid: what comments say of what may be a raft, if it is one and if it is none.
    early: [Confusion; 2],
    has_begun: bool,
    /// Changes of tool, and the last tool.
    changes: u64,
    tool: Option<u32>,
    /// Strokes that may still be looked for below what hangs over nothing in this layer.
    looks: usize,
    /// Where sections are asked for.
    sections: Option<Sections>,
    /// Islands with nothing below them, and how many of them were told.
    in_air: Vec<Where>,
    in_air_told: usize,
    /// Width times volume, and volume, of outermost walls.
    wide: (f64, f64),
    unknown: Option<&'static str>,
}

impl Walls {
    /// Before the first layer; sections take longer.
    #[must_use]
    pub fn new(sections: bool) -> Self {
        Self {
            sections: sections.then(Sections::default),
            ..Self::default()
        }
    }

    /// A layer is closed: its beads, its height and how high it is laid, mm, and the section of a
    /// tool's filament, mm².
    pub fn layer(&mut self, trail: &Trail, height: f64, z: f64, area: impl Fn(u32) -> f64) {
        // What lies under the bed's zero or beside what was laid is no layer to build on.
        if height <= 0.0 || trail.runs.is_empty() {
            return;
        }
        std::mem::swap(&mut self.now, &mut self.before);
        std::mem::swap(&mut self.known, &mut self.known_before);
        self.known.clear();
        self.drawn += 1;
        self.grain.begin();
        if let Err(why) = self.now.draw(trail, height, area, &mut self.grain) {
            self.now.loops.clear();
            self.unknown.get_or_insert(why);
            return;
        }
        let is_next = self.kept_at.is_none_or(|(below, _)| below < z);
        if is_next {
            self.close_before(Some(trail));
        } else {
            // The next of several objects begins below the last one's top.
            self.close_before(None);
            self.drop_pending();
            self.before.clear();
            self.known_before.clear();
        }
        self.look(trail, height, z);
        self.kept.clone_from(trail);
        self.kept_at = Some((z, height));
    }

    /// The line of the next island with nothing below it that was not told yet.
    pub fn next_in_air(&mut self) -> Option<u64> {
        let next = self.in_air.get(self.in_air_told)?;
        self.in_air_told += 1;
        Some(next.line)
    }

    /// The layer before is known on both sides.
    fn close_before(&mut self, next: Option<&Trail>) {
        let Some((z, height)) = self.kept_at else {
            return;
        };
        let (plan, known, regions) = (&self.before, &self.known_before, &self.regions);
        let towers: Vec<bool> = match self.changes {
            0 => Vec::new(),
            changes => (0..regions.len())
                .map(|region| is_tower(regions, region, changes))
                .collect(),
        };
        let of = |within: u32| owner(plan, known, within);
        let begins = |within: u32| {
            let region = of(within).and_then(|region| regions.get(region));
            region
                .and_then(|region| region.z)
                .is_some_and(|[low, _]| z - height <= low + height / 2.0)
        };
        let is_tower =
            |within: u32| of(within).is_some_and(|region| towers.get(region) == Some(&true));
        let between = Between {
            trail: &self.kept,
            plan,
            known,
            is_first: z < 2.5 * height,
            begins: &begins,
            is_tower: &is_tower,
        };
        let mut above = next.map(|trail| Above {
            trail,
            plan: &mut self.now,
        });
        let lent = above.as_mut().map(|above| Above {
            trail: above.trail,
            plan: above.plan,
        });
        between.classes(lent, &mut self.classes);
        let lays_walls = plan.loops.iter().any(|one| {
            let class = self.classes.get(one.path.order);
            class.is_some_and(|class| class_is_wall(*class))
        });
        if self.has_begun || lays_walls {
            if !self.has_begun {
                let [raft, _] = std::mem::take(&mut self.early);
                class::join(&mut self.confusion, &raft);
                self.has_begun = true;
            }
            class::compare(plan, &self.classes, &mut self.confusion);
        } else {
            let [raft, plain] = &mut self.early;
            class::compare(plan, &self.classes, plain);
            if let Some(above) = &mut above {
                between.raft(above, &mut self.classes);
            }
            class::compare(plan, &self.classes, raft);
            // So many layers are no raft.
            if self.drawn > RAFT_LAYERS {
                let [_, plain] = std::mem::take(&mut self.early);
                class::join(&mut self.confusion, &plain);
                self.has_begun = true;
            }
        }
        let stands = z - height < height / 2.0;
        let of_loops = self.before.loops.iter().enumerate();
        let loops = of_loops.map(|(index, one)| (&one.path, Some(index as u32)));
        let strokes = self
            .before
            .strokes
            .iter()
            .map(|stroke| (&stroke.path, stroke.within));
        let runs = &self.kept.runs;
        for (path, within) in loops.chain(strokes) {
            let tool = runs.get(path.run).map(|run| run.tool);
            let last = match path.run.checked_sub(1) {
                Some(before) => runs.get(before).map(|run| run.tool),
                None => self.tool,
            };
            let is_change = last.is_some() && last != tool;
            self.changes += u64::from(is_change);
            let owner = within.and_then(|within| owner(&self.before, &self.known_before, within));
            if let Some(class) = self.classes.get(path.order)
                && let Some(region) = owner.and_then(|owner| self.regions.get_mut(owner))
            {
                region.lay(*class, path.volume, path.volume / height, stands);
                region.tools |= 1 << tool.unwrap_or(0).min(31);
                region.begun += u64::from(is_change);
            }
        }
        self.tool = runs.last().map(|run| run.tool);
        let Some(sections) = &mut self.sections else {
            return;
        };
        let (plan, known) = (&self.before, &self.known_before);
        let of = |index: usize| known.get(plan.loops.get(index)?.root as usize);
        sections.layer(
            &self.kept,
            plan,
            z,
            |index| owner(plan, known, index as u32),
            |index| {
                of(index).is_some_and(|known| known.side == Side::Hole) || plan.is_far_side(index)
            },
        );
    }

    fn look(&mut self, trail: &Trail, height: f64, z: f64) {
        let mut laid: Vec<(usize, [f64; 4])> = Vec::new();
        for index in 0..self.now.loops.len() {
            let known = self.zone(trail, index, height, z, &mut laid);
            self.known.push(known.unwrap_or_default());
        }
        self.hang(trail);
        laid.sort_by_key(|(region, _)| *region);
        for same in laid.chunk_by(|(one, _), (other, _)| one == other) {
            let bounds = same
                .iter()
                .map(|(_, bounds)| *bounds)
                .reduce(|[a, b, c, d], [e, f, g, h]| [a.min(e), b.max(f), c.min(g), d.max(h)]);
            if let (Some((region, _)), Some(bounds)) = (same.first(), bounds)
                && let Some(region) = self.regions.get_mut(*region)
            {
                region.close(bounds, z, height);
            }
        }
        self.drop_pending();
    }

    /// What is still pending in the layer before has nothing on it: it was a hole.
    fn drop_pending(&mut self) {
        for known in &mut self.known_before {
            if let (Some(pending), Some(region)) = (known.pending.take(), known.region)
                && let Some(region) = self.regions.get_mut(region)
            {
                region.through.join(&pending.counts);
            }
        }
    }

    /// Which strokes have nothing below their middle.
    fn hang(&mut self, trail: &Trail) {
        if self.known_before.is_empty() {
            return;
        }
        self.looks = LOOKS;
        for stroke in &mut self.now.strokes {
            let Some(at) = middle(trail, &stroke.path).filter(|_| stroke.within.is_some()) else {
                continue;
            };
            let below = self.before.slabs.innermost(at, None);
            let below = below.and_then(|below| self.before.wall(below));
            stroke.hangs = match below {
                None if self.looks > 0 => {
                    self.looks -= 1;
                    let reach = 6.0 * stroke.path.spacing(self.now.height);
                    stroke.rests = self.before.has_stroke(&self.kept, at, reach);
                    !stroke.rests
                }
                None => true,
                Some(below) => {
                    let is_filled = self
                        .known_before
                        .get(below as usize)
                        .is_some_and(|known| known.is_filled);
                    let has_zone = self
                        .before
                        .loops
                        .get(below as usize)
                        .is_some_and(|one| !one.is_linked && one.zone.area > 0.0);
                    has_zone && !is_filled
                }
            };
        }
    }

    /// Looks at the zone within a loop that no further wall follows.
    fn zone(
        &mut self,
        trail: &Trail,
        index: usize,
        height: f64,
        z: f64,
        laid: &mut Vec<(usize, [f64; 4])>,
    ) -> Option<Known> {
        let one = self.now.loops.get(index)?;
        if one.is_linked || one.is_infill {
            return None;
        }
        let first = self.now.loops.get(one.root as usize)?;
        let line = trail.runs.get(one.path.run).map_or(0, |run| run.line);
        let root = one.root as usize;
        let (walls, length, at) = (one.depth, first.path.length, Where { z, line });
        let zone = one.zone;
        let is_filled = zone.volume > 0.0 && zone.area > 0.0;
        let (solid, sparse) = zone.split(height);
        let (around, is_within) = match first.parent.and_then(|parent| self.now.wall(parent)) {
            Some(parent) => {
                let known = self.known.get(parent as usize);
                let is_filled = known.is_some_and(|known| known.is_filled);
                (known.and_then(|known| known.region), is_filled)
            }
            None => (None, false),
        };
        // The outermost wall lies on the side of what is not filled.
        let outermost = if is_within { one } else { first };
        let (weight, bounds, enclosed) = (outermost.path.volume, first.path.bounds, first.area);
        let bead = bead::width(weight / outermost.path.length, height);
        if is_within {
            let region = self.regions.get_mut(around?)?;
            if is_filled {
                // A loop amid infill, such as a turn of it.
                region.zone(zone.area, solid, sparse, height);
                return Some(Known {
                    region: around,
                    owner: around,
                    side: Side::Amid,
                    is_filled,
                    pending: None,
                });
            }
            region.count(walls, length, at);
            self.widen(bead, weight);
            let hole = Known {
                owner: around,
                side: Side::Hole,
                ..Known::default()
            };
            if let Some(known) = self.known.get_mut(root) {
                (known.owner, known.side) = (hole.owner, hole.side);
            }
            return Some(hole);
        }
        self.widen(bead, weight);
        let room = if is_filled && self.drawn.is_multiple_of(ROOM_EVERY) {
            self.now.room(trail, index)
        } else {
            Vec::new()
        };
        let below = self.below(trail, index);
        let known = below.and_then(|below| self.known_before.get_mut(below));
        let (region, pending) = match known {
            Some(known) => (known.region, known.pending.take()),
            None => (None, None),
        };
        // Other ends of the same walls are of the same region.
        let same = self.known.get(root).and_then(|known| known.region);
        let around = around.filter(|_| !is_filled);
        let at_hand = same.or(region).or(around);
        if at_hand.is_none() && self.hangs_in_air(trail, index, z) && self.in_air.len() < AIR_CAP {
            self.in_air.push(at);
        }
        let index = at_hand.unwrap_or_else(|| {
            if self.regions.len() < REGION_CAP {
                self.regions.push(Region::default());
            }
            self.regions.len() - 1
        });
        if let Some(known) = self.known.get_mut(root) {
            (known.region, known.owner) = (Some(index), Some(index));
        }
        let region = self.regions.get_mut(index)?;
        laid.push((index, bounds));
        let mut known = Known {
            region: Some(index),
            owner: Some(index),
            side: Side::Outside,
            is_filled,
            pending: None,
        };
        if is_filled {
            if let Some(pending) = pending {
                region.resolve(&pending);
            }
            for further in &room {
                region.room.add(*further, 1.0, at);
            }
            region.count(walls, length, at);
            region.zone(zone.area, solid, sparse, height);
        } else if zone.area > 0.0 {
            let mut pending = pending.unwrap_or_default();
            if region.z.is_some() {
                pending.counts.add(walls, length, at);
            } else {
                region.base.add(walls, length, at);
            }
            pending.space += zone.area * height;
            pending.layers += 1;
            known.pending = Some(pending);
            region.is_hollow();
        } else {
            // Beads side by side to the middle.
            region.full.add(walls, length, at);
            region.zone(enclosed, enclosed, 0.0, height);
        }
        Some(known)
    }

    /// Whether an island begins with nothing below its outline: no loop, and no stroke such as a
    /// support's.
    fn hangs_in_air(&mut self, trail: &Trail, index: usize, z: f64) -> bool {
        let Some(one) = self
            .now
            .loops
            .get(index)
            .filter(|_| !self.known_before.is_empty())
        else {
            return false;
        };
        // Another thing alone may lie between, such as a tower's layer: what was laid here not long ago
        // carries it.
        let [left, right, low, high] = one.path.bounds;
        let depth = 3.5 * self.now.height;
        let stood = self.regions.iter().any(|region| {
            matches!((region.bounds, region.z), (Some([a, b, c, d]), Some([_, top]))
                if z - top < depth && a < right && b > left && c < high && d > low)
        });
        if stood {
            return false;
        }
        let reach = 2.0 * one.bead;
        let points = trail
            .points
            .get(one.path.points.clone())
            .unwrap_or_default();
        let step = points.len().div_ceil(TRIED).max(1);
        for point in points.iter().step_by(step) {
            if self.before.slabs.innermost(point.at, None).is_some()
                || self
                    .before
                    .slabs
                    .nearest(point.at, [1.0, 0.0], reach)
                    .is_some()
                || self.before.has_stroke(&self.kept, point.at, reach)
            {
                return false;
            }
        }
        true
    }

    fn widen(&mut self, width: Option<f64>, volume: f64) {
        if let Some(width) = width {
            self.wide.0 += width * volume;
            self.wide.1 += volume;
        }
    }

    /// What is known of the zone of the layer before in which a loop's own begins.
    fn below(&mut self, trail: &Trail, index: usize) -> Option<usize> {
        let one = self.now.loops.get(index)?;
        [1.0, 3.0].into_iter().find_map(|beads| {
            let at = self.now.beside(trail, one, beads)?;
            let below = self.before.slabs.innermost(at, None)?;
            let below = self.before.wall(below)? as usize;
            let is_zone = self
                .before
                .loops
                .get(below)
                .is_some_and(|below| !below.is_linked);
            is_zone.then_some(below)
        })
    }
}

/// The region with the most deposit.
fn largest(regions: &[Region]) -> Option<usize> {
    let volumes = regions.iter().map(|region| region.volume);
    volumes
        .enumerate()
        .max_by(|one, other| one.1.total_cmp(&other.1))
        .map(|(index, _)| index)
}

/// Whether every tool begins with a region, though another with more deposit is laid by several tools, too.
/// A part on which tools change is none: no other has what the tools lay.
fn is_tower(regions: &[Region], index: usize, changes: u64) -> bool {
    let Some(own) = regions.get(index).filter(|own| own.begun >= 2) else {
        return false;
    };
    own.begun * 10 >= changes * 9
        && regions.iter().any(|other| {
            other.tools.count_ones() > 1 && other.begun * 10 <= changes && other.volume > own.volume
        })
}

/// Whose a loop is, or a stroke within it.
fn owner(plan: &Plan, known: &[Known], within: u32) -> Option<usize> {
    let wall = plan.wall(within)?;
    let root = plan.loops.get(wall as usize)?.root;
    known.get(root as usize)?.owner
}
