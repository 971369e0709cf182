//! Regions: what stays together from layer to layer, and what its walls and its infill come to.

use super::base::Base;
use super::class::{Class, Confusion};
use super::hang::Hang;
use super::thins::Slices;
use super::trail::Run;
use std::collections::BTreeMap;

const WALLS: usize = 32;

/// Counts of walls from here on are taken together.
pub const COUNTED: u32 = WALLS as u32 - 1;

/// A count says nothing about a region where it holds for less than this share of its outline (chosen).
const RARE: f64 = 0.02;

/// A layer is solid where this share of its zones is (chosen).
const SOLID_FROM: f64 = 0.75;

/// Outline by the number of walls along it, mm; and where each count stands first.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Counts {
    length: [f64; WALLS],
    first: [Option<Where>; WALLS],
}

/// A place in a job.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Where {
    /// Height above the bed, mm.
    pub z: f64,
    /// The line.
    pub line: u64,
}

impl Default for Counts {
    fn default() -> Self {
        Self {
            length: [0.0; WALLS],
            first: [None; WALLS],
        }
    }
}

impl Counts {
    pub fn add(&mut self, walls: u32, length: f64, at: Where) {
        let index = (walls as usize).min(WALLS - 1);
        if let (Some(sum), Some(first)) = (self.length.get_mut(index), self.first.get_mut(index)) {
            *sum += length;
            first.get_or_insert(at);
        }
    }

    pub fn join(&mut self, other: &Self) {
        for (index, length) in other.length.iter().enumerate() {
            if let Some(at) = other.first.get(index).copied().flatten() {
                self.add(index as u32, *length, at);
            }
        }
    }

    pub fn is_empty(&self) -> bool {
        self.total() <= 0.0
    }

    pub fn total(&self) -> f64 {
        self.length.iter().sum()
    }

    /// The most common count, the least and the most, and where the least stands first.
    pub fn told(&self) -> Option<WallCount> {
        let total = self.total();
        let seen =
            |(index, length): (usize, &f64)| (*length > RARE * total).then_some(index as u32);
        let usual = (0_u32..)
            .zip(&self.length)
            .max_by(|one, other| one.1.total_cmp(other.1))
            .filter(|(_, length)| **length > 0.0)?
            .0;
        let least = self.length.iter().enumerate().find_map(seen)?;
        let most = self.length.iter().enumerate().rev().find_map(seen)?;
        Some(WallCount {
            usual,
            least,
            most,
            share: self.length.get(usual as usize)? / total,
            least_at: self.first.get(least as usize).copied().flatten()?,
        })
    }
}

/// How many walls there are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WallCount {
    /// The most common count, by length of outline.
    pub usual: u32,
    /// The share of the outline that has it, 0 to 1.
    pub share: f64,
    /// The least that two hundredths of the outline have.
    pub least: u32,
    /// The most.
    pub most: u32,
    /// Where the least stands first.
    pub least_at: Where,
}

/// What zones without deposit would add, if they turn out to be within the part.
#[derive(Debug, Clone, Default)]
pub(super) struct Pending {
    pub counts: Counts,
    /// mm³.
    pub space: f64,
    pub layers: u64,
}

/// Solid layers at the bottom, and those that are on top so far.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Skins {
    bottom: u64,
    top: u64,
    is_open: bool,
}

/// A region so far.
#[derive(Debug, Clone, Default)]
pub(super) struct Region {
    /// Walls between the outside, or a hole, and a zone within.
    pub counts: Counts,
    /// The same in its first layer, where a brim may lie around it.
    pub foot: Counts,
    /// Walls with no zone behind them: beads side by side to the middle.
    pub full: Counts,
    /// Walls with nothing on either side.
    pub through: Counts,
    /// How many further walls fit, at points along the innermost.
    pub room: Counts,
    /// Volume of sparse infill, and the space that it fills, mm³.
    pub sparse: f64,
    pub space: f64,
    pub sparse_layers: u64,
    /// All space within its walls, solid or not, mm³.
    pub within: f64,
    /// What it covers of the bed, mm², and the outline of that; solid infill over nothing, mm³.
    pub contact: f64,
    pub hanging: f64,
    pub base: Base,
    /// What of it hangs, and how dense its infill is by height.
    pub hang: Hang,
    pub slices: Slices,
    /// Its first line and the first of its last path; its first layer and its last, in the order laid.
    pub lines: Option<[u64; 2]>,
    pub laid: Option<[u64; 2]>,
    /// All deposit of the part, mm³.
    pub volume: f64,
    /// The tools that laid some of it, a bit each; and how often a tool began with it.
    pub tools: u32,
    pub begun: u64,
    /// What of the part is laid under which name, mm³.
    pub named: BTreeMap<u32, f64>,
    /// Where tools change: what comments say of it, and its classes.
    pub shown: Confusion,
    pub bounds: Option<[f64; 4]>,
    pub z: Option<[f64; 2]>,
    skins: Skins,
    /// Whether the part stands on it, with air between.
    pub is_raft: bool,
    /// The layer at hand: area of its zones, and of what of it is solid, mm².
    now: (f64, f64, bool),
}

impl Region {
    /// A zone of the layer at hand, with its sparse infill.
    pub fn zone(&mut self, area: f64, solid: f64, sparse: f64, height: f64) {
        self.now.0 += area;
        self.now.1 += solid;
        let rest = area - solid;
        // What is left beside a skin may be no more than its edge.
        if rest > 0.2 * area && (sparse > 0.0 || solid <= 0.0) {
            self.sparse += sparse;
            self.space += rest * height;
            self.now.2 = true;
        }
    }

    /// Walls of the layer at hand around a zone.
    pub fn count(&mut self, walls: u32, length: f64, at: Where) {
        let is_first = self.z.is_none();
        let counts = if is_first {
            &mut self.foot
        } else {
            &mut self.counts
        };
        counts.add(walls, length, at);
    }

    /// Deposit of a class, mm³, what it covers, mm², and its run; `stands` where it lies on the bed.
    pub fn lay(&mut self, class: Class, volume: f64, covers: f64, stands: bool, run: &Run) {
        match class {
            Class::Support
            | Class::Interface
            | Class::Raft
            | Class::Skirt
            | Class::Brim
            | Class::Purge
            | Class::Tower => return,
            _ if stands => self.contact += covers,
            Class::Bridge => self.hanging += volume,
            _ => {}
        }
        self.volume += volume;
        self.reach(run.line());
        if run.named > 0 {
            *self.named.entry(run.named).or_default() += volume;
        }
    }

    /// A path of it begins at a line.
    fn reach(&mut self, line: u64) {
        let [first, last] = self.lines.unwrap_or([line; 2]);
        self.lines = Some([first.min(line), last.max(line)]);
    }

    /// Zones without deposit were within the part after all.
    pub fn resolve(&mut self, pending: &Pending) {
        self.counts.join(&pending.counts);
        self.space += pending.space;
        self.within += pending.space;
        self.sparse_layers += pending.layers;
    }

    /// The layer at hand has an empty zone.
    pub const fn is_hollow(&mut self) {
        self.skins.is_open = true;
        self.skins.top = 0;
    }

    /// The layer at hand is whole.
    pub fn close(&mut self, bounds: [f64; 4], z: f64, height: f64, number: u64) {
        self.slices.close();
        self.laid = Some([self.laid.map_or(number, |[first, _]| first), number]);
        let (area, solid, is_sparse) = std::mem::take(&mut self.now);
        self.sparse_layers += u64::from(is_sparse);
        self.within += area * height;
        if area > 0.0 {
            if solid >= SOLID_FROM * area {
                self.skins.top += 1;
                self.skins.bottom += u64::from(!self.skins.is_open);
            } else {
                self.skins.is_open = true;
                self.skins.top = 0;
            }
        }
        self.grow(Some(bounds), Some([z - height, z]));
    }

    fn grow(&mut self, bounds: Option<[f64; 4]>, z: Option<[f64; 2]>) {
        self.bounds = match (self.bounds, bounds) {
            (Some([a, b, c, d]), Some([e, f, g, h])) => {
                Some([a.min(e), b.max(f), c.min(g), d.max(h)])
            }
            (one, other) => one.or(other),
        };
        self.z = match (self.z, z) {
            (Some([a, b]), Some([c, d])) => Some([a.min(c), b.max(d)]),
            (one, other) => one.or(other),
        };
    }

    /// Outline that speaks for it, mm.
    pub fn outline(&self) -> f64 {
        [&self.counts, &self.foot, &self.through, &self.full]
            .iter()
            .map(|counts| counts.total())
            .sum()
    }

    /// Takes what another region comes to.
    pub fn join(&mut self, other: &Self) {
        self.counts.join(&other.counts);
        self.foot.join(&other.foot);
        self.full.join(&other.full);
        self.through.join(&other.through);
        self.room.join(&other.room);
        self.sparse += other.sparse;
        self.space += other.space;
        self.within += other.within;
        self.sparse_layers += other.sparse_layers;
        self.contact += other.contact;
        self.hanging += other.hanging;
        self.base.join(&other.base);
        self.hang.join(&other.hang);
        self.slices.join(&other.slices);
        self.volume += other.volume;
        self.grow(other.bounds, other.z);
        for (name, volume) in &other.named {
            *self.named.entry(*name).or_default() += volume;
        }
        for line in other.lines.into_iter().flatten() {
            self.reach(line);
        }
    }

    /// Solid layers at the bottom and on top; none where the region is solid throughout.
    pub fn skins(&self) -> Option<[u64; 2]> {
        self.skins
            .is_open
            .then_some([self.skins.bottom, self.skins.top])
    }
}
