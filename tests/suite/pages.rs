//! Every requirement's page: its headings, and the jobs in it with what they should give.

use crate::jobs::{Notes, inspect_noted, stated};
use meltgauge::inspection::{REGISTER, Requirement, page};

fn statements(requirement: &Requirement, job: &str) -> Vec<String> {
    let inspected = inspect_noted(job);
    assert_eq!(inspected.no_job, None, "{}: {job}", requirement.id);
    inspected
        .findings
        .iter()
        .filter(|finding| finding.requirement == requirement.id)
        .map(stated)
        .collect()
}

#[test]
fn every_page_has_its_headings_in_order() {
    for requirement in REGISTER {
        let headings: Vec<&str> = requirement
            .page
            .lines()
            .filter_map(|line| line.strip_prefix("## "))
            .collect();
        assert_eq!(headings, page::HEADINGS, "{}", requirement.id);
        assert!(
            requirement
                .page
                .starts_with(&format!("# {}\n", requirement.id)),
            "{}: the page is headed by another name",
            requirement.id
        );
        for heading in page::HEADINGS {
            let text = page::section(requirement.page, heading)
                .unwrap_or_default()
                .trim();
            assert!(
                !text.is_empty(),
                "{}: nothing under {heading}",
                requirement.id
            );
        }
        for heading in ["Nonconforming", "Conforming"] {
            assert!(
                page::jobs(requirement.page, heading).next().is_some(),
                "{}: no job under {heading}",
                requirement.id
            );
        }
    }
}

#[test]
fn nonconforming_jobs_give_what_they_say() {
    let mut wrong = String::new();
    for requirement in REGISTER {
        for job in page::jobs(requirement.page, "Nonconforming") {
            let expected = Notes::read(job).expect;
            assert!(
                !expected.is_empty(),
                "{}: a job expects nothing",
                requirement.id
            );
            let found = statements(requirement, job);
            if found != expected {
                wrong += &format!(
                    "{}: expected {expected:?}, found {found:?}\n{job}\n",
                    requirement.id
                );
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn conforming_jobs_give_nothing() {
    let mut wrong = String::new();
    for requirement in REGISTER {
        for job in page::jobs(requirement.page, "Conforming") {
            let found = statements(requirement, job);
            if !found.is_empty() {
                wrong += &format!("{}: {found:?}\n{job}\n", requirement.id);
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

/// Each limit moved by one unit: the finding must go away.
#[test]
fn limits_moved_by_one_unit_flip_the_finding() {
    let mut moved = 0;
    for requirement in REGISTER {
        for job in page::jobs(requirement.page, "Nonconforming") {
            for (what, from, to) in Notes::read(job).moves {
                let edited: String = job
                    .lines()
                    .map(|line| {
                        let note = line.trim_start().strip_prefix(";!").map(str::trim);
                        let is_wanted = match (what.as_str(), note) {
                            ("job", None) => true,
                            (what, Some(note)) => note.starts_with(what),
                            _ => false,
                        };
                        if is_wanted {
                            line.replace(&from, &to) + "\n"
                        } else {
                            format!("{line}\n")
                        }
                    })
                    .collect();
                assert_ne!(edited, job, "{}: nothing to move: {from}", requirement.id);
                let found = statements(requirement, &edited);
                assert!(
                    found.is_empty(),
                    "{}: {from} moved to {to} still gives {found:?}",
                    requirement.id
                );
                moved += 1;
            }
        }
    }
    assert!(moved > 0);
}
