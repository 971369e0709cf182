//! Lines read ahead of the machine: what another thread can do for it.
//!
//! Nearly every line is a plain motion, and reading its numbers takes as long as carrying it out. A block
//! read ahead says of each line where it ends and, if it is a plain motion, its numbers; every other line
//! is read anew by whoever carries it out. So nothing can be said here that a line read in its turn would
//! not say: both go through [`read_plain_motion`].

use super::{Axes, MotionWord, read_plain_motion};
use crate::grammar::{Words, read_line};

/// The lines of one block, read ahead. One reused value.
#[derive(Debug, Default)]
pub struct Ahead {
    lines: Vec<Read>,
    nano: Vec<i64>,
    axes: Axes,
    words: Words,
}

/// One line: its length with its ending, its letters, and its motion where it is a plain one.
#[derive(Debug, Clone, Copy)]
struct Read {
    len: u32,
    present: u32,
    twice: u32,
    motion: Option<Option<MotionWord>>,
}

impl Ahead {
    /// Reads the lines of a block; what was read before is forgotten.
    pub fn read(&mut self, block: &[u8]) {
        let Self {
            lines,
            nano,
            axes,
            words,
        } = self;
        lines.clear();
        nano.clear();
        let mut rest = block;
        // Where comments stand behind the motions, no line is plain: not to be tried in vain.
        let mut is_plain = true;
        while !rest.is_empty() {
            let plain = is_plain.then(|| read_plain_motion(rest, axes)).flatten();
            let (motion, after) = match plain {
                Some((motion, after)) => {
                    axes.pack(nano);
                    (Some(motion), after)
                }
                None => {
                    let after = read_line(rest, words);
                    is_plain = !words.is_marked();
                    (None, after)
                }
            };
            let (present, twice) = match motion {
                Some(_) => axes.letters(),
                None => (0, 0),
            };
            lines.push(Read {
                // No line is longer than a block, and no block than four gigabytes.
                len: u32::try_from(rest.len() - after.len()).unwrap_or(u32::MAX),
                present,
                twice,
                motion,
            });
            rest = after;
        }
    }

    /// Goes through the lines from the first.
    #[must_use]
    pub fn from_start(&self) -> Reader<'_> {
        Reader {
            lines: self.lines.iter(),
            nano: &self.nano,
        }
    }
}

/// Goes through lines that were read ahead.
#[derive(Debug)]
pub struct Reader<'a> {
    lines: std::slice::Iter<'a, Read>,
    nano: &'a [i64],
}

impl Reader<'_> {
    /// The next line: its length, and where it is a plain motion its word, with its numbers in `axes`.
    #[inline(always)]
    pub fn next(&mut self, axes: &mut Axes) -> Option<(usize, Option<Option<MotionWord>>)> {
        let read = self.lines.next()?;
        if read.motion.is_some() {
            self.nano = axes.unpack(read.present, read.twice, self.nano);
        }
        Some((read.len as usize, read.motion))
    }
}
