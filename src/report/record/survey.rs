//! The survey within the record, and as a record of its own. The comments here are the schema's
//! descriptions.
//!
//! What could not be told is null, and `reasons` says why, by the name of the key.

use super::parts::{Error, Job, Machine, Material, Tool};
use super::walls::WallPart;
use crate::survey::{self, Deposit, Reach, Row, Told, ToolShare};
use crate::text::clean;
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

/// What a job builds and uses, with no requirement held.
#[derive(Debug, Serialize, JsonSchema)]
pub struct SurveyRecord {
    /// The name of this schema: `meltgauge-survey`.
    pub schema: &'static str,
    /// The version of this schema. It rises when a key goes or changes its meaning.
    pub version: u32,
    /// The program that wrote the record.
    pub tool: Tool,
    /// The job.
    pub job: Job,
    /// The material sheets, one for each tool that has one.
    pub material: Vec<Material>,
    /// The machine sheet.
    pub machine: Option<Machine>,
    /// Why the job could not be surveyed; null where it was.
    pub error: Option<Error>,
    /// What it builds and uses; null where it could not be read.
    pub survey: Option<Survey>,
    /// How many layers a row stands for: 1, or more past the table's cap; null where the table was not
    /// asked for.
    pub layers_each: Option<u64>,
    /// The table of layers, in the order laid; null where it was not asked for.
    pub layers: Option<Vec<LayerRow>>,
}

/// What the job builds and uses. What could not be told is null.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Survey {
    /// Why something is null, by its key.
    pub reasons: BTreeMap<&'static str, String>,
    /// Seconds that the job takes.
    pub time_s: Option<f64>,
    /// The same in parts.
    pub time_parts_s: Option<TimeParts>,
    /// A word of the job that sets limits of motion which only its control knows: the machine sheet's
    /// hold, and the time is by them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub time_own_limits: Option<String>,
    /// The largest net E reached, over all tools, before flow factors, mm.
    pub filament_mm: Option<f64>,
    /// The same by tool.
    pub filament_by_tool_mm: Vec<Option<f64>>,
    /// All that is pushed, with the flow factors in force, mm.
    pub filament_factored_mm: Option<f64>,
    /// What is laid in the part, without purge, skirt, brim, raft, support and tower, flow factors
    /// included, mm.
    pub filament_part_mm: Option<f64>,
    /// All that is pushed, flow factors included, mm³.
    pub filament_mm3: Option<f64>,
    /// Its mass, g.
    pub filament_g: Option<f64>,
    /// What it costs.
    pub cost: Option<Amount>,
    /// What of it wears soft nozzles out, g.
    pub abrasive_g: Option<f64>,
    /// Filament by tool.
    pub tools: Vec<ToolFilament>,
    /// Layers of the part.
    pub layers: Option<u64>,
    /// The box of the part: its corners with the least and the greatest X, Y and Z, mm.
    pub box_mm: Option<[[f64; 3]; 2]>,
    /// The size of the part along X and Y, mm.
    pub footprint_mm: Option<[f64; 2]>,
    /// The part's longest side, mm.
    pub longest_side_mm: Option<f64>,
    /// The box of the part: least and greatest X, Y and Z, mm.
    pub part_mm: Option<[[f64; 2]; 3]>,
    /// The box of all deposit: least and greatest X, Y and Z, mm.
    pub all_mm: Option<[[f64; 2]; 3]>,
    /// The part's first layer.
    pub first_layer: FirstLayer,
    /// The first layer's height, mm.
    pub first_layer_mm: Option<f64>,
    /// Seconds of the quickest layer between the first and the last, with the way to it.
    pub quickest_layer_s: Option<f64>,
    /// Which one that is.
    pub quickest_layer: Option<QuickestLayer>,
    /// The highest flow in the part, mm³/s.
    pub peak_flow_mm3_s: Option<f64>,
    /// The highest mean flow over a second in the part, mm³/s.
    pub sustained_flow_mm3_s: Option<f64>,
    /// How wide the part's beads are, mm.
    pub bead_mm: Option<BeadWidth>,
    /// The same as shares of the nozzles' bores.
    pub bead_share: Option<BeadWidth>,
    /// The most moves in a second, over any stroke of twenty or more.
    pub segments_per_s: Option<f64>,
    /// The longest that a hot nozzle waits without a push, s.
    pub idle_s: Option<f64>,
    /// The line that ends that wait.
    pub idle_line: Option<u64>,
    /// Walls and infill.
    #[serde(flatten)]
    pub walls: WallPart,
    /// What is drawn back.
    pub retractions: Retractions,
    /// Motions.
    pub motions: u64,
    /// Moves that lay filament.
    pub deposits: u64,
}

/// Where the time goes, s.
#[derive(Debug, Serialize, JsonSchema)]
pub struct TimeParts {
    /// Filament is laid.
    pub printing: Option<f64>,
    /// On the way.
    pub travel: Option<f64>,
    /// Filament alone moves.
    pub retract: Option<f64>,
    /// Waiting for heat.
    pub heating: Option<f64>,
    /// Homing, probing, dwelling, changing tools.
    pub waiting: Option<f64>,
}

/// An amount of money.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Amount {
    /// How much.
    pub amount: Option<f64>,
    /// The currency, as the sheet writes it.
    pub currency: String,
}

/// The filament of one tool.
#[derive(Debug, Serialize, JsonSchema)]
pub struct ToolFilament {
    /// Why something is null, by its key.
    pub reasons: BTreeMap<&'static str, String>,
    /// The tool.
    pub tool: u32,
    /// Its material.
    pub material: Option<String>,
    /// The largest net E, mm.
    pub filament_mm: Option<f64>,
    /// The same with the flow factors in force, mm.
    pub filament_factored_mm: Option<f64>,
    /// The filament's diameter, mm.
    pub diameter_mm: Option<f64>,
    /// Who says so: `machine sheet`, `material sheet`, `the job's M200`, `the job's comments` or
    /// `assumed`.
    pub diameter_by: Option<&'static str>,
    /// mm³.
    pub filament_mm3: Option<f64>,
    /// g.
    pub filament_g: Option<f64>,
    /// What it costs.
    pub cost: Option<Amount>,
    /// What the sheet says is left on its spool, g.
    pub spool_left_g: Option<f64>,
    /// What the job leaves of that, g; below zero the spool is too short.
    pub spool_after_g: Option<f64>,
    /// Where it goes.
    pub goes_into: Vec<Pushed>,
}

/// Filament that goes into one class of deposit, flow factors included.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Pushed {
    /// The class.
    pub class: Class,
    /// mm.
    pub filament_mm: Option<f64>,
    /// mm³.
    pub filament_mm3: Option<f64>,
    /// g.
    pub filament_g: Option<f64>,
}

/// A class of deposit.
#[derive(Debug, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Class {
    /// The part.
    Part,
    /// A support.
    Support,
    /// A raft.
    Raft,
    /// A brim.
    Brim,
    /// A skirt.
    Skirt,
    /// A line or blob that fills the nozzle.
    Purge,
    /// A tower for priming and wiping.
    Tower,
    /// Pushed where the nozzle stands.
    Standing,
}

/// The part's first layer.
#[derive(Debug, Serialize, JsonSchema)]
pub struct FirstLayer {
    /// Why something is null, by its key.
    pub reasons: BTreeMap<&'static str, String>,
    /// Its height, mm.
    pub height_mm: Option<f64>,
    /// The highest speed really reached in it, mm/s.
    pub speed_mm_s: Option<f64>,
}

/// The quickest layer.
#[derive(Debug, Serialize, JsonSchema)]
pub struct QuickestLayer {
    /// Its number, from 1 in the order laid.
    pub number: u64,
    /// Its height above the bed, mm.
    pub z_mm: Option<f64>,
}

/// How wide beads are.
#[derive(Debug, Serialize, JsonSchema)]
pub struct BeadWidth {
    /// The narrowest.
    pub least: Option<f64>,
    /// The mean, by volume.
    pub usual: Option<f64>,
    /// The widest.
    pub most: Option<f64>,
}

/// What is drawn back. Lengths are in filament, speeds as commanded.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Retractions {
    /// How many.
    pub count: u64,
    /// Filament drawn back in all, mm.
    pub total_mm: Option<f64>,
    /// The longest, mm; null where there is none.
    pub longest_mm: Option<f64>,
    /// Its first line.
    pub longest_line: Option<u64>,
    /// The fastest, mm/s; null where there is none, or none has a feed.
    pub fastest_mm_s: Option<f64>,
    /// Its line.
    pub fastest_line: Option<u64>,
    /// How many go over one and the same piece of filament, at most.
    pub over_one_piece: u32,
    /// How many the control makes itself, by its own length and speed; in none of the other figures.
    pub by_control: u64,
}

/// One layer of the part, or several neighbours past the table's cap. What could not be told is null.
#[derive(Debug, Serialize, JsonSchema)]
pub struct LayerRow {
    /// The number of its (first) layer, from 1 in the order laid.
    pub number: u64,
    /// How many layers it stands for.
    pub layers: u64,
    /// Height above the bed, mm.
    pub z_mm: Option<f64>,
    /// Height of the layer itself, least and greatest, mm.
    pub height_mm: Option<[f64; 2]>,
    /// Seconds with the way to it and all waits; of several the sum.
    pub time_s: Option<f64>,
    /// Seconds of the quickest of its layers.
    pub quickest_s: Option<f64>,
    /// Filament laid, flow factors included, mm.
    pub filament_mm: Option<f64>,
    /// The highest speed that the part's strokes really reach: of the slowest stroke and of the
    /// fastest, mm/s.
    pub speed_mm_s: Option<[f64; 2]>,
    /// The highest flow, mm³/s.
    pub peak_flow_mm3_s: Option<f64>,
    /// The highest mean flow over a second, mm³/s.
    pub sustained_flow_mm3_s: Option<f64>,
    /// How wide its beads are, mm.
    pub bead_mm: Option<BeadWidth>,
    /// The part fan, 0 to 1, mean by filament.
    pub fan: Option<f64>,
    /// The hotend's set points, least and greatest, °C.
    pub hotend: Option<[f64; 2]>,
    /// The bed's, °C.
    pub bed: Option<[f64; 2]>,
    /// How far its outline leans out at most, degrees from the vertical; where walls were asked for.
    pub overhang_deg: Option<f64>,
    /// What of it lies over nothing and rests on less than two ends, mm³; of several layers the sum.
    pub unsupported_mm3: Option<f64>,
}

pub(super) fn finite(number: f64) -> Option<f64> {
    number.is_finite().then_some(number)
}

/// Keeps reasons apart from figures.
#[derive(Default)]
pub(super) struct Reasons(pub BTreeMap<&'static str, String>);

impl Reasons {
    pub fn take<T, U>(
        &mut self,
        key: &'static str,
        told: &Told<T>,
        read: impl FnOnce(&T) -> Option<U>,
    ) -> Option<U> {
        match told {
            Ok(value) => self.some(key, read(value), "it is not finite"),
            Err(why) => self.some(key, None, why),
        }
    }

    pub fn some<T>(&mut self, key: &'static str, value: Option<T>, why: &str) -> Option<T> {
        if value.is_none() {
            self.0.insert(key, clean(why.as_bytes()).into_owned());
        }
        value
    }
}

fn amount(cost: &survey::Cost) -> Option<Amount> {
    Some(Amount {
        amount: finite(cost.amount),
        currency: clean(cost.currency.as_bytes()).into_owned(),
    })
}

fn bead(bead: &survey::Bead) -> BeadWidth {
    BeadWidth {
        least: finite(bead.least),
        usual: finite(bead.usual),
        most: finite(bead.most),
    }
}

impl Survey {
    /// From what was surveyed.
    #[must_use]
    pub fn of(survey: &survey::Survey) -> Self {
        let mut reasons = Reasons::default();
        let spans = |spans: Option<[[f64; 2]; 3]>| {
            spans.filter(|spans| spans.iter().flatten().all(|number| number.is_finite()))
        };
        let no_part = "no part is laid";
        let part = spans(survey.part);
        let size = survey.size().filter(|_| part.is_some());
        Self {
            time_s: reasons.take("time_s", &survey.time, |pace| finite(pace.seconds())),
            time_own_limits: survey
                .own_limits
                .as_ref()
                .filter(|_| survey.time.is_ok())
                .map(|word| crate::text::clean(word.as_bytes()).into_owned()),
            time_parts_s: reasons.take("time_parts_s", &survey.time, |pace| {
                Some(TimeParts {
                    printing: finite(pace.print),
                    travel: finite(pace.travel),
                    retract: finite(pace.retract),
                    heating: finite(pace.heating),
                    waiting: finite(pace.waiting),
                })
            }),
            filament_mm: finite(survey.filament_mm),
            filament_by_tool_mm: survey
                .filament_by_tool_mm
                .iter()
                .map(|length| finite(*length))
                .collect(),
            filament_factored_mm: finite(survey.filament_factored_mm),
            filament_part_mm: finite(survey.filament_part_mm),
            filament_mm3: reasons.take("filament_mm3", &survey.volume_mm3, |one| finite(*one)),
            filament_g: reasons.take("filament_g", &survey.mass_g, |one| finite(*one)),
            cost: reasons.take("cost", &survey.cost, amount),
            abrasive_g: reasons.take("abrasive_g", &survey.abrasive_g, |one| finite(*one)),
            tools: survey.tools.iter().map(tool).collect(),
            layers: reasons.take("layers", &survey.layers, |count| Some(*count)),
            box_mm: reasons.some(
                "box_mm",
                part.map(|[x, y, z]| [[x[0], y[0], z[0]], [x[1], y[1], z[1]]]),
                no_part,
            ),
            footprint_mm: reasons.some("footprint_mm", size.map(|[x, y, _]| [x, y]), no_part),
            longest_side_mm: reasons.some(
                "longest_side_mm",
                survey.longest_side().filter(|_| part.is_some()),
                no_part,
            ),
            part_mm: reasons.some("part_mm", part, no_part),
            all_mm: reasons.some("all_mm", spans(survey.all), "nothing is laid"),
            first_layer: first_layer(survey),
            first_layer_mm: reasons.some(
                "first_layer_mm",
                survey.first_layer_mm.and_then(finite),
                no_part,
            ),
            quickest_layer_s: reasons.take("quickest_layer_s", &survey.quickest, |quick| {
                finite(quick.seconds)
            }),
            quickest_layer: reasons.take("quickest_layer", &survey.quickest, |quick| {
                Some(QuickestLayer {
                    number: quick.number + 1,
                    z_mm: finite(quick.z),
                })
            }),
            peak_flow_mm3_s: reasons
                .take("peak_flow_mm3_s", &survey.flow, |flow| finite(flow.peak)),
            sustained_flow_mm3_s: reasons.take("sustained_flow_mm3_s", &survey.flow, |flow| {
                finite(flow.sustained)
            }),
            bead_mm: reasons.take("bead_mm", &survey.bead, |width| Some(bead(width))),
            bead_share: reasons.take("bead_share", &survey.bead_share, |width| Some(bead(width))),
            segments_per_s: reasons.take("segments_per_s", &survey.segments_per_s, |most| {
                finite(*most)
            }),
            idle_s: reasons.take("idle_s", &survey.idle, |idle| finite(idle.seconds)),
            idle_line: reasons.some(
                "idle_line",
                survey
                    .idle
                    .as_ref()
                    .ok()
                    .map(|idle| idle.line)
                    .filter(|line| *line > 0),
                "no hot nozzle is known to wait",
            ),
            walls: WallPart::of(survey.walls.as_ref(), &mut reasons),
            retractions: retractions(&survey.retractions),
            motions: survey.motions,
            deposits: survey.deposits,
            reasons: reasons.0,
        }
    }
}

fn first_layer(survey: &survey::Survey) -> FirstLayer {
    let mut reasons = Reasons::default();
    let height = survey.first_layer_mm.and_then(finite);
    FirstLayer {
        height_mm: reasons.some("height_mm", height, "no part is laid"),
        speed_mm_s: reasons.take("speed_mm_s", &survey.first_layer_speed, |speed| {
            finite(*speed)
        }),
        reasons: reasons.0,
    }
}

fn tool(share: &ToolShare) -> ToolFilament {
    let mut reasons = Reasons::default();
    let left = share.spool_left.as_ref().ok();
    let after: Told<f64> = match (&share.spool_left, &share.mass) {
        (Ok(left), Ok(mass)) => Ok(left - mass),
        (Err(why), _) | (Ok(_), Err(why)) => Err(why.clone()),
    };
    let material = share.material.as_ref();
    ToolFilament {
        tool: share.tool,
        material: reasons.some(
            "material",
            material.map(|name| clean(name.as_bytes()).into_owned()),
            "no material is named for it",
        ),
        filament_mm: finite(share.filament),
        filament_factored_mm: finite(share.factored),
        diameter_mm: reasons.take("diameter_mm", &share.diameter, |one| finite(one.mm)),
        diameter_by: reasons.take("diameter_by", &share.diameter, |one| Some(one.by)),
        filament_mm3: reasons.take("filament_mm3", &share.volume, |one| finite(*one)),
        filament_g: reasons.take("filament_g", &share.mass, |one| finite(*one)),
        cost: reasons.take("cost", &share.cost, amount),
        spool_left_g: reasons.take("spool_left_g", &share.spool_left, |_| left.copied()),
        spool_after_g: reasons.take("spool_after_g", &after, |one| finite(*one)),
        goes_into: share.shares.iter().map(pushed).collect(),
        reasons: reasons.0,
    }
}

fn pushed(share: &survey::Share) -> Pushed {
    let known = |told: &Told<f64>| told.as_ref().ok().copied().and_then(finite);
    Pushed {
        class: match share.class {
            Some(Deposit::Part) => Class::Part,
            Some(Deposit::Support) => Class::Support,
            Some(Deposit::Raft) => Class::Raft,
            Some(Deposit::Brim) => Class::Brim,
            Some(Deposit::Skirt) => Class::Skirt,
            Some(Deposit::Purge) => Class::Purge,
            Some(Deposit::Tower) => Class::Tower,
            None => Class::Standing,
        },
        filament_mm: finite(share.filament),
        filament_mm3: known(&share.volume),
        filament_g: known(&share.mass),
    }
}

fn retractions(drawn: &survey::Retractions) -> Retractions {
    Retractions {
        count: drawn.count,
        total_mm: finite(drawn.total),
        longest_mm: drawn.longest.and_then(|(longest, _)| finite(longest)),
        longest_line: drawn.longest.map(|(_, line)| line),
        fastest_mm_s: drawn.fastest.and_then(|(fastest, _)| finite(fastest)),
        fastest_line: drawn.fastest.map(|(_, line)| line),
        over_one_piece: drawn.over_one_piece,
        by_control: drawn.by_control,
    }
}

impl LayerRow {
    /// From a row of the table.
    #[must_use]
    pub fn of(row: &Row) -> Self {
        let reach = |reach: Option<Reach>| {
            let Reach { least, most } = reach?;
            finite(least)
                .zip(finite(most))
                .map(|(one, other)| [one, other])
        };
        Self {
            number: row.number + 1,
            layers: row.layers,
            z_mm: finite(row.z),
            height_mm: reach(row.height),
            time_s: row.seconds.and_then(finite),
            quickest_s: row.quickest.and_then(finite),
            filament_mm: finite(row.filament),
            speed_mm_s: reach(row.speed),
            peak_flow_mm3_s: row.peak_flow.and_then(finite),
            sustained_flow_mm3_s: row.sustained_flow.and_then(finite),
            bead_mm: row.bead().as_ref().map(bead),
            fan: finite(row.fan),
            hotend: reach(row.hotend),
            bed: reach(row.bed),
            overhang_deg: row.overhang.and_then(finite),
            unsupported_mm3: row.unsupported.and_then(finite),
        }
    }
}
