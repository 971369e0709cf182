//! Walls and infill from motion alone: jobs whose makers say what they are, with comments and without.

use crate::corpus::sheets_of;
use meltgauge::inspection::{Held, inspect};
use meltgauge::survey::WallFigures;

/// What a job's motion shows of walls.
pub fn figures(job: &[u8]) -> WallFigures {
    let names_sheets = job.windows(8).any(|word| word == b"inspect:");
    let held = Held {
        walls: true,
        ..if names_sheets {
            sheets_of(job)
        } else {
            Held::default()
        }
    };
    let inspected = inspect(job, held);
    assert_eq!(inspected.no_job, None);
    inspected.survey.walls.expect("walls were asked for")
}

/// The job without any comment, but for the line that names its sheets.
pub fn stripped(job: &[u8]) -> Vec<u8> {
    let mut bare = Vec::new();
    for line in job.split_inclusive(|byte| *byte == b'\n') {
        let names_sheets = line.windows(8).any(|word| word == b"inspect:");
        let end = line.iter().position(|byte| matches!(byte, b';' | b'('));
        match end {
            Some(end) if !names_sheets => {
                bare.extend_from_slice(&line[..end]);
                bare.push(b'\n');
            }
            _ => bare.extend_from_slice(line),
        }
    }
    bare
}

fn conforming() -> Vec<(String, Vec<u8>)> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/corpus/conforming");
    let mut jobs: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|end| end == "gcode"))
        .map(|path| {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            (name, std::fs::read(path).unwrap())
        })
        .collect();
    jobs.sort();
    assert!(jobs.len() >= 19);
    jobs
}

#[test]
fn the_demo_job_is_what_its_comments_say() {
    // `walls: 2, infill: 25 %`
    let job = std::fs::read(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/corpus/demo/bracket.gcode"
    ))
    .unwrap();
    let told = figures(&job);
    let walls = told.walls.unwrap();
    assert_eq!((walls.usual, walls.least, walls.most), (2, 2, 2));
    assert!((told.infill.unwrap() - 0.25).abs() < 0.02);
    assert_eq!(told.solid_layers, Ok([3, 3]));
    assert!((told.wall_bead.unwrap() - 0.45).abs() < 0.009);
    assert_eq!(told.regions.len(), 1);
}

#[test]
fn comments_make_no_difference() {
    for (name, job) in conforming() {
        if name.contains("fenced") {
            // Its comments are in brackets, amid words.
            continue;
        }
        let (with, without) = (figures(&job), figures(&stripped(&job)));
        assert_eq!(
            with.walls.map(|w| (w.usual, w.least, w.most)),
            without.walls.map(|w| (w.usual, w.least, w.most)),
            "{name}"
        );
        assert_eq!(with.infill, without.infill, "{name}");
        assert_eq!(with.solid_layers, without.solid_layers, "{name}");
        assert_eq!(with.regions.len(), without.regions.len(), "{name}");
    }
}

#[test]
fn made_jobs_have_the_walls_they_were_made_with() {
    let usual: Vec<(String, Option<u32>)> = conforming()
        .into_iter()
        .map(|(name, job)| (name, figures(&job).walls.ok().map(|walls| walls.usual)))
        .collect();
    let known = |wanted: &str| {
        usual
            .iter()
            .find(|(name, _)| name.contains(wanted))
            .unwrap()
            .1
    };
    // `an octagon cup. Walls: two. The infill is nothing at all, it is a cup.`
    assert_eq!(known("octagon-cup"), Some(2));
    assert_eq!(known("continuous-spiral"), Some(1));
    assert_eq!(known("one-after-another"), Some(2));
    assert_eq!(known("pa12-arcs"), Some(3));
    assert_eq!(known("no-comments"), Some(3));
    assert_eq!(known("pp-inches"), Some(2));
}

#[test]
fn nothing_is_told_where_nothing_was_asked() {
    let job = &conforming()[0].1;
    assert_eq!(inspect(job, sheets_of(job)).survey.walls, None);
}
