//! What the gate says of one job.

use crate::text::Name;
use serde::{Deserialize, Serialize};
use std::path::PathBuf;
use std::time::Duration;

/// The answer to a job.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum Answer {
    /// It goes on to the printer.
    Pass,
    /// It does not.
    Hold,
    /// It could not be inspected, and does not go on either.
    NotInspected,
}

impl Answer {
    /// The word for it, as in a record.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Pass => "pass",
            Self::Hold => "hold",
            Self::NotInspected => "not-inspected",
        }
    }

    /// The exit code of a gate that was asked about one job.
    #[must_use]
    pub const fn code(self) -> u8 {
        self as u8
    }
}

/// What the gate says of one job.
#[derive(Debug, Clone, PartialEq)]
pub struct Gated {
    /// What the job is called.
    pub name: Name,
    /// The answer.
    pub answer: Answer,
    /// Why it does not pass, or what else is to be known; lower case, no final stop, often empty.
    pub reason: String,
    /// The rule that named the sheets, counted from 1; none where rules were not asked or none fits.
    pub rule: Option<usize>,
    /// The names of the material sheets.
    pub materials: Vec<String>,
    /// The name of the machine sheet.
    pub machine: Option<String>,
    /// BLAKE3 of the stored bytes as they are from now on, in hexadecimal.
    pub digest: Option<String>,
    /// How many changes were made to the job.
    pub changes: usize,
    /// Whether a stamp said so, and the job was not inspected anew.
    pub by_stamp: bool,
    /// Where it was moved to, by a gate that watches a folder.
    pub moved_to: Option<PathBuf>,
    /// How long it took.
    pub took: Duration,
}

impl Gated {
    /// A job of which nothing is known but why it does not pass.
    #[must_use]
    pub const fn refused(name: Name, answer: Answer, reason: String) -> Self {
        Self {
            name,
            answer,
            reason,
            rule: None,
            materials: Vec::new(),
            machine: None,
            digest: None,
            changes: 0,
            by_stamp: false,
            moved_to: None,
            took: Duration::ZERO,
        }
    }

    /// Adds to what is to be known.
    pub fn remark(&mut self, words: &str) {
        if !self.reason.is_empty() {
            self.reason.push_str("; ");
        }
        self.reason.push_str(words);
    }
}
