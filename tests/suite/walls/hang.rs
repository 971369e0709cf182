//! What hangs, what stands, what thins and which objects there are: against closed forms and against the
//! generator in `sliced`, which was written without sight of the survey.

use super::figures;
use crate::sliced::{Job, Object, PATTERNS, Pattern, Shape, Sliced};
use meltgauge::survey::WallFigures;

fn part(shape: Shape, height: f64) -> Object {
    Object {
        shape,
        at: [110.0, 110.0],
        height,
    }
}

fn told(job: &Job) -> (WallFigures, Sliced) {
    let sliced = job.slice();
    (figures(sliced.text.as_bytes()), sliced)
}

/// What the generator knows to lie over nothing: length in the air times the bead's section, mm³.
fn in_air(sliced: &Sliced, of: impl Fn(crate::sliced::Class) -> bool) -> f64 {
    let lines = sliced
        .lines
        .iter()
        .filter(|line| line.in_air > 0.0 && of(line.class));
    lines
        .map(|line| line.volume * line.in_air / line.length)
        .sum()
}

fn near(told: f64, made: f64, within: f64) -> bool {
    (told - made).abs() <= within
}

/// A cone leans by as much as its radius grows over its height: atan(4 / 8) and so on.
#[test]
fn a_cone_leans_by_its_angle() {
    for (low, high) in [
        (10.0, 10.0),
        (8.0, 10.0),
        (6.0, 10.0),
        (6.0, 16.0),
        (6.0, 20.0),
    ] {
        let cone = Job::of(&[part(Shape::Cone { low, high }, 8.2)]);
        let (told, sliced) = told(&cone);
        let overhang = told.overhang.unwrap();
        // 41 layers, the first with nothing below it.
        let angle = ((high - low) / 8.0_f64).atan().to_degrees();
        let text = format!("{low} to {high}: {overhang:?}, {angle}");
        // Rings of more sides than the one below lie up to 0.01 mm further out between corners.
        assert!(near(overhang.steepest, angle, 3.0), "{text}");
        let steep = if angle > 45.0 { 1.0 } else { 0.0 };
        assert!(near(overhang.beyond, steep, 0.02), "{text}");
        // Nothing lies over the edge of what is below until a layer steps out by half a bead, 48°.
        let made = in_air(&sliced, |_| true);
        let open = told.unsupported.unwrap() + told.bridged.unwrap();
        assert!(
            near(open, made, 0.02 * made + 0.05),
            "{text}: {open} {made}"
        );
        assert_eq!(made > 0.0, angle > 48.5, "{text}");
    }
}

/// Turned over it leans in, and nothing hangs.
#[test]
fn a_cone_that_narrows_leans_nowhere() {
    let (told, _) = told(&Job::of(&[part(
        Shape::Cone {
            low: 20.0,
            high: 6.0,
        },
        8.2,
    )]));
    let overhang = told.overhang.unwrap();
    assert!(
        overhang.steepest < 1.0 && overhang.beyond <= 0.0,
        "{overhang:?}"
    );
    assert_eq!((told.unsupported, told.bridged), (Ok(0.0), Ok(0.0)));
}

/// One side of four leans, by 60°: a share of the outline of y / (2 · (x + y)), the mean x being 21.9 mm.
#[test]
fn a_wedge_leans_on_one_side() {
    let slope = 60.0_f64.to_radians().tan();
    let wedge = Shape::Wedge {
        x: 15.0,
        y: 30.0,
        slope,
    };
    let (told, _) = told(&Job::of(&[part(wedge, 8.2)]));
    let overhang = told.overhang.unwrap();
    assert!(near(overhang.steepest, 60.0, 1.0), "{overhang:?}");
    let share = 30.0 / (2.0 * (15.0 + slope * 4.0 + 30.0));
    assert!(near(overhang.beyond, share, 0.02), "{overhang:?} {share}");
}

/// A mushroom's cap lies over nothing but its stem, and no end of it rests.
#[test]
fn a_mushroom_is_unsupported() {
    let (stem, cap) = (8.0, 16.0);
    let shape = Shape::Mushroom {
        stem,
        cap,
        under: 4.0,
    };
    let (told, sliced) = told(&Job::of(&[part(shape, 8.0)]));
    let overhang = told.overhang.clone().unwrap();
    assert!(
        overhang.steepest > 85.0 && near(overhang.at.z, 4.2, 0.01),
        "{overhang:?}"
    );
    let made = in_air(&sliced, |_| true);
    // The ring between them, a layer high, as the outer half of the outermost bead rounds it off.
    let ring = std::f64::consts::PI * (cap * cap - stem * stem) * 0.2;
    assert!(near(made, ring, 0.06 * ring), "{made} {ring}");
    let (open, bridged) = (told.unsupported.unwrap(), told.bridged.unwrap());
    assert!(
        near(open, made, 0.04 * made) && bridged < 0.02 * made,
        "{open} {bridged} {made}"
    );
    assert!(near(told.unsupported_at.unwrap().z, 4.2, 0.01));
}

/// A table that spans bridges, one on a support lies on it; neither is unsupported.
#[test]
fn a_table_bridges_or_is_supported() {
    let table = |supported| Shape::Table {
        x: 50.0,
        y: 30.0,
        leg: 14.0,
        under: 3.0,
        supported,
    };
    let (spans, sliced) = told(&Job::of(&[part(table(false), 6.0)]));
    let made = in_air(&sliced, |_| true);
    let (open, bridged) = (spans.unsupported.unwrap(), spans.bridged.unwrap());
    assert!(
        near(bridged, made, 0.04 * made) && open < 0.02 * made,
        "{open} {bridged} {made}"
    );
    let (rests, _) = told(&Job::of(&[part(table(true), 6.0)]));
    let (open, bridged) = (rests.unsupported.unwrap(), rests.bridged.unwrap());
    assert!(open + bridged < 0.02 * made, "{open} {bridged} {made}");
    // Its legs stand 50 mm by 30 mm, 6 mm high, and are one object with the plate.
    for told in [&spans.objects, &rests.objects] {
        assert_eq!(told.len(), 1);
        let [short, long] = told[0].base.clone().unwrap();
        assert!(
            near(short, 30.0, 0.1) && near(long, 50.0, 0.1),
            "{short} {long}"
        );
        assert_eq!(told[0].layers, 30);
    }
}

/// Upright parts lean nowhere and lie over nothing nowhere, whatever fills them.
#[test]
fn what_stands_upright_does_not_hang() {
    let shapes = [
        Shape::Box { x: 30.0, y: 40.0 },
        Shape::HollowBox {
            x: 50.0,
            y: 50.0,
            thickness: 13.0,
        },
        Shape::Plate {
            x: 50.0,
            y: 50.0,
            holes: vec![([-10.0, 0.0], 4.0), ([10.0, 0.0], 4.0)],
        },
        Shape::Cylinder { radius: 18.0 },
        Shape::Spiral { radius: 15.0 },
    ];
    for shape in shapes {
        for pattern in PATTERNS {
            for (walls, infill) in [(1, 10.0), (3, 30.0)] {
                let job = Job {
                    walls,
                    infill,
                    pattern,
                    seam_gap: 0.2,
                    ..Job::of(&[part(shape.clone(), 4.0)])
                };
                let (told, _) = told(&job);
                let text = format!("{shape:?}, {pattern:?}, {walls} walls");
                let overhang = told.overhang.unwrap();
                assert!(overhang.steepest < 5.0, "{text}: {overhang:?}");
                let over = (told.unsupported.unwrap(), told.bridged.unwrap());
                // Turns of concentric infill in a frame may be taken for walls, and skin spans between them.
                let is_framed = !matches!(shape, Shape::Box { .. } | Shape::Cylinder { .. });
                if pattern == Pattern::Concentric && is_framed {
                    eprintln!("{text} {over:?} of {}", told.objects[0].volume);
                    assert!(
                        over.0 + over.1 < 0.05 * told.objects[0].volume,
                        "{text}: {over:?}"
                    );
                } else {
                    assert_eq!(over, (0.0, 0.0), "{text}");
                }
            }
        }
    }
}

/// Height over the sides of the base: a pin of 4 mm and 60 mm height, a plate of 80 by 60 and 2.
#[test]
fn a_pin_is_slender_and_a_plate_is_not() {
    let (pin, _) = told(&Job {
        walls: 3,
        ..Job::of(&[part(Shape::Cylinder { radius: 2.0 }, 60.0)])
    });
    let [short, long] = pin.height_to_base.unwrap();
    assert!(
        near(short, 15.0, 0.3) && near(long, 15.0, 0.3),
        "{short} {long}"
    );
    let (plate, _) = told(&Job::of(&[part(Shape::Box { x: 80.0, y: 60.0 }, 2.0)]));
    let [short, long] = plate.height_to_base.unwrap();
    assert!(
        near(short, 2.0 / 60.0, 0.001) && near(long, 2.0 / 80.0, 0.001),
        "{short} {long}"
    );
    // A brim is no part of the base.
    let brimmed = Job {
        brim: 5,
        ..Job::of(&[part(Shape::Box { x: 80.0, y: 60.0 }, 2.0)])
    };
    assert!(near(
        told(&brimmed).0.height_to_base.unwrap()[0],
        short,
        0.001
    ));
}

/// Infill with a third of it more than 5 mm from the walls, infill that fades to two fifths, and even infill.
#[test]
fn infill_thins_inwards_or_upwards_or_nowhere() {
    let block = part(Shape::Box { x: 50.0, y: 50.0 }, 12.0);
    for pattern in [Pattern::Lines, Pattern::Grid, Pattern::Triangles] {
        for infill in [15.0, 30.0] {
            let even = Job {
                infill,
                pattern,
                ..Job::of(std::slice::from_ref(&block))
            };
            let text = format!("{pattern:?}, {infill} %");
            let (plain, _) = told(&even);
            let (inwards, upwards) = (plain.inwards.unwrap(), plain.upwards.unwrap());
            assert!(
                !inwards.differ() && !upwards.differ(),
                "{text}: {inwards:?} {upwards:?}"
            );
            assert!(
                near(inwards.thin / inwards.dense, 1.0, 0.15),
                "{text}: {inwards:?}"
            );
            let (cored, _) = told(&Job {
                core: Some((7.0, 1.0 / 3.0)),
                ..even.clone()
            });
            let (inwards, upwards) = (cored.inwards.unwrap(), cored.upwards.unwrap());
            assert!(
                inwards.differ() && !upwards.differ(),
                "{text}: {inwards:?} {upwards:?}"
            );
            assert!(
                near(inwards.thin / inwards.dense, 1.0 / 3.0, 0.1),
                "{text}: {inwards:?}"
            );
            let (faded, _) = told(&Job {
                fades: 0.4,
                ..even.clone()
            });
            let (inwards, upwards) = (faded.inwards.unwrap(), faded.upwards.unwrap());
            assert!(
                !inwards.differ() && upwards.differ(),
                "{text}: {inwards:?} {upwards:?}"
            );
        }
    }
}

/// Two boxes and a cylinder, together or one after another, each with its own place and size.
#[test]
fn objects_are_told_apart() {
    let at = |shape: Shape, at: [f64; 2], height: f64| Object { shape, at, height };
    let objects = [
        at(Shape::Box { x: 20.0, y: 30.0 }, [50.0, 60.0], 4.0),
        at(Shape::Cylinder { radius: 10.0 }, [110.0, 60.0], 6.0),
        at(Shape::Box { x: 30.0, y: 20.0 }, [60.0, 130.0], 5.0),
    ];
    for one_after_another in [false, true] {
        let job = Job {
            one_after_another,
            walls: 3,
            ..Job::of(&objects)
        };
        let (told, sliced) = told(&job);
        assert_eq!(told.objects.len(), 3);
        let mut found: Vec<_> = told.objects.iter().collect();
        found.sort_by(|one, other| one.bounds[0][0].total_cmp(&other.bounds[0][0]));
        for (found, number) in found.iter().zip([0, 2, 1]) {
            let made = &objects[number];
            let [[left, right], [front, back], [low, high]] = found.bounds;
            assert!(near(f64::midpoint(left, right), made.at[0], 0.05));
            assert!(near(f64::midpoint(front, back), made.at[1], 0.05));
            assert!(near(low, 0.0, 1e-9) && near(high, made.height, 1e-9));
            assert_eq!(found.layers, (made.height / 0.2).round() as u64);
            assert_eq!(found.walls.as_ref().unwrap().usual, 3);
            assert_eq!(found.solid_layers, Ok([3, 3]));
            let stack = sliced.stacks.iter().find(|stack| stack.object == number);
            let percent = stack.unwrap().sparse.unwrap().percent();
            assert!(near(found.infill.clone().unwrap() * 100.0, percent, 2.0));
            let lines = sliced
                .lines
                .iter()
                .filter(|line| line.object == Some(number));
            let volume: f64 = lines.clone().map(|line| line.volume).sum();
            assert!(near(found.volume / volume, 1.0, 0.001));
            let first = lines.map(|line| line.number as u64).min().unwrap();
            assert_eq!(found.lines[0], first);
        }
        let mut spans: Vec<_> = told.objects.iter().map(|object| object.lines).collect();
        spans.sort_unstable();
        let apart = spans.windows(2).all(|pair| pair[1][0] > pair[0][1]);
        assert_eq!(apart, one_after_another);
    }
}
