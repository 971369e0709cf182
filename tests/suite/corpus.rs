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
    let mut held = Held {
        walls: true,
        ..Held::default()
    };
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

/// Filament and layers as INDEX.md has them, computed by a script that shares no code with this tool.
#[test]
fn the_survey_agrees_with_figures_computed_apart() {
    let index = std::fs::read_to_string(corpus("conforming").join("INDEX.md")).unwrap();
    let inspected: std::collections::BTreeMap<String, Inspected> =
        conforming().into_iter().collect();
    let mut checked = 0;
    let mut wrong = String::new();
    for row in index
        .lines()
        .filter(|line| line.starts_with("| "))
        .take_while(|line| line.len() > 3)
    {
        let cells: Vec<&str> = row.split('|').map(str::trim).collect();
        let Some(name) = cells.get(1).and_then(|cell| cell.strip_suffix(".gcode")) else {
            continue;
        };
        let [_, _, _, _, _, filament, layers, ..] = cells.as_slice() else {
            continue;
        };
        let Some(job) = inspected.get(name) else {
            panic!("{name} is not in the corpus")
        };
        let expected: Vec<f64> = filament
            .split(',')
            .map(|each| each.rsplit(' ').next().unwrap().parse().unwrap())
            .collect();
        for (tool, expected) in expected.iter().enumerate() {
            let found = job.survey.filament_by_tool_mm[tool];
            if (found - expected).abs() > 0.001 {
                wrong += &format!("{name}: tool {tool}: {found} mm and not {expected} mm\n");
            }
        }
        // The script counts a raft as layers; the survey counts the part's.
        let raft = if name == "petg-large-raft" { 3 } else { 0 };
        let expected: u64 = layers.parse::<u64>().unwrap() - raft;
        if job.survey.layers != Ok(expected) {
            wrong += &format!(
                "{name}: {:?} layers and not {expected}\n",
                job.survey.layers
            );
        }
        checked += 1;
        if checked == inspected.len() {
            break;
        }
    }
    assert_eq!(
        checked,
        inspected.len(),
        "not every job stands in the table"
    );
    assert!(wrong.is_empty(), "{wrong}");
}

/// A line a finding, for every job of the corpus that is inspected: what changes here was meant to.
#[test]
fn the_findings_of_every_conforming_job() {
    let mut text = String::new();
    for (name, inspected) in conforming() {
        text += &format!("{name}: {} not held\n", inspected.not_held.len());
        for finding in &inspected.findings {
            text += &format!(
                "  {} {}\n",
                crate::jobs::stated(finding),
                finding.requirement
            );
        }
    }
    insta::assert_snapshot!("conforming", text);
}

/// The demo job of the README.
#[test]
fn the_findings_of_the_demo_job() {
    let job = std::fs::read(corpus("demo").join("bracket.gcode")).unwrap();
    let held = Held {
        materials: vec![Some(Arc::new(material("PA6-CF", &[])))],
        machine: Some(Arc::new(machine("open-lined", &[]))),
        ..Held::default()
    };
    let mut text = String::new();
    for finding in inspect(&job, held).findings {
        text += &format!(
            "{} {}: {}\n",
            crate::jobs::stated(&finding),
            finding.requirement,
            finding.message
        );
    }
    insta::assert_snapshot!("demo", text);
}
