//! What the tests share: jobs with notes in them, and sheets with single keys replaced.
//!
//! A note is a comment that begins with `;!`:
//! - `;! inspect material=PLA machine=open-lined`: the sheets; either may be left out.
//! - `;! material hotend.print = ["190 °C", "220 °C"]`, `;! machine bed.limit = "80 °C"`: one key of
//!   the sheet replaced, as TOML.
//! - `;! expect major, 2 at line 9, worst 220`: the class, how many, the first line (counted with the
//!   notes), and the worst value where there is one. Several lines for several findings.
//! - `;! expect nothing`: no finding of this page's requirement.
//! - `;! rework hotend-setpoints`: the one rework that is tried; what the job becomes follows.
//! - `;! refuses WORDS`: it is left alone for a reason with these words.
//! - `;! moves job F1860 | F1800`: with the left text replaced by the right (in the job, or in the
//!   material's or the machine's notes) the finding goes away: the limit moved by one unit.

use meltgauge::inspection::{Held, Inspected, inspect};
use meltgauge::sheet::{Machine, Material};
use std::sync::Arc;

/// The notes of a job.
#[derive(Debug, Clone, Default)]
pub struct Notes {
    pub material: Option<String>,
    pub machine: Option<String>,
    pub material_keys: Vec<String>,
    pub machine_keys: Vec<String>,
    pub expect: Vec<String>,
    pub moves: Vec<(String, String, String)>,
    pub rework: Option<String>,
    pub refuses: Option<String>,
}

impl Notes {
    pub fn read(job: &str) -> Self {
        let mut notes = Self::default();
        for line in job.lines() {
            let Some(note) = line.trim().strip_prefix(";!") else {
                continue;
            };
            let (verb, rest) = note.trim().split_once(' ').unwrap_or((note.trim(), ""));
            match verb {
                "inspect" => {
                    for word in rest.split_whitespace() {
                        match word.split_once('=') {
                            Some(("material", value)) => notes.material = Some(value.to_owned()),
                            Some(("machine", value)) => notes.machine = Some(value.to_owned()),
                            _ => panic!("a note that is not understood: {line}"),
                        }
                    }
                }
                "material" => notes.material_keys.push(rest.to_owned()),
                "machine" => notes.machine_keys.push(rest.to_owned()),
                "rework" => notes.rework = Some(rest.to_owned()),
                "refuses" => notes.refuses = Some(rest.to_owned()),
                "expect" => notes.expect.push(rest.to_owned()),
                "moves" => {
                    let (what, rest) = rest.split_once(' ').expect("moves WHAT A | B");
                    let (from, to) = rest.split_once(" | ").expect("moves WHAT A | B");
                    notes
                        .moves
                        .push((what.to_owned(), from.to_owned(), to.to_owned()));
                }
                _ => panic!("a note that is not understood: {line}"),
            }
        }
        notes
    }

    pub fn held(&self) -> Held {
        let materials = self
            .material
            .as_deref()
            .map(|word| {
                word.split(',')
                    .map(|each| {
                        let name = each.split_once('=').map_or(each, |(_, name)| name);
                        Some(Arc::new(material(name, &self.material_keys)))
                    })
                    .collect()
            })
            .unwrap_or_default();
        Held {
            materials,
            machine: self
                .machine
                .as_deref()
                .map(|name| Arc::new(machine(name, &self.machine_keys))),
            walls: true,
            ..Held::default()
        }
    }
}

fn overlay(name: &str, keys: &[String]) -> String {
    format!(
        "name = \"{name}\"\nfrom = \"{name}\"\n{}\n",
        keys.join("\n")
    )
}

pub fn material(name: &str, keys: &[String]) -> Material {
    if keys.is_empty() {
        return meltgauge::sheet::library::material(name).expect(name);
    }
    let text = overlay(name, keys);
    Material::parse(name, &text).unwrap_or_else(|error| panic!("{error:?}\n{text}"))
}

pub fn machine(name: &str, keys: &[String]) -> Machine {
    if keys.is_empty() {
        return meltgauge::sheet::library::machine(name).expect(name);
    }
    let text = overlay(name, keys);
    Machine::parse(name, &text).unwrap_or_else(|error| panic!("{error:?}\n{text}"))
}

/// Inspects a job under its own notes.
pub fn inspect_noted(job: &str) -> Inspected {
    inspect(job.as_bytes(), Notes::read(job).held())
}

/// A finding in the words of `;! expect`.
pub fn stated(finding: &meltgauge::finding::Finding) -> String {
    let mut text = format!("{}, {}", finding.class.word(), finding.extent.count);
    if let Some(first) = &finding.extent.first {
        text.push_str(&format!(" at line {}", first.place.line));
    }
    if let Some(amount) = finding.amount {
        let amount = (amount * 1e6).round() / 1e6;
        text.push_str(&format!(", worst {amount}"));
    }
    text
}
