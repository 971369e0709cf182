//! Colours, and lines of the right length.

use crate::finding::Class;

/// How a report is set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Look {
    /// Whether to colour.
    pub colour: bool,
    /// The longest line, in characters.
    pub width: usize,
}

impl Default for Look {
    fn default() -> Self {
        Self {
            colour: false,
            width: 100,
        }
    }
}

/// How a piece of text stands out. Sixteen-colour codes only: a terminal's own theme keeps them
/// legible (ECMA-48, "select graphic rendition"; published).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    /// As it is.
    Plain,
    /// Bold.
    Bold,
    /// Faint.
    Dim,
    /// Green.
    Good,
    /// Bold red.
    Alarm,
    /// Red.
    Bad,
    /// Yellow.
    Doubt,
    /// Cyan.
    Note,
}

impl Tone {
    /// The tone of a class.
    #[must_use]
    pub const fn of(class: Class) -> Self {
        match class {
            Class::Critical => Self::Alarm,
            Class::Major => Self::Bad,
            Class::Minor => Self::Doubt,
            Class::Observation => Self::Note,
        }
    }

    const fn code(self) -> &'static str {
        match self {
            Self::Plain => "",
            Self::Bold => "1",
            Self::Dim => "2",
            Self::Good => "32",
            Self::Alarm => "1;31",
            Self::Bad => "31",
            Self::Doubt => "33",
            Self::Note => "36",
        }
    }
}

impl Look {
    /// `text` in this tone.
    #[must_use]
    pub fn paint(&self, tone: Tone, text: &str) -> String {
        if self.colour && tone != Tone::Plain && !text.is_empty() {
            format!("\x1b[{}m{text}\x1b[0m", tone.code())
        } else {
            text.to_owned()
        }
    }

    /// Writes `label` and `text` as one entry of a list: the label in its own column of `column`
    /// characters, the text beside it, wrapped.
    pub fn entry(&self, into: &mut String, (tone, label): (Tone, &str), column: usize, text: &str) {
        let pad = " ".repeat(column.saturating_sub(label.chars().count() + 2).max(1));
        let room = self.width.saturating_sub(column).max(20);
        for (index, line) in wrap(text, room).iter().enumerate() {
            if index == 0 {
                into.push_str(&format!("  {}{pad}{line}\n", self.paint(tone, label)));
            } else {
                into.push_str(&format!("{}{line}\n", " ".repeat(column)));
            }
        }
    }
}

/// Keeps figures and their units together, and words with a hyphen in one piece: blanks and hyphens
/// within become ones that do not break.
#[must_use]
pub fn glue(text: &str) -> String {
    let is_unit = |word: &str| {
        let word = word.trim_end_matches([',', ';', ':', '.', ')', '`']);
        let units = "°C °F K mm mm/s mm/s² mm³/s % g g/cm³ s ms min h W bytes KiB MiB";
        units.split(' ').any(|unit| unit == word)
    };
    let mut glued = String::with_capacity(text.len());
    let mut after_figure = false;
    for (index, word) in text.split(' ').enumerate() {
        if index > 0 {
            glued.push(if after_figure && is_unit(word) {
                '\u{a0}'
            } else {
                ' '
            });
        }
        // A name such as PA6-CF stays in one piece.
        glued.push_str(&word.replace('-', "\u{2011}"));
        after_figure = word.ends_with(|letter: char| letter.is_ascii_digit());
    }
    glued
}

/// Makes plain blanks and hyphens again of those that do not break.
#[must_use]
pub fn unglue(text: &str) -> String {
    text.replace('\u{a0}', " ").replace('\u{2011}', "-")
}

/// Breaks text between words, but not between a figure and its unit, into lines of at most `room` characters; a longer word has a line of its
/// own. A text without words is one empty line.
#[must_use]
pub fn wrap(text: &str, room: usize) -> Vec<String> {
    let text = glue(text);
    let mut lines = vec![String::new()];
    let mut length = 0;
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        let wide = word.chars().count();
        if length > 0 && length + 1 + wide > room {
            lines.push(String::new());
            length = 0;
        }
        if let Some(line) = lines.last_mut() {
            if length > 0 {
                line.push(' ');
                length += 1;
            }
            line.push_str(&unglue(word));
            length += wide;
        }
    }
    lines
}

/// `text` cut to `room` characters, with `…` where something was left out.
#[must_use]
pub fn cut(text: &str, room: usize) -> String {
    if text.chars().count() <= room {
        return text.to_owned();
    }
    let kept: String = text.chars().take(room.saturating_sub(1)).collect();
    format!("{}…", kept.trim_end())
}

/// `text` cut to its last `room` characters, with `…` where something was left out: of a path the
/// end tells most.
#[must_use]
pub fn cut_front(text: &str, room: usize) -> String {
    let length = text.chars().count();
    if length <= room {
        return text.to_owned();
    }
    let kept: String = text
        .chars()
        .skip(length.saturating_sub(room.saturating_sub(1)))
        .collect();
    format!("…{kept}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_wrapped_between_words() {
        assert_eq!(wrap("one two three", 7), ["one two", "three"]);
        assert_eq!(wrap("averylongword a b", 5), ["averylongword", "a b"]);
        assert_eq!(wrap("", 5), [""]);
        // A figure stays with its unit.
        assert_eq!(wrap("at 240 °C, now", 8), ["at", "240 °C,", "now"]);
        // A name with a hyphen stays in one piece.
        assert_eq!(wrap("of PA6-CF now", 7), ["of", "PA6-CF", "now"]);
        assert_eq!(unglue(&glue("PA6-CF")), "PA6-CF");
        assert_eq!(
            glue("4 times 3 mm; 5 layers"),
            "4 times 3\u{a0}mm; 5 layers"
        );
        assert_eq!(cut("one two three", 8), "one two…");
        assert_eq!(cut("one", 3), "one");
        assert_eq!(cut_front("jobs/lid.gcode", 10), "…lid.gcode");
        assert_eq!(cut_front("lid", 3), "lid");
    }

    #[test]
    fn entries_keep_their_column() {
        let look = Look {
            colour: false,
            width: 30,
        };
        let mut text = String::new();
        look.entry(
            &mut text,
            (Tone::Dim, "bed"),
            10,
            "sixty degrees and then some more",
        );
        assert_eq!(
            text,
            "  bed     sixty degrees and\n          then some more\n"
        );
    }

    #[test]
    fn without_colour_there_are_no_codes() {
        let look = Look {
            colour: false,
            width: 30,
        };
        assert_eq!(look.paint(Tone::Alarm, "held"), "held");
        let look = Look {
            colour: true,
            width: 30,
        };
        assert_eq!(look.paint(Tone::Alarm, "held"), "\x1b[1;31mheld\x1b[0m");
        assert_eq!(look.paint(Tone::Plain, "held"), "held");
    }
}
