//! SARIF 2.1.0 (OASIS): a rule a requirement, a result a finding.
//!
//! Critical and major findings are errors, minor ones warnings; an observation is informational and has
//! no level, as the standard asks of what is no failure. A requirement that was not held is `open`: there
//! was not enough to decide it by. A concession suppresses. Places in packed jobs have lines and columns and no
//! byte offsets, since an offset there would count unpacked bytes in a packed file.

use super::Standard;
use super::place::{address, base, columns, fingerprint};
use crate::finding::{Class, Excerpt, Finding};
use crate::inspection::{REGISTER, page};
use crate::report::{Checked, Failed, Outcome};
use crate::text::{Name, Packing, clean};
use serde_json::{Map, Value, json};
use std::collections::HashMap;
use std::io::{self, Write};
use std::time::Duration;

/// The standard's own name for its schema.
const SCHEMA: &str =
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/os/schemas/sarif-schema-2.1.0.json";

/// The name of the fingerprint and the version of what it is made of.
const FINGERPRINT: &str = "requirementKeyAndWords/v1";

/// Findings as a SARIF log with one run.
pub struct Sarif<W> {
    into: W,
    results: u64,
    /// Jobs that could not be inspected.
    notifications: Vec<Value>,
}

impl<W: Write> Sarif<W> {
    /// Begins the log: the tool and its rules come first, results follow job by job.
    ///
    /// # Errors
    ///
    /// What the writer says.
    pub fn new(mut into: W) -> io::Result<Self> {
        let driver = json!({
            "name": env!("CARGO_PKG_NAME"),
            "version": env!("CARGO_PKG_VERSION"),
            "semanticVersion": env!("CARGO_PKG_VERSION"),
            "rules": rules(),
        });
        write!(
            into,
            "{{\"$schema\":{},\"version\":\"2.1.0\",\"runs\":[{{\"tool\":{{\"driver\":{driver}}},\
             \"columnKind\":\"unicodeCodePoints\",\"results\":[",
            Value::from(SCHEMA)
        )?;
        Ok(Self {
            into,
            results: 0,
            notifications: Vec::new(),
        })
    }

    fn result(&mut self, result: &Value) -> io::Result<()> {
        let comma = if self.results > 0 { "," } else { "" };
        self.results += 1;
        write!(self.into, "{comma}\n{result}")
    }
}

impl<W: Write + Send> Standard for Sarif<W> {
    fn add(&mut self, outcome: &Outcome, _took: Duration) -> io::Result<()> {
        match outcome {
            Outcome::Failed(failed) => {
                self.notifications.push(notification(failed));
                Ok(())
            }
            Outcome::Checked(checked) => {
                let mut alike: HashMap<String, usize> = HashMap::new();
                for (index, found) in checked.inspected.findings.iter().enumerate() {
                    let nth = alike.entry(base(found)).or_default();
                    self.result(&result(checked, index, found, *nth))?;
                    *nth += 1;
                }
                for left in &checked.inspected.not_held {
                    let open = json!({
                        "ruleId": left.requirement,
                        "ruleIndex": rule_index(left.requirement),
                        "kind": "open",
                        "level": "none",
                        "message": { "text": sentence(&format!("not held: {}", left.reason)) },
                        "locations": [{ "physicalLocation": { "artifactLocation": artifact(&checked.name) } }],
                    });
                    self.result(&open)?;
                }
                Ok(())
            }
        }
    }

    fn close(&mut self) -> io::Result<()> {
        let invocation = json!({
            "executionSuccessful": self.notifications.is_empty(),
            "toolExecutionNotifications": self.notifications,
        });
        write!(self.into, "\n],\"invocations\":[{invocation}]}}]}}\n")?;
        self.into.flush()
    }
}

/// Every requirement, with its page as help.
fn rules() -> Value {
    let rule = |requirement: &crate::inspection::Requirement| {
        let words = page::section(requirement.page, "Requirement").unwrap_or_default();
        json!({
            "id": requirement.id,
            "shortDescription": { "text": sentence(&page::summary(requirement.page)) },
            "fullDescription": { "text": words.split_whitespace().collect::<Vec<_>>().join(" ") },
            "help": { "text": requirement.page, "markdown": requirement.page },
            "defaultConfiguration": { "level": level(requirement.class) },
            "properties": { "class": requirement.class.word() },
        })
    };
    REGISTER.iter().map(rule).collect()
}

fn rule_index(id: &str) -> Option<usize> {
    REGISTER.iter().position(|requirement| requirement.id == id)
}

const fn level(class: Class) -> &'static str {
    match class {
        Class::Critical | Class::Major => "error",
        Class::Minor => "warning",
        Class::Observation => "none",
    }
}

const fn kind(class: Class) -> &'static str {
    match class {
        Class::Observation => "informational",
        _ => "fail",
    }
}

fn artifact(name: &Name) -> Value {
    match address(name) {
        Some(uri) => json!({ "uri": uri }),
        None => json!({ "description": { "text": "standard input" } }),
    }
}

/// A line of a job within its file.
fn location(checked: &Checked, at: &Excerpt) -> Value {
    let mut region = Map::new();
    region.insert("startLine".to_owned(), at.place.line.into());
    if let Some(columns) = columns(at) {
        region.insert("startColumn".to_owned(), columns.start.into());
        if let Some(end) = columns.end {
            region.insert("endColumn".to_owned(), end.into());
        }
    }
    if checked.stored.packing == Packing::Plain {
        region.insert("byteOffset".to_owned(), at.place.start.into());
        let length = at.place.end.saturating_sub(at.place.start);
        region.insert("byteLength".to_owned(), length.into());
    }
    region.insert("snippet".to_owned(), json!({ "text": clean(&at.text) }));
    json!({ "artifactLocation": artifact(&checked.name), "region": region })
}

fn result(checked: &Checked, index: usize, found: &Finding, nth: usize) -> Value {
    let extent = &found.extent;
    let worst = extent.worst.as_ref().map(|worst| &worst.at);
    let main = worst.or(extent.first.as_ref());
    let physical = match main {
        Some(at) => location(checked, at),
        None => json!({ "artifactLocation": artifact(&checked.name) }),
    };
    let places = [("first", &extent.first), ("last", &extent.last)];
    let others = places
        .iter()
        .filter_map(|(word, at)| at.as_ref().map(|at| (*word, at)))
        .filter(|(_, at)| main.is_none_or(|main| main.place != at.place));
    let mut seen = Vec::new();
    let mut related = Vec::new();
    let explained = found.related.iter().map(|(at, note)| (note.as_str(), at));
    for (note, at) in others.chain(explained) {
        if !seen.contains(&(at.place, note)) {
            seen.push((at.place, note));
            related.push(json!({
                "message": { "text": clean(note.as_bytes()) },
                "physicalLocation": location(checked, at),
            }));
        }
    }
    let text = format!("{} {}", sentence(&found.message), sentence(&found.help));
    let finite = |figure: f64| figure.is_finite().then_some(figure);
    let limit = found.limit.as_ref().map(|limit| {
        json!({
            "value": finite(limit.value),
            "unit": limit.unit,
            "whose": clean(limit.whose.as_bytes()),
            "source": limit.source.as_deref().map(|source| clean(source.as_bytes())),
            "mark": limit.mark,
        })
    });
    let mut result = json!({
        "ruleId": found.requirement,
        "ruleIndex": rule_index(found.requirement),
        "kind": kind(found.class),
        "level": level(found.class),
        "message": { "text": text },
        "locations": [{ "physicalLocation": physical }],
        "partialFingerprints": { FINGERPRINT: fingerprint(found, nth) },
        "properties": {
            "class": found.class.word(),
            "count": extent.count,
            "counts": extent.counts.word(),
            "amount": found.amount.and_then(finite),
            "limit": limit,
        },
    });
    let Some(object) = result.as_object_mut() else {
        return result;
    };
    if extent.count > 0 {
        object.insert("occurrenceCount".to_owned(), extent.count.into());
    }
    if !related.is_empty() {
        object.insert("relatedLocations".to_owned(), related.into());
    }
    let concession = checked.settlement.conceded(index);
    if let Some(concession) = concession.and_then(|at| checked.concessions.get(at)) {
        let words = format!("{} (granted by {})", concession.reason, concession.by);
        let suppression = json!([{
            "kind": "external",
            "status": "accepted",
            "justification": clean(words.as_bytes()),
        }]);
        object.insert("suppressions".to_owned(), suppression);
    }
    result
}

fn notification(failed: &Failed) -> Value {
    json!({
        "level": "error",
        "message": { "text": format!("{} {}", sentence(&failed.message), sentence(&failed.help)) },
        "locations": [{ "physicalLocation": { "artifactLocation": artifact(&failed.name) } }],
    })
}

/// Words as a sentence: with a capital letter, unless it is a word of code, and a stop.
fn sentence(words: &str) -> String {
    let words = clean(words.as_bytes());
    let mut letters = words.chars();
    let Some(first) = letters.next() else {
        return String::new();
    };
    let stop = if words.ends_with(['.', '?', '!']) {
        ""
    } else {
        "."
    };
    format!("{}{}{stop}", first.to_uppercase(), letters.as_str())
}
