//! Real sliced jobs that lie beside a checkout in some places and may not be passed on. Where they do
//! not lie there the comparison is skipped, and says so.

use meltgauge::inspection::{Held, Inspected, Round};
use meltgauge::survey::PathClass;
use meltgauge::text::{Feed, Reading, open};
use std::path::PathBuf;

/// File, digest of its stored bytes (BLAKE3, first 16 digits), filament in mm and layers as the
/// jobs' own notes state them or as they were counted independently.
const JOBS: [(&str, &str, f64, u64); 7] = [
    ("hexagon-no-heat.gcode.gz", "bd884288e4b24920", 1840.65, 1),
    (
        "holder-accel-changes.gcode.gz",
        "373b2fcee5895977",
        10_882.04,
        20,
    ),
    (
        "lid-flow-override.gcode.gz",
        "8e78719dcf5feb0d",
        1841.01,
        20,
    ),
    ("lid-macro-start.gcode.gz", "a143a733055c9eb7", 1677.14, 25),
    ("motor-mount.gcode.gz", "c5dd1ca6ed3823ad", 735.12, 122),
    ("stand-off.gcode.gz", "e445bb2e2c9a7b15", 31.95, 40),
    ("tall-lid.gcode.gz", "825d85ab54d5bd4b", 3235.91, 680),
];

fn folder() -> Option<PathBuf> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../shared/jobs");
    folder.is_dir().then_some(folder)
}

fn inspect(name: &str, held: Held) -> (Inspected, String) {
    let mut job = open(&folder().unwrap().join(name), Reading::default()).unwrap();
    let mut round = Round::new(held);
    while job.next(round.buffer()).unwrap() {
        round.go_on();
    }
    let stored = job.finish().unwrap();
    (round.finish(), stored.digest_hex.unwrap())
}

/// Under a head as wide as the bed, and with the map of what stands.
#[test]
fn the_head_hits_nothing_in_honest_jobs() {
    if folder().is_none() {
        eprintln!("skipped: the real jobs do not lie beside this checkout");
        return;
    }
    for (name, ..) in JOBS {
        let held = Held {
            walls: true,
            ..crate::clearance::under(1000.0, 1.0)
        };
        let (inspected, _) = inspect(name, held);
        let hits = inspected.findings.iter().filter(|finding| {
            matches!(
                finding.requirement,
                "object-clearance" | "travel-through-part"
            )
        });
        assert_eq!(hits.count(), 0, "{name}: {:?}", inspected.findings);
    }
}

#[test]
fn filament_and_layers_agree_with_what_is_known() {
    if folder().is_none() {
        eprintln!("skipped: the real jobs do not lie beside this checkout");
        return;
    }
    let mut wrong = String::new();
    for (name, digest, filament, layers) in JOBS {
        let (inspected, found_digest) = inspect(name, Held::default());
        if !found_digest.starts_with(digest) || digest.len() != 16 {
            wrong += &format!("{name}: another file: {}\n", &found_digest[..16]);
        }
        let found = inspected.survey.filament_mm;
        if (found - filament).abs() > 0.01 {
            wrong += &format!("{name}: {found} mm and not {filament}\n");
        }
        if inspected.survey.layers != Ok(layers) {
            wrong += &format!(
                "{name}: {:?} layers and not {layers}\n",
                inspected.survey.layers
            );
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

/// A job's own statement of the mass, by its own density and diameter: 32.46 g at 1.24 g/cm³ (the
/// library's PLA has that density), and 26.17 cm³.
#[test]
fn mass_and_volume_agree_with_what_a_job_states() {
    if folder().is_none() {
        eprintln!("skipped: the real jobs do not lie beside this checkout");
        return;
    }
    let held = || Held {
        materials: vec![Some(crate::jobs::material("PLA", &[]).into())],
        machine: Some(crate::jobs::machine("closed-hardened", &[]).into()),
        ..Held::default()
    };
    let (inspected, _) = inspect("holder-accel-changes.gcode.gz", held());
    let survey = &inspected.survey;
    let (volume, mass) = (
        survey.volume_mm3.clone().unwrap(),
        survey.mass_g.clone().unwrap(),
    );
    assert!((volume / 1000.0 - 26.17).abs() < 0.005, "{volume} mm³");
    assert!((mass - 32.46).abs() < 0.005, "{mass} g");
    for (name, ..) in JOBS {
        let (inspected, _) = inspect(name, held());
        crate::surveys::whole(&inspected.survey);
        assert!(inspected.survey.time.is_ok(), "{name}");
        let rows = inspected.survey.rows.iter().count();
        assert!(rows > 0, "{name}");
    }
}

/// A job that states its time and needs no acceleration to speak of, 6 mm/s throughout: 199.57 s, as
/// the slicing program worked it out.
#[test]
fn a_slow_job_takes_the_time_it_states() {
    if folder().is_none() {
        eprintln!("skipped: the real jobs do not lie beside this checkout");
        return;
    }
    let held = Held {
        materials: Vec::new(),
        machine: Some(crate::jobs::machine("open-lined", &[]).into()),
        ..Held::default()
    };
    let (inspected, _) = inspect("hexagon-no-heat.gcode.gz", held);
    let seconds = inspected.survey.time.unwrap().seconds();
    assert!((seconds - 199.57).abs() < 0.01 * 199.57, "{seconds} s");
}

/// The job states `3 walls, 15 %` in its settings; its infill is concentric, and touches the walls.
#[test]
fn a_job_with_concentric_infill_has_the_walls_and_the_infill_it_states() {
    if folder().is_none() {
        eprintln!("skipped: the real jobs do not lie beside this checkout");
        return;
    }
    let held = Held {
        walls: true,
        ..Held::default()
    };
    let (inspected, _) = inspect("holder-accel-changes.gcode.gz", held);
    let told = inspected.survey.walls.unwrap();
    assert_eq!(told.walls.unwrap().usual, 3);
    assert!((told.infill.unwrap() - 0.15).abs() < 0.02);
}

/// How far comments and motion agree, walls, infill: the numbers are committed, and a change shows.
/// Jobs whose comments name hardly a path are left out.
#[test]
fn comments_agree_with_motion_as_far_as_they_did() {
    if folder().is_none() {
        eprintln!("skipped: the real jobs do not lie beside this checkout");
        return;
    }
    for (name, walls, infill, agreement) in [
        ("holder-accel-changes.gcode.gz", 3, Some(15.6), 84.8),
        // Solid by its comments, and by deposit within its inner walls (90 % and more, which is its flow), but
        // for a ring of 11 mm² in three layers.
        ("lid-flow-override.gcode.gz", 2, None, 99.5),
        ("lid-macro-start.gcode.gz", 3, Some(22.8), 87.3),
        ("motor-mount.gcode.gz", 1, Some(20.6), 78.8),
        ("stand-off.gcode.gz", 1, Some(14.6), 92.7),
    ] {
        let held = Held {
            walls: true,
            ..Held::default()
        };
        let told = inspect(name, held).0.survey.walls.unwrap();
        assert_eq!(told.walls.as_ref().unwrap().usual, walls, "{name}");
        let near = |told: f64, known: f64| (told * 100.0 - known).abs() < 0.5;
        match (&told.infill, infill) {
            (Ok(told), Some(infill)) => assert!(near(*told, infill), "{name}: {told}"),
            (told, infill) => assert!(told.is_err() && infill.is_none(), "{name}: {told:?}"),
        }
        let agrees = told.agreement().unwrap();
        assert!(near(agrees, agreement), "{name}: {agrees}");
        assert!(told.in_air.is_empty(), "{name}");
        // None of them has a tower or a raft.
        let none = [PathClass::Tower, PathClass::Raft];
        let shown = told
            .confusion
            .keys()
            .filter(|(_, class)| none.contains(class));
        assert_eq!(shown.count(), 0, "{name}");
    }
}

/// What leans out, and the objects, of jobs nobody here made: a fillet along the bed leans by less from layer to
/// layer, as a quarter of a circle does; a fin 136 mm high stands on 1.2 mm.
#[test]
fn what_hangs_in_real_jobs_is_what_they_show() {
    if folder().is_none() {
        eprintln!("skipped: the real jobs do not lie beside this checkout");
        return;
    }
    for (name, objects, steepest, unsupported) in [
        ("hexagon-no-heat.gcode.gz", 1, None, 0.0),
        ("holder-accel-changes.gcode.gz", 2, Some(73.0), 143.4),
        ("lid-flow-override.gcode.gz", 1, Some(2.0), 0.0),
        // A skirt of three layers is a ring beside the part.
        ("lid-macro-start.gcode.gz", 2, Some(3.0), 0.0),
        // Five pillars in its holes touch nothing.
        ("motor-mount.gcode.gz", 6, Some(71.0), 12.2),
        ("stand-off.gcode.gz", 1, Some(0.0), 0.0),
        ("tall-lid.gcode.gz", 1, Some(73.0), 1.9),
    ] {
        let held = Held {
            walls: true,
            ..Held::default()
        };
        let survey = inspect(name, held).0.survey;
        let told = survey.walls.unwrap();
        assert_eq!(told.objects.len(), objects, "{name}");
        let found = told
            .overhang
            .as_ref()
            .ok()
            .map(|lean| lean.steepest.round());
        assert_eq!(found, steepest, "{name}: {:?}", told.overhang);
        let found = told.unsupported.unwrap();
        assert!((found - unsupported).abs() < 0.06, "{name}: {found}");
        if name.starts_with("holder") {
            let rows = survey.rows.iter().skip(1).take(10);
            let leans: Vec<f64> = rows.filter_map(|row| row.overhang).collect();
            assert!(leans.len() == 10 && leans.windows(2).all(|two| two[1] <= two[0] + 2.0));
        }
        if name.starts_with("tall") {
            assert!(told.height_to_base.unwrap()[0] > 100.0);
        }
    }
}

/// One name over two parts that do not touch: the job marks it 20 times, once a layer.
#[test]
fn a_named_job_has_its_name() {
    if folder().is_none() {
        eprintln!("skipped: the real jobs do not lie beside this checkout");
        return;
    }
    for (file, ..) in JOBS {
        let held = Held {
            walls: true,
            ..Held::default()
        };
        let told = inspect(file, held).0.survey.walls.unwrap();
        if file != "holder-accel-changes.gcode.gz" {
            assert_eq!(told.names.unwrap_err(), "no mark names an object", "{file}");
            continue;
        }
        let names = told.names.unwrap();
        let only = &names[0];
        assert_eq!((names.len(), only.begun), (1, 20));
        assert_eq!(only.objects, [0, 1]);
        let whole: f64 = told.objects.iter().map(|object| object.volume).sum();
        assert!((only.volume / whole - 1.0).abs() < 1e-9);
    }
}
