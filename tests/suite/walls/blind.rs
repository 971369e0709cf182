//! The survey against the generator in `sliced`, which was written without sight of it.

use super::figures;
use crate::sliced::{Bead, Comments, Job, Object, PATTERNS, Pattern, Shape};
use meltgauge::command::hint::PathKind;
use meltgauge::survey::walls::Shown;
use meltgauge::survey::{PathClass, RegionFigures, WallFigures};
use std::collections::BTreeMap;
use std::fmt::Write as _;

fn shapes() -> [(&'static str, Shape); 5] {
    let (x, y) = (30.0, 40.0);
    let holes = vec![([-10.0, 0.0], 4.0), ([10.0, 0.0], 4.0)];
    [
        ("box", Shape::Box { x, y }),
        ("cylinder", Shape::Cylinder { radius: 18.0 }),
        (
            "frame 13 mm thick",
            Shape::HollowBox {
                x: 50.0,
                y: 50.0,
                thickness: 13.0,
            },
        ),
        (
            "plate with holes",
            Shape::Plate {
                x: 50.0,
                y: y + 10.0,
                holes,
            },
        ),
        (
            "frame 6 mm thick",
            Shape::HollowBox {
                x: 50.0,
                y: 50.0,
                thickness: 6.0,
            },
        ),
    ]
}

fn job(shape: &Shape, walls: u32, infill: f64, pattern: Pattern, comments: Comments) -> Job {
    let part = Object {
        shape: shape.clone(),
        at: [110.0, 110.0],
        height: 4.0,
    };
    Job {
        walls,
        infill,
        pattern,
        comments,
        ..Job::of(&[part])
    }
}

/// How many jobs of one shape came out right.
#[derive(Default)]
struct Score {
    jobs: usize,
    walls: usize,
    solid: usize,
    width: usize,
    infill: usize,
    worst: f64,
    wrong: String,
}

fn is_told(told: &WallFigures, walls: u32) -> bool {
    matches!(&told.walls, Ok(counted) if counted.usual == walls)
}

#[test]
fn walls_solid_layers_widths_and_infill_of_jobs_made_apart() {
    let mut table = String::new();
    for (name, shape) in shapes() {
        let mut score = Score::default();
        for walls in 1..=6 {
            for infill in [0.0, 15.0, 30.0, 45.0, 60.0] {
                for pattern in PATTERNS {
                    let sliced = job(&shape, walls, infill, pattern, Comments::Off).slice();
                    let told = figures(sliced.text.as_bytes());
                    score.jobs += 1;
                    let right = is_told(&told, walls);
                    score.walls += usize::from(right);
                    if !right {
                        let _ = write!(
                            score.wrong,
                            "\n    walls of {walls} walls, {infill} %, {pattern:?}"
                        );
                    }
                    let stack = &sliced.stacks[0];
                    let solid = stack.solid.map(|layers| layers as u64);
                    score.solid += usize::from(told.solid_layers == Ok(solid));
                    let width = sliced
                        .width(crate::sliced::Class::OuterWall)
                        .expect("walls");
                    let told_width = told.wall_bead.unwrap_or(0.0);
                    score.width += usize::from((told_width / width - 1.0).abs() < 0.02);
                    let off = match (&told.infill, sliced.infill_percent()) {
                        (Ok(told), Some(made)) => (100.0 * told - made).abs(),
                        (Err(_), None) => 0.0,
                        _ => f64::INFINITY,
                    };
                    score.infill += usize::from(off <= 2.0);
                    if off > 2.0 {
                        let _ = write!(
                            score.wrong,
                            "\n    infill of {walls} walls, {infill} %, {pattern:?}: {off:.1} off"
                        );
                    }
                    score.worst = score.worst.max(off);
                }
            }
        }
        let Score {
            jobs,
            walls,
            solid,
            width,
            infill,
            worst,
            wrong,
        } = score;
        let _ = writeln!(
            table,
            "{name}: of {jobs} jobs walls {walls}, solid layers {solid}, width within 2 % {width}, infill within \
             2 points {infill}, at worst {worst:.1} off{wrong}"
        );
        if matches!(name, "box" | "cylinder") {
            assert!(
                walls == jobs && solid == jobs && width == jobs && infill == jobs,
                "{table}"
            );
        }
    }
    insta::assert_snapshot!("made_apart", table);
}

/// Turns of infill behind one wall or two look much like walls: with wide beads and narrow ones, joined or not, as
/// arcs, and where the last turn ends anywhere before a hole.
#[test]
fn concentric_infill_behind_few_walls() {
    let mut table = String::new();
    let frame = |thickness: f64| Shape::HollowBox {
        x: 44.0,
        y: 50.0,
        thickness,
    };
    let mut shapes: Vec<_> = shapes().into_iter().take(4).collect();
    shapes.extend([
        ("frame 5 mm thick", frame(5.0)),
        ("frame 7 mm thick", frame(7.0)),
        ("frame 10 mm thick", frame(10.0)),
    ]);
    for (name, shape) in &shapes {
        let (mut jobs, mut right, mut near) = (0, 0, 0);
        let mut wrong = String::new();
        for walls in [1, 2] {
            for infill in [25.0, 40.0, 50.0, 64.0, 70.0] {
                let base = job(shape, walls, infill, Pattern::Concentric, Comments::Off);
                let wide = Job {
                    width: 0.6,
                    layer: 0.3,
                    first_layer: 0.3,
                    overlap: 0.1,
                    ..base.clone()
                };
                let apart = Job {
                    joined: false,
                    overlap: 0.4,
                    bead: Bead::Rectangle,
                    ..base.clone()
                };
                let narrow = Job {
                    width: 0.4,
                    layer: 0.15,
                    seam_gap: 0.3,
                    arcs: true,
                    ..base
                };
                for (how, job) in [("wide", wide), ("apart", apart), ("narrow", narrow)] {
                    let sliced = job.slice();
                    let told = figures(sliced.text.as_bytes());
                    let made = sliced.infill_percent().unwrap();
                    let off = told
                        .infill
                        .as_ref()
                        .map_or(f64::INFINITY, |told| (100.0 * told - made).abs());
                    jobs += 1;
                    right += usize::from(is_told(&told, walls));
                    near += usize::from(off <= 2.0);
                    if off > 2.0 || !is_told(&told, walls) {
                        let _ = write!(
                            wrong,
                            "\n    {walls} walls, {infill} %, {how}: {off:.1} off, {:?}",
                            told.walls.map(|walls| walls.usual)
                        );
                    }
                }
            }
        }
        let _ = writeln!(
            table,
            "{name}: of {jobs} jobs walls {right}, infill within 2 points {near}{wrong}"
        );
    }
    insta::assert_snapshot!("concentric_made_apart", table);
}

#[test]
fn classes_of_paths_of_jobs_made_apart() {
    let mut volumes: BTreeMap<PathKind, BTreeMap<String, f64>> = BTreeMap::new();
    for (_, shape) in shapes() {
        for pattern in PATTERNS {
            let bare = job(&shape, 3, 30.0, pattern, Comments::Off).slice();
            let commented = job(&shape, 3, 30.0, pattern, Comments::On).slice();
            let (told, said) = (
                figures(bare.text.as_bytes()),
                figures(commented.text.as_bytes()),
            );
            let count = |told: &WallFigures| told.walls.clone().map(|walls| walls.usual);
            assert_eq!(count(&told), count(&said));
            assert_eq!(told.infill, said.infill);
            for ((kind, class), shown) in &said.confusion {
                *volumes
                    .entry(*kind)
                    .or_default()
                    .entry(format!("{class:?}"))
                    .or_default() += shown.volume;
            }
        }
    }
    let mut table = String::new();
    for (kind, shown) in &volumes {
        let all: f64 = shown.values().sum();
        let _ = write!(table, "said {kind:?}, shows");
        for (class, volume) in shown {
            let _ = write!(table, " {class} {:.1} %", 100.0 * volume / all);
        }
        table.push('\n');
    }
    assert!(volumes.len() >= 4, "{table}");
    insta::assert_snapshot!("classes_made_apart", table);
}

/// A box on a raft and one beside a tower, and a table on a support and one that spans.
fn others() -> [(&'static str, Job); 5] {
    let part = |shape: Shape| Object {
        shape,
        at: [110.0, 110.0],
        height: 6.0,
    };
    let table = |supported| {
        Job::of(&[part(Shape::Table {
            x: 50.0,
            y: 30.0,
            leg: 14.0,
            under: 3.0,
            supported,
        })])
    };
    let block = Job::of(&[part(Shape::Box { x: 30.0, y: 40.0 })]);
    [
        (
            "on a raft",
            Job {
                raft: 3,
                ..block.clone()
            },
        ),
        (
            "beside a tower",
            Job {
                tower: Some([60.0, 60.0]),
                ..block.clone()
            },
        ),
        (
            "beside a tower without walls",
            Job {
                tower: Some([60.0, 60.0]),
                tower_walls: false,
                ..block
            },
        ),
        ("table on a support", table(true)),
        ("table that spans", table(false)),
    ]
}

/// What comments name, and what motion shows of it; the same figures with comments, without, and with
/// names exchanged.
#[test]
fn rafts_towers_and_supports_of_jobs_made_apart() {
    let mut table = String::new();
    for (name, job) in others() {
        let told = |comments| {
            let job = Job {
                comments,
                ..job.clone()
            };
            figures(job.slice().text.as_bytes())
        };
        let (bare, said, wrong) = (
            told(Comments::Off),
            told(Comments::On),
            told(Comments::WrongPaths),
        );
        for other in [&said, &wrong] {
            let count = |told: &WallFigures| told.walls.clone().map(|walls| walls.usual);
            assert_eq!(count(&bare), count(other), "{name}");
            assert_eq!(bare.infill, other.infill, "{name}");
            assert_eq!(bare.solid_layers, other.solid_layers, "{name}");
        }
        let (right, mixed) = (said.agreement().unwrap(), wrong.agreement().unwrap());
        assert!(mixed < 0.5 && mixed < right, "{name}: {mixed} {right}");
        let made = job.slice().infill_percent();
        let _ = writeln!(
            table,
            "{name}: {:.1} % agree; walls {:?}, infill {:.1} % of {:.1} %, {} regions",
            100.0 * right,
            bare.walls.as_ref().map(|walls| walls.usual).ok(),
            bare.infill.as_ref().map_or(f64::NAN, |share| 100.0 * share),
            made.unwrap_or(f64::NAN),
            bare.regions.len()
        );
        let mut volumes: BTreeMap<PathKind, f64> = BTreeMap::new();
        for ((kind, _), shown) in &said.confusion {
            *volumes.entry(*kind).or_default() += shown.volume;
        }
        for ((kind, class), shown) in &said.confusion {
            let share = 100.0 * shown.volume / volumes[kind];
            let _ = writeln!(table, "    said {kind:?}, shows {class:?}: {share:.1} %");
        }
    }
    insta::assert_snapshot!("others_made_apart", table);
}

fn shows(told: &WallFigures, classes: &[PathClass]) -> bool {
    told.confusion
        .iter()
        .any(|((_, class), shown)| classes.contains(class) && shown.volume > 0.0)
}

/// Nothing of a job is a tower or a raft that has none: not where one tool lays it, nor where two do and the
/// tower was taken out of it, nor in the corpus.
#[test]
fn no_part_becomes_a_tower_or_a_raft() {
    let none = [PathClass::Tower, PathClass::Raft];
    for (name, shape) in shapes() {
        for pattern in PATTERNS {
            for walls in [1, 3] {
                let one = job(&shape, walls, 20.0, pattern, Comments::Off);
                let told = figures(one.slice().text.as_bytes());
                assert!(!shows(&told, &none), "{name}, {pattern:?}, {walls} walls");
                let two = Job {
                    tower: Some([30.0, 30.0]),
                    ..one
                };
                let sliced = two.slice();
                let of_tower = |number: &usize| {
                    let line = sliced.lines.iter().find(|line| line.number == *number);
                    line.is_some_and(|line| line.class == crate::sliced::Class::Tower)
                };
                let kept = (1..).zip(sliced.text.lines());
                let kept: Vec<&str> = kept
                    .filter(|(number, _)| !of_tower(number))
                    .map(|(_, line)| line)
                    .collect();
                let told = figures(kept.join("\n").as_bytes());
                assert!(
                    !shows(&told, &none),
                    "two tools: {name}, {pattern:?}, {walls} walls"
                );
                assert_eq!(told.objects.len(), 1, "{name}");
            }
        }
    }
    for (name, job) in super::conforming() {
        let names = |word: &[u8]| job.windows(word.len()).any(|part| part == word);
        if !names(b"raft") && !names(b"tower") {
            assert!(!shows(&figures(&job), &none), "{name}");
        }
    }
}

/// Skins by what lies below them and on them, against the heights of the generator's stack.
#[test]
fn skins_of_jobs_made_apart() {
    let (_, shape) = &shapes()[0];
    let sliced = job(shape, 3, 30.0, Pattern::Grid, Comments::Off).slice();
    let shown = figures(sliced.text.as_bytes());
    let [low, high] = sliced.stacks[0].z;
    let made = |of: &dyn Fn(f64, f64) -> bool| -> f64 {
        let lines = sliced.lines.iter();
        lines
            .filter(|line| line.class == crate::sliced::Class::SolidSkin)
            .filter(|line| of(line.z - line.height - low, high - line.z))
            .map(|line| line.volume)
            .sum()
    };
    let volume = |class: PathClass| -> f64 {
        let of = |((_, is), shown): (&(PathKind, PathClass), &Shown)| {
            (*is == class).then_some(shown.volume)
        };
        shown.confusion.iter().filter_map(of).sum()
    };
    for (class, made) in [
        (PathClass::Bottom, made(&|below, _| below < 0.01)),
        (PathClass::Top, made(&|_, above| above < 0.01)),
        (
            PathClass::Inside,
            made(&|below, above| below > 0.01 && above > 0.01),
        ),
    ] {
        let shown = volume(class);
        assert!(
            (shown / made - 1.0).abs() < 0.01,
            "{class:?}: {shown} {made}"
        );
    }
}

/// A part's section is its own, whatever else is printed along with it, and in slices as thin as it is small.
#[test]
fn each_region_has_the_section_that_it_has_alone() {
    use meltgauge::inspection::{Held, inspect};
    let part = |x: f64, y: f64, at: [f64; 2]| Object {
        shape: Shape::Box { x, y },
        at,
        height: 5.0,
    };
    let regions = |parts: &[Object]| {
        let job = Job {
            skirt: 0,
            ..Job::of(parts)
        };
        let held = Held {
            sections: true,
            ..Held::default()
        };
        let told = inspect(job.slice().text.as_bytes(), held);
        told.survey.walls.unwrap().regions
    };
    let (large, small) = (
        part(70.0, 66.0, [80.0, 80.0]),
        part(9.0, 14.0, [150.0, 80.0]),
    );
    let both = regions(&[large.clone(), small.clone()]);
    assert_eq!(both.len(), 2);
    for (told, (alone, slice)) in both.iter().zip([(large, 2.0), (small, 0.25)]) {
        let alone = regions(&[alone]);
        for axis in 0..3 {
            let of = |region: &RegionFigures| region.carried.as_ref().unwrap()[axis].clone();
            let (told, alone) = (of(told).unwrap(), of(&alone[0]).unwrap());
            assert_eq!(told.of_solid, alone.of_solid);
            let slice = if axis == 2 { 0.2 } else { slice };
            assert!((told.slice / slice - 1.0).abs() < 1e-9, "{}", told.slice);
        }
    }
}

/// A tower that one tool lays looks like any part. What comments call a tower is told with what motion shows
/// instead, and where that begins.
#[test]
fn a_tower_of_one_tool_is_told_where_comments_name_it() {
    let (_, tower) = &others()[1];
    let commented = Job {
        comments: Comments::On,
        ..tower.clone()
    };
    let sliced = commented.slice();
    let changes = |line: &&str| !line.starts_with('T') && !line.starts_with("G92");
    // The lines stay where they are.
    let job: Vec<&str> = sliced
        .text
        .lines()
        .map(|line| if changes(&line) { line } else { "" })
        .collect();
    let told = figures(job.join("\n").as_bytes());
    assert!(!shows(&told, &[PathClass::Tower]));
    assert_eq!(told.objects.len(), 2);
    let of_tower = |line: &&crate::sliced::Line| line.class == crate::sliced::Class::Tower;
    let made: f64 = sliced.volume(|class| class == crate::sliced::Class::Tower);
    let first = sliced.lines.iter().find(of_tower).unwrap();
    let all = told.disagreements();
    let differ: Vec<_> = all
        .iter()
        .filter(|(said, ..)| *said == PathKind::Tower)
        .collect();
    let volume: f64 = differ.iter().map(|(.., shown)| shown.volume).sum();
    assert!((volume / made - 1.0).abs() < 1e-4, "{volume} {made}");
    let begins = differ.iter().map(|(.., shown)| shown.first);
    let begins = begins
        .min_by(|one, other| one.line.cmp(&other.line))
        .unwrap();
    assert_eq!(
        (begins.line, begins.z),
        (first.number as u64, first.z),
        "{differ:?}"
    );
    assert_eq!(all[0].0, PathKind::Tower, "{all:?}");
}
