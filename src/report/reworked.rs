//! What became of a rework.

use super::Checked;
use crate::concession::Verdict;
use crate::edit::Hunk;
use crate::finding::Class;
use crate::rework::{Proof, Proposals, Unproven, rework};
use crate::text::Name;

/// A job that was reworked, or that was left as it is.
#[derive(Debug)]
pub struct Reworked {
    /// The job as it was.
    pub before: Box<Checked>,
    /// What is put right, and what is left alone.
    pub proposals: Proposals,
    /// For each edit of the plan, by place, the index of its proposal, and the speed before and after,
    /// mm/s, where it lowers one.
    pub edits: Vec<(usize, Option<[f32; 2]>)>,
    /// Whether the job's lines have numbers or checksums.
    pub is_numbered: bool,
    /// The job as it becomes; none where there was nothing to put right.
    pub change: Option<Changed>,
    /// Where it went.
    pub output: Output,
}

/// A job as it becomes.
#[derive(Debug)]
pub struct Changed {
    /// Inspected anew.
    pub after: Box<Checked>,
    /// What changed, with the lines around.
    pub hunks: Vec<Hunk>,
    /// How many hunks more there are.
    pub beyond: u64,
    /// What is proven to be kept, or why it is not.
    pub proof: Result<Proof, Unproven>,
}

/// Where a reworked job went.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Output {
    /// Nowhere: there was nothing to write, or it is not proven.
    Nothing,
    /// Nowhere: only the changes were asked for.
    Shown,
    /// To a file.
    File {
        /// Its name.
        name: Name,
        /// The name under which the original is kept, where it was reworked in place.
        kept: Option<Name>,
        /// Whether it took the place of the job itself.
        in_place: bool,
    },
    /// To the standard output.
    StandardOutput,
}

impl Reworked {
    /// The job as it is from now on: reworked where that is proven, else as it was.
    #[must_use]
    pub fn result(&self) -> &Checked {
        match &self.change {
            Some(change) if change.proof.is_ok() => &change.after,
            _ => &self.before,
        }
    }

    /// Whether something is to be put right and proven.
    #[must_use]
    pub fn is_proven(&self) -> bool {
        self.change
            .as_ref()
            .is_some_and(|change| change.proof.is_ok())
    }

    /// Whether the job is ready: released as it is from now on, and nothing unproven.
    #[must_use]
    pub fn is_released(&self) -> bool {
        let unproven = self
            .change
            .as_ref()
            .is_some_and(|change| change.proof.is_err());
        !unproven && self.result().settlement.verdict != Verdict::Held
    }

    /// Requirements whose findings hold the job still, with their class.
    #[must_use]
    pub fn holding(&self) -> Vec<(&'static str, Class)> {
        self.result().holding()
    }

    /// Whether any of it alters the print.
    #[must_use]
    pub fn repairs(&self) -> bool {
        self.proposals
            .list
            .iter()
            .any(|proposal| rework(proposal.rework).is_some_and(|rework| rework.is_repair))
    }

    /// The proposals that edits of a hunk belong to, by index, each once.
    #[must_use]
    pub fn of_hunk(&self, hunk: &Hunk) -> Vec<usize> {
        let mut of_hunk: Vec<usize> = self.edits_of(hunk).iter().map(|(of, _)| *of).collect();
        of_hunk.sort_unstable();
        of_hunk.dedup();
        of_hunk
    }

    /// The speeds that a hunk lowers for a proposal, before and after, each pair once.
    #[must_use]
    pub fn speeds(&self, hunk: &Hunk, proposal: usize) -> Vec<[f32; 2]> {
        let mut speeds: Vec<[f32; 2]> = self
            .edits_of(hunk)
            .iter()
            .filter(|(of, _)| *of == proposal)
            .filter_map(|(_, speeds)| *speeds)
            .collect();
        speeds.sort_by(|one, other| one.partial_cmp(other).unwrap_or(std::cmp::Ordering::Equal));
        speeds.dedup();
        speeds
    }

    fn edits_of(&self, hunk: &Hunk) -> &[(usize, Option<[f32; 2]>)] {
        self.edits.get(hunk.edits.clone()).unwrap_or_default()
    }
}
