//! A job as it becomes: a feed whose bytes are spliced on their way.

use super::plan::Plan;
use super::splice::{Splice, Spliced};
use crate::text::{Blocks, Error, Feed};

/// Feeds a job with a plan's changes in it.
#[derive(Debug)]
pub struct Splicing<'a, F, P> {
    feed: F,
    /// None once the job has ended, or nobody wants more of it.
    splice: Option<Splice<'a>>,
    blocks: Blocks,
    passed: P,
    spliced: Spliced,
}

impl<'a, F: Feed, P: FnMut(&[u8]) -> bool> Splicing<'a, F, P> {
    /// Before the first piece of `feed`; `numbered` and `restate` as of [`Splice::new`]. `passed` sees all
    /// bytes as they become, and says whether to go on.
    pub fn new(feed: F, plan: &'a Plan, numbered: bool, restate: bool, passed: P) -> Self {
        Self {
            feed,
            splice: Some(Splice::new(plan, numbered, restate)),
            blocks: Blocks::default(),
            passed,
            // What did not come to its end fits nothing.
            spliced: Spliced {
                misfit: true,
                ..Spliced::default()
            },
        }
    }

    /// What the splice came to.
    pub fn finish(self) -> Spliced {
        self.spliced
    }
}

impl<F: Feed, P: FnMut(&[u8]) -> bool> Feed for Splicing<'_, F, P> {
    /// Pieces are as long as the feed's, more or less by what changes.
    fn next(&mut self, into: &mut Vec<u8>) -> Result<bool, Error> {
        let Self {
            feed,
            splice: left,
            blocks,
            passed,
            spliced,
        } = self;
        let before = into.len();
        while into.len() == before {
            let Some(splice) = left else {
                return Ok(false);
            };
            let is_more = feed.next(blocks.buffer())?;
            let mut goes_on = true;
            let mut out = |bytes: &[u8]| {
                into.extend_from_slice(bytes);
                goes_on &= passed(bytes);
            };
            blocks.give(!is_more, |block| splice.block(block, &mut out));
            if !is_more && let Some(splice) = left.take() {
                *spliced = splice.finish(&mut out);
            }
            if !goes_on {
                *left = None;
            }
        }
        Ok(true)
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Change, Draft};
    use super::*;
    use crate::text::{PIECE, Slice};

    fn plan(job: &[u8]) -> Plan {
        let mut draft = Draft::default();
        let end = job.len() as u64;
        draft.propose([Change::new(1, 6..9, "245".to_owned())]);
        draft.propose([Change::new(2, end..end, "M104 S0\n".to_owned())]);
        draft.settle()
    }

    fn job() -> Vec<u8> {
        let mut job = b"M104 S220\n".to_vec();
        while job.len() < 3 * PIECE {
            job.extend_from_slice(b"G1 X1.5 Y2.5 E.03\n");
        }
        job
    }

    #[test]
    fn what_comes_is_what_passes() {
        let job = job();
        let plan = plan(&job);
        let mut passed = Vec::new();
        let mut splicing = Splicing::new(Slice(&job), &plan, false, false, |bytes| {
            passed.extend_from_slice(bytes);
            true
        });
        let mut into = b"kept".to_vec();
        let mut length = into.len();
        while splicing.next(&mut into).unwrap() {
            assert!(into.len() > length);
            length = into.len();
        }
        assert_eq!(into.len(), length);
        assert!(!splicing.next(&mut into).unwrap());
        let spliced = splicing.finish();
        assert!(!spliced.misfit);
        assert_eq!(spliced.hunks.len(), 2);
        assert_eq!(into.strip_prefix(b"kept").unwrap(), passed);
        let mut expected = Vec::new();
        let mut whole = Splice::new(&plan, false, false);
        whole.block(&job, &mut |bytes| expected.extend_from_slice(bytes));
        whole.finish(&mut |bytes| expected.extend_from_slice(bytes));
        assert_eq!(passed, expected);
    }

    #[test]
    fn nobody_wants_more() {
        let job = job();
        let plan = plan(&job);
        let mut count = 0;
        let mut splicing = Splicing::new(Slice(&job), &plan, false, false, |_| {
            count += 1;
            false
        });
        let mut into = Vec::new();
        assert!(splicing.next(&mut into).unwrap());
        assert!(!splicing.next(&mut into).unwrap());
        assert!(splicing.finish().misfit);
        assert!(count > 0 && into.len() < job.len());
    }
}
