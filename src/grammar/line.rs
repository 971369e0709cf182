//! The word loop: it finds the line's end itself, so that a line's bytes are looked at once.

use super::leaf::number;
use super::rare;
use super::word::{Fault, Kind, Word};

/// The parts of one line, in the order they stand; what lies between them is blanks.
#[derive(Debug, Default, Clone, PartialEq, Eq)]
pub struct Words {
    list: Vec<Word>,
    marks: u8,
}

/// Some part has a fault.
const FAULTY: u8 = 1;
/// There is a line number.
pub(super) const NUMBERED: u8 = 2;
/// Something stands in braces or square brackets, outside comments and text.
pub(super) const BRACED: u8 = 4;
/// There is a comment or a remark.
pub(super) const COMMENTED: u8 = 8;

impl std::ops::Deref for Words {
    type Target = [Word];

    fn deref(&self) -> &[Word] {
        &self.list
    }
}

impl Words {
    /// Whether any part has a fault.
    #[must_use]
    #[inline]
    pub const fn is_faulty(&self) -> bool {
        self.marks & FAULTY != 0
    }

    /// Whether there is a line number.
    #[must_use]
    pub const fn is_numbered(&self) -> bool {
        self.marks & NUMBERED != 0
    }

    /// Whether a part, or a parameter's value, stands in braces or square brackets.
    #[must_use]
    pub const fn is_braced(&self) -> bool {
        self.marks & BRACED != 0
    }

    /// Whether any of these holds: a fault, a line number, braces or brackets, a comment.
    #[must_use]
    #[inline]
    pub const fn is_marked(&self) -> bool {
        self.marks != 0
    }

    /// Every byte of the line in order: the parts, and the blanks between them as `None`.
    pub fn tiles(
        &self,
        len: usize,
    ) -> impl Iterator<Item = (Option<Word>, std::ops::Range<usize>)> {
        let mut end = 0;
        let mut tiles = Vec::with_capacity(self.list.len() * 2 + 1);
        for word in &self.list {
            let span = word.span();
            if span.start > end {
                tiles.push((None, end..span.start));
            }
            end = span.end;
            tiles.push((Some(*word), span));
        }
        if end < len {
            tiles.push((None, end..len));
        }
        tiles.into_iter()
    }

    pub(super) fn push(&mut self, word: Word) {
        self.marks |= u8::from(word.fault != Fault::None);
        self.list.push(word);
    }

    pub(super) fn last_mut(&mut self) -> Option<&mut Word> {
        self.list.last_mut()
    }

    pub(super) const fn set_faulty(&mut self) {
        self.marks |= FAULTY;
    }

    pub(super) const fn mark(&mut self, mark: u8) {
        self.marks |= mark;
    }
}

/// Reads the first line of `input` into `words` and returns what comes behind it.
///
/// Cannot fail: bytes that are no part of the language become parts with a fault. `input` must end
/// where a line ends or where the job ends; only an empty `input` gives no progress.
#[inline]
pub fn read_line<'a>(input: &'a [u8], words: &mut Words) -> &'a [u8] {
    words.list.clear();
    words.marks = 0;
    let mut rest = input;
    loop {
        let [byte, behind @ ..] = rest else {
            return rest;
        };
        let letter = byte & 0xdf;
        if letter.wrapping_sub(b'A') < 26 {
            let at = input.len() - rest.len();
            // N, M and O are looked at more closely: a line number, words that take text, no zero.
            rest = match number(behind) {
                Ok((after, read)) if ASIDE & (1 << (letter & 31)) == 0 => {
                    words.list.push(Word {
                        value: read.value,
                        at: at as u32,
                        len: (rest.len() - after.len()) as u32,
                        letter,
                        kind: Kind::Number,
                        scale: read.scale,
                        fault: read.fault,
                    });
                    words.marks |= u8::from(read.fault != Fault::None);
                    after
                }
                _ => rare::letter(input, at, letter, words),
            };
            // The blank that stands behind most words, without another round.
            if let [b' ', after @ ..] = rest {
                rest = after;
            }
            continue;
        }
        rest = match (byte, behind) {
            (b' ' | b'\t', _) => behind,
            (b'\n', _) => {
                words.list.push(end(input.len() - rest.len(), 1));
                return behind;
            }
            (b'\r', [b'\n', after @ ..]) => {
                words.list.push(end(input.len() - rest.len(), 2));
                return after;
            }
            (b'\r', _) => {
                words.list.push(end(input.len() - rest.len(), 1));
                return behind;
            }
            _ => rare::other(input, input.len() - rest.len(), words),
        };
    }
}

/// Letters whose words are not plain numbers; an O may be a zero that was mistyped.
const ASIDE: u32 = 1 << (b'N' & 31) | 1 << (b'M' & 31) | 1 << (b'O' & 31);

const fn end(at: usize, len: u32) -> Word {
    Word {
        value: 0,
        at: at as u32,
        len,
        letter: 0,
        kind: Kind::End,
        scale: 0,
        fault: Fault::None,
    }
}
