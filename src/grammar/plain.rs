//! The plain line: letters with numbers and nothing else, as nearly every line of a job is.
//!
//! Read straight to numbers by letter, without a list of parts: who needs the parts of such a line
//! reads it again with [`read_line`](super::read_line). Whatever is not plain is left to that.

use super::leaf::number;
use super::word::Fault;

/// Reads the first line of `input` where it is plain: letters with numbers, blanks between them, an
/// ending. Gives each to `take`: the letter in upper case, the number without its point, how many
/// of its digits stand behind the point; `take` may refuse.
///
/// Returns what comes behind the line; None where it is any other line, or `take` refused.
#[inline(always)]
pub fn read_plain(input: &[u8], mut take: impl FnMut(u8, i64, u8) -> bool) -> Option<&[u8]> {
    let mut rest = input;
    loop {
        let [byte, behind @ ..] = rest else {
            return None;
        };
        let letter = byte & 0xdf;
        if letter.wrapping_sub(b'A') < 26 {
            let (after, read) = number(behind).ok()?;
            if read.fault != Fault::None || !take(letter, read.value, read.scale) {
                return None;
            }
            rest = after;
            if let [b' ', after @ ..] = rest {
                rest = after;
            }
            continue;
        }
        return match (byte, behind) {
            (b'\n', _) => Some(behind),
            (b'\r', [b'\n', after @ ..]) => Some(after),
            _ => None,
        };
    }
}
