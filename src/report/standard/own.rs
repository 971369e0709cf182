//! Our own two formats, job by job into a file: text for a person, record lines for a program.

use super::Standard;
use crate::inspection::REGISTER;
use crate::report::paint::Look;
use crate::report::{Outcome, record, terminal};
use std::io::{self, Write};
use std::time::Duration;

/// One JSON object a job and line.
pub struct Lines<W> {
    into: W,
}

impl<W> Lines<W> {
    /// Record lines into `into`.
    pub const fn new(into: W) -> Self {
        Self { into }
    }
}

impl<W: Write + Send> Standard for Lines<W> {
    fn add(&mut self, outcome: &Outcome, _took: Duration) -> io::Result<()> {
        writeln!(self.into, "{}", record::line(outcome)?)
    }

    fn close(&mut self) -> io::Result<()> {
        self.into.flush()
    }
}

/// The report for a person.
pub struct Text<W> {
    into: W,
    look: Look,
    jobs: usize,
}

impl<W> Text<W> {
    /// The report into `into`, set as `look` says.
    pub const fn new(into: W, look: Look) -> Self {
        Self {
            into,
            look,
            jobs: 0,
        }
    }
}

impl<W: Write + Send> Standard for Text<W> {
    fn add(&mut self, outcome: &Outcome, _took: Duration) -> io::Result<()> {
        if self.jobs > 0 {
            writeln!(self.into)?;
        }
        self.jobs += 1;
        let text = match outcome {
            Outcome::Checked(checked) => {
                terminal::report(checked, REGISTER.len(), false, &self.look)
            }
            Outcome::Failed(failed) => terminal::failure(failed, &self.look),
        };
        self.into.write_all(text.as_bytes())
    }

    fn close(&mut self) -> io::Result<()> {
        self.into.flush()
    }
}
