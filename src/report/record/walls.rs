//! Walls and infill within a survey's record. The comments here are the schema's descriptions.

use super::survey::{Reasons, finite};
use crate::report::kinds;
use crate::survey::{
    self, Densities, NameFigures, ObjectFigures, Overhang, RegionFigures, Told, WallCount,
    WallFigures,
};
use crate::text::clean;
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

/// How many walls stand between the outside and what is within.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Walls {
    /// The most common count, by length of outline.
    pub usual: u32,
    /// The share of the outline that has it, 0 to 1.
    pub share: Option<f64>,
    /// The least that two hundredths of the outline have.
    pub least: u32,
    /// The most that two hundredths of it have.
    pub most: u32,
    /// The height at which the least stands first, mm.
    pub least_z_mm: Option<f64>,
    /// Its line.
    pub least_line: u64,
}

/// What stays together from layer to layer.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Region {
    /// Why something is null, by its key.
    pub reasons: BTreeMap<&'static str, String>,
    /// Its box between the middles of its outermost beads: the least X, Y and Z, then the greatest, mm.
    pub box_mm: Option<[[f64; 3]; 2]>,
    /// Walls.
    pub walls: Option<Walls>,
    /// The share of its sparse zone that infill fills, per cent.
    pub infill_percent: Option<f64>,
    /// Solid layers at the bottom and on top.
    pub solid_layers: Option<[u64; 2]>,
    /// What it covers of the bed, mm²; 0 where it does not stand there.
    pub contact_mm2: Option<f64>,
    /// What carries a load along X, Y and Z in it; left out where sections are not asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sections: Option<[Section; 3]>,
}

fn walls(count: &WallCount) -> Walls {
    Walls {
        usual: count.usual,
        share: finite(count.share),
        least: count.least,
        most: count.most,
        least_z_mm: finite(count.least_at.z),
        least_line: count.least_at.line,
    }
}

impl Region {
    fn of(region: &RegionFigures) -> Self {
        let mut reasons = Reasons::default();
        Self {
            box_mm: reasons.some("box_mm", corners(&region.bounds), "it is not finite"),
            walls: reasons.take("walls", &region.walls, |count| Some(walls(count))),
            infill_percent: reasons.take("infill_percent", &region.infill, |share| {
                finite(share * 100.0)
            }),
            solid_layers: reasons.take("solid_layers", &region.solid_layers, |both| Some(*both)),
            contact_mm2: finite(region.contact),
            sections: sections(region.carried.as_ref()),
            reasons: reasons.0,
        }
    }
}

/// How far an outline leans out: the angle from the vertical between the outer edges of a layer's outermost
/// beads and of what lies below.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Lean {
    /// The steepest, degrees: 90 is flat over nothing.
    pub steepest_deg: Option<f64>,
    /// The height at which that is first, mm.
    pub z_mm: Option<f64>,
    /// The line at which the path begins.
    pub line: u64,
    /// How much of the outline leans out further than 45°, which usually wants a support, per cent.
    pub beyond_45_percent: Option<f64>,
}

fn lean(overhang: &Overhang) -> Lean {
    Lean {
        steepest_deg: finite(overhang.steepest),
        z_mm: finite(overhang.at.z),
        line: overhang.at.line,
        beyond_45_percent: finite(overhang.beyond * 100.0),
    }
}

fn densities(of: &Densities) -> Option<[f64; 2]> {
    Some([finite(of.dense * 100.0)?, finite(of.thin * 100.0)?])
}

fn both([one, other]: &[f64; 2]) -> Option<[f64; 2]> {
    Some([finite(*one)?, finite(*other)?])
}

/// A thing that the job builds, by its motion: what touches nothing else.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Object {
    /// Why something is null, by its key.
    pub reasons: BTreeMap<&'static str, String>,
    /// Its box between the middles of its outermost beads: the least X, Y and Z, then the greatest, mm.
    pub box_mm: Option<[[f64; 3]; 2]>,
    /// Its first line, and the line at which its last path begins.
    pub lines: [u64; 2],
    /// Layers.
    pub layers: u64,
    /// All its deposit, mm³.
    pub volume_mm3: Option<f64>,
    /// Walls.
    pub walls: Option<Walls>,
    /// The share of its sparse zone that infill fills, per cent.
    pub infill_percent: Option<f64>,
    /// Solid layers at the bottom of its largest region, and on top of it.
    pub solid_layers: Option<[u64; 2]>,
    /// What it covers of the bed, mm²; 0 where it does not stand there.
    pub contact_mm2: Option<f64>,
    /// The sides of the narrowest rectangle around that, the shorter first, mm.
    pub base_mm: Option<[f64; 2]>,
    /// Its height over each of them.
    pub height_to_base: Option<[f64; 2]>,
    /// How far its outline leans out.
    pub overhang: Option<Lean>,
    /// Deposit over nothing that rests at both ends, mm³.
    pub bridged_mm3: Option<f64>,
    /// Deposit over nothing that does not, mm³.
    pub unsupported_mm3: Option<f64>,
    /// Infill in the densest slice of its height, and in the least dense, per cent.
    pub infill_upwards_percent: Option<[f64; 2]>,
    /// The names that marks give to it.
    pub names: Vec<NameShare>,
}

/// A name's share in an object.
#[derive(Debug, Serialize, JsonSchema)]
pub struct NameShare {
    /// Its place in the list of names, counted from 1.
    pub name: usize,
    /// How much of the object is laid under it, per cent.
    pub percent: Option<f64>,
}

/// A name that the job's marks give to an object.
#[derive(Debug, Serialize, JsonSchema)]
pub struct ObjectName {
    /// As written, without quotation marks: the first 256 bytes, with what cannot be shown replaced.
    pub name: String,
    /// The line of its first mark, and of its last.
    pub lines: [u64; 2],
    /// How often it begins; 0 where it is only declared.
    pub begun: u64,
    /// What of the part is laid under it, mm³.
    pub volume_mm3: Option<f64>,
    /// The objects that it has a share in, by their place in the list of objects, counted from 1.
    pub objects: Vec<usize>,
}

impl ObjectName {
    fn of(name: &NameFigures) -> Self {
        Self {
            name: clean(&name.name).into_owned(),
            lines: name.lines,
            begun: name.begun,
            volume_mm3: finite(name.volume),
            objects: name.objects.iter().map(|index| index + 1).collect(),
        }
    }
}

impl Object {
    fn of(object: &ObjectFigures) -> Self {
        let mut reasons = Reasons::default();
        Self {
            box_mm: reasons.some("box_mm", corners(&object.bounds), "it is not finite"),
            lines: object.lines,
            layers: object.layers,
            volume_mm3: finite(object.volume),
            walls: reasons.take("walls", &object.walls, |count| Some(walls(count))),
            infill_percent: reasons.take("infill_percent", &object.infill, |share| {
                finite(share * 100.0)
            }),
            solid_layers: reasons.take("solid_layers", &object.solid_layers, |both| Some(*both)),
            contact_mm2: finite(object.contact),
            base_mm: reasons.take("base_mm", &object.base, both),
            height_to_base: reasons.take("height_to_base", &object.height_to_base(), both),
            overhang: reasons.take("overhang", &object.overhang, |told| Some(lean(told))),
            bridged_mm3: finite(object.bridged),
            unsupported_mm3: finite(object.unsupported),
            infill_upwards_percent: reasons.take(
                "infill_upwards_percent",
                &object.upwards,
                densities,
            ),
            names: object
                .names
                .iter()
                .map(|(at, volume)| NameShare {
                    name: at + 1,
                    percent: finite(volume / object.volume * 100.0),
                })
                .collect(),
            reasons: reasons.0,
        }
    }
}

fn corners(bounds: &[[f64; 2]; 3]) -> Option<[[f64; 3]; 2]> {
    let [[left, right], [front, back], [low, high]] = *bounds;
    let corners = [[left, front, low], [right, back, high]];
    let is_finite = corners.iter().flatten().all(|number| number.is_finite());
    is_finite.then_some(corners)
}

/// What of a survey is told only where walls are asked for.
#[derive(Debug, Serialize, JsonSchema)]
pub struct WallPart {
    /// The filament's diameter that walls are told by because nobody states one, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub walls_assume_diameter_mm: Option<f64>,
    /// The part's most common count of walls.
    pub walls: Option<u32>,
    /// How common that is, and the least and the most.
    pub wall_counts: Option<Walls>,
    /// The share of the part's sparse zone that infill fills, per cent.
    pub infill_percent: Option<f64>,
    /// Solid layers at the bottom of the largest region, and on top of it.
    pub solid_layers: Option<[u64; 2]>,
    /// The mean width of the outermost walls' beads, mm.
    pub wall_bead_mm: Option<f64>,
    /// How many further walls fit within the innermost: the most common, and the least, by places along it.
    pub room_for_walls: Option<[u32; 2]>,
    /// In how many directions, 1 to 3, straight infill bears.
    pub infill_bears: Option<u32>,
    /// What the part's first layer covers of the bed, brims left out, mm².
    pub contact_mm2: Option<f64>,
    /// Solid infill with nothing below its middle, mm³.
    pub hanging_mm3: Option<f64>,
    /// How far outlines lean out.
    pub overhang: Option<Lean>,
    /// Deposit over nothing that rests at both ends, mm³.
    pub bridged_mm3: Option<f64>,
    /// Deposit over nothing that does not, mm³.
    pub unsupported_mm3: Option<f64>,
    /// Where that is first.
    pub unsupported_at: Option<Spot>,
    /// The height of the most slender object over the shorter side of its base, and over the longer one.
    pub height_to_base: Option<[f64; 2]>,
    /// Infill in the outer half of sparse zones, and in the inner half, per cent.
    pub infill_inwards_percent: Option<[f64; 2]>,
    /// Infill in the densest slice of the largest object's height, and in the least dense, per cent.
    pub infill_upwards_percent: Option<[f64; 2]>,
    /// The share, by volume, of what comments name in which motion shows the same, per cent.
    pub comments_agree_percent: Option<f64>,
    /// Where comments name something else than motion shows, the most first: at most sixteen.
    pub comments_differ: Option<Vec<Difference>>,
    /// Islands that begin with nothing below them: the first sixteen.
    pub in_air: Option<Vec<Spot>>,
    /// What carries a load along X, Y and Z in the largest region.
    pub sections: Option<[Section; 3]>,
    /// What stays together from layer to layer, the largest first.
    pub regions: Option<Vec<Region>>,
    /// What stands on each other and touches nothing else, in the order begun.
    pub objects: Option<Vec<Object>>,
    /// The names that the job's marks give to objects, in the order told.
    pub object_names: Option<Vec<ObjectName>>,
}

/// What comments call otherwise than motion shows it.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Difference {
    /// What comments call it.
    pub said: &'static str,
    /// What motion shows.
    pub shown: &'static str,
    /// How much of it there is, mm³.
    pub volume_mm3: Option<f64>,
    /// Where it is first.
    pub first: Spot,
}

/// The most of them.
const DIFFERENCES: usize = 16;

fn differences(figures: &WallFigures) -> Vec<Difference> {
    let all = figures.disagreements().into_iter().take(DIFFERENCES);
    all.map(|(said, class, shown)| Difference {
        said: kinds::said(said),
        shown: kinds::shown(class),
        volume_mm3: finite(shown.volume),
        first: spot(shown.first),
    })
    .collect()
}

/// A place in the job.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Spot {
    /// Height above the bed, mm.
    pub z_mm: Option<f64>,
    /// The line.
    pub line: u64,
}

fn spot(at: survey::Where) -> Spot {
    Spot {
        z_mm: finite(at.z),
        line: at.line,
    }
}

/// Stiffness, each from the least that infill may carry to the most. Stiffness is not strength.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Stiffness {
    /// Pulled or pushed along the axis.
    pub tension: Option<[f64; 2]>,
    /// Bent about the first of the other two axes, in the order X, Y, Z.
    pub bending_first: Option<[f64; 2]>,
    /// Bent about the second of them.
    pub bending_second: Option<[f64; 2]>,
}

/// What carries a load along one axis.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Section {
    /// Why it cannot be told; null where it can.
    pub reason: Option<String>,
    /// As a share of a solid of the same outline, 0 to 1; along Z with a knock-down for layer bonds.
    pub of_solid: Option<Stiffness>,
    /// How thick the slices are of which sections are taken, in the mean, mm.
    pub slice_mm: Option<f64>,
    /// The least section along the way, mm².
    pub weakest_mm2: Option<f64>,
    /// What one more wall gives, as a factor; null where there is no room.
    pub one_more_wall: Option<Stiffness>,
    /// What denser infill of the same added mass gives, as a factor.
    pub denser_infill: Option<Stiffness>,
    /// How dense that is, per cent.
    pub denser_percent: Option<f64>,
}

fn stiffness(told: &survey::Stiffness) -> Stiffness {
    let bounds = |[least, most]: [f64; 2]| finite(least).zip(finite(most)).map(<[f64; 2]>::from);
    let [first, second] = told.bending;
    Stiffness {
        tension: bounds(told.tension),
        bending_first: bounds(first),
        bending_second: bounds(second),
    }
}

fn section(told: &Told<survey::Carried>) -> Section {
    let carried = told.as_ref().ok();
    let denser = carried.and_then(|carried| carried.denser.as_ref());
    Section {
        reason: told.as_ref().err().map(|why| why.clone().into_owned()),
        of_solid: carried.map(|carried| stiffness(&carried.of_solid)),
        slice_mm: carried.and_then(|carried| finite(carried.slice)),
        weakest_mm2: carried.and_then(|carried| finite(carried.weakest)),
        one_more_wall: carried
            .and_then(|carried| carried.one_more_wall.as_ref())
            .map(stiffness),
        denser_infill: denser.map(|(denser, _)| stiffness(denser)),
        denser_percent: denser.and_then(|(_, density)| finite(density * 100.0)),
    }
}

fn sections(carried: Option<&[Told<survey::Carried>; 3]>) -> Option<[Section; 3]> {
    carried.map(|carried| carried.each_ref().map(section))
}

impl WallPart {
    pub(super) fn of(figures: Option<&WallFigures>, reasons: &mut Reasons) -> Self {
        let Some(figures) = figures else {
            let why = "walls were not asked for";
            return Self {
                walls_assume_diameter_mm: None,
                walls: reasons.some("walls", None, why),
                wall_counts: reasons.some("wall_counts", None, why),
                infill_percent: reasons.some("infill_percent", None, why),
                solid_layers: reasons.some("solid_layers", None, why),
                wall_bead_mm: reasons.some("wall_bead_mm", None, why),
                room_for_walls: reasons.some("room_for_walls", None, why),
                infill_bears: reasons.some("infill_bears", None, why),
                contact_mm2: reasons.some("contact_mm2", None, why),
                hanging_mm3: reasons.some("hanging_mm3", None, why),
                overhang: reasons.some("overhang", None, why),
                bridged_mm3: reasons.some("bridged_mm3", None, why),
                unsupported_mm3: reasons.some("unsupported_mm3", None, why),
                unsupported_at: reasons.some("unsupported_at", None, why),
                height_to_base: reasons.some("height_to_base", None, why),
                infill_inwards_percent: reasons.some("infill_inwards_percent", None, why),
                infill_upwards_percent: reasons.some("infill_upwards_percent", None, why),
                comments_agree_percent: reasons.some("comments_agree_percent", None, why),
                comments_differ: reasons.some("comments_differ", None, why),
                in_air: reasons.some("in_air", None, why),
                sections: reasons.some("sections", None, why),
                regions: reasons.some("regions", None, why),
                objects: reasons.some("objects", None, why),
                object_names: reasons.some("object_names", None, why),
            };
        };
        Self {
            walls_assume_diameter_mm: figures.assumed_diameter,
            walls: reasons.take("walls", &figures.walls, |count| Some(count.usual)),
            wall_counts: reasons.take("wall_counts", &figures.walls, |count| Some(walls(count))),
            infill_percent: reasons.take("infill_percent", &figures.infill, |share| {
                finite(share * 100.0)
            }),
            solid_layers: reasons.take("solid_layers", &figures.solid_layers, |both| Some(*both)),
            wall_bead_mm: reasons.take("wall_bead_mm", &figures.wall_bead, |width| finite(*width)),
            room_for_walls: reasons.take("room_for_walls", &figures.room, |room| {
                Some([room.usual, room.least])
            }),
            infill_bears: reasons.take("infill_bears", &figures.bears, |ways| Some(*ways)),
            contact_mm2: reasons.take("contact_mm2", &figures.contact, |area| finite(*area)),
            hanging_mm3: reasons.take("hanging_mm3", &figures.hanging, |volume| finite(*volume)),
            overhang: reasons.take("overhang", &figures.overhang, |told| Some(lean(told))),
            bridged_mm3: reasons.take("bridged_mm3", &figures.bridged, |volume| finite(*volume)),
            unsupported_mm3: reasons.take("unsupported_mm3", &figures.unsupported, |volume| {
                finite(*volume)
            }),
            unsupported_at: reasons.some(
                "unsupported_at",
                figures.unsupported_at.map(spot),
                "nothing is known to lie over nothing",
            ),
            height_to_base: reasons.take("height_to_base", &figures.height_to_base, both),
            infill_inwards_percent: reasons.take(
                "infill_inwards_percent",
                &figures.inwards,
                densities,
            ),
            infill_upwards_percent: reasons.take(
                "infill_upwards_percent",
                &figures.upwards,
                densities,
            ),
            comments_agree_percent: reasons.some(
                "comments_agree_percent",
                figures.agreement().and_then(|share| finite(share * 100.0)),
                "no comment names what is laid",
            ),
            comments_differ: reasons.some(
                "comments_differ",
                figures.agreement().map(|_| differences(figures)),
                "no comment names what is laid",
            ),
            in_air: Some(
                figures
                    .in_air
                    .iter()
                    .map(|island| spot(island.at))
                    .collect(),
            ),
            sections: reasons.some(
                "sections",
                sections(figures.carried.as_ref()),
                "sections were not asked for",
            ),
            regions: Some(figures.regions.iter().map(Region::of).collect()),
            objects: Some(figures.objects.iter().map(Object::of).collect()),
            object_names: reasons.take("object_names", &figures.names, |names| {
                Some(names.iter().map(ObjectName::of).collect())
            }),
        }
    }
}
