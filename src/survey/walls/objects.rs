//! Objects: regions that stand on each other, and what each comes to.

use super::figures::{infill, solid_layers, walls};
use super::hang::Overhang;
use super::region::{Region, WallCount};
use super::thins::Densities;
use super::trail::Trail;
use super::{Side, Walls, owner};
use crate::survey::told::Told;
use std::collections::BTreeMap;

/// One thing that a job builds, by its motion: what touches nothing else.
#[derive(Debug, Clone, PartialEq)]
pub struct ObjectFigures {
    /// Least and most X, Y and Z, between the middles of its outermost beads, mm.
    pub bounds: [[f64; 2]; 3],
    /// Its first line, and the first of its last path.
    pub lines: [u64; 2],
    /// Layers.
    pub layers: u64,
    /// All its deposit, mm³.
    pub volume: f64,
    /// Walls.
    pub walls: Told<WallCount>,
    /// Infill, 0 to 1.
    pub infill: Told<f64>,
    /// Solid layers at the bottom and on top of its largest region.
    pub solid_layers: Told<[u64; 2]>,
    /// What it covers of the bed, mm²; 0 where it does not stand there.
    pub contact: f64,
    /// The sides of the narrowest rectangle around that, the shorter first, mm.
    pub base: Told<[f64; 2]>,
    /// How far its outline leans out.
    pub overhang: Told<Overhang>,
    /// Deposit over nothing between two ends that rest, mm³.
    pub bridged: f64,
    /// Deposit over nothing that does not, mm³.
    pub unsupported: f64,
    /// Infill of the densest slice of its height against the least dense.
    pub upwards: Told<Densities>,
    /// The names that have a share in it, by their place in the list of names, and how much, mm³.
    pub names: Vec<(usize, f64)>,
}

impl ObjectFigures {
    /// Its height over the shorter side of its base, and over the longer one.
    ///
    /// # Errors
    ///
    /// Why it has no base.
    pub fn height_to_base(&self) -> Told<[f64; 2]> {
        let [.., [low, high]] = self.bounds;
        let sides = self.base.clone()?;
        Ok(sides.map(|side| (high - low) / side))
    }
}

/// Which regions are of one object.
#[derive(Debug, Default)]
pub(super) struct Joined {
    /// Another region of the same object, or itself.
    next: Vec<usize>,
}

impl Joined {
    fn root(&self, mut of: usize) -> usize {
        while let Some(next) = self.next.get(of).copied().filter(|next| *next != of) {
            of = next;
        }
        of
    }

    fn join(&mut self, one: usize, other: usize) {
        let [one, other] = [one, other].map(|of| self.root(of));
        let (first, last) = (one.min(other), one.max(other));
        let known = self.next.len();
        self.next.extend(known..=last);
        if let Some(next) = self.next.get_mut(last) {
            *next = first;
        }
    }
}

impl Walls {
    /// Regions of the layer before on which one of another kind stands now are of one object with it.
    pub(super) fn join(&mut self, trail: &Trail) {
        // What stands on one raft is not one thing.
        let is_raft = |region: usize| {
            let region = self.regions.get(region);
            region.is_some_and(|region| region.is_raft)
        };
        for index in 0..self.before.loops.len() {
            let Some(one) = self.before.loops.get(index) else {
                break;
            };
            // A chain's first may be a brim, on which nothing lies, and its last may be at a hole's edge.
            let is_end = one.root as usize == index || !one.is_linked;
            let known = self.known_before.get(one.root as usize);
            let known =
                known.filter(|known| is_end && !one.is_infill && known.side == Side::Outside);
            let Some(below) = known.and_then(|known| known.owner) else {
                continue;
            };
            let Some(at) = self.before.beside(&self.kept, one, 0.5) else {
                continue;
            };
            let over = self.now.slabs.innermost(at, None);
            let over = over.and_then(|over| owner(&self.now, &self.known, over));
            if let Some(over) = over.filter(|over| *over != below && !is_raft(below)) {
                self.joined.join(below, over);
            }
        }
        // And one that begins is of one object with what it stands on.
        for (one, known) in self.now.loops.iter().zip(&self.known) {
            let begins = |own: &usize| {
                let region = self.regions.get(*own);
                region.is_some_and(|region| region.z.is_none())
            };
            let Some(own) = known.region.filter(begins) else {
                continue;
            };
            let below = self.now.beside(trail, one, 0.5);
            let below = below.and_then(|at| self.before.slabs.innermost(at, None));
            let below = below.and_then(|below| owner(&self.before, &self.known_before, below));
            if let Some(below) = below.filter(|below| !is_raft(*below)) {
                self.joined.join(below, own);
            }
        }
    }

    /// Each object, in the order begun, of the regions that are the part; and what of it is laid under which
    /// name, mm³.
    pub(super) fn objects(
        &self,
        is_part: &dyn Fn(usize) -> bool,
        why: Option<&'static str>,
    ) -> (Vec<ObjectFigures>, Vec<BTreeMap<u32, f64>>) {
        let mut roots: Vec<(usize, usize)> = (0..self.regions.len())
            .filter(|index| is_part(*index))
            .map(|index| (self.joined.root(index), index))
            .collect();
        roots.sort_unstable();
        let groups = roots.chunk_by(|(one, _), (other, _)| one == other);
        let mut objects: Vec<_> = groups
            .filter_map(|group| {
                let regions = group
                    .iter()
                    .filter_map(|(_, index)| self.regions.get(*index));
                object(&regions.collect::<Vec<_>>(), why, self.hung_unknown)
            })
            .collect();
        objects.sort_by_key(|(object, _)| object.lines);
        objects.into_iter().unzip()
    }
}

fn object(
    regions: &[&Region],
    why: Option<&'static str>,
    hung: Option<&'static str>,
) -> Option<(ObjectFigures, BTreeMap<u32, f64>)> {
    let mut all = Region::default();
    for region in regions {
        all.join(region);
    }
    let largest = regions
        .iter()
        .max_by(|one, other| one.volume.total_cmp(&other.volume))?;
    let [left, right, low, high] = all.bounds?;
    let figures = ObjectFigures {
        bounds: [[left, right], [low, high], all.z?],
        lines: all.lines?,
        layers: layers(regions),
        volume: all.volume,
        walls: walls(&all, why),
        infill: infill(&all, why),
        solid_layers: solid_layers(largest, why),
        contact: all.contact,
        base: known(why, base(&all)),
        overhang: known(why.or(hung), overhang(&all)),
        bridged: all.hang.bridged,
        unsupported: all.hang.unsupported,
        upwards: known(why, all.slices.told()),
        names: Vec::new(),
    };
    Some((figures, all.named))
}

fn known<T>(why: Option<&'static str>, told: Told<T>) -> Told<T> {
    match why {
        Some(why) => Err(why.into()),
        None => told,
    }
}

/// Layers that any of its regions has.
fn layers(regions: &[&Region]) -> u64 {
    let mut spans: Vec<[u64; 2]> = regions.iter().filter_map(|region| region.laid).collect();
    spans.sort_unstable();
    let (mut count, mut next) = (0, 0);
    for [first, last] in spans {
        let first = first.max(next);
        if last >= first {
            count += last - first + 1;
            next = last + 1;
        }
    }
    count
}

fn base(region: &Region) -> Told<[f64; 2]> {
    let sides = region.base.sides().filter(|[short, _]| *short > 0.0);
    sides.ok_or_else(|| "it does not stand on the bed".into())
}

pub(super) fn overhang(region: &Region) -> Told<Overhang> {
    let told = region.hang.overhang();
    told.ok_or_else(|| "no layer of it lies on another".into())
}
