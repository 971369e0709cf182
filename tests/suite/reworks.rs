//! Every rework's page: its headings, and its jobs with what they become.

use crate::jobs::Notes;
use meltgauge::finding::Class;
use meltgauge::rework::{REWORKS, rework_bytes};

const HEADINGS: [&str; 4] = [
    "What it changes",
    "What it keeps",
    "Why it is safe",
    "When it refuses",
];

/// The fenced jobs of a page.
fn jobs(page: &str) -> Vec<&str> {
    page.split("```gcode\n")
        .skip(1)
        .filter_map(|rest| rest.split_once("```").map(|(job, _)| job))
        .collect()
}

fn without_notes(job: &str) -> String {
    job.lines()
        .filter(|line| !line.starts_with(";!"))
        .map(|line| format!("{line}\n"))
        .collect()
}

#[test]
fn every_page_has_its_headings_in_order() {
    for rework in REWORKS {
        let headings: Vec<&str> = rework
            .page
            .lines()
            .filter_map(|line| line.strip_prefix("## "))
            .collect();
        assert_eq!(headings, HEADINGS, "{}", rework.id);
        assert!(rework.page.starts_with(&format!("# {}\n", rework.id)));
        assert!(!jobs(rework.page).is_empty(), "{}", rework.id);
        for id in rework.answers {
            assert!(
                meltgauge::inspection::requirement(id).is_some(),
                "{} answers {id}, which is no requirement",
                rework.id
            );
        }
    }
    assert!(REWORKS.is_sorted_by_key(|rework| rework.id));
}

/// A job is followed by what it becomes, or says `;! refuses` with words of the reason.
#[test]
fn jobs_become_what_the_pages_say() {
    for rework in REWORKS {
        let all = jobs(rework.page);
        let mut rest = all.iter();
        let mut tried = 0;
        while let Some(job) = rest.next() {
            let notes = Notes::read(job);
            let only: Vec<String> = notes.rework.iter().cloned().collect();
            assert_eq!(only, [rework.id], "{}: {job}", rework.id);
            let held = notes.held();
            let text = without_notes(job);
            let (first, result) = rework_bytes(text.as_bytes(), &held, &only);
            tried += 1;
            if let Some(reason) = &notes.refuses {
                assert!(result.is_none(), "{}: {job}", rework.id);
                let refusals = &first.mended.proposals.refusals;
                assert!(
                    refusals
                        .iter()
                        .any(|refusal| refusal.reason.contains(reason.as_str())),
                    "{}: {refusals:?}\n{job}",
                    rework.id
                );
                continue;
            }
            let (bytes, done) = result.unwrap_or_else(|| panic!("{}: nothing\n{job}", rework.id));
            let becomes = rest.next().expect("what it becomes");
            assert_eq!(
                String::from_utf8(bytes).unwrap(),
                **becomes,
                "{}",
                rework.id
            );
            let proof = done
                .prove(&first, Class::Major)
                .unwrap_or_else(|unproven| panic!("{}: {}\n{job}", rework.id, unproven.0));
            assert!(proof.moves > 0);
            // Gone, and nothing new.
            let answered = |findings: &[meltgauge::finding::Finding]| {
                findings
                    .iter()
                    .filter(|finding| rework.answers.contains(&finding.requirement))
                    .count()
            };
            assert!(answered(&first.inspected.findings) > 0, "{}", rework.id);
            assert_eq!(answered(&done.inspected.findings), 0, "{}", rework.id);
        }
        assert!(tried > 0);
    }
}
