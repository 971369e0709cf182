//! The conforming corpus: jobs as a careful slicing program writes them give no more than
//! observations, and what they are known to use is what the survey says.

use crate::jobs::{machine, material};
use meltgauge::finding::Class;
use meltgauge::inspection::{Held, Inspected, inspect};
use std::path::PathBuf;
use std::sync::Arc;

pub fn corpus(folder: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("corpus")
        .join(folder)
}

/// A conforming job's own line about its sheets: `; inspect: material=PLA machine=open-lined`.
pub fn sheets_of(job: &[u8]) -> Held {
    let text = String::from_utf8_lossy(job);
    let line = text
        .lines()
        .find_map(|line| line.trim().strip_prefix("; inspect:"))
        .expect("a line that names the sheets");
    let mut held = Held::default();
    for word in line.split_whitespace() {
        match word.split_once('=').expect("word=value") {
            ("material", value) => {
                held.materials = value
                    .split(',')
                    .map(|each| {
                        let name = each.split_once('=').map_or(each, |(_, name)| name);
                        Some(Arc::new(material(name, &[])))
                    })
                    .collect();
            }
            ("machine", value) => held.machine = Some(Arc::new(machine(value, &[]))),
            (other, _) => panic!("unknown word {other}"),
        }
    }
    held
}

fn conforming() -> Vec<(String, Inspected)> {
    let mut jobs: Vec<PathBuf> = std::fs::read_dir(corpus("conforming"))
        .expect("the conforming corpus")
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|end| end == "gcode"))
        .collect();
    jobs.sort();
    assert!(jobs.len() >= 10, "{} jobs", jobs.len());
    jobs.into_iter()
        .map(|path| {
            let job = std::fs::read(&path).unwrap();
            let name = path.file_stem().unwrap().to_string_lossy().into_owned();
            (name, inspect(&job, sheets_of(&job)))
        })
        .collect()
}

#[test]
fn conforming_jobs_give_no_more_than_observations() {
    let mut cried = String::new();
    for (name, inspected) in conforming() {
        for finding in &inspected.findings {
            if finding.class > Class::Observation {
                let line = finding
                    .extent
                    .first
                    .as_ref()
                    .map_or(0, |first| first.place.line);
                cried += &format!(
                    "{name}: {} {} at line {line}: {}\n",
                    finding.class.word(),
                    finding.requirement,
                    finding.message
                );
            }
        }
    }
    assert!(cried.is_empty(), "{cried}");
}
