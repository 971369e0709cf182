//! Bytes of a job or of a file name as text that a terminal or a page may show.
//!
//! A job comes from a stranger. Escape sequences in it could repaint a terminal, marks that turn the
//! writing direction could make a line read as another, and bytes that are not UTF-8 would shift
//! every column after them. So nothing of a job is shown but through here.

use std::borrow::Cow;
use std::ops::Range;

/// What stands for a byte or a character that cannot be shown.
const LOST: char = '\u{FFFD}';

/// Turns `bytes` into text that is safe to show on a terminal and on a page.
///
/// A tab becomes a space; a control byte its picture (`␀` to `␟`, `␡`); the second control range
/// (U+0080 to U+009F), marks of writing direction, characters without width, line and paragraph
/// separators and byte order marks become `U+FFFD`, and so does every single byte that is not UTF-8.
/// Nothing is left out: each character or stray byte of the source gives one character.
#[must_use]
pub fn clean(bytes: &[u8]) -> Cow<'_, str> {
    if let Ok(text) = std::str::from_utf8(bytes)
        && (bytes.iter().all(|byte| matches!(byte, b' '..=b'~'))
            || text.chars().all(|letter| shown(letter) == letter))
    {
        return Cow::Borrowed(text);
    }
    let mut text = String::with_capacity(bytes.len() + bytes.len() / 4);
    letters(bytes, |letter, _| text.push(letter));
    Cow::Owned(text)
}

/// As [`clean`], and says where the bytes `span` of the source lie in the text.
///
/// The span may reach past the end of the source or lie within a character: it is cut to the source
/// and widened to whole characters, so that the result always slices the text. A span without bytes
/// stays without bytes.
#[must_use]
pub fn clean_with_span(bytes: &[u8], span: Range<usize>) -> (String, Range<usize>) {
    let from = span.start.min(bytes.len());
    let to = span.end.clamp(from, bytes.len());
    let mut text = String::with_capacity(bytes.len() + bytes.len() / 4);
    let (mut start, mut end, mut at) = (None, None, 0);
    letters(bytes, |letter, taken| {
        let next = at + taken;
        if (at..next).contains(&from) {
            start = Some(text.len());
        }
        text.push(letter);
        if (at + 1..=next).contains(&to) {
            end = Some(text.len());
        }
        at = next;
    });
    let start = start.unwrap_or(text.len());
    let end = if to > from {
        end.unwrap_or(text.len())
    } else {
        start
    };
    (text, start..end.max(start))
}

/// Hands on every shown character with the number of source bytes that it stands for.
fn letters(bytes: &[u8], mut each: impl FnMut(char, usize)) {
    for chunk in bytes.utf8_chunks() {
        for letter in chunk.valid().chars() {
            each(shown(letter), letter.len_utf8());
        }
        for _ in chunk.invalid() {
            each(LOST, 1);
        }
    }
}

/// What is shown for `letter`.
fn shown(letter: char) -> char {
    match letter {
        '\t' => ' ',
        '\0'..='\u{1F}' => char::from_u32(0x2400 + u32::from(letter)).unwrap_or(LOST),
        ' '..='~' => letter,
        '\u{7F}' => '\u{2421}',
        // The second control range: a terminal may take U+009B for the start of a sequence.
        '\u{80}'..='\u{9F}'
        // Writing direction (Unicode Standard Annex 9).
        | '\u{61C}' | '\u{200E}' | '\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}'
        // Without width: soft hyphen, joiners, fillers, invisible operators, old format marks.
        | '\u{AD}' | '\u{34F}' | '\u{115F}' | '\u{1160}' | '\u{17B4}' | '\u{17B5}'
        | '\u{180B}'..='\u{180F}' | '\u{200B}'..='\u{200D}' | '\u{2060}'..='\u{2065}'
        | '\u{206A}'..='\u{206F}' | '\u{FFF9}'..='\u{FFFB}' | '\u{E0000}'..='\u{E007F}'
        // Separators that begin a new line in some viewers, and the byte order mark.
        | '\u{2028}' | '\u{2029}' | '\u{FEFF}' => LOST,
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn plain_text_is_borrowed() {
        assert!(matches!(clean(b"G1 X10 ; lid"), Cow::Borrowed(_)));
        assert!(matches!(clean("; 215 °C".as_bytes()), Cow::Borrowed(_)));
        assert_eq!(clean("; 215 °C".as_bytes()), "; 215 °C");
        assert_eq!(clean(b""), "");
    }

    #[test]
    fn control_bytes_become_pictures() {
        assert_eq!(clean(b"M117 \x1b[2J\x07"), "M117 ␛[2J␇");
        assert_eq!(clean(b"a\tb\0\x7f\r\n"), "a b␀␡␍␊");
    }

    #[test]
    fn each_stray_byte_is_one_mark() {
        assert_eq!(clean(b"; 215 \xb0C"), "; 215 \u{FFFD}C");
        // The first two bytes of a three-byte character: two marks, not one.
        assert_eq!(clean(b"\xe2\x82 X"), "\u{FFFD}\u{FFFD} X");
    }

    #[test]
    fn marks_that_mislead_are_replaced() {
        for mark in [
            '\u{9B}',
            '\u{61C}',
            '\u{200B}',
            '\u{202E}',
            '\u{2066}',
            '\u{FEFF}',
            '\u{2028}',
            '\u{AD}',
            '\u{E0041}',
        ] {
            let source = format!("a{mark}b");
            assert_eq!(
                clean(source.as_bytes()),
                "a\u{FFFD}b",
                "{:04X}",
                u32::from(mark)
            );
        }
    }

    #[test]
    fn a_span_moves_with_its_words() {
        // Two stray bytes and an escape before the word make its place in the text move.
        let source = b"\xb0\xb0\x1b G1 X5";
        let (text, span) = clean_with_span(source, 4..6);
        assert_eq!(&text[span], "G1");
    }

    #[test]
    fn a_span_within_a_character_takes_it_whole() {
        let source = "a°b".as_bytes();
        let (text, span) = clean_with_span(source, 2..3);
        assert_eq!(&text[span], "°");
        let (text, span) = clean_with_span(source, 0..2);
        assert_eq!(&text[span], "a°");
    }

    #[test]
    fn a_span_past_the_end_or_turned_round_is_cut() {
        assert_eq!(clean_with_span(b"abc", 7..9).1, 3..3);
        assert_eq!(clean_with_span(b"abc", 1..9).1, 1..3);
        #[expect(
            clippy::reversed_empty_ranges,
            reason = "a caller may hand in any pair"
        )]
        let turned = clean_with_span(b"abc", 2..1).1;
        assert_eq!(turned, 2..2);
        assert_eq!(clean_with_span(b"", 0..0).1, 0..0);
    }

    /// Bytes as hostile jobs have them: UTF-8 with marks, then some bytes overwritten.
    fn hostile() -> impl Strategy<Value = Vec<u8>> {
        let letters = prop_oneof![
            any::<char>(),
            prop::char::range('\0', '\u{A0}'),
            prop::char::range('\u{2000}', '\u{2070}'),
            Just('\u{FEFF}'),
        ];
        (
            prop::collection::vec(letters, 0..40),
            prop::collection::vec((any::<usize>(), any::<u8>()), 0..6),
        )
            .prop_map(|(letters, strays)| {
                let mut bytes = letters.into_iter().collect::<String>().into_bytes();
                for (at, stray) in strays {
                    if !bytes.is_empty() {
                        let at = at % bytes.len();
                        bytes[at] = stray;
                    }
                }
                bytes
            })
    }

    /// Said a second time, apart from `shown`: what must never come out.
    fn harmful(letter: char) -> bool {
        letter.is_control()
            || matches!(
                letter,
                '\u{61C}'
                    | '\u{200B}'..='\u{200F}'
                    | '\u{2028}'..='\u{202E}'
                    | '\u{2060}'..='\u{206F}'
                    | '\u{FEFF}'
            )
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, cases: 2000, ..ProptestConfig::default() })]

        #[test]
        fn nothing_harmful_comes_out(bytes in hostile()) {
            let text = clean(&bytes);
            prop_assert!(!text.chars().any(harmful), "{text:?}");
            // Cleaning what is clean changes nothing.
            prop_assert_eq!(clean(text.as_bytes()), text.clone());
            let (same, _) = clean_with_span(&bytes, 0..bytes.len());
            prop_assert_eq!(same, text.into_owned());
        }

        #[test]
        fn a_span_always_slices_the_text(bytes in hostile(), from in 0usize..200, to in 0usize..200) {
            let (text, span) = clean_with_span(&bytes, from..to);
            prop_assert!(span.start <= span.end && span.end <= text.len());
            prop_assert!(text.is_char_boundary(span.start) && text.is_char_boundary(span.end));
        }

        #[test]
        fn whole_characters_keep_their_neighbours(
            before in hostile(), word in "[A-Z][0-9]{1,5}", after in hostile()
        ) {
            let source = [&before[..], word.as_bytes(), &after[..]].concat();
            let (text, span) = clean_with_span(&source, before.len()..before.len() + word.len());
            prop_assert_eq!(&text[span], word);
        }
    }
}
