//! Reports in the formats that standards and other programs define: SARIF 2.1.0 ([`Sarif`]), JUnit XML
//! ([`JUnit`]) and comma-separated values ([`Csv`], RFC 4180); and our own two, text and record lines, where
//! they go to a file.
//!
//! Each takes one job after the other and writes it at once, so that a report of very many jobs needs no
//! memory for them. What comes from a job, a file's name or a sheet goes through
//! [`clean`](crate::text::clean) first.

pub mod csv;
mod junit;
mod own;
mod place;
mod sarif;

pub use csv::Csv;
pub use junit::{JUnit, Stamp};
pub use own::{Lines, Text};
pub use sarif::Sarif;

use super::Outcome;
use std::io;
use std::time::Duration;

/// A report that is written job by job.
pub trait Standard: Send {
    /// Writes one job; `took` is how long it took to inspect.
    ///
    /// # Errors
    ///
    /// What the writer says.
    fn add(&mut self, outcome: &Outcome, took: Duration) -> io::Result<()>;

    /// Writes what comes after the last job.
    ///
    /// # Errors
    ///
    /// What the writer says.
    fn close(&mut self) -> io::Result<()>;
}
