//! The common line: one motion word and its axes.

use super::Axes;
use crate::grammar::{Kind, Word, read_plain};

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

/// Letters that ask for something of their own; an O may be a zero that was mistyped.
const COMMANDS: u32 =
    1 << (b'G' & 31) | 1 << (b'M' & 31) | 1 << (b'T' & 31) | 1 << (b'N' & 31) | 1 << (b'O' & 31);

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

/// Reads the first line of `input` where it is plain and nothing but one motion: what
/// [`read_motion`] makes of its words, without making words of it. Returns the motion and what comes
/// behind the line.
#[inline(always)]
pub fn read_plain_motion<'a>(
    input: &'a [u8],
    axes: &mut Axes,
) -> Option<(Option<MotionWord>, &'a [u8])> {
    axes.clear();
    let mut motion = None;
    let mut is_first = true;
    let after = read_plain(input, |letter, value, scale| {
        if is_first {
            is_first = false;
            motion = match (letter, value, scale) {
                (b'G', 1, 0) => Some(MotionWord::Straight),
                (b'G', 0, 0) => Some(MotionWord::Rapid),
                (b'G', 2, 0) => Some(MotionWord::Clockwise),
                (b'G', 3, 0) => Some(MotionWord::Counterclockwise),
                (b'X' | b'Y' | b'Z' | b'E' | b'F', ..) => {
                    return axes.take_plain(letter, value, scale);
                }
                _ => return false,
            };
            return true;
        }
        COMMANDS & (1 << (letter & 31)) == 0 && axes.take_plain(letter, value, scale)
    })?;
    // A line of nothing but its ending is no motion.
    (!is_first).then_some((motion, after))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::grammar::{Words, read_line};
    use proptest::prelude::*;

    /// What both ways make of a line; None where it is left to the words.
    fn both(line: &[u8]) -> Option<()> {
        let mut plain = Axes::default();
        let (motion, after) = read_plain_motion(line, &mut plain)?;
        let (mut words, mut axes) = (Words::default(), Axes::default());
        let rest = read_line(line, &mut words);
        assert_eq!(after, rest);
        assert!(!words.is_marked());
        assert_eq!(read_motion(&words, &mut axes), Some(motion));
        assert_eq!(plain, axes);
        // What stands in the line is found where the words are: its first and last byte.
        let text = line.get(..line.len() - after.len()).unwrap_or_default();
        let spans: Vec<_> = words
            .iter()
            .filter(|word| word.kind == Kind::Number)
            .collect();
        assert_eq!(spans.first().map(|word| word.span().start), Some(0));
        assert_eq!(
            spans.last().map(|word| word.span().end),
            Some(text.trim_ascii_end().len())
        );
        Some(())
    }

    #[test]
    fn the_usual_lines_are_plain() {
        for line in [
            "G1 X5 Y-.98 F9000\n",
            "G1X5Y98F9000\r\n",
            "g0 x1 y2 z.3\n",
            "X10 Y5 \n",
            "G2 X1 Y1 I0.5 J0.5 E.1\n",
            "G1 X5 X6\n",
        ] {
            assert!(both(line.as_bytes()).is_some(), "{line}");
        }
    }

    #[test]
    fn any_other_line_is_left_to_its_words() {
        for line in [
            "G1 X5 ; wall\n",
            "N1 G1 X5\n",
            "G1 X5*3\n",
            "G1 X\n",
            "G1.0 X5\n",
            "G28\n",
            "G1 X5 M104 S2\n",
            "G1 X1 2\n",
            "G1 X1.2.3\n",
            "G1 X99999999999\n",
            "G1 X1.0000000001\n",
            "G1 X5\rG1 X6\n",
            "G1 X5",
            "\n",
            "",
        ] {
            assert!(both(line.as_bytes()).is_none(), "{line}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(10_000))]

        #[test]
        fn a_plain_line_says_what_its_words_say(
            line in "[GgXxYZEeFNMTS]( |\t)?-?[0-9]{0,3}(\\.[0-9]{0,11})?(( |\t| {2})?[GXYZEFIJKRSPMx;*(/-][+-]?[0-9.]{0,20}){0,6} ?(\r?\n|\r)?(G1)?"
        ) {
            both(line.as_bytes());
        }

        #[test]
        fn any_bytes_say_what_their_words_say(bytes in proptest::collection::vec(any::<u8>(), 0..40)) {
            let mut line = b"G1 X1 ".to_vec();
            line.extend(bytes);
            line.push(b'\n');
            both(&line);
        }
    }
}
