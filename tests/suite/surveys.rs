//! What the survey tells, through whole jobs: where the filament goes, what stands out, and what it
//! says where nothing can be told.

use crate::jobs::{machine, material};
use meltgauge::inspection::{Held, inspect};
use meltgauge::survey::{Deposit, Survey};
use std::fmt::Write as _;
use std::sync::Arc;

fn survey(job: &str, materials: &[&str], machine_name: Option<&str>) -> Survey {
    let held = Held {
        materials: materials
            .iter()
            .map(|name| Some(Arc::new(material(name, &[]))))
            .collect(),
        machine: machine_name.map(|name| Arc::new(machine(name, &[]))),
        ..Held::default()
    };
    let inspected = inspect(job.as_bytes(), held);
    assert_eq!(inspected.no_job, None);
    whole(&inspected.survey);
    inspected.survey
}

/// What holds of every survey: figures are finite and not negative, sums agree with their parts.
pub fn whole(survey: &Survey) {
    let sane = |figure: f64, what: &str| {
        assert!(
            figure.is_finite() && figure >= 0.0,
            "{what}: {figure}\n{survey:#?}"
        );
    };
    for (what, told) in [
        ("volume", &survey.volume_mm3),
        ("mass", &survey.mass_g),
        ("abrasive", &survey.abrasive_g),
        ("first layer's speed", &survey.first_layer_speed),
        ("segments", &survey.segments_per_s),
    ] {
        match told {
            Ok(figure) => sane(*figure, what),
            Err(why) => assert!(!why.is_empty(), "{what}"),
        }
    }
    sane(survey.filament_mm, "filament");
    sane(survey.filament_factored_mm, "factored");
    sane(survey.filament_part_mm, "part");
    if let Ok(time) = &survey.time {
        for part in [
            time.print,
            time.travel,
            time.retract,
            time.heating,
            time.waiting,
        ] {
            sane(part, "time");
        }
        let rows: f64 = survey.rows.iter().filter_map(|row| row.seconds).sum();
        assert!(
            rows <= time.seconds() * (1.0 + 1e-9) + 1e-6,
            "{rows} s in layers"
        );
    } else {
        assert!(survey.flow.is_err() && survey.quickest.is_err() && survey.segments_per_s.is_err());
        assert!(
            survey
                .rows
                .iter()
                .all(|row| row.seconds.is_none() && row.speed.is_none())
        );
    }
    if let Ok(flow) = &survey.flow {
        sane(flow.peak, "peak flow");
        sane(flow.sustained, "sustained flow");
        assert!(flow.sustained <= flow.peak * (1.0 + 1e-9), "{flow:?}");
    }
    if let Ok(bead) = &survey.bead {
        assert!(
            0.0 < bead.least && bead.least <= bead.usual * (1.0 + 1e-9),
            "{bead:?}"
        );
        assert!(
            bead.usual <= bead.most * (1.0 + 1e-9) && bead.most.is_finite(),
            "{bead:?}"
        );
    }
    for tool in &survey.tools {
        let shares: f64 = tool.shares.iter().map(|share| share.filament).sum();
        assert!(
            (shares - tool.factored).abs() <= 1e-5 * tool.factored.max(1.0),
            "{shares} mm and not {} mm",
            tool.factored
        );
    }
    for row in survey.rows.iter() {
        sane(row.filament, "a layer's filament");
        assert!((0.0..=1.0).contains(&row.fan), "{}", row.fan);
        for reach in [row.height, row.speed, row.hotend, row.bed]
            .into_iter()
            .flatten()
        {
            assert!(
                reach.least <= reach.most && reach.most.is_finite(),
                "{reach:?}"
            );
        }
    }
}

/// Walls of a square tube, 50 mm wide; `count` layers of 0.2 mm, 0.45 mm wide.
fn tube(count: u32) -> String {
    let mut job = String::from("M82\nG92 E0\n");
    let mut e = 0.0;
    for layer in 1..=count {
        let z = f64::from(layer) * 0.2;
        let _ = writeln!(job, "G1 X10 Y10 Z{z:.1} F9000");
        for [x, y] in [[60, 10], [60, 60], [10, 60], [10, 10]] {
            e += 50.0 * 0.033_848_8;
            let _ = writeln!(job, "G1 X{x} Y{y} E{e:.5} F1800");
        }
    }
    job
}

#[test]
fn where_filament_goes_is_told_by_class() {
    let job = "M83\nG1 Z0.2 F600\n;TYPE:Skirt\nG1 X0 Y50 E5 F1200\n;TYPE:Wall-Outer\nG1 X50 Y50 E2\nG1 E3\n\
               M221 S50\nG1 X0 Y50 E2\nG1 Z0.4\nG1 X50 Y50 E2\n";
    let survey = survey(job, &["PA6-CF"], Some("open-lined"));
    assert_eq!(survey.filament_mm, 14.0);
    assert!((survey.filament_factored_mm - 12.0).abs() < 1e-9);
    let [tool] = survey.tools.as_slice() else {
        panic!("one tool")
    };
    let found: Vec<(Option<Deposit>, f64)> = tool
        .shares
        .iter()
        .map(|share| (share.class, (share.filament * 1e9).round() / 1e9))
        .collect();
    let expected = if found
        .iter()
        .any(|(class, _)| *class == Some(Deposit::Skirt))
    {
        vec![
            (Some(Deposit::Part), 4.0),
            (Some(Deposit::Skirt), 5.0),
            (None, 3.0),
        ]
    } else {
        panic!("no skirt: {found:?}")
    };
    assert_eq!(found, expected);
    assert!((survey.filament_part_mm - 4.0).abs() < 1e-9);
    // The sheet says that its fibre wears nozzles: all of it goes through.
    assert_eq!(survey.abrasive_g, survey.mass_g);
}

#[test]
fn layers_are_rows_and_the_quickest_lies_between_first_and_last() {
    let survey = survey(&tube(5), &["PLA"], Some("open-lined"));
    assert_eq!(survey.layers, Ok(5));
    assert_eq!(survey.rows.iter().count(), 5);
    assert_eq!(survey.rows.each(), 1);
    for (number, row) in survey.rows.iter().enumerate() {
        assert_eq!((row.number, row.layers), (number as u64, 1));
        assert!((row.z - 0.2 * (number + 1) as f64).abs() < 1e-9);
        assert!(
            (row.filament - 200.0 * 0.033_848_8).abs() < 1e-4,
            "{}",
            row.filament
        );
        let bead = row.bead().unwrap();
        assert!((bead.usual - 0.45).abs() < 1e-4, "{bead:?}");
        // Four sides of 50 mm at 30 mm/s: 6.67 s, and the way up.
        let seconds = row.seconds.unwrap();
        assert!((6.6..8.0).contains(&seconds), "{seconds}");
        assert_eq!(row.speed.unwrap().most, 30.0);
    }
    let quick = survey.quickest.clone().unwrap();
    assert!((1..4).contains(&quick.number), "{quick:?}");
    let [x, y, z] = survey.size().unwrap();
    assert!((x - 50.0).abs() < 1e-9 && (y - 50.0).abs() < 1e-9 && (z - 1.0).abs() < 1e-9);
}

/// A spiral's layer is as high as it climbs, and its beads as wide as they are: 0.45 mm.
#[test]
fn a_spiral_has_beads_of_the_usual_width() {
    let mut job = tube(2);
    job += "M83\n";
    for turn in 0..21 {
        let corners = [[60, 10], [60, 60], [10, 60], [10, 10]];
        // The last turn ends after its first side.
        for (side, [x, y]) in corners
            .into_iter()
            .enumerate()
            .take(if turn < 20 { 4 } else { 1 })
        {
            let z = 0.4 + f64::from(turn) * 0.2 + 0.05 * (side + 1) as f64;
            let _ = writeln!(job, "G1 X{x} Y{y} Z{z:.2} E{:.5} F1800", 50.0 * 0.033_848_8);
        }
    }
    let survey = survey(&job, &["PLA"], Some("open-lined"));
    for row in survey.rows.iter() {
        let bead = row.bead().unwrap();
        assert!(
            (bead.least - 0.45).abs() < 0.01 && (bead.most - 0.45).abs() < 0.01,
            "{row:#?}"
        );
    }
    assert_eq!(survey.rows.iter().count(), 23);
}

#[test]
fn a_job_of_many_layers_has_a_coarser_table() {
    let survey = survey(&tube(9000), &[], Some("open-lined"));
    assert_eq!(survey.layers, Ok(9000));
    assert_eq!(survey.rows.each(), 4);
    assert!(survey.rows.iter().count() <= meltgauge::survey::ROW_CAP);
    assert_eq!(survey.rows.iter().map(|row| row.layers).sum::<u64>(), 9000);
    let filament: f64 = survey.rows.iter().map(|row| row.filament).sum();
    assert!((filament - survey.filament_mm).abs() < 0.01, "{filament}");
}

#[test]
fn a_purge_does_not_lend_the_part_its_flow() {
    // A fat purge line at 12 mm³/s, then walls at a quarter of that.
    let job = format!(
        "M83\n;TYPE:Purge\nG1 Z0.2 F600\nG1 X100 Y0 E50 F1000\n;TYPE:Wall-Outer\n{}",
        tube(3)
    );
    let survey = survey(&job, &["PLA"], Some("open-lined"));
    let flow = survey.flow.clone().unwrap();
    // 0.0814 mm² at 30 mm/s.
    assert!((flow.peak - 2.4425).abs() < 1e-3, "{flow:?}");
    assert!(flow.sustained <= flow.peak, "{flow:?}");
}

#[test]
fn a_hot_nozzle_that_waits_is_told() {
    let wait = |seconds: u32| {
        format!(
            "M109 S210\nM83\nG1 Z0.2 F600\nG1 X50 E2 F1200\nG4 S{seconds}\nG1 X0 E2\nM104 S0\nG4 S900\n"
        )
    };
    for seconds in [20, 300] {
        let idle = survey(&wait(seconds), &["PLA"], Some("open-lined"))
            .idle
            .unwrap();
        assert!(
            (idle.seconds - f64::from(seconds)).abs() < 1e-6 && idle.line == 5,
            "{idle:?}"
        );
    }
    // Hot within the bed's wait, it idles for the rest of that: the sheet's hotend takes between one
    // and two minutes to 210 °C, its bed longer to 100 °C.
    let job = "M104 S210\nM190 S100\nM83\nG1 Z0.2 F600\nG1 X50 E2 F1200\n";
    let survey_of = survey(job, &["PLA"], Some("open-lined"));
    let heating = survey_of.time.unwrap().heating;
    let idle = survey_of.idle.unwrap();
    assert!(idle.line == 2 && idle.seconds > 60.0, "{idle:?}");
    assert!(
        (60.0..180.0).contains(&(heating - idle.seconds)),
        "{idle:?} of {heating} s"
    );
    // Never told to heat, nothing is known.
    let cold = survey("M83\nG1 Z0.2 F600\nG1 X50 E2 F1200\nG4 S300\n", &[], None);
    assert!(cold.idle.unwrap_err().contains("no known temperature"));
}

#[test]
fn without_a_machine_no_time_is_claimed() {
    let survey = survey(&tube(4), &["PLA"], None);
    for why in [
        survey.time.clone().unwrap_err(),
        survey.flow.clone().unwrap_err(),
        survey.quickest.clone().unwrap_err(),
        survey.first_layer_speed.clone().unwrap_err(),
        survey.bead_share.clone().unwrap_err(),
    ] {
        assert_eq!(why, "no machine is named");
    }
    assert!(survey.volume_mm3.clone().unwrap_err().contains("diameter"));
    assert_eq!(
        (survey.layers.clone(), survey.rows.iter().count()),
        (Ok(4), 4)
    );
    // What the job itself says of its filament serves for the volume.
    let told = self::survey(
        &format!("; filament_diameter = 1.75\n{}", tube(4)),
        &["PLA"],
        None,
    );
    let volume = told.volume_mm3.clone().unwrap();
    assert!((volume - told.filament_mm * 2.405_282).abs() < 1e-3 * volume);
    assert_eq!(
        told.tools[0].diameter.clone().unwrap().by,
        "the job's comments"
    );
    assert!(told.mass_g.is_ok());
}

#[test]
fn a_material_that_is_not_named_weighs_nothing_known() {
    let survey = survey(&tube(4), &[], Some("open-lined"));
    assert_eq!(survey.mass_g.clone().unwrap_err(), "no material is named");
    assert_eq!(survey.cost.clone().unwrap_err(), "no material is named");
    assert_eq!(
        survey.abrasive_g.clone().unwrap_err(),
        "no material is named"
    );
    assert!(survey.volume_mm3.is_ok());
}

/// Every one of these is surveyed sanely, on a machine and without one: [`whole`] holds of it, and no
/// silent zero stands where nothing can be known.
#[test]
fn bad_jobs_are_surveyed_sanely() {
    let square = "G1 X60 Y10 E2\nG1 X60 Y60 E2\nG1 X10 Y60 E2\nG1 X10 Y10 E2\n";
    let jobs = [
        (
            "zero-length moves",
            format!(
                "M83\nG1 Z0.2 F600\nG1 X0 Y0 E0\n{}{square}",
                "G1 X0 Y0\n".repeat(500)
            ),
        ),
        (
            "pushes in place",
            format!(
                "M83\nG1 Z0.2 F600\n{}{square}",
                "G1 E0.5\nG1 X0 Y0 E0.5\n".repeat(200)
            ),
        ),
        ("no feed", format!("M83\nG1 Z0.2\n{square}")),
        // A number near the largest that is read, and one beyond, which is none.
        (
            "a feed of 9 · 10⁷",
            format!("M83\nG1 Z0.2 F90000000\n{square}"),
        ),
        (
            "a feed of 10⁹",
            format!("M83\nG1 Z0.2 F1000000000\n{square}"),
        ),
        ("a feed of 0", format!("M83\nG1 Z0.2 F0\n{square}")),
        ("a feed below 0", format!("M83\nG1 Z0.2 F-1200\n{square}")),
        (
            "inches",
            format!("G20\nM83\nG1 Z0.01 F40\n{}", "G1 X2 E0.08\nG1 X0 E0.08\n"),
        ),
        ("no Z at all", format!("M83\nG1 F1200\n{square}")),
        ("Z below 0", format!("M83\nG1 Z-5 F1200\n{square}")),
        ("no deposit", "G28\nG1 X10 F600\nG1 X20\n".to_owned()),
        ("nothing but heat", "M109 S210\nG4 S5\n".to_owned()),
        (
            "a tool far away",
            format!("M83\nT4000000000\nG1 Z0.2 F600\n{square}"),
        ),
        (
            "filament without end",
            "M83\nG1 Z0.2 F600\nG1 X50 E99999999\nG1 X0 E99999999\n".to_owned(),
        ),
        (
            "a flow factor without end",
            format!("M83\nM221 S9999999999\nG1 Z0.2 F600\n{square}"),
        ),
        ("no flow", format!("M83\nM221 S0\nG1 Z0.2 F600\n{square}")),
        (
            "far away",
            "M83\nG1 Z0.2 F600\nG1 X99999999 E5\nG1 X-99999999 E5\n".to_owned(),
        ),
    ];
    for (what, job) in &jobs {
        for machine_name in [None, Some("open-lined"), Some("large-285")] {
            let survey = survey(job, &["PLA"], machine_name);
            let Some(machine_name) = machine_name else {
                assert!(survey.time.is_err(), "{what}");
                continue;
            };
            match *what {
                "no feed" | "a feed of 0" | "a feed below 0" | "a feed of 10⁹" => {
                    let why = survey.time.clone().unwrap_err();
                    assert!(why.contains("feed"), "{what}: {why}");
                    assert!(survey.flow.is_err(), "{what}");
                }
                "no deposit" | "nothing but heat" => {
                    let why = survey.flow.clone().unwrap_err();
                    assert_eq!(why, "no part is laid", "{what} on {machine_name}");
                    assert_eq!(
                        survey.volume_mm3.clone().unwrap_err(),
                        "no filament is pushed"
                    );
                    assert_eq!(survey.mass_g.clone().unwrap_err(), "no filament is pushed");
                }
                "no Z at all" | "Z below 0" => {
                    assert!(survey.bead.is_err(), "{what}: {:?}", survey.bead);
                    assert!(survey.time.is_ok(), "{what}");
                }
                _ => {
                    let time = survey.time.clone();
                    let time = time.unwrap_or_else(|why| panic!("{what}: {why}"));
                    assert!(time.seconds() > 0.0, "{what}");
                    assert!(survey.flow.is_ok(), "{what}: {:?}", survey.flow);
                }
            }
        }
    }
}

/// The small hostile jobs, each by three machines and by none.
#[test]
fn hostile_jobs_are_surveyed_sanely() {
    let mut surveyed = 0;
    for (file, fault) in crate::hostile_inputs::index() {
        if fault.is_some() {
            continue;
        }
        let path = crate::hostile_inputs::folder().join(&file);
        for machine_name in [
            None,
            Some("open-lined"),
            Some("large-285"),
            Some("two-tools"),
        ] {
            let mut job =
                meltgauge::text::open(&path, meltgauge::text::Reading::default()).unwrap();
            let mut round = meltgauge::inspection::Round::new(Held {
                materials: vec![Some(Arc::new(material("PLA", &[])))],
                machine: machine_name.map(|name| Arc::new(machine(name, &[]))),
                ..Held::default()
            });
            while meltgauge::text::Feed::next(&mut job, round.buffer()).unwrap() {
                round.go_on();
            }
            whole(&round.finish().survey);
            surveyed += 1;
        }
    }
    assert!(surveyed > 100, "{surveyed}");
}

/// The table keeps to the width it is given, and says what it left out.
#[test]
fn the_table_of_layers_fits() {
    use meltgauge::report::{layers, paint::Look};
    let survey = survey(&tube(12), &["PLA"], Some("open-lined"));
    for width in 50..=120 {
        let look = Look {
            colour: false,
            width,
        };
        let table = layers::table(&survey.rows, &look);
        for line in table.lines() {
            assert!(line.chars().count() <= width, "{width}: {line}");
        }
        let is_whole = !table.contains("no room for");
        assert_eq!(
            is_whole,
            table.contains("hotend") && table.contains("  bed"),
            "{width}: {table}"
        );
        assert!(table.lines().count() >= 12 + 2);
    }
}

/// A million moves of a micrometre, each with its grain of filament: as one move of a metre.
#[test]
fn a_million_micro_moves_are_one_long_one() {
    let mut job = String::from("M83\nG1 X0 Y0 Z0.2 F1800\n");
    for step in 1..=1_000_000_u32 {
        let _ = writeln!(
            job,
            "G1 X{:.3} E0.0000338",
            f64::from(step % 200_000) / 1000.0
        );
    }
    let survey = survey(&job, &["PLA"], Some("open-lined"));
    assert!(
        (survey.filament_mm - 33.8).abs() < 1e-6,
        "{}",
        survey.filament_mm
    );
    // Four times back by 200 mm: a metre and 800 mm at 30 mm/s take a minute. A control that looks a
    // few hundred moves ahead sees a quarter of a millimetre of them, and is slower.
    let time = survey.time.clone().unwrap();
    assert!((60.0..100.0).contains(&time.seconds()), "{time:?}");
    let most = survey.segments_per_s.clone().unwrap();
    assert!((10_000.0..31_000.0).contains(&most), "{most}");
    assert_eq!(survey.rows.iter().count(), 1);
}

/// Limits of motion set by a word that only the job's control knows are not followed, and said.
#[test]
fn limits_by_an_unknown_word_are_said() {
    let job = |word: &str| {
        format!("G28\nM109 S210\n{word}\nG1 X10 Y10 Z0.2 F3000\nG1 X60 Y10 E2\nM104 S0\n")
    };
    let of = |word: &str| {
        let held = meltgauge::inspection::Held {
            materials: Vec::new(),
            machine: Some(std::sync::Arc::new(crate::jobs::machine("open-lined", &[]))),
            ..meltgauge::inspection::Held::default()
        };
        meltgauge::inspection::inspect(job(word).as_bytes(), held).survey
    };
    let plain = of("; nothing");
    assert_eq!(plain.own_limits, None);
    let own = of("MOTION_LIMITS ACCEL=5000 CORNER=8");
    assert_eq!(own.own_limits.as_deref(), Some("MOTION_LIMITS"));
    let seconds = |survey: &meltgauge::survey::Survey| survey.time.as_ref().unwrap().seconds();
    assert_eq!(seconds(&own), seconds(&plain));
    // A fan's speed is none of motion.
    assert_eq!(of("SET_FAN_SPEED SPEED=0.5").own_limits, None);
    // A word that everybody knows is followed.
    assert!(seconds(&of("M204 S100")) > seconds(&plain));
}
