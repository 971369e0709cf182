//! Words by their names, for the requirements about a job's words.

use crate::command::name_of;
use crate::grammar::{Kind, Word};
use crate::machine::Line;

/// A word's name: `G92.1`, `M104`, or a whole word.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Named {
    /// A letter and ten times its number.
    Code(u8, i64),
    /// A whole word in upper case, or a code that is no tenth.
    Whole(String),
}

impl Named {
    /// As a sheet writes it.
    pub(super) fn parse(text: &str) -> Self {
        let text = text.trim().to_ascii_uppercase();
        let mut words = crate::grammar::Words::default();
        crate::grammar::read_line(text.as_bytes(), &mut words);
        match words.as_ref() {
            [word] if word.kind == Kind::Number => Self::of(word, text.as_bytes()),
            _ => Self::Whole(text),
        }
    }

    /// The name of a word on its line.
    pub(super) fn of(word: &Word, line: &[u8]) -> Self {
        match word.tenths() {
            Some(tenths) => Self::Code(word.letter, tenths),
            None => Self::Whole(shown(word.bytes(line)).to_ascii_uppercase()),
        }
    }

    /// Whether this is the name of a word on its line; copies nothing.
    pub(super) fn is(&self, word: &Word, line: &Line<'_>) -> bool {
        match self {
            Self::Code(letter, number) => *letter == word.letter && word.tenths() == Some(*number),
            Self::Whole(name) => {
                word.tenths().is_none() && {
                    let bytes = word.bytes(line.bytes);
                    name.as_bytes().eq_ignore_ascii_case(bytes)
                        || (bytes.len() > name.len() && *name == shown(bytes).to_ascii_uppercase())
                }
            }
        }
    }
}

impl std::fmt::Display for Named {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Code(letter, tenths) => f.write_str(&name_of(*letter, *tenths)),
            Self::Whole(name) => f.write_str(name),
        }
    }
}

/// A piece of a job for a message: printing characters alone, at most forty of them.
pub(super) fn shown(bytes: &[u8]) -> String {
    const CAP: usize = 40;
    let mut text: String =
        String::from_utf8_lossy(bytes.get(..bytes.len().min(CAP * 4)).unwrap_or_default())
            .chars()
            .map(|c| if c.is_control() { '?' } else { c })
            .take(CAP)
            .collect();
    if bytes.len() > text.len() {
        text.push('…');
    }
    text
}

/// How often, in words.
pub(super) fn times(count: u64) -> String {
    match count {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        count => format!("{count} times"),
    }
}
