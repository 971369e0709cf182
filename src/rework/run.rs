//! The two rounds: one that plans, one past the result while it is spliced.

use super::{Mended, Mending, Proof, Unproven, Wanted, prove};
use crate::edit::{Plan, Splice, Spliced};
use crate::finding::Class;
use crate::inspection::{Held, Inspected, Round};
use crate::text::{Blocks, PIECE};

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

    /// Whether nothing is to be put right.
    #[must_use]
    pub fn is_done(&self) -> bool {
        self.plan.is_empty() && !self.mended.proposals.restate
    }
}

/// The second time along the job: spliced, and the result inspected on its way out.
#[derive(Debug)]
pub struct Second<'a> {
    splice: Splice<'a>,
    round: Round<Mending>,
    blocks: Blocks,
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

impl<'a> Second<'a> {
    /// Before the first byte; `wanted` as in the first round.
    #[must_use]
    pub fn new(first: &'a First, held: &Held, wanted: &Wanted) -> Self {
        let proposals = &first.mended.proposals;
        Self {
            splice: Splice::new(&first.plan, first.mended.is_numbered, proposals.restate),
            round: Round::tapped(held.clone(), Mending::new(held, wanted)),
            blocks: Blocks::default(),
        }
    }

    /// The buffer to append the next piece of the original to; then call [`Second::go_on`].
    pub const fn buffer(&mut self) -> &mut Vec<u8> {
        self.blocks.buffer()
    }

    /// Carries out the lines that are whole; the result goes to `out`.
    pub fn go_on(&mut self, out: &mut impl FnMut(&[u8])) {
        self.pass(false, out);
    }

    fn pass(&mut self, at_end: bool, out: &mut impl FnMut(&[u8])) {
        let Self {
            splice,
            round,
            blocks,
        } = self;
        blocks.give(at_end, |block| {
            splice.block(block, &mut |bytes| {
                out(bytes);
                round.take(bytes);
            });
        });
    }

    /// Ends the job.
    pub fn finish(mut self, out: &mut impl FnMut(&[u8])) -> Done {
        self.pass(true, out);
        let Self {
            splice, mut round, ..
        } = self;
        let spliced = splice.finish(&mut |bytes| {
            out(bytes);
            round.take(bytes);
        });
        let (inspected, mending) = round.finish_tapped();
        let mended = mending.done(&inspected.findings);
        Done {
            spliced,
            inspected,
            mended,
        }
    }
}

impl Done {
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
    let mut second = Second::new(&first, held, wanted);
    let mut keep = |bytes: &[u8]| out.extend_from_slice(bytes);
    for piece in job.chunks(PIECE) {
        second.buffer().extend_from_slice(piece);
        second.go_on(&mut keep);
    }
    let done = second.finish(&mut keep);
    (first, Some((out, done)))
}
