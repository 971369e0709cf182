//! Reports: what was found, for a person at a terminal or for a program.
//!
//! Absent here: anything that is computed about a job. A report chooses words and places, no more. Text
//! from jobs, file names and sheets goes through [`clean`](crate::text::clean) on its way out.

pub mod gated;
mod kinds;
pub mod layers;
pub mod paint;
pub mod plot;
pub mod qualified;
pub mod record;
pub mod reply;
pub mod reworked;
pub mod shown;
pub mod standard;
pub mod terminal;
mod tidy;
pub mod traveler;

pub use tidy::{figure_of, grouped, lasting, rounded, tidy};

use crate::concession::{Concession, Settlement};
use crate::finding::Class;
use crate::inspection::{Held, Inspected};
use crate::text::{Name, Stored};
use std::sync::Arc;

/// Where a sheet was named.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NamedBy {
    /// On the command line.
    CommandLine,
    /// In the configuration.
    Configuration,
    /// By the job itself, in a comment on this line.
    Job {
        /// The line.
        line: u64,
    },
    /// Nowhere; why none could be taken from the job, lower case and without a final stop.
    Nobody(String),
}

impl NamedBy {
    /// The word for it, in kebab case; none where no sheet was named.
    #[must_use]
    pub const fn word(&self) -> Option<&'static str> {
        match self {
            Self::CommandLine => Some("command-line"),
            Self::Configuration => Some("configuration"),
            Self::Job { .. } => Some("job"),
            Self::Nobody(_) => None,
        }
    }
}

/// A job that was inspected, and what it was held against.
#[derive(Debug)]
pub struct Checked {
    /// What the job is called.
    pub name: Name,
    /// How it was stored.
    pub stored: Stored,
    /// The sheets.
    pub held: Held,
    /// Who named the materials.
    pub material_by: NamedBy,
    /// Who named the machine.
    pub machine_by: NamedBy,
    /// Findings of this class and above hold the job.
    pub hold_from: Class,
    /// What was found.
    pub inspected: Inspected,
    /// Every concession that was declared.
    pub concessions: Arc<[Concession]>,
    /// What the findings come to.
    pub settlement: Settlement,
}

/// A job that could not be inspected.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Failed {
    /// What the job is called.
    pub name: Name,
    /// Why: lower case, no final stop, the job named.
    pub message: String,
    /// What to do, in the imperative.
    pub help: String,
}

/// What became of one job.
#[derive(Debug)]
pub enum Outcome {
    /// It was inspected.
    Checked(Box<Checked>),
    /// It was not.
    Failed(Failed),
}

impl From<Result<Box<Checked>, Failed>> for Outcome {
    fn from(outcome: Result<Box<Checked>, Failed>) -> Self {
        match outcome {
            Ok(checked) => Self::Checked(checked),
            Err(failed) => Self::Failed(failed),
        }
    }
}

impl Checked {
    /// How many findings of each class there are, most harmful first; classes without any left out.
    #[must_use]
    pub fn counts(&self) -> Vec<(Class, usize)> {
        Class::ALL
            .into_iter()
            .map(|class| {
                let of_class = self
                    .inspected
                    .findings
                    .iter()
                    .filter(|finding| finding.class == class);
                (class, of_class.count())
            })
            .filter(|(_, count)| *count > 0)
            .collect()
    }

    /// The same in words, `1 critical, 2 observations`; None where nothing was found.
    #[must_use]
    pub fn counts_in_words(&self) -> Option<String> {
        let counts: Vec<String> = self
            .counts()
            .iter()
            .map(|(class, count)| {
                let is_many = *class == Class::Observation && *count != 1;
                format!("{count} {}{}", class.word(), if is_many { "s" } else { "" })
            })
            .collect();
        (!counts.is_empty()).then(|| counts.join(", "))
    }

    /// Requirements whose findings hold the job, with their class, each once.
    #[must_use]
    pub fn holding(&self) -> Vec<(&'static str, Class)> {
        let mut holding = Vec::new();
        for (index, finding) in self.inspected.findings.iter().enumerate() {
            let one = (finding.requirement, finding.class);
            if finding.class >= self.hold_from
                && self.settlement.conceded(index).is_none()
                && !holding.contains(&one)
            {
                holding.push(one);
            }
        }
        holding
    }
}
