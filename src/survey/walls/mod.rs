//! Walls and infill from motion alone: which beads are closed loops, which loops lie side by side, and
//! what lies between them.
//!
//! Nothing is painted. A layer's loops are nested by crossings of their edges; loops side by side are
//! known by the areas and lengths they enclose, and the density of infill by the volume that lies in a
//! zone of known area. Comments play no part in it.
//!
//! Whether an empty zone is a hole or a hollow within the part shows only in the layers above: until
//! then what it would add is pending.

mod base;
mod beside;
mod class;
mod cuts;
mod figures;
mod grain;
mod ground;
mod hang;
mod names;
mod objects;
mod path;
mod plan;
mod raft;
mod region;
mod room;
mod slabs;
mod stiffness;
mod strands;
mod thins;
mod tower;
mod trail;
mod upright;
mod zone;

pub use beside::{Apart, Following};
pub use class::{Class, Confusion, Shown};
pub use figures::{Island, RegionFigures, WallFigures};
pub use hang::{LEANS, Overhang};
pub use names::{NameFigures, Names};
pub use objects::ObjectFigures;
pub use region::{COUNTED, WallCount, Where};
pub use stiffness::{Bounds, Carried, Stiffness};
pub use thins::Densities;
pub use trail::{Laid, Trail};

use crate::finding::{Excerpt, Mark};
use crate::physics::bead;
use class::{Above, Between, class_is_wall};
use cuts::Sections;
use grain::Grain;
use ground::Ground;
use hang::Hang;
use objects::Joined;
use path::Path;
use plan::{Plan, middle};
use region::{Pending, Region};
use thins::Halves;
use tower::{Loose, is_tower};
use trail::Run;

/// The most regions told apart; further ones count with the last.
const REGION_CAP: usize = 256;

/// Points of a path that are tried for something below them or on them (chosen).
const TRIED: usize = 32;

/// Layers from one look for room to the next (chosen).
const ROOM_EVERY: u64 = 4;

/// A raft has up to so many layers (chosen).
const RAFT_LAYERS: u64 = 10;

/// Strokes of a layer that are tried for a support below them (chosen).
const LOOKS: usize = 256;

/// The most places kept of deposit in the air.
const AIR_CAP: usize = 16;

/// Layers with more solid infill than this share of a zone say nothing about where sparse infill thins (chosen).
const MIXED: f64 = 0.1;

/// What is known of the zone within a loop.
#[derive(Debug, Clone, Default)]
struct Known {
    region: Option<usize>,
    /// Whose the beads around it are: also a hole's.
    owner: Option<usize>,
    side: Side,
    is_filled: bool,
    pending: Option<Box<Pending>>,
    /// Whether nobody knows what it stands on.
    is_unsure: bool,
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
    /// Strokes below that may carry what lies over no wall.
    ground: Ground,
    /// What of the layer at hand hangs.
    hung: Hang,
    /// Why nobody can tell what hangs.
    hung_unknown: Option<&'static str>,
    /// Where infill thins.
    halves: Halves,
    /// Which regions are of one object.
    joined: Joined,
    /// Layers so far.
    drawn: u64,
    confusion: Confusion,
    /// Until a wall is laid: what comments say of what may be a raft, if it is one and if it is none.
    early: [Confusion; 2],
    has_begun: bool,
    /// Changes of tool, and the last tool.
    changes: u64,
    tool: Option<u32>,
    /// Strokes that may be a tower without walls.
    loose: Loose,
    /// Strokes that may still be looked for below what hangs over nothing in this layer.
    looks: usize,
    /// Where sections are asked for.
    sections: Option<Sections>,
    /// Islands with nothing below them.
    in_air: Vec<Island>,
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

    /// A layer is closed: its beads, its height and how high it is laid, mm. In place of the beads come
    /// others that are wanted no more.
    pub fn layer(&mut self, trail: &mut Trail, height: f64, z: f64) {
        self.hung = Hang::default();
        // What lies under the bed's zero or beside what was laid is no layer to build on.
        if height <= 0.0 || trail.runs.is_empty() {
            return;
        }
        std::mem::swap(&mut self.now, &mut self.before);
        std::mem::swap(&mut self.known, &mut self.known_before);
        self.known.clear();
        self.drawn += 1;
        self.grain.begin();
        let is_first = is_first(z, height);
        if let Err(why) = self.now.draw(trail, (height, is_first), &mut self.grain) {
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
            self.ground.clear();
        }
        let mut height = height;
        if is_next && self.find_rafts(trail) {
            // A layer without the air below it is as high as the one under that.
            height = self.before.height;
            if let Err(why) = self.now.draw(trail, (height, is_first), &mut self.grain) {
                self.unknown.get_or_insert(why);
            }
        }
        self.look(trail, height, z);
        std::mem::swap(&mut self.kept, trail);
        self.kept_at = Some((z, height));
    }

    /// The layer before is known on both sides.
    fn close_before(&mut self, next: Option<&Trail>) {
        let Some((z, height)) = self.kept_at else {
            return;
        };
        self.ground.lay(&self.kept, &self.before);
        self.count_changes();
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
            is_first: is_first(z, height),
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
            self.compare(z);
        } else {
            let [raft, plain] = &mut self.early;
            class::compare(plan, &self.classes, z, plain);
            if let Some(above) = &mut above {
                between.raft(above, &mut self.classes);
            }
            class::compare(plan, &self.classes, z, raft);
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
            let Some(run) = runs.get(path.run) else {
                continue;
            };
            let is_change = begins_tool(&self.kept, path.run, self.tool);
            let owner = within.and_then(|within| owner(&self.before, &self.known_before, within));
            if let Some(class) = self.classes.get(path.order)
                && let Some(region) = owner.and_then(|owner| self.regions.get_mut(owner))
            {
                region.lay(*class, path.volume, path.volume / height, stands, run);
                if stands && class_is_wall(*class) {
                    let points = self.kept.points.get(path.points.clone());
                    let points = points.unwrap_or_default().iter().map(|point| point.at);
                    region.base.stand(points, path.spacing(height));
                }
                region.tools |= 1 << run.tool.min(31);
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

    /// Counts tools that begin in the layer before, and notes where they do outside of all walls.
    fn count_changes(&mut self) {
        let is_change = |path: &Path| begins_tool(&self.kept, path.run, self.tool);
        let loops = self.before.loops.iter().map(|one| &one.path);
        self.changes += loops.filter(|path| is_change(path)).count() as u64;
        for stroke in self
            .before
            .strokes
            .iter()
            .filter(|one| is_change(&one.path))
        {
            self.changes += 1;
            if stroke.within.is_none() {
                self.loose.begin(stroke.path.bounds);
            }
        }
    }

    /// Adds the volumes of the layer before to each region's table: what is a tower shows later.
    fn compare(&mut self, z: f64) {
        let (plan, known) = (&self.before, &self.known_before);
        let loops = (0..)
            .zip(&plan.loops)
            .map(|(index, one)| (&one.path, Some(index)));
        let strokes = plan.strokes.iter().map(|one| (&one.path, one.within));
        let mut paths: Vec<Option<(&Path, Option<u32>)>> = vec![None; plan.laid];
        for (path, within) in loops.chain(strokes) {
            if let Some(slot) = paths.get_mut(path.order) {
                *slot = Some((path, within));
            }
        }
        for said in &plan.said {
            let order = said.order;
            let (Some(class), Some(path)) = (self.classes.get(order), paths.get(order)) else {
                continue;
            };
            let own = match path {
                Some((_, Some(within))) => owner(plan, known, *within)
                    .and_then(|owner| self.regions.get_mut(owner))
                    .map(|region| &mut region.shown),
                Some((path, None)) => self.loose.share(path.bounds, said.volume),
                None => None,
            };
            let into = own.unwrap_or(&mut self.confusion);
            class::add(into, said.kind, *class, said.shown(z));
        }
    }

    fn look(&mut self, trail: &Trail, height: f64, z: f64) {
        let mut laid: Vec<(usize, [f64; 4])> = Vec::new();
        for index in 0..self.now.loops.len() {
            let known = self.zone(trail, index, height, z, &mut laid);
            self.known.push(known.unwrap_or_default());
        }
        self.hang(trail);
        self.lean(trail, height, z);
        self.join(trail);
        laid.sort_by_key(|(region, _)| *region);
        for same in laid.chunk_by(|(one, _), (other, _)| one == other) {
            let bounds = same
                .iter()
                .map(|(_, bounds)| *bounds)
                .reduce(|[a, b, c, d], [e, f, g, h]| [a.min(e), b.max(f), c.min(g), d.max(h)]);
            if let (Some((region, _)), Some(bounds)) = (same.first(), bounds)
                && let Some(region) = self.regions.get_mut(*region)
            {
                region.close(bounds, z, height, self.drawn);
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
        let run = trail.runs.get(one.path.run);
        let line = run.map_or(0, Run::line);
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
                    ..Known::default()
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
        // The part begins upon a raft.
        let below = self
            .below(trail, index)
            .filter(|below| !self.is_raft(*below));
        let known = below.and_then(|below| self.known_before.get_mut(below));
        let (region, pending) = match known {
            Some(known) => (known.region, known.pending.take()),
            None => (None, None),
        };
        // Other ends of the same walls are of the same region.
        let same = self.known.get(root).and_then(|known| known.region);
        let around = around.filter(|_| !is_filled);
        let at_hand = same.or(region).or(around);
        let stood = at_hand.is_none().then(|| self.stood(bounds, z)).flatten();
        let below = self.kept_at.map_or(0.0, |(z, _)| z);
        let is_unsure = stood.is_some_and(|top| top < below - height / 10.0);
        if at_hand.is_none()
            && stood.is_none()
            && self.in_air.len() < AIR_CAP
            && self.hangs_in_air(trail, index)
        {
            let mut begins = Excerpt::default();
            if let Some(run) = run {
                trail.show(run).write(&mut begins);
            }
            self.in_air.push(Island { at, begins });
        }
        let at_loop = index as u32;
        let index = at_hand.unwrap_or_else(|| {
            if self.regions.len() < REGION_CAP {
                self.regions.push(Region::default());
            }
            self.regions.len() - 1
        });
        if let Some(known) = self.known.get_mut(root) {
            (known.region, known.owner) = (Some(index), Some(index));
            known.is_unsure |= is_unsure;
        }
        let region = self.regions.get_mut(index)?;
        laid.push((index, bounds));
        let mut known = Known {
            region: Some(index),
            owner: Some(index),
            side: Side::Outside,
            is_filled,
            pending: None,
            is_unsure,
        };
        if is_filled {
            if let Some(pending) = pending {
                region.resolve(&pending);
                region.slices.zone(0.0, pending.space);
            }
            for further in &room {
                region.room.add(*further, 1.0, at);
            }
            region.count(walls, length, at);
            region.zone(zone.area, solid, sparse, height);
            if sparse > 0.0 && solid < MIXED * zone.area {
                region.slices.zone(sparse, zone.area * height);
                if self.halves.is_wanted() {
                    let turn = self.drawn as f64 * 0.618;
                    self.halves.look(&mut self.now, trail, at_loop, turn);
                }
            }
        } else if zone.area > 0.0 {
            let mut pending = pending.unwrap_or_default();
            if region.z.is_some() {
                pending.counts.add(walls, length, at);
            } else {
                region.foot.add(walls, length, at);
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
    fn hangs_in_air(&mut self, trail: &Trail, index: usize) -> bool {
        let Some(one) = self
            .now
            .loops
            .get(index)
            .filter(|_| !self.known_before.is_empty())
        else {
            return false;
        };
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

    /// The top of what was laid here not long ago: another thing alone may lie between, such as a tower's
    /// layer, and then it carries what begins.
    fn stood(&self, bounds: [f64; 4], z: f64) -> Option<f64> {
        let [left, right, low, high] = bounds;
        let depth = 3.5 * self.now.height;
        let tops = self
            .regions
            .iter()
            .filter_map(|region| match (region.bounds?, region.z?) {
                ([a, b, c, d], [_, top])
                    if z - top < depth && a < right && b > left && c < high && d > low =>
                {
                    Some(top)
                }
                _ => None,
            });
        tops.reduce(f64::max)
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

/// Whether a layer is one of the first on the bed.
fn is_first(z: f64, height: f64) -> bool {
    z < 2.5 * height
}

/// The region with the most deposit, rafts left out.
fn largest(regions: &[Region]) -> Option<usize> {
    let volumes = regions.iter().enumerate();
    let volumes = volumes.filter(|(_, region)| !region.is_raft);
    volumes
        .map(|(index, region)| (index, region.volume))
        .max_by(|one, other| one.1.total_cmp(&other.1))
        .map(|(index, _)| index)
}

/// Whether another tool begins with a run; `last` is the tool of the layer before.
fn begins_tool(trail: &Trail, run: usize, last: Option<u32>) -> bool {
    let tool = |run: usize| trail.runs.get(run).map(|run| run.tool);
    let last = run.checked_sub(1).map_or(last, tool);
    last.is_some() && last != tool(run)
}

/// Whose a loop is, or a stroke within it.
fn owner(plan: &Plan, known: &[Known], within: u32) -> Option<usize> {
    let wall = plan.wall(within)?;
    let root = plan.loops.get(wall as usize)?.root;
    known.get(root as usize)?.owner
}
