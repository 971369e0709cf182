//! Lines that are shown through miette: from what a finding kept, never from the file.
//!
//! miette's own source would look for the line from byte 0 on for every place, panic past column
//! 65,535 and at the end of the text, and hand escape sequences to the terminal. So it only ever gets
//! what is made here: cleaned, clipped to the width, with the true line and column beside it.

use super::paint::{Look, Tone, glue, unglue};
use crate::finding::{Class, Excerpt};
use crate::text::{clean, clean_with_span};
use miette::{
    Diagnostic, GraphicalReportHandler, GraphicalTheme, LabeledSpan, MietteError,
    MietteSpanContents, Severity, SourceCode, SourceSpan, SpanContents,
};
use std::fmt;
use std::ops::Range;

/// One line to show.
struct Piece {
    /// The file's name with line and column.
    title: String,
    /// The line's number, from 0.
    line: usize,
    /// Where it lies in the text.
    range: Range<usize>,
    label: LabeledSpan,
}

/// A message with the lines it is about, safe for a terminal.
pub struct Shown {
    message: String,
    class: Class,
    text: String,
    pieces: Vec<Piece>,
    width: usize,
}

impl Shown {
    /// A message of a class, to be shown `width` characters wide.
    #[must_use]
    pub fn new(message: &str, class: Class, width: usize) -> Self {
        Self {
            message: glue(&clean(message.as_bytes())),
            class,
            text: String::new(),
            pieces: Vec::new(),
            width: width.max(40),
        }
    }

    /// Adds a line of the job called `name`, with a few words under its place.
    pub fn show(&mut self, name: &str, excerpt: &Excerpt, words: Option<&str>) {
        let (text, span) = clean_with_span(&excerpt.text, excerpt.span());
        let line = excerpt.place.line;
        let column = excerpt.column().map(|_| {
            let before = text.get(..span.start).unwrap_or_default();
            before.chars().count() + 1
        });
        let clipped = (excerpt.clipped_front, excerpt.clipped_back);
        self.add(name, (line, column), (&text, span, clipped), words);
    }

    /// Adds the line at the byte `span` of a whole text, such as a sheet.
    pub fn show_in(&mut self, name: &str, whole: &str, span: Range<usize>, words: Option<&str>) {
        let from = whole.floor_char_boundary(span.start.min(whole.len()));
        let before = whole.get(..from).unwrap_or_default();
        let start = before.rfind('\n').map_or(0, |at| at + 1);
        let line = before.matches('\n').count() as u64 + 1;
        let rest = whole.get(start..).unwrap_or_default();
        let text = rest.lines().next().unwrap_or_default();
        let within = from - start..span.end.max(from) - start;
        let (text, within) = clean_with_span(text.as_bytes(), within);
        let column = text.get(..within.start).unwrap_or_default().chars().count() + 1;
        self.add(
            name,
            (line, Some(column)),
            (&text, within, (false, false)),
            words,
        );
    }

    fn add(
        &mut self,
        name: &str,
        (line, column): (u64, Option<usize>),
        (text, span, clipped): (&str, Range<usize>, (bool, bool)),
        words: Option<&str>,
    ) {
        let room = self.width.saturating_sub(8 + line.to_string().len());
        let under = words.map_or(0, |words| words.chars().count());
        let (cut, place) = window(text, span, (room, under), clipped);
        if !self.text.is_empty() {
            self.text.push('\n');
        }
        let start = self.text.len();
        self.text.push_str(&cut);
        let name = super::paint::cut_front(
            &clean(name.as_bytes()),
            self.width.saturating_sub(24).max(12),
        );
        let title = match column {
            Some(column) => format!("{name}:{line}:{column}"),
            None => format!("{name}:{line}"),
        };
        let words = words.map(|words| clean(words.as_bytes()).into_owned());
        self.pieces.push(Piece {
            title,
            line: usize::try_from(line.saturating_sub(1)).unwrap_or(usize::MAX),
            range: start..self.text.len(),
            label: LabeledSpan::new(words, start + place.start, place.len()),
        });
    }

    /// The message with its lines, ready for a terminal, with a line ending.
    #[must_use]
    pub fn render(&self, look: &Look) -> String {
        let mut theme = if look.colour {
            GraphicalTheme::unicode()
        } else {
            GraphicalTheme::unicode_nocolor()
        };
        let styles = &mut theme.styles;
        styles.highlights = vec![match self.severity() {
            Some(Severity::Advice) => styles.advice,
            Some(Severity::Warning) => styles.warning,
            _ => styles.error,
        }];
        styles.link = styles.linum;
        let handler = GraphicalReportHandler::new_themed(theme)
            .with_links(false)
            .with_context_lines(0)
            .without_primary_span_start()
            .with_width(look.width);
        let mut text = String::new();
        if handler.render_report(&mut text, self).is_err() {
            // Its places cannot be drawn; the words still count.
            text = format!(
                "  {} {}\n",
                look.paint(Tone::of(self.class), "×"),
                self.message
            );
        }
        unglue(&text)
    }
}

/// What stands between the middle of a place and the words under it, less what a line has to spare
/// behind its room.
const ARROW: usize = 1;

/// The part of a line that fits, and where the place lies in it: never empty, so that there is
/// always something to point at. Where `under` letters below the middle of the place would leave the
/// room, the line is shown from further on.
fn window(
    text: &str,
    span: Range<usize>,
    (room, under): (usize, usize),
    (cut_front, cut_back): (bool, bool),
) -> (String, Range<usize>) {
    let letters: Vec<char> = text.chars().collect();
    let count = |bytes: Range<usize>| text.get(bytes).unwrap_or_default().chars().count();
    let from = count(0..span.start);
    let to = from + count(span.clone());
    // A long place is underlined at its beginning, where the words under its middle would not fit.
    let to = if under > 0 {
        let most = room.saturating_sub(under + ARROW + 1).max(1) * 2;
        to.min(from + most)
    } else {
        to
    };
    let start = if letters.len() <= room {
        0
    } else {
        from.saturating_sub(room / 3).min(letters.len() - room)
    };
    let middle = from + to.saturating_sub(from) / 2;
    let start = if under > 0 && middle.saturating_sub(start) + under + ARROW > room {
        // One more for the dots in front.
        (middle + under + ARROW + 1).saturating_sub(room).min(from)
    } else {
        start
    };
    let end = (start + room).min(letters.len());
    let mut shown = String::new();
    if start > 0 || cut_front {
        shown.push('…');
    }
    let (mut first, mut last) = (None, None);
    for (at, letter) in letters.iter().enumerate().take(end).skip(start) {
        if at == from {
            first = Some(shown.len());
        }
        shown.push(*letter);
        if at < to.max(from + 1) && at >= from {
            last = Some(shown.len());
        }
    }
    let (first, last) = match (first, last) {
        (Some(first), Some(last)) => (first, last),
        // At the end of the line: a blank to point at.
        _ => {
            let at = shown.len();
            shown.push(' ');
            (at, at + 1)
        }
    };
    if end < letters.len() || cut_back {
        shown.push('…');
    }
    (shown, first..last)
}

impl SourceCode for Shown {
    fn read_span<'a>(
        &'a self,
        span: &SourceSpan,
        _: usize,
        _: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        let (from, to) = (span.offset(), span.offset() + span.len());
        let piece = self
            .pieces
            .iter()
            .find(|piece| piece.range.start <= from && to <= piece.range.end)
            .ok_or(MietteError::OutOfBounds)?;
        let bytes = self
            .text
            .get(piece.range.clone())
            .ok_or(MietteError::OutOfBounds)?;
        Ok(Box::new(MietteSpanContents::new_named(
            piece.title.clone(),
            bytes.as_bytes(),
            (piece.range.start, piece.range.len()).into(),
            piece.line,
            0,
            1,
        )))
    }
}

impl fmt::Debug for Shown {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Shown")
            .field("message", &self.message)
            .finish_non_exhaustive()
    }
}

impl fmt::Display for Shown {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for Shown {}

impl Diagnostic for Shown {
    fn severity(&self) -> Option<Severity> {
        Some(match self.class {
            Class::Critical | Class::Major => Severity::Error,
            Class::Minor => Severity::Warning,
            Class::Observation => Severity::Advice,
        })
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        (!self.pieces.is_empty()).then_some(self)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        Some(Box::new(
            self.pieces.iter().map(|piece| piece.label.clone()),
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn drawn(name: &str, excerpts: &[&Excerpt], width: usize) -> String {
        let mut shown = Shown::new("feed above the limit", Class::Minor, width);
        for excerpt in excerpts {
            shown.show(name, excerpt, Some("here"));
        }
        shown.render(&Look {
            colour: false,
            width,
        })
    }

    #[test]
    fn a_line_is_shown_with_its_place() {
        let excerpt = Excerpt::new(8, 90, b"G1 X60 E2 F1860\n", 10..15);
        insta::assert_snapshot!(drawn("lid.gcode", &[&excerpt], 80), @r"
        ⚠ feed above the limit
         ╭─[lid.gcode:8:11]
       8 │ G1 X60 E2 F1860
         ·           ──┬──
         ·             ╰── here
         ╰────
        ");
    }

    #[test]
    fn a_message_breaks_between_words_and_not_at_hyphens() {
        let message = "the job declares a good deal of PA12-CF and is held against PA6-CF";
        for width in 40..80 {
            let text = Shown::new(message, Class::Minor, width).render(&Look {
                colour: false,
                width,
            });
            assert!(
                text.contains("PA12-CF") && text.contains("PA6-CF"),
                "{text}"
            );
            assert!(
                text.lines().all(|line| line.chars().count() <= width),
                "{text}"
            );
        }
    }

    #[test]
    fn words_under_a_place_stay_within_the_width() {
        let line = b"START_JOB FIRST_HOTEND_TEMP=220 BED_TEMP=60";
        for width in 40..100 {
            let mut shown = Shown::new("the bed is cold", Class::Minor, width);
            let excerpt = Excerpt::new(31, 0, line, 32..43);
            shown.show("lid.gcode", &excerpt, Some("first, and worst: 60 \u{b0}C"));
            let text = shown.render(&Look {
                colour: false,
                width,
            });
            assert!(
                text.contains("BED_TEMP=60") && text.contains("worst: 60"),
                "{text}"
            );
            for line in text.lines() {
                assert!(line.chars().count() <= width, "{width}\n{text}");
            }
        }
    }

    #[test]
    fn neighbouring_lines_stay_apart_with_their_own_numbers() {
        let first = Excerpt::new(8, 90, b"G1 X60 E2 F1860", 10..15);
        let worst = Excerpt::new(9, 110, b"G1 X70 E4 F3000", 10..15);
        insta::assert_snapshot!(drawn("lid.gcode", &[&first, &worst], 80), @r"
        ⚠ feed above the limit
         ╭─[lid.gcode:8:11]
       8 │ G1 X60 E2 F1860
         ·           ──┬──
         ·             ╰── here
         ╰────
         ╭─[lid.gcode:9:11]
       9 │ G1 X70 E4 F3000
         ·           ──┬──
         ·             ╰── here
         ╰────
        ");
    }

    #[test]
    fn nothing_harmful_reaches_the_terminal() {
        let line = b"M117 \x1b[2J\x07 \xb0C \xe2\x80\xae F9";
        let excerpt = Excerpt::new(2, 10, line, 17..19);
        let text = drawn("e\x1b[31mvil\n.gcode", &[&excerpt], 80);
        assert!(!text.replace('\n', "").contains(char::is_control), "{text}");
        assert!(!text.contains('\u{202e}'));
        assert!(
            text.contains("evil") || text.contains("e␛[31mvil␊.gcode:2:"),
            "{text}"
        );
    }

    #[test]
    fn a_line_beyond_all_columns_is_clipped() {
        let line = "G1 X1 ".repeat(200_000);
        let excerpt = Excerpt::new(1, 0, line.as_bytes(), 600_000..600_005);
        let text = drawn("long.gcode", &[&excerpt], 80);
        assert!(
            text.lines().all(|line| line.chars().count() <= 80),
            "{text}"
        );
        // Where the front is cut the column is not known, and none is made up.
        assert!(text.contains("[long.gcode:1]"), "{text}");
    }

    #[test]
    fn an_empty_line_and_a_place_at_the_end_can_be_pointed_at() {
        for excerpt in [
            Excerpt::new(1, 0, b"", 0..0),
            Excerpt::new(1, 0, b"a", 1..1),
        ] {
            assert!(drawn("a", &[&excerpt], 80).contains('┬'));
        }
    }

    #[test]
    fn a_place_in_a_sheet_is_found_by_its_byte() {
        let mut shown = Shown::new("no such class", Class::Major, 80);
        shown.show_in("meltgauge.toml", "a = 1\nhold = \"all\"\n", 13..18, None);
        let text = shown.render(&Look {
            colour: false,
            width: 80,
        });
        assert!(text.contains("[meltgauge.toml:2:8]"), "{text}");
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, cases: 500, ..ProptestConfig::default() })]

        #[test]
        fn any_bytes_and_any_span_can_be_drawn(
            bytes in prop::collection::vec(any::<u8>(), 0..700),
            from in 0usize..700, len in 0usize..800, width in 1usize..140
        ) {
            let from = from.min(bytes.len());
            let excerpt = Excerpt::new(7, 3, &bytes, from..from + len);
            let text = drawn("any", &[&excerpt, &excerpt], width);
            prop_assert!(!text.replace('\n', "").contains(char::is_control));
        }
    }
}
