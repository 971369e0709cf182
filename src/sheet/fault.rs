//! Why a sheet could not be read, with the place in it.

use miette::{Diagnostic, LabeledSpan, NamedSource, SourceCode, SourceSpan};
use std::fmt;

/// The greatest size of a sheet, in bytes (chosen: a thousand times what one needs).
pub const LARGEST: u64 = 1 << 20;

/// The longest line that is shown beside a message; a longer one is only named by its place.
const LONGEST_SHOWN: usize = 2000;

/// Why a sheet could not be read.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// The text is no TOML.
    #[error("{0}")]
    Syntax(Box<Spot>),
    /// A key that no sheet has.
    #[error("{0}")]
    UnknownKey(Box<Spot>),
    /// The same key twice.
    #[error("{0}")]
    DuplicateKey(Box<Spot>),
    /// A value that cannot be: no unit, a wrong one, a wrong word, a figure out of bounds.
    #[error("{0}")]
    Value(Box<Spot>),
    /// Two values that cannot both hold.
    #[error("{0}")]
    Contradiction(Box<Spot>),
    /// `from` names a sheet the library has not.
    #[error("{0}")]
    UnknownBase(Box<Spot>),
    /// Nothing in it.
    #[error("{name} is empty")]
    Empty {
        /// The sheet's name or path.
        name: String,
    },
    /// Bytes that are no UTF-8.
    #[error("{name} is not UTF-8 from byte {byte} on")]
    NotUtf8 {
        /// The sheet's name or path.
        name: String,
        /// The first byte that is not.
        byte: usize,
    },
    /// Far larger than any sheet.
    #[error("{name} has more than {LARGEST} bytes, too many for a sheet")]
    TooLarge {
        /// The sheet's name or path.
        name: String,
    },
    /// A word that names no sheet of the library.
    #[error("the library has no {kind} sheet `{word}`")]
    Unknown {
        /// `material` or `machine`.
        kind: &'static str,
        /// The word.
        word: String,
        /// Names that are near.
        near: Vec<&'static str>,
    },
    /// A spelling that several materials share.
    #[error("`{word}` may be any of {}", names.join(", "))]
    Shared {
        /// The word.
        word: String,
        /// The materials.
        names: Vec<&'static str>,
    },
    /// A folder where a file is wanted.
    #[cfg(feature = "cli")]
    #[error("{path} is a directory, not a sheet")]
    Directory {
        /// The path.
        path: String,
    },
    /// More sheets lie over each other than anybody needs.
    #[cfg(feature = "cli")]
    #[error("too many sheets lie over each other, down to {path}")]
    TooDeep {
        /// The last one that was named.
        path: String,
    },
    /// No such file.
    #[cfg(feature = "cli")]
    #[error("there is no file {path}")]
    Missing {
        /// The path.
        path: String,
    },
    /// The file cannot be read.
    #[cfg(feature = "cli")]
    #[error("{path} cannot be read")]
    Unreadable {
        /// The path.
        path: String,
        /// What the system says.
        #[source]
        cause: std::io::Error,
    },
}

impl Error {
    /// The place in the sheet, where there is one.
    #[must_use]
    pub fn spot(&self) -> Option<&Spot> {
        match self {
            Self::Syntax(spot)
            | Self::UnknownKey(spot)
            | Self::DuplicateKey(spot)
            | Self::Value(spot)
            | Self::Contradiction(spot)
            | Self::UnknownBase(spot) => Some(spot),
            _ => None,
        }
    }

    /// What to do about it, in the imperative.
    #[must_use]
    pub fn advice(&self) -> Option<String> {
        Some(match self {
            Self::Empty { .. } => {
                "write at least `name = \"…\"` into it, or `from = \"PA6-CF\"`".to_owned()
            }
            Self::NotUtf8 { .. } => "save it as UTF-8; a sheet is TOML text".to_owned(),
            Self::TooLarge { .. } => "check that this is the sheet and not a job".to_owned(),
            Self::Unknown { kind, near, .. } => {
                let meant = near
                    .iter()
                    .map(|name| format!("`{name}`"))
                    .collect::<Vec<_>>()
                    .join(", ");
                let file = format!(
                    "name a file of your own by a path or with `.toml`; list the {kind} sheets there are"
                );
                if near.is_empty() {
                    file
                } else {
                    format!("did you mean {meant}? Else {file}")
                }
            }
            Self::Shared { .. } => "name the one that is on the spool".to_owned(),
            #[cfg(feature = "cli")]
            Self::TooDeep { .. } => "look whether two of them name each other in `from`".to_owned(),
            #[cfg(feature = "cli")]
            Self::Directory { .. } => "name the sheet in it".to_owned(),
            #[cfg(feature = "cli")]
            Self::Missing { .. } => {
                "check the path; a word without a slash or `.toml` names a library sheet".to_owned()
            }
            #[cfg(feature = "cli")]
            Self::Unreadable { .. } => "check that the file may be read".to_owned(),
            _ => return self.spot().and_then(|spot| spot.help.clone()),
        })
    }
}

impl Diagnostic for Error {
    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        self.advice()
            .map(|advice| Box::new(advice) as Box<dyn fmt::Display>)
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        self.spot()
            .and_then(|spot| spot.text.as_ref())
            .map(|text| text as &dyn SourceCode)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        let spot = self.spot()?;
        spot.text.as_ref()?;
        let first = spot
            .span
            .map(|span| LabeledSpan::new_primary_with_span(Some("here".to_owned()), span));
        let second = spot
            .other
            .map(|span| LabeledSpan::new_with_span(Some("against this".to_owned()), span));
        Some(Box::new(first.into_iter().chain(second)))
    }
}

/// A place in a sheet and what is wrong there.
#[derive(Debug)]
pub struct Spot {
    /// The sheet's name or path, made fit to print.
    pub name: String,
    /// The key: `hotend.print`; none where the text is no TOML.
    pub key: Option<String>,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// What is wrong, lower case, no final stop.
    pub message: String,
    /// What to do, in the imperative.
    pub help: Option<String>,
    /// Start and end in the sheet's bytes; none where the place is in the sheet it lies over.
    pub bytes: Option<std::ops::Range<usize>>,
    text: Option<NamedSource<String>>,
    span: Option<SourceSpan>,
    other: Option<SourceSpan>,
}

impl fmt::Display for Spot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}, line {}, column {}: ",
            self.name, self.line, self.column
        )?;
        if let Some(key) = &self.key {
            write!(f, "`{key}`: ")?;
        }
        f.write_str(&self.message)
    }
}

impl Spot {
    pub(super) fn new(
        (name, text): (&str, &str),
        span: Option<std::ops::Range<usize>>,
        key: Option<String>,
        message: &str,
        help: Option<String>,
    ) -> Box<Self> {
        let before = span
            .as_ref()
            .and_then(|span| text.get(..span.start))
            .unwrap_or("");
        let line = before.matches('\n').count() + 1;
        let column = before.rsplit('\n').next().unwrap_or("").chars().count() + 1;
        let shown = text.lines().all(|line| line.len() <= LONGEST_SHOWN);
        Box::new(Self {
            name: printable(name),
            key: key.map(|key| printable(&key)),
            line,
            column,
            message: printable(message),
            help: help.map(|help| printable(&help)),
            text: shown.then(|| NamedSource::new(printable(name), printable(text))),
            span: span.clone().map(Into::into),
            other: None,
            bytes: span,
        })
    }

    pub(super) fn against(mut self: Box<Self>, other: Option<std::ops::Range<usize>>) -> Box<Self> {
        self.other = other.map(Into::into);
        self
    }
}

/// The same text, every byte at its place, without what a terminal could take for a command.
pub(super) fn printable(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\n' | '\t' => c,
            '\r' => ' ',
            '\u{0}'..='\u{1f}' | '\u{7f}' => '?',
            '\u{80}'..='\u{9f}' => '¿',
            c if is_hidden(c) => '\u{fffd}',
            c => c,
        })
        .collect()
}

/// Whether a terminal or a reader could be misled by the character: control characters, and those
/// that turn the direction of text (all of those are three bytes, as is their replacement).
pub(super) const fn is_hidden(c: char) -> bool {
    matches!(c, '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}
