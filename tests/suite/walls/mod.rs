//! Walls and infill from motion alone: jobs whose makers say what they are, with comments and without.

mod blind;
mod hang;
mod names;
mod raft;
mod sliced_box;

use crate::corpus::sheets_of;
use meltgauge::inspection::{Held, inspect};
use meltgauge::physics::section::ACROSS_LAYERS;
use meltgauge::survey::WallFigures;
use sliced_box::{Box, Pattern};
use std::fmt::Write as _;

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

pub fn conforming() -> Vec<(String, Vec<u8>)> {
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
    let held = Held {
        walls: false,
        ..sheets_of(job)
    };
    assert_eq!(inspect(job, held).survey.walls, None);
}

/// Walls and solid layers exact, width within 2 %, infill within 2 points, with comments and without.
#[test]
fn sliced_boxes_are_what_they_were_sliced_as() {
    let mut wrong = String::new();
    let mut tried = 0;
    for walls in 1..=6 {
        for infill in [0.0, 0.1, 0.2, 0.4, 0.6] {
            for pattern in [
                Pattern::Lines,
                Pattern::Grid,
                Pattern::Triangles,
                Pattern::Concentric,
            ] {
                for (overlap, seam, comments) in
                    [(0.0, 0.0, true), (0.12, 0.0, false), (0.0, 0.3, false)]
                {
                    tried += 1;
                    let sliced = Box {
                        walls,
                        infill,
                        pattern,
                        overlap,
                        seam,
                        comments,
                        ..Box::default()
                    };
                    let (job, density) = sliced.sliced();
                    let told = figures(job.as_bytes());
                    let is_right = told.walls.as_ref().is_ok_and(|told| told.usual == walls)
                        && told
                            .infill
                            .as_ref()
                            .is_ok_and(|told| (told - density).abs() < 0.02)
                        && told.solid_layers == Ok([3, 3])
                        && told
                            .wall_bead
                            .as_ref()
                            .is_ok_and(|width| (width / sliced.width() - 1.0).abs() < 0.02);
                    if !is_right {
                        let _ = writeln!(
                            wrong,
                            "{walls} walls, {density:.3} {pattern:?}, overlap {overlap}, seam {seam}: {:?} {:?} {:?} {:?}",
                            told.walls, told.infill, told.solid_layers, told.wall_bead
                        );
                    }
                }
            }
        }
    }
    assert!(tried > 300 && wrong.is_empty(), "{tried} tried\n{wrong}");
}

/// What comments say against what motion shows, as shares of the volume they name: the numbers are
/// committed, and a change shows.
#[test]
fn classes_of_paths_against_what_comments_say() {
    let mut table = String::new();
    let mut jobs = conforming();
    let sliced = Box::default().sliced().0.into_bytes();
    jobs.push(("a sliced box".to_owned(), sliced));
    for (name, job) in jobs {
        let told = figures(&job);
        let Some(agreement) = told.agreement() else {
            continue;
        };
        let _ = writeln!(table, "{name}: {:.1} % agree", agreement * 100.0);
        let all: f64 = told.confusion.values().map(|shown| shown.volume).sum();
        for ((said, class), shown) in &told.confusion {
            if class.agrees(*said) == Some(false) && shown.volume / all > 0.001 {
                let share = shown.volume / all * 100.0;
                let _ = writeln!(table, "    said {said:?}, shows {class:?}: {share:.1} %");
            }
        }
    }
    insta::assert_snapshot!(table);
}

/// Walls of 0.45 mm around 20 mm by 10 mm, loaded across the layers, against a solid: the table of
/// walled sections of the handbook's formulas (`outside/section.rs`), I over b·h³/12 and areas.
#[test]
fn hollow_posts_are_as_stiff_as_the_handbook_has_them() {
    let solid = [200.0, 5000.0 / 3.0, 20_000.0 / 3.0];
    for (walls, area, flat, upright) in [
        (1, 26.19, 467.233, 1382.70),
        (2, 50.76, 830.425, 2547.15),
        (3, 73.71, 1105.83, 3516.89),
        (4, 95.04, 1308.40, 4314.16),
    ] {
        let post = Box {
            size: [20.0, 10.0, 12.0],
            walls,
            infill: 0.0,
            skins: [0, 0],
            ..Box::default()
        };
        let held = Held {
            sections: true,
            ..Held::default()
        };
        let told = inspect(post.sliced().0.as_bytes(), held)
            .survey
            .walls
            .unwrap();
        let carried = told.carried.unwrap()[2].clone().unwrap();
        let shares = [
            carried.of_solid.tension,
            carried.of_solid.bending[0],
            carried.of_solid.bending[1],
        ];
        for ((share, own), whole) in shares.iter().zip([area, flat, upright]).zip(solid) {
            let expected = own / whole * ACROSS_LAYERS;
            for share in share {
                assert!(
                    (share / expected - 1.0).abs() < 0.01,
                    "{walls}: {share} {expected}"
                );
            }
        }
    }
}

/// A long box loaded along itself: side walls and skins as flanges, a hollow rectangle.
#[test]
fn skins_are_flanges() {
    let beam = Box {
        size: [80.0, 20.0, 10.0],
        walls: 2,
        infill: 0.0,
        skins: [5, 5],
        ..Box::default()
    };
    let held = Held {
        sections: true,
        ..Held::default()
    };
    let told = inspect(beam.sliced().0.as_bytes(), held)
        .survey
        .walls
        .unwrap();
    let carried = told.carried.unwrap()[0].clone().unwrap();
    let hollow =
        |b: f64, h: f64, b1: f64, h1: f64| (b * h.powi(3) - b1 * h1.powi(3)) / (b * h.powi(3));
    // Walls of 0.9 mm and skins of 1 mm: 20 by 10 less 18.2 by 8.
    let flat = hollow(20.0, 10.0, 18.2, 8.0);
    let upright = hollow(10.0, 20.0, 8.0, 18.2);
    for (share, expected) in [
        (carried.of_solid.bending[0], flat),
        (carried.of_solid.bending[1], upright),
    ] {
        // The end walls are solid, 1.8 mm of 80.
        assert!(
            (share[0] / expected - 1.0).abs() < 0.03,
            "{share:?} {expected}"
        );
    }
}

/// Two walls and 20 %: another wall gives more than denser infill of the same mass (references: the
/// walled sections of `outside/section.rs`, perimeters first, then infill).
#[test]
fn one_more_wall_gives_more_than_denser_infill() {
    let post = Box {
        size: [20.0, 10.0, 20.0],
        walls: 2,
        ..Box::default()
    };
    let held = Held {
        sections: true,
        ..Held::default()
    };
    let told = inspect(post.sliced().0.as_bytes(), held)
        .survey
        .walls
        .unwrap();
    let carried = told.carried.unwrap()[2].clone().unwrap();
    let (wall, (denser, _)) = (carried.one_more_wall.unwrap(), carried.denser.unwrap());
    for (wall, denser) in wall.bending.iter().zip(denser.bending) {
        assert!(
            wall[0] > denser[0] && wall[1] > denser[1],
            "{wall:?} {denser:?}"
        );
    }
}

/// Lines that cross from layer to layer bear two ways; a grid whose strands stand on each other bears
/// across the layers too. Between walls 1.35 mm thick in a box 24 mm wide, 23 further walls of 0.45 mm fit.
#[test]
fn infill_bears_and_room_is_left() {
    for (pattern, ways) in [
        (Pattern::Lines, Some(2)),
        (Pattern::Grid, Some(3)),
        (Pattern::Triangles, Some(3)),
        (Pattern::Concentric, None),
    ] {
        let (job, _) = Box {
            pattern,
            ..Box::default()
        }
        .sliced();
        let told = figures(job.as_bytes());
        assert_eq!(told.bears.ok(), ways, "{pattern:?}");
        let room = told.room.unwrap();
        assert_eq!((room.least, room.usual), (23, 30), "{pattern:?}");
    }
}
