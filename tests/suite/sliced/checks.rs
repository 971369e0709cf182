//! The generator's own checks: its truth holds against its text, read anew, and against plain geometry.

use super::plane::distance;
use super::*;
use meltgauge::command::hint::{self, Hint, Key, PathKind};
use std::collections::BTreeMap;

fn object(shape: Shape, height: f64) -> Object {
    Object {
        shape,
        at: [110.0, 110.0],
        height,
    }
}

fn table(supported: bool) -> Object {
    let shape = Shape::Table {
        x: 40.0,
        y: 15.0,
        leg: 10.0,
        under: 4.0,
        supported,
    };
    object(shape, 6.0)
}

/// Every shape and every turn of the description at least once.
fn all() -> Vec<(&'static str, Job)> {
    let cube = object(Shape::Box { x: 20.0, y: 30.0 }, 4.0);
    let frame = Shape::HollowBox {
        x: 30.0,
        y: 24.0,
        thickness: 7.0,
    };
    let disc = object(Shape::Cylinder { radius: 12.0 }, 4.0);
    let holes = vec![([-10.0, 0.0], 3.0), ([10.0, 4.0], 4.0)];
    let plate = Shape::Plate {
        x: 44.0,
        y: 26.0,
        holes,
    };
    let fin = |thickness: f64| {
        object(
            Shape::Fin {
                length: 30.0,
                thickness,
            },
            4.0,
        )
    };
    let mut beside = disc.clone();
    beside.at = [170.0, 110.0];
    let two = [cube.clone(), beside];
    let plain = Job::of(std::slice::from_ref(&cube));
    let mut jobs = vec![
        (
            "frame",
            Job {
                walls: 3,
                ..Job::of(&[object(frame, 4.0)])
            },
        ),
        (
            "plate",
            Job {
                arcs: true,
                seam_gap: 0.2,
                ..Job::of(&[object(plate, 4.0)])
            },
        ),
        (
            "disc",
            Job {
                relative_e: false,
                wipe: 2.0,
                ..Job::of(std::slice::from_ref(&disc))
            },
        ),
        (
            "disc of arcs",
            Job {
                arcs: true,
                ..Job::of(&[disc])
            },
        ),
        (
            "fin, shared",
            Job {
                walls: 3,
                ..Job::of(&[fin(1.3)])
            },
        ),
        (
            "fin, gap",
            Job {
                walls: 1,
                ..Job::of(&[fin(1.1)])
            },
        ),
        (
            "fin, gap",
            Job {
                walls: 1,
                ..Job::of(&[fin(1.3)])
            },
        ),
        (
            "fin, whole",
            Job {
                walls: 3,
                ..Job::of(&[fin(0.9)])
            },
        ),
        ("two", Job::of(&two)),
        (
            "two in turn",
            Job {
                one_after_another: true,
                ..Job::of(&two)
            },
        ),
        (
            "spiral",
            Job::of(&[object(Shape::Spiral { radius: 15.0 }, 5.0)]),
        ),
        ("bridge", Job::of(&[table(false)])),
        ("support", Job::of(&[table(true)])),
        (
            "tower",
            Job {
                tower: Some([170.0, 150.0]),
                ..plain.clone()
            },
        ),
        (
            "raft",
            Job {
                raft: 3,
                skirt: 2,
                ..plain.clone()
            },
        ),
        (
            "brim",
            Job {
                brim: 4,
                skirt: 0,
                purge: false,
                ..plain.clone()
            },
        ),
        (
            "ramp",
            Job {
                ramp: 8.0,
                first_layer: 0.3,
                ..plain.clone()
            },
        ),
        (
            "sway",
            Job {
                sway: 0.15,
                walls: 4,
                wall_widths: vec![0.4, 0.5],
                ..plain.clone()
            },
        ),
        (
            "every second",
            Job {
                infill_every: 2,
                overlap: 0.4,
                ..plain.clone()
            },
        ),
        (
            "rectangles",
            Job {
                bead: Bead::Rectangle,
                filament: 2.85,
                ..plain.clone()
            },
        ),
    ];
    for walls in 1..=6 {
        jobs.push((
            "walls",
            Job {
                walls,
                ..plain.clone()
            },
        ));
    }
    for pattern in PATTERNS {
        for infill in [0.0, 10.0, 35.0, 60.0] {
            for joined in [true, false] {
                jobs.push((
                    "pattern",
                    Job {
                        pattern,
                        infill,
                        joined,
                        ..plain.clone()
                    },
                ));
            }
        }
    }
    for comments in [Comments::On, Comments::WrongSettings, Comments::WrongPaths] {
        jobs.push((
            "comments",
            Job {
                comments,
                wipe: 1.0,
                ..plain.clone()
            },
        ));
    }
    jobs
}

/// The text read anew, without the truth: for each line that lays deposit where it ends and how much it
/// lays, mm³. All that is drawn back has to be pushed forward again before anything is laid.
fn read(text: &str, filament: f64) -> Vec<(usize, Point, f64)> {
    let mut found = Vec::new();
    let mut drawn_back = 0.0;
    let (mut at, mut e, mut relative) = ([f64::NAN; 2], 0.0, false);
    for (number, line) in text.lines().enumerate() {
        let words: BTreeMap<char, f64> = line
            .split(';')
            .next()
            .unwrap()
            .split_whitespace()
            .map(|word| (word.chars().next().unwrap(), word[1..].parse().unwrap()))
            .collect();
        relative = match words.get(&'M').map(|code| *code as u32) {
            Some(83) => true,
            Some(82) => false,
            _ => relative,
        };
        let Some(code) = words.get(&'G').map(|code| *code as u32) else {
            continue;
        };
        let before = at;
        for (axis, letter) in ['X', 'Y'].into_iter().enumerate() {
            at[axis] = *words.get(&letter).unwrap_or(&at[axis]);
        }
        let Some(word) = words.get(&'E') else {
            continue;
        };
        let pushed = if relative { *word } else { *word - e };
        e = *word;
        if code == 92 {
            continue;
        }
        if pushed < 0.0 || before == at {
            drawn_back -= pushed;
            assert!(
                (-1e-4..0.8001).contains(&drawn_back),
                "{drawn_back}: {line}"
            );
        } else {
            assert!(f64::abs(drawn_back) < 1e-4, "{drawn_back}: {line}");
            drawn_back = 0.0;
            let section = std::f64::consts::PI * filament * filament / 4.0;
            found.push((number + 1, at, pushed * section));
        }
    }
    found
}

#[test]
fn the_truth_is_what_the_text_says() {
    for (name, job) in all() {
        let sliced = job.slice();
        let found = read(&sliced.text, job.filament);
        assert_eq!(found.len(), sliced.lines.len(), "{name}");
        for ((number, to, volume), line) in found.iter().zip(&sliced.lines) {
            assert_eq!((*number, *to), (line.number, line.to), "{name}");
            // Five decimals of E, on two words where E is absolute.
            let fine = 1.1e-5 * job.filament * job.filament;
            assert!(
                (volume - line.volume).abs() < fine,
                "{name}: {volume} {line:?}"
            );
            assert!(
                line.height > 0.0 && line.width >= line.height * 0.5,
                "{name}: {line:?}"
            );
        }
        let classes: f64 = [true, false]
            .map(|part| sliced.volume(|class| class.is_part() == part))
            .iter()
            .sum();
        let whole: f64 = found.iter().map(|(_, _, volume)| volume).sum();
        assert!(
            (classes / whole - 1.0).abs() < 1e-3,
            "{name}: {classes} {whole}"
        );
        let infill: f64 = sliced
            .stacks
            .iter()
            .filter_map(|stack| stack.sparse)
            .map(|sparse| sparse.deposit)
            .sum();
        let lines = sliced.volume(|class| class == Class::SparseInfill);
        assert!((infill - lines).abs() < 1e-6, "{name}: {infill} {lines}");
    }
}

#[test]
fn a_solid_box_is_full() {
    for (bead, first_layer) in [(Bead::Rounded, 0.2), (Bead::Rectangle, 0.3)] {
        for walls in 1..=6 {
            let job = Job {
                walls,
                bead,
                first_layer,
                bottom: 100,
                angle: 0.0,
                overlap: 0.5,
                joined: false,
                ..Job::of(&[object(Shape::Box { x: 20.0, y: 30.0 }, 4.0)])
            };
            let sliced = job.slice();
            let laid = sliced.volume(Class::is_part);
            // Outermost beads are round: their outline is as full as a plain face that lies half of
            // what a rounded bead lacks further in.
            let mut full = 0.0;
            for layer in 0..20 {
                let height = job.height_of(layer);
                let lacks = (job.width - bead.area(job.width, height) / height) / 2.0;
                full += sliced.stacks[0].outline.inset(lacks).unwrap().area() * height;
            }
            assert_eq!(sliced.stacks[0].solid, [20, 20]);
            let top = sliced.stacks[0].z[1];
            assert!((full / (600.0 * top) - 1.0).abs() < 0.01, "{full}");
            assert!(
                (laid / full - 1.0).abs() < 1e-3,
                "{walls} {bead:?}: {laid} of {full}"
            );
            assert!(sliced.stacks[0].sparse.is_none() && sliced.infill_percent().is_none());
        }
    }
}

#[test]
fn walls_are_closed_loops_or_stop_at_their_seam() {
    for (name, job) in all() {
        let sliced = job.slice();
        let mut loops = 0;
        let walls = [Class::OuterWall, Class::Skirt, Class::Brim];
        for path in sliced.lines.chunk_by(|one, other| one.path == other.path) {
            for pair in path.windows(2) {
                assert_eq!(pair[0].to, pair[1].from, "{name}");
            }
            if !walls.contains(&path[0].class) || name == "spiral" || name == "ramp" {
                continue;
            }
            let apart = distance(path[0].from, path[path.len() - 1].to);
            let is_wall = path[0].class == Class::OuterWall;
            let gap = if is_wall { job.seam_gap } else { 0.0 };
            assert!((apart - gap).abs() < 0.005, "{name}: {apart}");
            loops += 1;
        }
        assert!(loops > 0 || name == "spiral" || name == "ramp", "{name}");
    }
}

#[test]
fn no_bead_leaves_the_outline() {
    for (name, job) in all() {
        let sliced = job.slice();
        let mut touching = 0;
        for line in sliced.lines.iter().filter(|line| line.class.is_part()) {
            let of_line = |stack: &&Stack| {
                let middle = line.z - 1e-3;
                Some(stack.object) == line.object && stack.z[0] <= middle && middle <= stack.z[1]
            };
            let points = match line.centre {
                None => vec![line.from, line.to, half_way(line.from, line.to)],
                Some(_) => vec![line.from, line.to],
            };
            let depth = points
                .iter()
                .map(|at| {
                    let stacks = sliced.stacks.iter().filter(of_line);
                    let depths = stacks.map(|stack| stack.outline.depth(*at));
                    depths.fold(f64::NEG_INFINITY, f64::max)
                })
                .fold(f64::INFINITY, f64::min);
            // A chord of a hole lies its sagitta nearer to it; places have three decimals.
            assert!(depth > line.width / 2.0 - 0.03, "{name}: {depth} {line:?}");
            touching += usize::from(depth < line.width / 2.0 + 0.01);
        }
        assert!(touching > 10, "{name}: the outline is nowhere reached");
    }
}

fn half_way(one: Point, other: Point) -> Point {
    [0, 1].map(|axis| f64::midpoint(one[axis], other[axis]))
}

/// Walls are counted along a straight cut from outside in, on one layer in the middle.
#[test]
fn a_cut_meets_as_many_walls_as_are_told() {
    let mut cut = 0;
    for (name, job) in all() {
        if ![
            "walls",
            "frame",
            "fin, shared",
            "fin, gap",
            "fin, whole",
            "sway",
        ]
        .contains(&name)
        {
            continue;
        }
        let sliced = job.slice();
        let stack = &sliced.stacks[0];
        let (centre, half) = (stack.outline.outer.centre(), stack.outline.outer.half());
        let z = job.top_of(10);
        let x = centre[0] + 0.37;
        let hits = |class: &[Class]| {
            sliced
                .lines
                .iter()
                .filter(|line| (line.z - z).abs() < 1e-6 && class.contains(&line.class))
                .filter(|line| (line.from[0] - x) * (line.to[0] - x) < 0.0)
                .filter(|line| {
                    let y = half_way(line.from, line.to)[1];
                    // The face's own beads: up to the middle of the box, or of the frame's side.
                    let thickness = stack.outline.thickness().unwrap();
                    y < centre[1] - half[1] + thickness / 2.0 + 1e-3
                })
                .count()
        };
        let walls = hits(&[Class::OuterWall, Class::InnerWall]);
        assert_eq!(walls, stack.walls as usize, "{name}");
        assert_eq!(
            hits(&[Class::GapBead]),
            usize::from(name == "fin, gap"),
            "{name}"
        );
        cut += 1;
    }
    assert_eq!(cut, 12);
}

/// Counted lines and joints make what is built differ a little from what was asked for.
#[test]
fn infill_is_about_what_was_asked_for() {
    for pattern in PATTERNS {
        for infill in [0.0, 10.0, 20.0, 40.0, 60.0] {
            for infill_every in [1, 2] {
                let job = Job {
                    pattern,
                    infill,
                    infill_every,
                    joined: false,
                    ..Job::of(&[object(Shape::Box { x: 60.0, y: 50.0 }, 5.0)])
                };
                let built = job.slice().infill_percent().unwrap();
                let fine = 0.5 + 0.05 * infill;
                assert!(
                    (built - infill).abs() <= fine,
                    "{pattern:?} {infill} every {infill_every}: {built}"
                );
            }
        }
    }
}

#[test]
fn comments_change_nothing_but_comments() {
    let job = |comments| Job {
        comments,
        wipe: 1.0,
        ..Job::of(&[table(true)])
    };
    let plain = job(Comments::Off).slice();
    assert!(!plain.text.contains(';'));
    let mut texts = vec![plain.text.clone()];
    for comments in [Comments::On, Comments::WrongSettings, Comments::WrongPaths] {
        let told = job(comments).slice();
        let stripped: String = told
            .text
            .split_inclusive('\n')
            .filter(|line| !line.starts_with(';'))
            .collect();
        assert_eq!(stripped, plain.text);
        for (one, other) in told.lines.iter().zip(&plain.lines) {
            assert_eq!((one.class, one.to), (other.class, other.to));
        }
        assert!(
            !texts.contains(&told.text),
            "{comments:?} tells nothing of its own"
        );
        texts.push(told.text);
    }
}

/// What the comments say, as this tool reads them.
#[test]
fn comments_are_ones_that_are_read() {
    let expected = |class| match class {
        Class::OuterWall => PathKind::OuterWall,
        Class::InnerWall => PathKind::InnerWall,
        Class::GapBead => PathKind::Gap,
        Class::SolidSkin => PathKind::SolidInfill,
        Class::SparseInfill => PathKind::Infill,
        Class::Bridge => PathKind::Bridge,
        Class::Support | Class::SupportInterface => PathKind::Support,
        Class::Raft => PathKind::Raft,
        Class::Skirt => PathKind::Skirt,
        Class::Brim => PathKind::Brim,
        Class::Tower => PathKind::Tower,
        Class::Purge => PathKind::Purge,
    };
    let mut seen = std::collections::BTreeSet::new();
    for (name, job) in all() {
        let commented = Job {
            comments: Comments::On,
            ..job
        };
        let sliced = commented.slice();
        let mut said = PathKind::Unsaid;
        let mut settings = Vec::new();
        let mut lines = sliced.lines.iter().peekable();
        for (number, line) in sliced.text.lines().enumerate() {
            if line.starts_with(';') {
                let mut told = 0;
                hint::read(line.as_bytes(), &mut |hint| {
                    told += 1;
                    match hint {
                        Hint::Path(kind) => said = kind,
                        Hint::Setting(key, value) => settings.push((key, value)),
                        Hint::Layer { number, z } => assert!(number.is_some() && z.is_some()),
                    }
                });
                assert_eq!(told, 1, "{line}");
            } else if let Some(line) = lines.next_if(|line| line.number == number + 1) {
                assert_eq!(said, expected(line.class), "{name}: {line:?}");
                seen.insert(line.class);
            }
        }
        assert!(settings.contains(&(Key::Walls, commented.walls.to_string())));
        assert!(settings.contains(&(Key::InfillPercent, commented.infill.to_string())));
    }
    assert_eq!(seen.len(), 13, "a class is never laid: {seen:?}");
}

#[test]
fn beads_over_air_are_told_where_nothing_is_below() {
    let air = |job: &Job, class| {
        let sliced = job.slice();
        let lines = sliced.lines.iter().filter(|line| line.class == class);
        lines.map(|line| line.in_air).sum::<f64>()
    };
    // 18 mm of plate between the legs: each line of the bridge spans them, the walls do twice a loop.
    let bridged = Job::of(&[table(false)]);
    let sliced = bridged.slice();
    let spans: Vec<&Line> = sliced
        .lines
        .iter()
        .filter(|line| line.class == Class::Bridge)
        .collect();
    assert!(spans.len() > 20);
    for span in spans {
        assert!((span.length - 20.0).abs() < 1e-3 && (span.in_air - 20.0).abs() < 1e-3);
    }
    assert!((air(&bridged, Class::OuterWall) - 40.0).abs() < 1e-3);
    // Support leaves a gap of 0.6 mm on either side.
    let supported = Job::of(&[table(true)]);
    assert_eq!(air(&supported, Class::Bridge), 0.0);
    assert!((air(&supported, Class::OuterWall) - 2.4).abs() < 1e-3);
    let cube = Job::of(&[object(Shape::Box { x: 20.0, y: 30.0 }, 4.0)]);
    for class in [Class::OuterWall, Class::SolidSkin, Class::SparseInfill] {
        assert_eq!(air(&cube, class), 0.0, "{class:?}");
    }
}

#[test]
fn stacks_and_layers_are_as_described() {
    let sliced = Job::of(&[table(true)]).slice();
    let told: Vec<([f64; 2], [usize; 2])> = sliced
        .stacks
        .iter()
        .map(|stack| (stack.z.map(|z| (z * 1e6).round() / 1e6), stack.solid))
        .collect();
    assert_eq!(told[0], ([0.0, 4.0], [3, 0]));
    assert_eq!(told[0], told[1]);
    assert_eq!(told[2], ([4.0, 6.0], [3, 3]));
    // Solid layers as they lie: heights on which the legs and the plate have skin.
    let mut heights: Vec<i64> = sliced
        .lines
        .iter()
        .filter(|line| line.class == Class::SolidSkin)
        .map(|line| (line.z / 0.2).round() as i64)
        .collect();
    heights.sort_unstable();
    heights.dedup();
    assert_eq!(heights, [1, 2, 3, 21, 22, 23, 28, 29, 30]);

    let spiral = Job::of(&[object(Shape::Spiral { radius: 15.0 }, 5.0)]).slice();
    let stack = &spiral.stacks[0];
    assert_eq!(
        (stack.walls, stack.solid, stack.sparse.is_none()),
        (1, [3, 0], true)
    );
    let rising: Vec<&Line> = spiral
        .lines
        .iter()
        .filter(|line| line.class == Class::OuterWall && line.z > 0.6001)
        .collect();
    assert!(rising.is_sorted_by(|one, other| one.z <= other.z));
    assert!((rising[rising.len() - 1].z - 5.0).abs() < 1e-6);
    // The wall of the cup: its bead's section along all turns, the first and the last half.
    let turns = 22.0;
    let round = std::f64::consts::TAU * (15.0 - 0.225);
    let expected = turns * round * Bead::Rounded.area(0.45, 0.2);
    let laid: f64 = rising.iter().map(|line| line.volume).sum();
    assert!((laid / expected - 1.0).abs() < 2e-3, "{laid} {expected}");

    let job = Job {
        raft: 3,
        ..Job::of(&[object(Shape::Box { x: 20.0, y: 30.0 }, 4.0)])
    };
    let raft = job.slice();
    assert!((raft.stacks[0].z[0] - 0.6).abs() < 1e-9);
    let lowest = raft.lines.iter().filter(|line| line.class.is_part());
    let lowest = lowest.map(|line| line.z).fold(f64::INFINITY, f64::min);
    assert!((lowest - 0.8).abs() < 1e-9);
}

#[test]
fn widths_are_those_asked_for() {
    let job = Job {
        walls: 3,
        wall_widths: vec![0.42, 0.5, 0.5],
        sway: 0.15,
        ..Job::of(&[object(Shape::Box { x: 20.0, y: 30.0 }, 4.0)])
    };
    let sliced = job.slice();
    assert!((sliced.width(Class::OuterWall).unwrap() - 0.42).abs() < 1e-9);
    assert!((sliced.width(Class::InnerWall).unwrap() - 0.5).abs() < 0.002);
    assert!((sliced.width(Class::SparseInfill).unwrap() - 0.45).abs() < 1e-9);
    let widest = sliced
        .lines
        .iter()
        .map(|line| line.width)
        .fold(0.0, f64::max);
    assert!((0.56..0.58).contains(&widest), "{widest}");
    // A ramped seam lays no more than a plain one, and ends on top of its beginning.
    let volume = |ramp| {
        let job = Job {
            ramp,
            ..Job::of(&[object(Shape::Box { x: 20.0, y: 30.0 }, 4.0)])
        };
        job.slice().volume(|class| class == Class::OuterWall)
    };
    assert!((volume(8.0) / volume(0.0) - 1.0).abs() < 1e-3);
}
