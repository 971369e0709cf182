//! Why an audit could not go on. What is wrong with one job is no fault of an audit.

use crate::text::Name;
use miette::Diagnostic;
use std::path::Path;
use thiserror::Error as ThisError;

/// Why an audit could not go on.
#[derive(Debug, ThisError, Diagnostic)]
#[non_exhaustive]
pub enum Error {
    /// The store could not be opened.
    #[error("the store {name} cannot be opened: {why}")]
    #[diagnostic(help(
        "name a file of an audit, or one that does not exist yet, on a disk of this computer"
    ))]
    Unopened {
        /// The store.
        name: Name,
        /// Why.
        why: String,
    },
    /// The file is some other program's database.
    #[error("{name} is a database, but no store of an audit")]
    #[diagnostic(help("name another file after --store"))]
    Foreign {
        /// The file.
        name: Name,
    },
    /// A newer program wrote the store.
    #[error("the store {name} has the version {found}, and this program reads up to {known}")]
    #[diagnostic(help("use the newer program, or begin a store of your own"))]
    Newer {
        /// The store.
        name: Name,
        /// Its version.
        found: i64,
        /// The last that is known here.
        known: i64,
    },
    /// There is no store yet.
    #[error("there is no store {name}")]
    #[diagnostic(help("audit something first, or check the path after --store"))]
    Missing {
        /// The store.
        name: Name,
    },
    /// Reading or writing the store failed.
    #[error("the store failed: {0}")]
    #[diagnostic(help(
        "make room on its disk, and run the audit again; what was stored so far stays"
    ))]
    Store(#[from] rusqlite::Error),
    /// A question that cannot be answered.
    #[error("the question cannot be answered: {0}")]
    #[diagnostic(help("`SELECT name, sql FROM sqlite_schema` shows what may be asked for"))]
    Question(String),
    /// A line that is none of an audit's.
    #[error("line {line} is no line of an audit: {why}")]
    #[diagnostic(help("give lines that `audit --map` wrote, as they were written"))]
    Line {
        /// Which, counted from 1.
        line: u64,
        /// Why.
        why: String,
    },
    /// A file of lines that cannot be read.
    #[error("{name} cannot be read: {why}")]
    #[diagnostic(help(
        "give files of lines that `audit --map` wrote, or tables (Parquet) with a column `line` of them"
    ))]
    Table {
        /// The file.
        name: Name,
        /// Why.
        why: String,
    },
    /// The manifest, or lines that are folded, could not be read.
    #[error("the standard input could not be read: {0}")]
    #[diagnostic(help("run it again"))]
    Input(std::io::Error),
    /// Results could not be written.
    #[error("the output could not be written: {0}")]
    #[diagnostic(help("make room where the output goes, then run it again"))]
    Output(std::io::Error),
    /// No thread can be had.
    #[error("no thread can be started: {0}")]
    #[diagnostic(help("run it with --threads 1"))]
    Thread(std::io::Error),
    /// A thread is gone without a word.
    #[error("a part of this program stopped without a word")]
    #[diagnostic(help("run it again; what was stored so far stays"))]
    Stopped,
}

impl Error {
    /// A file of lines that the system does not let be read.
    pub(super) fn unread(path: &Path, fault: &std::io::Error) -> Self {
        Self::Table {
            name: name(path),
            why: fault.to_string(),
        }
    }
}

/// The name of a file.
pub(super) fn name(path: &Path) -> Name {
    Name::Path(path.as_os_str().to_owned())
}
