//! Every rework's page: its headings, and its jobs with what they become.

use crate::jobs::Notes;
use meltgauge::finding::Class;
use meltgauge::inspection::Held;
use meltgauge::rework::{Done, First, REWORKS, Wanted, rework_bytes};
use meltgauge::text::{Feed, Slice};

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
            let wanted = Wanted {
                only,
                repair: rework.is_repair,
            };
            let (first, result) = rework_bytes(text.as_bytes(), &held, &wanted);
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
            is_briefly_the_same(text.as_bytes(), &held, &wanted, (&first, &done));
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

/// A brief second round, where it is enough, finds what a full one does; says whether it was.
pub fn is_briefly_the_same(
    job: &[u8],
    held: &Held,
    wanted: &Wanted,
    (first, done): (&First, &Done),
) -> bool {
    let mut becomes = first.spliced(Slice(job), |_| true);
    let mut second = first.second(&first.held_again(held), wanted, true);
    while becomes.next(second.buffer()).unwrap() {
        second.go_on();
    }
    let brief = Done::new(becomes.finish(), second);
    let is_enough = brief.is_as_long(first);
    if is_enough {
        assert_eq!(brief.inspected.findings, done.inspected.findings);
        let [brief, full] = [&brief, done].map(|done| done.prove(first, Class::Major));
        assert_eq!(brief, full);
    }
    is_enough
}

/// Dwells for a chamber that only its bed warms: the project's chamber cases W6 to W10 (computed from
/// C dT/dt = min(hA (T_bed - T), P) - UA (T - T_amb)).
#[test]
fn dwells_are_as_long_as_the_chamber_needs() {
    for (case, conductance, bed, walls, ambient, rated, need, expected) in [
        ("W6", 1.225, 100, 4.86, 22, None, 36, Some(2776.09)),
        ("W7", 2.450, 100, 4.86, 22, None, 45, Some(2203.65)),
        ("W8", 2.450, 100, 4.86, 22, None, 60, None),
        ("W9", 2.450, 110, 2.43, 25, None, 60, Some(2673.24)),
        ("W10", 2.940, 110, 2.43, 25, Some(180), 55, Some(1663.55)),
    ] {
        let material = [
            "chamber.required = true".to_owned(),
            format!("chamber.print = [\"{need} °C\", \"80 °C\"]"),
        ];
        let machine = [
            format!("bed.conductance = \"{conductance} W/K\""),
            format!("bed.power = \"{} W\"", rated.unwrap_or(5000)),
            format!("chamber.wall_conductance = \"{walls} W/K\""),
            "chamber.contents = \"7603.417 J/K\"".to_owned(),
            "chamber.limit = \"90 °C\"".to_owned(),
            "chamber.has_sensor = false".to_owned(),
            format!("ambient = \"{ambient} °C\""),
        ];
        let held = meltgauge::inspection::Held {
            materials: vec![Some(std::sync::Arc::new(crate::jobs::material(
                "ABS", &material,
            )))],
            machine: Some(std::sync::Arc::new(crate::jobs::machine(
                "closed-hardened",
                &machine,
            ))),
            ..meltgauge::inspection::Held::default()
        };
        let job = format!(
            "G28\nM190 S{bed}\nM109 S240\nM83\nG1 X50 Y50 Z0.2 F1200\nG1 X60 Y50 E2\nG1 X60 Y60 E2\nM104 S0\nM140 S0\n"
        );
        let wanted = Wanted {
            only: vec!["chamber-warm-up".to_owned()],
            repair: false,
        };
        let (first, result) = rework_bytes(job.as_bytes(), &held, &wanted);
        let Some(expected) = expected else {
            assert!(result.is_none(), "{case}");
            let refusals = &first.mended.proposals.refusals;
            assert!(
                refusals
                    .iter()
                    .any(|refusal| refusal.reason.contains("never")),
                "{case}: {refusals:?}"
            );
            continue;
        };
        let (bytes, done) =
            result.unwrap_or_else(|| panic!("{case}: {:?}", first.mended.proposals));
        let dwelt: f64 = String::from_utf8(bytes)
            .unwrap()
            .lines()
            .filter_map(|line| line.strip_prefix("G4 P"))
            .map(|milliseconds| milliseconds.parse::<f64>().unwrap() / 1000.0)
            .sum();
        assert!(
            (expected..=expected + 10.0).contains(&dwelt),
            "{case}: {dwelt} s against {expected} s"
        );
        done.prove(&first, Class::Major)
            .unwrap_or_else(|unproven| panic!("{case}: {}", unproven.0));
    }
}
