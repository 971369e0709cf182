//! Comma-separated values (RFC 4180): a row a finding, or one for a job without any.

use super::Standard;
use crate::concession::Verdict;
use crate::report::{Checked, Outcome, tidy};
use crate::text::{Name, clean};
use std::io::{self, Write};
use std::time::Duration;

const HEAD: &str = "job,verdict,requirement,class,conceded,line,column,count,of,amount,limit,unit,whose,\
message,help\r\n";

/// Findings as comma-separated values.
pub struct Csv<W> {
    into: W,
}

impl<W: Write> Csv<W> {
    /// Begins with the heading.
    ///
    /// # Errors
    ///
    /// What the writer says.
    pub fn new(mut into: W) -> io::Result<Self> {
        into.write_all(HEAD.as_bytes())?;
        Ok(Self { into })
    }

    fn row(&mut self, fields: &[String; 15]) -> io::Result<()> {
        self.into.write_all(fields.join(",").as_bytes())?;
        self.into.write_all(b"\r\n")
    }
}

impl<W: Write + Send> Standard for Csv<W> {
    fn add(&mut self, outcome: &Outcome, _took: Duration) -> io::Result<()> {
        match outcome {
            Outcome::Failed(failed) => {
                let mut fields = blank(&failed.name, "");
                fields[13] = field(&clean(failed.message.as_bytes()));
                fields[14] = field(&clean(failed.help.as_bytes()));
                self.row(&fields)
            }
            Outcome::Checked(checked) => {
                let verdict = word(checked.settlement.verdict);
                if checked.inspected.findings.is_empty() {
                    return self.row(&blank(&checked.name, verdict));
                }
                (0..checked.inspected.findings.len())
                    .filter_map(|index| found(checked, index, verdict))
                    .try_for_each(|fields| self.row(&fields))
            }
        }
    }

    fn close(&mut self) -> io::Result<()> {
        self.into.flush()
    }
}

const fn word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Released => "released",
        Verdict::ReleasedByConcession => "released-by-concession",
        Verdict::Held => "held",
    }
}

fn blank(name: &Name, verdict: &str) -> [String; 15] {
    let mut fields: [String; 15] = Default::default();
    fields[0] = field(&match name {
        Name::StandardInput => "-".to_owned(),
        Name::Given(name) => clean(name.as_bytes()).into_owned(),
        Name::Path(path) => clean(path.as_encoded_bytes()).into_owned(),
    });
    fields[1] = verdict.to_owned();
    fields
}

fn found(checked: &Checked, index: usize, verdict: &str) -> Option<[String; 15]> {
    let found = checked.inspected.findings.get(index)?;
    let extent = &found.extent;
    let at = extent
        .worst
        .as_ref()
        .map(|worst| &worst.at)
        .or(extent.first.as_ref());
    let column = at.and_then(super::place::columns);
    let limit = found.limit.as_ref();
    let number = |figure: Option<f64>| {
        figure
            .filter(|figure| figure.is_finite())
            .map(tidy)
            .unwrap_or_default()
    };
    let mut fields = blank(&checked.name, verdict);
    let rest = [
        found.requirement.to_owned(),
        found.class.word().to_owned(),
        checked
            .settlement
            .conceded(index)
            .map_or("no", |_| "yes")
            .to_owned(),
        at.map(|at| at.place.line.to_string()).unwrap_or_default(),
        column
            .map(|column| column.start.to_string())
            .unwrap_or_default(),
        extent.count.to_string(),
        extent.counts.word().to_owned(),
        number(found.amount),
        number(limit.map(|limit| limit.value)),
        limit.map_or("", |limit| limit.unit).to_owned(),
        field(&clean(limit.map_or("", |limit| &limit.whose).as_bytes())),
        field(&clean(found.message.as_bytes())),
        field(&clean(found.help.as_bytes())),
    ];
    for (field, text) in fields.iter_mut().skip(2).zip(rest) {
        *field = text;
    }
    Some(fields)
}

/// A field in quotes, its own doubled, where it needs them. A table program would take one that begins
/// with a sign for a formula: such a one gets an apostrophe in front.
#[must_use]
pub fn field(text: &str) -> String {
    let is_plain = !text.contains([',', '"', '\n', '\r']);
    let is_formula = text.len() > 1 && text.starts_with(['=', '+', '-', '@', '\t', '\r']);
    let doubled = text.replace('"', "\"\"");
    match (is_plain, is_formula) {
        (true, false) => doubled,
        (false, false) => format!("\"{doubled}\""),
        (_, true) => format!("\"'{doubled}\""),
    }
}

#[cfg(test)]
mod tests {
    use super::field;

    #[test]
    fn fields_are_quoted_where_they_must() {
        assert_eq!(field("lid.gcode"), "lid.gcode");
        assert_eq!(field("-"), "-");
        assert_eq!(field("a,\"b\".gcode"), "\"a,\"\"b\"\".gcode\"");
        assert_eq!(field("=1+1"), "\"'=1+1\"");
    }
}
