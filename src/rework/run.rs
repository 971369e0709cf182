//! The two rounds: one that plans, one past the result while it is spliced.

use super::{Mended, Mending, Proof, Unproven, Wanted, prove};
use crate::edit::{Plan, Spliced, Splicing};
use crate::finding::Class;
use crate::inspection::{Held, Inspected, OF_PATH, OF_TIME, OF_WALLS, Round};
use crate::text::{Feed, PIECE, Slice};

/// After the first round: what the job does, and what is to be put right.
#[derive(Debug, Clone, PartialEq)]
pub struct First {
    /// What was found.
    pub inspected: Inspected,
    /// What the reworks propose.
    pub mended: Mended,
    /// The edits.
    pub plan: Plan,
}

impl First {
    /// Ends the first round. Begin it with [`Round::tapped`] and a [`Mending`].
    #[must_use]
    pub fn new(round: Round<Mending>) -> Self {
        let (inspected, mending) = round.finish_tapped();
        Self::of(inspected, mending)
    }

    /// From what the round gave.
    #[must_use]
    pub fn of(inspected: Inspected, mending: Mending) -> Self {
        let mut mended = mending.done(&inspected.findings);
        let plan = mended.proposals.plan();
        Self {
            inspected,
            mended,
            plan,
        }
    }

    /// Whether the first round found nothing about a requirement, and held it.
    fn is_fulfilled(&self, id: &str) -> bool {
        let Inspected {
            findings, not_held, ..
        } = &self.inspected;
        !findings.iter().any(|finding| finding.requirement == id)
            && !not_held.iter().any(|not_held| not_held.requirement == id)
    }

    /// Requirements that the result is known to fulfil: what the first round held and found nothing about,
    /// and no change touches.
    fn fulfilled(&self, brief: bool) -> Vec<&'static str> {
        use super::Characteristic::{Feed, Heat, Retraction, Travel};
        let Mended {
            proposals, trace, ..
        } = &self.mended;
        let moves_otherwise = [Feed, Retraction, Travel]
            .iter()
            .any(|one| proposals.alters(*one));
        let waits_otherwise = proposals.alters(Heat) && trace.waits_late;
        let times: &[&str] = match brief && !moves_otherwise && !waits_otherwise {
            true => &OF_TIME,
            false => &[],
        };
        let known = OF_PATH.iter().chain(times).copied();
        known.filter(|id| self.is_fulfilled(id)).collect()
    }

    /// What the result is held against. Path and deposit are proven to stay, so that what hangs on
    /// nothing else need not be asked twice where nothing was found.
    #[must_use]
    pub fn held_again(&self, held: &Held) -> Held {
        let walls = held.walls || held.sections;
        Held {
            walls: walls && OF_WALLS.iter().any(|id| !self.is_fulfilled(id)),
            sections: false,
            ..held.clone()
        }
    }

    /// The job as it becomes, for the second round; `passed` sees all its bytes, and says whether to go on.
    pub fn spliced<F: Feed, P: FnMut(&[u8]) -> bool>(
        &self,
        job: F,
        passed: P,
    ) -> Splicing<'_, F, P> {
        let (is_numbered, restate) = (self.mended.is_numbered, self.mended.proposals.restate);
        Splicing::new(job, &self.plan, is_numbered, restate, passed)
    }

    /// The second round, past the result; `held` from [`First::held_again`], `wanted` as in the first round. A
    /// brief one tells no times where they are as they were: see [`Done::is_as_long`].
    #[must_use]
    pub fn second(&self, held: &Held, wanted: &Wanted, brief: bool) -> Round<Mending> {
        let fulfilled = self.fulfilled(brief);
        Round::sparing(&fulfilled, held.clone(), Mending::new(held, wanted))
    }

    /// Whether nothing is to be put right.
    #[must_use]
    pub fn is_done(&self) -> bool {
        self.plan.is_empty() && !self.mended.proposals.restate
    }
}

/// After the second round.
#[derive(Debug, Clone, PartialEq)]
pub struct Done {
    /// What changed.
    pub spliced: Spliced,
    /// What was found in the result.
    pub inspected: Inspected,
    /// What the result does.
    pub mended: Mended,
}

impl Done {
    /// Ends the second round, all of the result being past it.
    #[must_use]
    pub fn new(spliced: Spliced, round: Round<Mending>) -> Self {
        let (inspected, mending) = round.finish_tapped();
        let mended = mending.done(&inspected.findings);
        Self {
            spliced,
            inspected,
            mended,
        }
    }

    /// Whether a brief round was enough: the result stands still where the job did, and as long.
    #[must_use]
    pub fn is_as_long(&self, first: &First) -> bool {
        first.mended.trace.stands_like(&self.mended.trace)
    }

    /// Holds the result against the job as it was.
    ///
    /// # Errors
    ///
    /// Where it is not proven to do the same but for what was to change.
    pub fn prove(&self, first: &First, hold_from: Class) -> Result<Proof, Unproven> {
        if self.spliced.misfit {
            return Err(Unproven("the plan does not fit the job's bytes".to_owned()));
        }
        prove(
            (&first.mended, &first.inspected.findings),
            (&self.mended, &self.inspected.findings),
            hold_from,
        )
    }
}

/// Reworks a job that lies in memory: the plan's round, and where there is something to put right
/// the result with its round.
#[must_use]
pub fn rework_bytes(job: &[u8], held: &Held, wanted: &Wanted) -> (First, Option<(Vec<u8>, Done)>) {
    let mut round = Round::tapped(held.clone(), Mending::new(held, wanted));
    for piece in job.chunks(PIECE) {
        round.take(piece);
    }
    let first = First::new(round);
    if first.is_done() {
        return (first, None);
    }
    let mut out = Vec::with_capacity(job.len() + 256);
    let mut becomes = first.spliced(Slice(job), |bytes| {
        out.extend_from_slice(bytes);
        true
    });
    let mut second = first.second(&first.held_again(held), wanted, false);
    while matches!(becomes.next(second.buffer()), Ok(true)) {
        second.go_on();
    }
    let done = Done::new(becomes.finish(), second);
    (first, Some((out, done)))
}
