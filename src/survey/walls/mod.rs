//! Walls and infill from motion alone: which beads are closed loops, which loops lie side by side, and
//! what lies between them.
//!
//! Nothing is painted. A layer's loops are nested by crossings of their edges; loops side by side are
//! known by the areas and lengths they enclose, and the density of infill by the volume that lies in a
//! zone of known area. Comments play no part in it.
//!
//! Whether an empty zone is a hole or a hollow within the part shows only in the layers above: until
//! then what it would add is pending.

mod path;
mod plan;
mod region;
mod slabs;
mod trail;

pub use region::{WallCount, Where};
pub use trail::{Laid, Trail};

use super::told::Told;
use crate::physics::bead;
use plan::Plan;
use region::{Pending, Region};

/// The most regions told apart; further ones count with the last.
const REGION_CAP: usize = 256;

/// Sparse zones in fewer layers say nothing about density (chosen).
const LAYERS_FROM: u64 = 2;

/// What walls and infill come to.
#[derive(Debug, Clone, PartialEq)]
pub struct WallFigures {
    /// Walls.
    pub walls: Told<WallCount>,
    /// Infill, the share of its zone that it fills, 0 to 1.
    pub infill: Told<f64>,
    /// Solid layers at the bottom and on top.
    pub solid_layers: Told<[u64; 2]>,
    /// The width of the outermost walls' beads, mean by volume, mm.
    pub wall_bead: Told<f64>,
    /// Each region, the largest first.
    pub regions: Vec<RegionFigures>,
}

/// What one region comes to.
#[derive(Debug, Clone, PartialEq)]
pub struct RegionFigures {
    /// Least and most X, Y and Z, mm.
    pub bounds: [[f64; 2]; 3],
    /// Walls.
    pub walls: Told<WallCount>,
    /// Infill, 0 to 1.
    pub infill: Told<f64>,
    /// Solid layers at the bottom and on top.
    pub solid_layers: Told<[u64; 2]>,
}

/// What is known of the zone within a loop.
#[derive(Debug, Clone, Default)]
struct Known {
    region: Option<usize>,
    is_filled: bool,
    pending: Option<Box<Pending>>,
}

/// Follows walls from layer to layer.
#[derive(Debug, Default)]
pub struct Walls {
    now: Plan,
    before: Plan,
    known: Vec<Known>,
    known_before: Vec<Known>,
    regions: Vec<Region>,
    /// Width times volume, and volume, of outermost walls.
    wide: (f64, f64),
    layers: u64,
    unknown: Option<&'static str>,
}

impl Walls {
    /// A layer is closed: its beads, its height and how high it is laid, mm, and the section of a
    /// tool's filament, mm².
    pub fn layer(&mut self, trail: &Trail, height: f64, z: f64, area: impl Fn(u32) -> f64) {
        std::mem::swap(&mut self.now, &mut self.before);
        std::mem::swap(&mut self.known, &mut self.known_before);
        self.known.clear();
        let drawn = if height > 0.0 {
            self.now.draw(trail, height, area)
        } else {
            Err("a layer is not above what lies below it")
        };
        self.layers += 1;
        if let Err(why) = drawn {
            self.now.loops.clear();
            self.unknown.get_or_insert(why);
            return;
        }
        self.look(trail, height, z);
    }

    fn look(&mut self, trail: &Trail, height: f64, z: f64) {
        let mut laid: Vec<(usize, [f64; 4])> = Vec::new();
        for index in 0..self.now.loops.len() {
            let known = self.zone(trail, index, height, z, &mut laid);
            self.known.push(known.unwrap_or_default());
        }
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
        // What is still pending in the layer before has nothing on it: it was a hole.
        for known in &mut self.known_before {
            if let (Some(pending), Some(region)) = (known.pending.take(), known.region)
                && let Some(region) = self.regions.get_mut(region)
            {
                region.through.join(&pending.counts);
            }
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
                    is_filled,
                    pending: None,
                });
            }
            region.count(walls, length, at);
            self.widen(bead, weight);
            return Some(Known::default());
        }
        self.widen(bead, weight);
        let below = self.below(trail, index);
        let known = below.and_then(|below| self.known_before.get_mut(below));
        let (region, pending) = match known {
            Some(known) => (known.region, known.pending.take()),
            None => (None, None),
        };
        // Other ends of the same walls are of the same region.
        let same = self.known.get(root).and_then(|known| known.region);
        let around = around.filter(|_| !is_filled);
        let index = same.or(region).or(around).unwrap_or_else(|| {
            if self.regions.len() < REGION_CAP {
                self.regions.push(Region::default());
            }
            self.regions.len() - 1
        });
        if let Some(known) = self.known.get_mut(root) {
            known.region = Some(index);
        }
        let region = self.regions.get_mut(index)?;
        laid.push((index, bounds));
        let mut known = Known {
            region: Some(index),
            is_filled,
            pending: None,
        };
        if is_filled {
            if let Some(pending) = pending {
                region.resolve(&pending);
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

    /// What it all comes to; `unknown` is why nothing of it can be relied on.
    #[must_use]
    pub fn finish(mut self, unknown: Option<&'static str>) -> WallFigures {
        for known in &mut self.known {
            if let (Some(pending), Some(region)) = (known.pending.take(), known.region)
                && let Some(region) = self.regions.get_mut(region)
            {
                region.through.join(&pending.counts);
            }
        }
        self.unknown = unknown.or(self.unknown);
        let none = self
            .unknown
            .unwrap_or("no closed walls are laid, one layer on the other");
        let mut all = Region::default();
        for region in &self.regions {
            all.join(region);
        }
        // The region with the most outline speaks for solid layers.
        let largest = self
            .regions
            .iter()
            .max_by(|one, other| one.outline().total_cmp(&other.outline()));
        let mut regions: Vec<RegionFigures> = self
            .regions
            .iter()
            .filter_map(|region| told(region, none))
            .collect();
        let size = |region: &RegionFigures| {
            region
                .bounds
                .iter()
                .map(|[least, most]| most - least)
                .product::<f64>()
        };
        regions.sort_by(|one, other| size(other).total_cmp(&size(one)));
        WallFigures {
            walls: walls(&all, none),
            infill: infill(&all, none),
            solid_layers: largest.map_or(Err(none.into()), solid_layers),
            wall_bead: if self.wide.1 > 0.0 {
                Ok(self.wide.0 / self.wide.1)
            } else {
                Err(none.into())
            },
            regions,
        }
    }
}

fn walls(region: &Region, none: &'static str) -> Told<WallCount> {
    // Walls around a zone say how many there are; walls to the middle only how many fit.
    let of = [&region.counts, &region.through, &region.full, &region.base];
    let counts = of.into_iter().find(|counts| !counts.is_empty());
    counts
        .and_then(|counts| counts.told())
        .ok_or_else(|| none.into())
}

fn infill(region: &Region, none: &'static str) -> Told<f64> {
    if region.counts.is_empty() && region.space <= 0.0 {
        let all = [&region.through, &region.full];
        return Err(match all.into_iter().find(|counts| !counts.is_empty()) {
            Some(_) => "its walls leave no room for infill".into(),
            None => none.into(),
        });
    }
    if region.sparse_layers < LAYERS_FROM || region.space <= 0.0 {
        return Err("it has hardly a layer that is not solid".into());
    }
    Ok(region.sparse / region.space)
}

fn solid_layers(region: &Region) -> Told<[u64; 2]> {
    region
        .skins()
        .ok_or_else(|| "it is solid throughout".into())
}

fn told(region: &Region, none: &'static str) -> Option<RegionFigures> {
    let [left, right, low, high] = region.bounds?;
    Some(RegionFigures {
        bounds: [[left, right], [low, high], region.z?],
        walls: walls(region, none),
        infill: infill(region, none),
        solid_layers: solid_layers(region),
    })
}
