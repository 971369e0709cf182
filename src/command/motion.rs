//! The common line: one motion word and its axes.

use super::Axes;
use crate::grammar::{Kind, Word};

/// A motion word.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MotionWord {
    /// G0.
    Rapid,
    /// G1.
    Straight,
    /// G2.
    Clockwise,
    /// G3.
    Counterclockwise,
}

/// Letters that ask for something of their own.
const COMMANDS: u32 = 1 << (b'G' & 31) | 1 << (b'M' & 31) | 1 << (b'T' & 31) | 1 << (b'N' & 31);

/// Reads a line that is nothing but one motion (`G1 X5 E.2`, or `X5 E.2` in the mode in force) into
/// `axes`. `Some(None)` is the mode in force; `None` is any other line, for [`super::read`].
#[inline]
pub fn read_motion(words: &[Word], axes: &mut Axes) -> Option<Option<MotionWord>> {
    let mut rest = words;
    if let [
        Word {
            kind: Kind::LineNumber,
            ..
        },
        tail @ ..,
    ] = rest
    {
        rest = tail;
    }
    let [first, tail @ ..] = rest else {
        return None;
    };
    if first.kind != Kind::Number {
        return None;
    }
    let motion = match (first.letter, first.value, first.scale) {
        (b'G', 1, 0) => Some(MotionWord::Straight),
        (b'G', 0, 0) => Some(MotionWord::Rapid),
        (b'G', 2, 0) => Some(MotionWord::Clockwise),
        (b'G', 3, 0) => Some(MotionWord::Counterclockwise),
        (b'X' | b'Y' | b'Z' | b'E' | b'F', ..) => None,
        _ => return None,
    };
    axes.clear();
    if motion.is_none() {
        axes.take(first);
    }
    for word in tail {
        match word.kind {
            Kind::Number => {
                if COMMANDS & (1 << (word.letter & 31)) != 0 {
                    return None;
                }
                axes.take(word);
            }
            Kind::End | Kind::Comment | Kind::Checksum => {}
            _ => axes.take(word),
        }
    }
    Some(motion)
}
