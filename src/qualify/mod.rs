//! Qualifying: the material's data sheet against the machine, the part and its use, with no job.
//!
//! A question names a material, and as far as they are known a machine and an application. Every
//! point holds two values against each other and says what is to be done; the verdict is the worst
//! of them. What a sheet does not say is an unknown point, never a guess.
//!
//! Absent here: files, colours, and any value that no sheet, asker or cited formula gives.

mod exposed;
mod figures;
mod flow;
mod heat;
mod nozzle;
mod pair;
mod point;
mod prepare;
mod rank;
mod room;
mod service;
mod shape;
pub mod start;
mod stock;
mod strength;
pub mod symptom;
mod water;

pub use nozzle::HARD;
pub use point::{Margin, Point, Side, Standing};
pub use rank::{Candidate, beside, find};
pub use strength::{Build, OfJob};

use crate::quantity::Celsius;
use crate::sheet::{Application, Machine, Material, Tool};

/// The source of what was asked on the command line.
pub const AS_ASKED: &str = "as asked";

/// A spool that was weighed before and after drying, g.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weighed {
    /// Before.
    pub before: f64,
    /// After.
    pub after: f64,
    /// The empty spool, where its mass is known.
    pub empty: Option<f64>,
}

/// How the source of what a job's survey told begins.
pub const OF_JOB: &str = "the job ";

/// What is asked.
#[derive(Debug, Clone, Copy)]
pub struct Question<'a> {
    /// The material.
    pub material: &'a Material,
    /// The machine; none where only the material and its use are asked about.
    pub machine: Option<&'a Machine>,
    /// The use.
    pub application: &'a Application,
    /// Which of the machine's tools is to print it.
    pub tool: usize,
    /// What was in the nozzle before, where that is asked.
    pub before: Option<&'a Material>,
    /// What a spool weighed before and after it was dried.
    pub weighed: Option<Weighed>,
    /// A section whose strength is asked about.
    pub build: Option<Build>,
    /// A job's part whose strength is asked about.
    pub of_job: Option<OfJob<'a>>,
    /// Whether it is asked what can be done after printing.
    pub wants_finish: bool,
    /// Whether the asker speaks in degrees Fahrenheit: they stand beside the degrees Celsius.
    pub fahrenheit: bool,
}

impl<'a> Question<'a> {
    /// Asks for a material, a machine and a use, and for nothing besides.
    #[must_use]
    pub const fn new(
        material: &'a Material,
        machine: Option<&'a Machine>,
        application: &'a Application,
    ) -> Self {
        Self {
            material,
            machine,
            application,
            tool: 0,
            before: None,
            weighed: None,
            build: None,
            of_job: None,
            wants_finish: false,
            fahrenheit: false,
        }
    }

    /// The tool that is to print it, and its number.
    fn tool(&self) -> Option<&'a Tool> {
        self.machine?.tools.get(self.tool)
    }

    /// The dryer at hand: the one that is asked about, else the machine's own.
    fn dryer(&self) -> Option<Dryer> {
        let asked = &self.application.dryer;
        if let Some(heat) = &asked.temperature {
            let text = self.heat(heat.value);
            return Some(Dryer {
                at: heat.value,
                side: Side::asked(self.application, "dryer.temperature", heat, text),
                dries_air: asked.dries_air.as_ref().is_some_and(|dries| dries.value),
            });
        }
        let machine = self.machine?;
        let heat = machine.dry_box.limit.as_ref()?;
        let text = self.heat(heat.value);
        Some(Dryer {
            at: heat.value,
            side: Side::machine(machine, "dry_box.limit", heat, text),
            dries_air: machine
                .dry_box
                .dries_air
                .as_ref()
                .is_some_and(|dries| dries.value),
        })
    }

    /// A key of that tool: `tools[0].limit`.
    fn tool_key(&self, key: &str) -> String {
        format!("tools[{}].{key}", self.tool)
    }
}

/// What filament is dried in.
struct Dryer {
    at: Celsius,
    side: Side,
    /// Whether it takes the water out of its air.
    dries_air: bool,
}

/// What it comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Nothing stands in the way, as far as the sheets say.
    Suits,
    /// It works with the changes named.
    SuitsWithChanges,
    /// Nothing was held against anything: neither a machine nor a use was asked about.
    NothingHeld,
    /// What decides it is not said by a sheet.
    Open,
    /// It cannot work.
    DoesNotSuit,
}

impl Verdict {
    /// The word for it, in kebab case.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Suits => "suits",
            Self::SuitsWithChanges => "suits-with-changes",
            Self::NothingHeld => "nothing-held",
            Self::Open => "open",
            Self::DoesNotSuit => "does-not-suit",
        }
    }
}

/// The answer to a question.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// What it comes to.
    pub verdict: Verdict,
    /// Every point, worst standing first.
    pub points: Vec<Point>,
    /// What can hurt somebody: the material's cautions, the machine's, the application's.
    pub cautions: Vec<String>,
}

impl Answer {
    /// The points of one standing.
    pub fn standing(&self, standing: Standing) -> impl Iterator<Item = &Point> {
        self.points
            .iter()
            .filter(move |point| point.standing == standing)
    }

    /// The point of this id.
    #[must_use]
    pub fn point(&self, id: &str) -> Option<&Point> {
        self.points.iter().find(|point| point.id == id)
    }
}

/// Points without which nobody can say whether it works: what the machine must reach, and what the part
/// was asked to stand.
const DECISIVE: &[&str] = &[
    "hotend",
    "bed",
    "filament-diameter",
    "service",
    "service-peak",
    "exposed",
    "flame",
];

/// How one point is looked at; `None` where the question is not asked.
type Look = fn(&Question<'_>) -> Option<Point>;

/// Every point, in the order in which one would ask.
const POINTS: &[Look] = &[
    heat::hotend,
    heat::liner,
    heat::bed,
    heat::chamber,
    heat::enclosure,
    heat::warm_box,
    room::build_volume,
    nozzle::hardness,
    nozzle::bore,
    nozzle::diameter,
    flow::melt_rate,
    prepare::surface,
    prepare::fan,
    prepare::drying,
    water::floor_of_dryer,
    water::drying_time,
    water::is_it_wet,
    water::weighed,
    prepare::exposure,
    water::exposure_in_room,
    service::continuous,
    service::short_term,
    service::deflection,
    service::water_in_use,
    strength::strength,
    strength::of_job,
    exposed::flame,
    shape::shrinkage,
    shape::finishing,
    stock::one_spool,
    stock::batch,
    stock::spool_size,
    pair::support,
    pair::changeover,
];

/// Points of which there may be several.
const MANY: &[fn(&Question<'_>) -> Vec<Point>] = &[exposed::exposed, exposed::concerns];

/// Answers a question.
#[must_use]
pub fn qualify(question: &Question<'_>) -> Answer {
    let mut points: Vec<Point> = POINTS.iter().filter_map(|look| look(question)).collect();
    points.extend(MANY.iter().flat_map(|look| look(question)));
    points.sort_by_key(|point| point.standing);
    let has = |standing| points.iter().any(|point| point.standing == standing);
    let undecided = points
        .iter()
        .any(|point| point.standing == Standing::Unknown && DECISIVE.contains(&point.id));
    let verdict = if has(Standing::Stops) {
        Verdict::DoesNotSuit
    } else if undecided {
        Verdict::Open
    } else if has(Standing::Change) || has(Standing::Trial) {
        Verdict::SuitsWithChanges
    } else if has(Standing::Fits) {
        Verdict::Suits
    } else {
        Verdict::NothingHeld
    };
    Answer {
        verdict,
        cautions: cautions(question),
        points,
    }
}

/// What can hurt somebody, each said once.
fn cautions(question: &Question<'_>) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    let of_machine = question.machine.map(|machine| &machine.cautions);
    for caution in [
        Some(&question.material.cautions),
        of_machine,
        Some(&question.application.cautions),
    ]
    .into_iter()
    .flatten()
    .flatten()
    {
        if !all.contains(caution) {
            all.push(caution.clone());
        }
    }
    all
}

#[cfg(test)]
mod tests;
