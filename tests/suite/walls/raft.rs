//! Rafts are told by the air between them and the part; what merely steps in is none.

use super::{conforming, figures, stripped};
use meltgauge::survey::{PathClass, WallFigures};
use std::fmt::Write as _;

/// A layer: how high its nozzle is, how high its beads are, how wide, and the squares in it: middle along X, side.
struct Layer<'a> {
    z: f64,
    height: f64,
    width: f64,
    squares: &'a [(f64, f64)],
    said: &'a str,
}

/// Two walls and strands that fill each square.
fn write(layers: &[Layer<'_>]) -> String {
    let mut job = String::from("G28\nM83\nM109 S210\n");
    for (index, layer) in layers.iter().enumerate() {
        let bead = layer.width * layer.height / (1.75_f64.powi(2) * std::f64::consts::PI / 4.0);
        writeln!(job, "G1 Z{:.3} F600\n; --- {} ---", layer.z, layer.said).unwrap();
        for (middle, side) in layer.squares {
            for wall in [0.5, 1.5] {
                let half = side / 2.0 - wall * layer.width;
                let [left, right] = [middle - half, middle + half];
                let [low, high] = [100.0 - half, 100.0 + half];
                writeln!(job, "G1 X{left:.4} Y{low:.4} F9000").unwrap();
                for (x, y) in [(right, low), (right, high), (left, high), (left, low)] {
                    let e = 2.0 * half * bead;
                    writeln!(job, "G1 X{x:.4} Y{y:.4} E{e:.6} F1800").unwrap();
                }
            }
            let half = side / 2.0 - 2.0 * layer.width;
            let count = (2.0 * half / layer.width).round();
            for strand in 0..count as u32 {
                let aside = half * ((2.0 * f64::from(strand) + 1.0) / count - 1.0);
                let e = 2.0 * half * bead;
                let ends = [-half, half].map(|along| {
                    if index % 2 == 0 {
                        [middle + along, 100.0 + aside]
                    } else {
                        [middle + aside, 100.0 + along]
                    }
                });
                let [[fx, fy], [tx, ty]] = ends;
                writeln!(
                    job,
                    "G1 X{fx:.4} Y{fy:.4} F9000\nG1 X{tx:.4} Y{ty:.4} E{e:.6} F1800"
                )
                .unwrap();
            }
        }
    }
    job
}

/// So many layers of one square below, and ten above them, with so much air between.
fn stack(below: u32, air: f64, above: f64, squares: &[(f64, f64)], said: &str) -> WallFigures {
    let base = [(100.0, 60.0)];
    let mut layers: Vec<Layer<'_>> = (1..=below)
        .map(|layer| Layer {
            z: 0.2 * f64::from(layer),
            height: 0.2,
            width: 0.5,
            squares: &base,
            said,
        })
        .collect();
    let top = 0.2 * f64::from(below) + air;
    layers.extend((1..=10).map(|layer| Layer {
        z: top + above * f64::from(layer),
        height: above,
        width: 0.5,
        squares,
        said: "outer perimeter",
    }));
    figures(write(&layers).as_bytes())
}

fn raft(figures: &WallFigures) -> f64 {
    let shown = figures.confusion.iter();
    let of_raft = shown.filter(|((_, class), _)| *class == PathClass::Raft);
    of_raft.map(|(_, shown)| shown.volume).sum()
}

#[test]
fn air_between_tells_a_raft_and_what_stands_on_it_is_several_things() {
    let two = [(85.0, 20.0), (115.0, 20.0)];
    for below in [2, 3, 6] {
        for air in [0.1, 0.15, 0.2] {
            let told = stack(below, air, 0.2, &two, "raft");
            let text = format!("{below} layers, air {air}");
            // Sixty by sixty, filled.
            let laid = 3600.0 * 0.2 * f64::from(below);
            assert!(
                (raft(&told) / laid - 1.0).abs() < 0.02,
                "{text}: {}",
                raft(&told)
            );
            assert_eq!(told.objects.len(), 2, "{text}");
            for object in &told.objects {
                let [x, _, z] = object.bounds;
                assert!((x[1] - x[0] - 19.5).abs() < 0.01, "{text}: {x:?}");
                let bottom = 0.2 * f64::from(below) + air;
                assert!((z[0] - bottom).abs() < 1e-6, "{text}: {z:?}");
                assert_eq!(object.layers, 10, "{text}");
            }
            assert!(told.in_air.is_empty(), "{text}");
            // Solid throughout, its first layer too.
            assert!(told.infill.is_err(), "{text}: {:?}", told.infill);
        }
    }
}

#[test]
fn what_steps_in_without_air_is_the_part() {
    let small = [(100.0, 20.0)];
    for (below, air, above, squares) in [
        // A flange, and one whose body has higher layers.
        (3, 0.0, 0.2, &small),
        (3, 0.0, 0.3, &small),
        // A layer laid too high that does not step in.
        (3, 0.2, 0.2, &[(100.0, 60.0)]),
        // One layer alone may be wide for itself; so many are no raft.
        (1, 0.2, 0.2, &small),
        (12, 0.2, 0.2, &small),
    ] {
        let told = stack(below, air, above, squares, "outer perimeter");
        let text = format!("{below} layers, air {air}, {above} mm above");
        assert_eq!(raft(&told), 0.0, "{text}");
        assert_eq!(told.objects.len(), 1, "{text}");
        assert_eq!(told.objects[0].bounds[2][0], 0.0, "{text}");
    }
}

#[test]
fn a_job_on_a_raft_is_told_without_it() {
    let jobs = conforming();
    let (_, job) = jobs
        .iter()
        .find(|(name, _)| name == "petg-large-raft.gcode")
        .unwrap();
    for job in [job.clone(), stripped(job)] {
        let told = figures(&job);
        assert!(raft(&told) > 1000.0);
        // Two walls and two solid layers on either side, by its comments and its lines.
        assert_eq!(told.walls.as_ref().unwrap().usual, 2);
        assert_eq!(told.walls.unwrap().least, 2);
        assert_eq!(told.solid_layers.unwrap(), [2, 2]);
        // 1.99603 mm of 2.85 mm filament over 39.1 mm, 0.4 mm high: 0.9 mm wide, a stadium, and 0.95 in the first of
        // ten layers. The raft's own are 1 mm.
        assert!((0.9..0.91).contains(&told.wall_bead.unwrap()));
        let [least, most] = told.objects[0].bounds[2];
        assert!((least - 1.5).abs() < 1e-6 && (most - 5.5).abs() < 1e-6);
    }
}
