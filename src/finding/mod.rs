//! Findings: what is stated when a job does not fulfil a requirement. Data only.
//!
//! Absent here: colours, files, and any knowledge of a printer. Amounts are bare numbers with their
//! unit beside them, so that every report can print them without knowing what was measured.

mod excerpt;
mod tally;

pub use excerpt::{EXCERPT_CAP, Excerpt, Place};
pub use tally::{Counts, Extent, Mark, Tally, Worst};

use serde::{Deserialize, Serialize};

/// How much harm a nonconformity may do, from least to most.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Class {
    /// Worth knowing; no fault by itself.
    Observation,
    /// A blemish, or a risk that a good printer may absorb.
    Minor,
    /// The part will likely fail.
    Major,
    /// May hurt a person or the machine.
    Critical,
}

impl Class {
    /// Every class, most harmful first: the order of a report.
    pub const ALL: [Self; 4] = [Self::Critical, Self::Major, Self::Minor, Self::Observation];

    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Observation => "observation",
            Self::Minor => "minor",
            Self::Major => "major",
            Self::Critical => "critical",
        }
    }
}

/// How far a figure can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub enum SourceMark {
    /// From a public source, which is named.
    Published,
    /// Common practice of the trade, no source.
    Practice,
    /// A source is named from memory; its text was not seen.
    Memory,
    /// Measured by whoever wrote the sheet.
    Measured,
    /// Chosen by this project or by the sheet's author.
    #[default]
    Chosen,
}

impl SourceMark {
    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Published => "published",
            Self::Practice => "common practice, no source",
            Self::Memory => "from memory",
            Self::Measured => "measured",
            Self::Chosen => "chosen",
        }
    }
}

/// The figure a job was held against, and whose figure it is.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// The figure, in `unit`.
    pub value: f64,
    /// The unit, as the trade writes it: `°C`, `mm`, `mm/s`, `%`; empty for a count or a word.
    pub unit: &'static str,
    /// The sheet and key it stands in: `material sheet PA6-CF, hotend.print`.
    pub whose: String,
    /// Where the sheet's author has it from.
    pub source: Option<String>,
    /// How far it can be trusted.
    pub mark: SourceMark,
}

/// The written statement of one nonconformity. One cause gives one finding, however often it shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// The requirement's id, in kebab case.
    pub requirement: &'static str,
    /// How much harm it may do.
    pub class: Class,
    /// One sentence: what the job does, against what, by how much. Lower case, no final stop.
    pub message: String,
    /// What to do about it, in the imperative.
    pub help: String,
    /// How often, and where first, last and worst.
    pub extent: Extent,
    /// What it was held against.
    pub limit: Option<Limit>,
    /// The job's own value at its worst place, in the limit's unit.
    pub amount: Option<f64>,
    /// Other places that explain it, each with a few words.
    pub related: Vec<(Excerpt, String)>,
}

/// Why a requirement was not held against this job. Silence of a sheet is not a pass.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct NotHeld {
    /// The requirement's id.
    pub requirement: &'static str,
    /// The reason, lower case, no final stop: `the machine sheet does not say nozzle.material`.
    pub reason: String,
}
