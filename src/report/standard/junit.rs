//! JUnit XML, as build servers read it: a suite a job, a case a requirement.
//!
//! The format has no standard of its own; this keeps to the strictest of the schemas in use (names,
//! order and counts of everything, one failure a case). A finding that holds the job is a failure; one
//! that does not is told in the suite's output.

use super::Standard;
use crate::finding::Finding;
use crate::inspection::REGISTER;
use crate::report::{Checked, Failed, Outcome};
use crate::text::{Name, clean};
use std::fmt::Write as _;
use std::io::{self, Write};
use std::time::Duration;

/// When and where the report is made.
#[derive(Debug, Clone)]
pub struct Stamp {
    /// Date and time in universal time, ISO 8601 without fraction and zone: `2026-03-01T12:00:00`.
    pub time: String,
    /// The computer's name.
    pub host: String,
}

/// Findings as JUnit XML.
pub struct JUnit<W> {
    into: W,
    stamp: Stamp,
    suites: usize,
}

impl<W: Write> JUnit<W> {
    /// Begins the document.
    ///
    /// # Errors
    ///
    /// What the writer says.
    pub fn new(mut into: W, stamp: Stamp) -> io::Result<Self> {
        into.write_all(b"<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites>\n")?;
        Ok(Self {
            into,
            stamp,
            suites: 0,
        })
    }
}

impl<W: Write + Send> Standard for JUnit<W> {
    fn add(&mut self, outcome: &Outcome, took: Duration) -> io::Result<()> {
        let suite = match outcome {
            Outcome::Checked(checked) => Suite::checked(checked),
            Outcome::Failed(failed) => Suite::failed(failed),
        };
        let text = suite.text(self.suites, &self.stamp, took);
        self.suites += 1;
        self.into.write_all(text.as_bytes())
    }

    fn close(&mut self) -> io::Result<()> {
        self.into.write_all(b"</testsuites>\n")?;
        self.into.flush()
    }
}

/// One job.
struct Suite {
    name: String,
    cases: String,
    tests: usize,
    failures: usize,
    errors: usize,
    skipped: usize,
    out: String,
}

impl Suite {
    fn new(name: &Name) -> Self {
        let name = match name {
            Name::StandardInput => "standard input".to_owned(),
            Name::Given(name) => name.clone(),
            Name::Path(path) => clean(path.as_encoded_bytes()).into_owned(),
        };
        Self {
            name: escaped(&name),
            cases: String::new(),
            tests: 0,
            failures: 0,
            errors: 0,
            skipped: 0,
            out: String::new(),
        }
    }

    fn failed(failed: &Failed) -> Self {
        let mut suite = Self::new(&failed.name);
        suite.errors = 1;
        let body = format!(
            "<error type=\"not-inspected\" message=\"{}\">{}</error>",
            escaped(&failed.message),
            escaped(&failed.help)
        );
        suite.case("inspected", &body);
        suite
    }

    fn checked(checked: &Checked) -> Self {
        let mut suite = Self::new(&checked.name);
        for requirement in REGISTER {
            let held: Vec<&Finding> = held(checked, requirement.id).collect();
            let left = checked
                .inspected
                .not_held
                .iter()
                .find(|left| left.requirement == requirement.id);
            let body = match (held.split_first(), left) {
                (Some((first, others)), _) => {
                    suite.failures += 1;
                    let mut text = words(first);
                    for other in others {
                        let _ = write!(text, "\n{}", words(other));
                    }
                    format!(
                        "<failure type=\"{}\" message=\"{}\">{}</failure>",
                        first.class.word(),
                        escaped(&first.message),
                        escaped(&text)
                    )
                }
                (None, Some(left)) => {
                    suite.skipped += 1;
                    let _ = writeln!(suite.out, "{}: not held: {}", left.requirement, left.reason);
                    "<skipped/>".to_owned()
                }
                (None, None) => String::new(),
            };
            suite.case(requirement.id, &body);
        }
        for (index, found) in checked.inspected.findings.iter().enumerate() {
            if !is_held(checked, index) {
                let conceded = checked.settlement.conceded(index).is_some();
                let _ = writeln!(
                    suite.out,
                    "{}{}: {}",
                    found.class.word(),
                    if conceded { ", conceded" } else { "" },
                    words(found)
                );
            }
        }
        suite
    }

    fn case(&mut self, id: &str, body: &str) {
        self.tests += 1;
        let _ = write!(
            self.cases,
            "    <testcase name=\"{id}\" classname=\"{}\" time=\"0\"",
            self.name
        );
        if body.is_empty() {
            self.cases.push_str("/>\n");
        } else {
            let _ = writeln!(self.cases, ">{body}</testcase>");
        }
    }

    fn text(&self, id: usize, stamp: &Stamp, took: Duration) -> String {
        format!(
            "  <testsuite name=\"{name}\" package=\"{tool}\" id=\"{id}\" tests=\"{}\" failures=\"{}\" \
             errors=\"{}\" skipped=\"{}\" timestamp=\"{}\" hostname=\"{}\" time=\"{:.6}\">\n    \
             <properties>\n      <property name=\"{tool}.version\" value=\"{version}\"/>\n    \
             </properties>\n{}    <system-out>{}</system-out>\n    <system-err/>\n  </testsuite>\n",
            self.tests,
            self.failures,
            self.errors,
            self.skipped,
            escaped(&stamp.time),
            escaped(&stamp.host),
            took.as_secs_f64(),
            self.cases,
            escaped(&self.out),
            name = self.name,
            tool = env!("CARGO_PKG_NAME"),
            version = env!("CARGO_PKG_VERSION"),
        )
    }
}

fn is_held(checked: &Checked, index: usize) -> bool {
    checked.settlement.conceded(index).is_none()
        && checked
            .inspected
            .findings
            .get(index)
            .is_some_and(|found| found.class >= checked.hold_from)
}

/// The findings of a requirement that hold the job.
fn held<'a>(checked: &'a Checked, id: &'a str) -> impl Iterator<Item = &'a Finding> {
    let findings = checked.inspected.findings.iter().enumerate();
    findings
        .filter(move |(index, found)| found.requirement == id && is_held(checked, *index))
        .map(|(_, found)| found)
}

/// A finding in a sentence or two, with its place.
fn words(found: &Finding) -> String {
    let extent = &found.extent;
    let at = extent
        .worst
        .as_ref()
        .map(|worst| &worst.at)
        .or(extent.first.as_ref());
    let place = at.map_or_else(String::new, |at| {
        format!("line {}: {}\n", at.place.line, clean(&at.text))
    });
    format!(
        "{}: {}\n{place}{}\n",
        found.requirement, found.message, found.help
    )
}

/// Text as XML 1.0 may hold it, in an element as in an attribute. Line ends of our own stay.
fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len() + 16);
    for line in text.split_inclusive('\n') {
        let (line, end) = line
            .strip_suffix('\n')
            .map_or((line, ""), |line| (line, "&#10;"));
        for letter in clean(line.as_bytes()).chars() {
            match letter {
                '&' => safe.push_str("&amp;"),
                '<' => safe.push_str("&lt;"),
                '>' => safe.push_str("&gt;"),
                '"' => safe.push_str("&quot;"),
                '\u{FFFE}' | '\u{FFFF}' => safe.push('\u{FFFD}'),
                other => safe.push(other),
            }
        }
        safe.push_str(end);
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::escaped;

    #[test]
    fn nothing_that_xml_forbids_is_left() {
        assert_eq!(escaped("a<b>&\"c\""), "a&lt;b&gt;&amp;&quot;c&quot;");
        assert_eq!(escaped("a\u{1}b\u{ffff}\nc"), "a␁b\u{fffd}&#10;c");
    }
}
