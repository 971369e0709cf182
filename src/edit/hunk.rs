//! Hunks: what changed, with a few lines around it.

use std::collections::VecDeque;

/// The most hunks kept; past it they are counted.
pub const HUNK_CAP: usize = 1000;

/// Lines kept around a change.
const AROUND: usize = 3;

/// The most bytes of one line in a hunk.
const CLIP: usize = 512;

/// A stretch of lines with changes in it: old and new, with the lines around.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Hunk {
    /// Its first line in the job as it was, from 1.
    pub old_line: u64,
    /// Its first line in the job as it becomes.
    pub new_line: u64,
    /// Its lines as they were, line endings included.
    pub old: Vec<u8>,
    /// Its lines as they become.
    pub new: Vec<u8>,
    /// The edits in it, by index in the plan.
    pub edits: std::ops::Range<usize>,
}

/// Collects hunks while lines pass.
#[derive(Debug, Default)]
pub(super) struct Hunks {
    closed: Vec<Hunk>,
    open: Option<Hunk>,
    /// Lines still to be taken behind the last change.
    left: usize,
    before: VecDeque<Vec<u8>>,
    /// Lines of old and new passed so far.
    old_lines: u64,
    new_lines: u64,
    pub beyond: u64,
}

fn clipped(line: &[u8]) -> &[u8] {
    line.get(..line.len().min(CLIP)).unwrap_or_default()
}

fn add(to: &mut Vec<u8>, line: &[u8]) {
    to.extend_from_slice(clipped(line));
    if line.len() > CLIP {
        to.extend_from_slice("…\n".as_bytes());
    }
}

impl Hunks {
    /// Whether unchanged lines must be shown one by one: a hunk is open behind its change.
    pub const fn wants_lines(&self) -> bool {
        self.open.is_some()
    }

    /// An unchanged line passes.
    pub fn same(&mut self, line: &[u8]) {
        self.old_lines += 1;
        self.new_lines += 1;
        if let Some(open) = &mut self.open {
            add(&mut open.old, line);
            add(&mut open.new, line);
            self.left -= 1;
            if self.left == 0 {
                self.close();
            }
        }
        self.remember(line);
    }

    /// A block of unchanged lines passes, of which the last ones may be needed.
    pub fn pass(&mut self, block: &[u8], lines: u64) {
        self.old_lines += lines;
        self.new_lines += lines;
        let mut from = block.len();
        for _ in 0..AROUND {
            let Some(head) = block.get(..from.saturating_sub(1)) else {
                break;
            };
            from = memchr::memrchr(b'\n', head).map_or(0, |end| end + 1);
        }
        for line in block
            .get(from..)
            .unwrap_or_default()
            .split_inclusive(|byte| *byte == b'\n')
        {
            self.remember(line);
        }
    }

    /// A line changes; `old` is empty where lines are put in, `lines` counts the new ones.
    pub fn change(&mut self, old: &[u8], new: &[u8], lines: u64, edits: std::ops::Range<usize>) {
        if self.open.is_none() {
            let around = self.before.len() as u64;
            let mut hunk = Hunk {
                old_line: (self.old_lines + 1).saturating_sub(around).max(1),
                new_line: (self.new_lines + 1).saturating_sub(around).max(1),
                edits: edits.start..edits.start,
                ..Hunk::default()
            };
            for line in self.before.drain(..) {
                add(&mut hunk.old, &line);
                add(&mut hunk.new, &line);
            }
            self.open = Some(hunk);
        }
        if let Some(open) = &mut self.open {
            add(&mut open.old, old);
            for line in new.split_inclusive(|byte| *byte == b'\n') {
                add(&mut open.new, line);
            }
            open.edits.end = edits.end;
        }
        self.before.clear();
        self.left = AROUND;
        self.old_lines += u64::from(!old.is_empty());
        self.new_lines += lines;
    }

    /// The job has ended.
    pub fn finish(&mut self) -> Vec<Hunk> {
        self.close();
        std::mem::take(&mut self.closed)
    }

    fn close(&mut self) {
        if let Some(hunk) = self.open.take() {
            if self.closed.len() < HUNK_CAP {
                self.closed.push(hunk);
            } else {
                self.beyond += 1;
            }
        }
    }

    fn remember(&mut self, line: &[u8]) {
        if self.before.len() == AROUND {
            self.before.pop_front();
        }
        self.before.push_back(clipped(line).to_vec());
    }
}
