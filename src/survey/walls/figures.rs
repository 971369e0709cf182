//! What walls and infill come to.

use super::class::{self, Class, Confusion, Shown};
use super::cuts::Sections;
use super::hang::Overhang;
use super::names::{NameFigures, Names};
use super::objects::{ObjectFigures, overhang};
use super::region::{Region, WallCount, Where};
use super::stiffness::{Carried, carried};
use super::thins::Densities;
use super::tower::{self, is_tower};
use super::{Walls, largest};
use crate::command::hint::PathKind;
use crate::finding::Excerpt;
use crate::survey::told::Told;

/// Sparse zones in fewer layers say nothing about density (chosen).
const LAYERS_FROM: u64 = 2;

/// So small a share of the space within the walls says nothing either: a solid part has its odd corners
/// (chosen).
const SPACE_FROM: f64 = 0.02;

/// An island that begins with nothing below it.
#[derive(Debug, Clone, PartialEq)]
pub struct Island {
    /// Where.
    pub at: Where,
    /// The line that begins it.
    pub begins: Excerpt,
}

/// What walls and infill come to.
#[derive(Debug, Clone, PartialEq)]
pub struct WallFigures {
    /// The filament's diameter that was taken because nobody states one, mm.
    pub assumed_diameter: Option<f64>,
    /// Walls.
    pub walls: Told<WallCount>,
    /// Infill, the share of its zone that it fills, 0 to 1.
    pub infill: Told<f64>,
    /// Solid layers at the bottom and on top.
    pub solid_layers: Told<[u64; 2]>,
    /// The width of the outermost walls' beads, mean by volume, mm.
    pub wall_bead: Told<f64>,
    /// How many further walls fit within the innermost: at most places, and at the narrowest.
    pub room: Told<WallCount>,
    /// In how many directions, 1 to 3, straight infill bears.
    pub bears: Told<u32>,
    /// What the part's first layer covers of the bed, brim left out, mm².
    pub contact: Told<f64>,
    /// Solid deposit over nothing, mm³.
    pub hanging: Told<f64>,
    /// How far outlines lean out.
    pub overhang: Told<Overhang>,
    /// Deposit over nothing between two ends that rest, mm³.
    pub bridged: Told<f64>,
    /// Deposit over nothing that does not, mm³.
    pub unsupported: Told<f64>,
    /// Where that is first.
    pub unsupported_at: Option<Where>,
    /// The height of the most slender object over the shorter side of its base, and over the longer one.
    pub height_to_base: Told<[f64; 2]>,
    /// Infill of the outer half of sparse zones against the inner half.
    pub inwards: Told<Densities>,
    /// Infill of the densest slice of the largest object's height against the least dense.
    pub upwards: Told<Densities>,
    /// Islands that begin with nothing below them; none past a cap.
    pub in_air: Vec<Island>,
    /// What comments say each path is, against what its motion shows.
    pub confusion: Confusion,
    /// What carries a load along X, Y and Z in the largest region; none where sections are not asked for.
    pub carried: Option<[Told<Carried>; 3]>,
    /// Each region, the largest first.
    pub regions: Vec<RegionFigures>,
    /// Each object, in the order begun.
    pub objects: Vec<ObjectFigures>,
    /// Each name that the job's marks give to objects, in the order told.
    pub names: Told<Vec<NameFigures>>,
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
    /// What it covers of the bed, mm²; 0 where it does not stand there.
    pub contact: f64,
    /// What carries a load along X, Y and Z in it; none where sections are not asked for.
    pub carried: Option<[Told<Carried>; 3]>,
}

impl WallFigures {
    /// Whether a brim lies around the part, by its motion.
    #[must_use]
    pub fn has_brim(&self) -> bool {
        self.confusion
            .iter()
            .any(|((_, class), shown)| *class == Class::Brim && shown.volume > 0.0)
    }

    /// The share of what comments name in which motion shows the same, 0 to 1; none where they name
    /// nothing.
    #[must_use]
    pub fn agreement(&self) -> Option<f64> {
        let (mut same, mut all) = (0.0, 0.0);
        for ((said, class), shown) in &self.confusion {
            if let Some(agrees) = class.agrees(*said) {
                all += shown.volume;
                same += if agrees { shown.volume } else { 0.0 };
            }
        }
        (all > 0.0).then(|| same / all)
    }

    /// Where comments name something else than motion shows, the most first.
    #[must_use]
    pub fn disagreements(&self) -> Vec<(PathKind, Class, Shown)> {
        let differ = |((said, class), shown): (&(PathKind, Class), &Shown)| {
            let differs = class.agrees(*said) == Some(false) && shown.volume > 0.0;
            differs.then_some((*said, *class, *shown))
        };
        let mut all: Vec<_> = self.confusion.iter().filter_map(differ).collect();
        all.sort_by(|(.., one), (.., other)| other.volume.total_cmp(&one.volume));
        all
    }
}

impl Walls {
    /// What it all comes to; `names` are those that the job's marks give to objects, and `unknown` is why
    /// nothing of it can be relied on.
    #[must_use]
    pub fn finish(mut self, names: Names, unknown: Option<&'static str>) -> WallFigures {
        std::mem::swap(&mut self.now, &mut self.before);
        std::mem::swap(&mut self.known, &mut self.known_before);
        self.close_before(None);
        let [_, plain] = std::mem::take(&mut self.early);
        class::join(&mut self.confusion, &plain);
        self.drop_pending();
        tower::settle(
            &self.regions,
            &self.loose,
            self.changes,
            &mut self.confusion,
        );
        let why = unknown.or(self.unknown);
        let mut all = Region::default();
        // A tower is no part.
        let towers: Vec<bool> = (0..self.regions.len())
            .map(|region| is_tower(&self.regions, region, self.changes))
            .collect();
        // Nor is what holds no deposit of one: a skirt alone, or what lies in it of a raft.
        let is_part = |index: usize| {
            towers.get(index) == Some(&false)
                && self
                    .regions
                    .get(index)
                    .is_some_and(|region| region.volume > 0.0 && !region.is_raft)
        };
        let parts = || {
            let regions = self.regions.iter().enumerate();
            regions.filter(|(index, _)| is_part(*index))
        };
        for (_, region) in parts() {
            all.join(region);
        }
        // The region with the most deposit speaks for solid layers and sections.
        let largest = largest(&self.regions);
        let at = largest.unwrap_or_default();
        let largest = largest.and_then(|largest| self.regions.get(largest));
        let known = |told: Told<f64>| match why {
            Some(why) => Err(why.into()),
            None => told,
        };
        let density = infill(&all, why);
        let carried = |region: usize, density: &Told<f64>| {
            let sections = self.sections.as_ref()?;
            Some([0, 1, 2].map(|axis| section(sections, region, axis, density, why)))
        };
        let some = |figure: f64, none: &'static str| {
            known(if self.regions.is_empty() {
                Err(none.into())
            } else {
                Ok(figure)
            })
        };
        let mut regions: Vec<RegionFigures> = parts()
            .filter_map(|(index, region)| {
                let mut told = told(region, why)?;
                told.carried = carried(index, &told.infill);
                Some(told)
            })
            .collect();
        let size = |region: &RegionFigures| {
            region
                .bounds
                .iter()
                .map(|[least, most]| most - least)
                .product::<f64>()
        };
        regions.sort_by(|one, other| size(other).total_cmp(&size(one)));
        let (mut objects, laid) = self.objects(&is_part, why);
        let names = names.told(&laid, &mut objects);
        let chief = objects
            .iter()
            .max_by(|one, other| one.volume.total_cmp(&other.volume));
        let hung = why.or(self.hung_unknown);
        let slender = objects.iter().map(ObjectFigures::height_to_base);
        let slender = slender.reduce(|one, other| match (&one, &other) {
            (Ok([one_short, _]), Ok([other_short, _])) if one_short < other_short => other,
            (Err(_), Ok(_)) => other,
            _ => one,
        });
        WallFigures {
            assumed_diameter: None,
            walls: walls(&all, why),
            solid_layers: largest.map_or(Err(NONE.into()), |largest| solid_layers(largest, why)),
            wall_bead: known(if self.wide.1 > 0.0 {
                Ok(self.wide.0 / self.wide.1)
            } else {
                Err(NONE.into())
            }),
            room: match (why, all.room.told()) {
                (Some(why), _) => Err(why.into()),
                (None, Some(told)) => Ok(told),
                (None, None) => Err("no zone lies within its walls".into()),
            },
            bears: match (why, self.grain.bears()) {
                (Some(why), _) => Err(why.into()),
                (None, Some(ways)) => Ok(ways),
                (None, None) => Err("it has no infill of straight strands".into()),
            },
            contact: some(all.contact, NONE),
            hanging: some(all.hanging, NONE),
            overhang: hung.map_or_else(|| overhang(&all), |why| Err(why.into())),
            bridged: hung.map_or_else(|| some(all.hang.bridged, NONE), |why| Err(why.into())),
            unsupported: hung
                .map_or_else(|| some(all.hang.unsupported, NONE), |why| Err(why.into())),
            unsupported_at: all.hang.first().filter(|_| hung.is_none()),
            height_to_base: slender.unwrap_or(Err(NONE.into())),
            inwards: why.map_or_else(|| self.halves.told(), |why| Err(why.into())),
            upwards: chief.map_or(Err(NONE.into()), |chief| chief.upwards.clone()),
            objects,
            names: why.map_or(names, |why| Err(why.into())),
            in_air: if why.is_some() {
                Vec::new()
            } else {
                self.in_air
            },
            confusion: self.confusion,
            carried: carried(at, &density),
            infill: density,
            regions,
        }
    }
}

const NONE: &str = "no closed walls are laid, one layer on the other";

fn section(
    sections: &Sections,
    region: usize,
    axis: usize,
    density: &Told<f64>,
    why: Option<&'static str>,
) -> Told<Carried> {
    if let Some(why) = why {
        return Err(why.into());
    }
    let cuts = sections.of(region);
    let cuts = cuts.ok_or("the part is in more separate pieces than sections are kept of")?;
    // Without a sparse zone there is nothing whose density would matter.
    let density = density.as_ref().map_or(1.0, |density| *density);
    carried(cuts, axis, density).ok_or_else(|| "somewhere nothing carries a load along it".into())
}

pub(super) fn walls(region: &Region, why: Option<&'static str>) -> Told<WallCount> {
    // Walls around a zone say how many there are; walls to the middle only how many fit.
    let of = [&region.counts, &region.through, &region.full, &region.foot];
    let counts = of.into_iter().find(|counts| !counts.is_empty());
    match (why, counts.and_then(|counts| counts.told())) {
        (None, Some(told)) => Ok(told),
        (why, _) => Err(why.unwrap_or(NONE).into()),
    }
}

pub(super) fn infill(region: &Region, why: Option<&'static str>) -> Told<f64> {
    if let Some(why) = why {
        return Err(why.into());
    }
    if region.counts.is_empty() && region.space <= 0.0 {
        return Err(if region.outline() > 0.0 {
            "its walls leave no room for infill".into()
        } else {
            NONE.into()
        });
    }
    if region.sparse_layers < LAYERS_FROM || region.space <= 0.0 {
        return Err("it has hardly a layer that is not solid".into());
    }
    if region.space < SPACE_FROM * region.within {
        return Err("hardly any of the space within its walls is not solid".into());
    }
    Ok(region.sparse / region.space)
}

pub(super) fn solid_layers(region: &Region, why: Option<&'static str>) -> Told<[u64; 2]> {
    match (why, region.skins()) {
        (Some(why), _) => Err(why.into()),
        (None, Some(skins)) => Ok(skins),
        (None, None) => Err("it is solid throughout".into()),
    }
}

fn told(region: &Region, why: Option<&'static str>) -> Option<RegionFigures> {
    let [left, right, low, high] = region.bounds?;
    Some(RegionFigures {
        bounds: [[left, right], [low, high], region.z?],
        walls: walls(region, why),
        infill: infill(region, why),
        solid_layers: solid_layers(region, why),
        contact: region.contact,
        carried: None,
    })
}
