//! What another sheet would change: told from the store just as an audit under that sheet would say.

use super::*;
use crate::audit::what_if::{Answer, Sheet, what_if};
use crate::concession::Concession;
use crate::finding::Class;
use crate::sheet::overlay::{Made, overlay};
use crate::sheet::{Material, load_material};
use std::fmt::Write as _;

/// A job of 3 to 14 square layers whose settings lie on both sides of what sheets say, by its number.
fn varied(number: u32) -> String {
    // Every parameter runs through its steps in an order of its own.
    let pick = |steps: u32, salt: u32| (number * 7919 + salt * 104_729 + number * salt) % steps;
    let seldom = |every: u32, what: &str| {
        if number.is_multiple_of(every) {
            what.to_owned()
        } else {
            String::new()
        }
    };
    let hotend = if number.is_multiple_of(2) {
        170 + 3 * pick(26, 1)
    } else {
        210
    };
    let bed = if number.is_multiple_of(3) {
        3 * pick(34, 2)
    } else {
        60
    };
    let first = if number % 4 == 1 {
        1200
    } else {
        600 + 300 * pick(20, 3)
    };
    let later = if number % 5 == 2 {
        1800 + 600 * pick(16, 4)
    } else {
        1800
    };
    let fan = if number % 3 == 1 {
        5 * pick(52, 5)
    } else {
        255
    };
    let material = ["PLA", "PLA", "PETG", "pla", "PLA;PETG", "none known"][pick(6, 6) as usize];
    let mut text = format!("; job {number}\n; filament_type = {material}\n");
    if !number.is_multiple_of(23) {
        let _ = writeln!(text, "M140 S{bed}");
    }
    let _ = write!(text, "M104 S{hotend}\nG21\nG90\nM82\nM107\nG28\n");
    if !number.is_multiple_of(23) {
        let _ = writeln!(text, "M190 S{bed}");
    }
    let _ = write!(text, "M109 S{hotend}\nG92 E0\n");
    text += &seldom(13, &format!("G4 S{}\n", 100 * pick(15, 7)));
    text += &seldom(6, &format!("M106 S{}\n", 5 * pick(40, 8)));
    text += "G1 Z0.2 F600\nG1 X60 Y60 F6000\n";
    let mut e = 0.0;
    for layer in 0..3 + number % 12 {
        if layer == 1 {
            text += &format!("M106 S{fan}\n");
            text += &seldom(9, &format!("M104 S{}\n", 180 + 5 * pick(14, 9)));
            text += &seldom(
                17,
                "T1\nG92 E0\nG1 X70 E0.5 F600\nG92 E0\nT0\nG92 E0\nG1 X60\n",
            );
            if number.is_multiple_of(17) {
                e = 0.0;
            }
        }
        if layer == 4 {
            text += &seldom(7, &format!("M140 S{}\n", 5 * pick(20, 10)));
        }
        if layer > 0 {
            let _ = writeln!(text, "G1 Z{:.1} F600", 0.2 + 0.2 * f64::from(layer));
        }
        for (corner, (x, y)) in [(140, 60), (140, 140), (60, 140), (60, 60)]
            .into_iter()
            .enumerate()
        {
            e += 2.66;
            let _ = write!(text, "G1 X{x} Y{y} E{e:.2}");
            if corner == 0 {
                let _ = write!(text, " F{}", if layer == 0 { first } else { later });
            }
            text += "\n";
        }
    }
    let _ = write!(text, "G1 E{:.2} F2400\nG1 Z20 F600\n", e - 1.0);
    text += if number.is_multiple_of(19) {
        ""
    } else {
        "M104 S0\n"
    };
    text + "M140 S0\nM107\nM84\n"
}

fn vary(folder: &Path, count: u32) {
    for number in 0..count {
        let name = format!("{}/job-{number}.gcode", number % 9);
        put(&folder.join(name), varied(number).as_bytes());
    }
}

/// A sheet in the place of PLA: a name, what differs, and whether the store answers at all.
type Changed = (&'static str, &'static [(&'static str, &'static str)], bool);

const SHEETS: &[Changed] = &[
    ("PLA", &[("hotend.print", "190 °C to 220 °C")], true),
    ("PLA", &[("hotend.print", "205 °C to 215 °C")], true),
    ("PLA", &[("hotend.print", "230 °C to 260 °C")], true),
    ("PLA", &[("hotend.first_layer", "215 °C to 225 °C")], true),
    (
        "PLA",
        &[
            ("hotend.first_layer", "172 °C to 290 °C"),
            ("hotend.print", "200 °C to 201 °C"),
        ],
        true,
    ),
    ("PLA", &[("bed.print", "20 °C to 45 °C")], true),
    ("PLA", &[("bed.print", "61 °C to 62 °C")], true),
    ("PLA", &[("bed.print", "80 °C to 140 °C")], true),
    ("PLA", &[("fan.print", "0 % to 30 %")], true),
    ("PLA", &[("fan.print", "90 % to 100 %")], true),
    ("PLA", &[("fan.first_layers_most", "60 %")], true),
    ("PLA", &[("fan.first_layers_most", "0 %")], true),
    ("PLA", &[("first_layer.speed_most", "15 mm/s")], true),
    ("PLA", &[("first_layer.speed_most", "75 mm/s")], true),
    ("PLA", &[("flow.most", "4 mm³/s")], true),
    ("PLA", &[("flow.most", "30 mm³/s")], true),
    (
        "PLA",
        &[("drying.temperature", "55 °C"), ("exposure", "9 h")],
        true,
    ),
    ("spool of March", &[("price", "20 EUR/kg")], true),
    (
        "spool of March",
        &[
            ("also", "[\"PETG\"]"),
            ("first_layer.speed_most", "40 mm/s"),
        ],
        true,
    ),
    (
        "PLA",
        &[("fan.first_layers", "{ value = 3, mark = \"chosen\" }")],
        false,
    ),
    ("PLA", &[("layer.time_least", "12 s")], false),
    ("PLA", &[("density", "1.2 g/cm³")], false),
];

fn sheet(place: &Path, name: &str, values: &[(&str, &str)]) -> Material {
    let made = Made {
        date: "2027-01-01",
        by: "workshop lead",
        reason: "a trial",
    };
    let text = overlay(name, "PLA", &made, values).unwrap();
    let path = place.join("sheet.toml");
    std::fs::write(&path, text).unwrap();
    load_material(&path).unwrap()
}

fn with(material: Option<&Arc<Material>>, hold_from: Class, concessions: &[Concession]) -> Rules {
    let mut rules = rules();
    let settings = &mut rules.list[0].settings;
    settings.materials = material.map(|material| vec![Some(Arc::clone(material))]);
    settings.material_by = NamedBy::CommandLine;
    settings.hold_from = hold_from;
    settings.concessions = concessions.into();
    rules
}

fn audited(folder: &Path, store: &Path, rules: &Rules) {
    let call = Call {
        what: What::Paths(vec![folder.to_path_buf()]),
        rules,
        store,
        threads: 2,
        verify: false,
        watch: &Nobody,
    };
    audit(call).unwrap();
}

fn asked(store: &Path, rules: &Rules, sheet: &Arc<Material>, all_anew: bool) -> Answer {
    let sheet = Sheet::Material(Arc::clone(sheet));
    what_if(store, rules, (&sheet, "PLA"), (2, all_anew), &Nobody).unwrap()
}

fn conceded(requirement: &str, bound: Option<&str>) -> Concession {
    Concession {
        requirement: requirement.to_owned(),
        bound: bound.map(|bound| bound.parse().unwrap()),
        reason: "tried".to_owned(),
        by: "workshop lead".to_owned(),
        until: None,
        material: None,
        machine: None,
        job: None,
    }
}

/// Every sheet's answer is that of an audit under this sheet, job by job, whether told from the store
/// or not; and what can be told from it is.
#[test]
fn another_sheet_changes_what_an_audit_under_it_would() {
    let jobs = if std::env::var_os("MELTGAUGE_LONG").is_some() {
        480
    } else {
        90
    };
    let (place, folder, _) = place();
    vary(&folder, jobs);
    let pla = Arc::new(load_material("PLA").unwrap());
    let states = "SELECT path, member, state FROM jobs ORDER BY path, member";
    let mut changed = 0;
    let terms = [
        (Class::Major, vec![]),
        (Class::Minor, vec![conceded("heater-left-on", None)]),
        (
            Class::Observation,
            vec![
                conceded("first-layer-fast", Some("60 mm/s")),
                conceded("bed-above-sheet", None),
            ],
        ),
    ];
    for (at, (hold_from, concessions)) in terms.into_iter().enumerate() {
        let rules = with(Some(&pla), hold_from, &concessions);
        let store = place.path().join(format!("store-{at}"));
        audited(&folder, &store, &rules);
        let before = rows(&store, states);
        for (name, values, is_told) in SHEETS {
            let new = Arc::new(sheet(place.path(), name, values));
            let told = asked(&store, &rules, &new, false);
            let then = place.path().join("then");
            let _ = std::fs::remove_file(&then);
            audited(&folder, &then, &with(Some(&new), hold_from, &concessions));
            let after = rows(&then, states);
            let pairs = before.iter().zip(&after);
            let differ: Vec<&String> = pairs
                .filter(|(before, after)| before != after)
                .map(|(_, after)| after)
                .collect();
            let listed: Vec<String> = told
                .changed
                .iter()
                .map(|[path, member, _, then]| {
                    format!("[Text({path:?}), Text({member:?}), Text({then:?})]")
                })
                .collect();
            assert_eq!(
                listed.iter().collect::<Vec<_>>(),
                differ,
                "{name} {values:?} {at}"
            );
            assert_eq!((told.jobs, told.lost), (u64::from(jobs), 0));
            // A concession for what may newly be found leaves nothing to be told from the store.
            let is_open = at == 2
                && values
                    .iter()
                    .any(|(key, _)| key.starts_with("first_layer.") || key.starts_with("bed."));
            // Quick layers and long waits have to be read again, but for a few sheets.
            let least = if *is_told && !is_open { jobs / 2 } else { 0 };
            assert!(
                told.from_store >= u64::from(least),
                "{name} {values:?}: {told:?}"
            );
            assert_eq!(
                told.from_store == 0,
                !is_told || is_open,
                "{name} {values:?} {at}: {told:?}"
            );
            changed += differ.len();
        }
    }
    // Not an archive in which nothing changes.
    assert!(changed > 400, "{changed}");
}

/// Where jobs are asked for their material, the store tells the same as reading every one.
#[test]
fn the_store_tells_what_reading_tells_also_where_jobs_are_asked() {
    let (place, folder, store) = place();
    vary(&folder, 60);
    let rules = with(None, Class::Major, &[]);
    audited(&folder, &store, &rules);
    for (name, values, _) in SHEETS {
        let new = Arc::new(sheet(place.path(), name, values));
        let told = asked(&store, &rules, &new, false);
        let read = asked(&store, &rules, &new, true);
        assert_eq!(told.changed, read.changed, "{name} {values:?}");
        assert_eq!((told.lost, read.lost), (0, 0));
        assert!(
            told.reread < read.reread || told.reread == read.reread && values.len() == 1,
            "{told:?}"
        );
    }
}

/// Nothing is told from a store whose rules were others, or from a job that the store says nothing of.
#[test]
fn what_the_store_cannot_tell_is_read() {
    let (place, folder, store) = place();
    vary(&folder, 30);
    let pla = Arc::new(load_material("PLA").unwrap());
    let rules = with(Some(&pla), Class::Major, &[]);
    audited(&folder, &store, &rules);
    let new = Arc::new(sheet(
        place.path(),
        "PLA",
        &[("bed.print", "80 °C to 90 °C")],
    ));
    let told = asked(&store, &rules, &new, false);
    // Jobs 0 and 17 push a second tool's filament.
    assert_eq!((told.reread, told.from_store), (2, 28));
    let others = with(Some(&pla), Class::Minor, &[]);
    assert_eq!(asked(&store, &others, &new, false).reread, 30);
    let connection = rusqlite::Connection::open(&store).unwrap();
    connection
        .execute("UPDATE _job SET held = NULL WHERE id % 3 = 0", [])
        .unwrap();
    let without = asked(&store, &rules, &new, false);
    // Ten more, and both of the others may be among them: jobs are numbered as threads come to them.
    assert!((10..=12).contains(&without.reread), "{without:?}");
    assert_eq!(without.changed, told.changed);
    // Where the values do not bear out what was found, they are no ground to stand on.
    let bed = "UPDATE _job SET held = json_set(held, '$.\"bed.most\"', 300.0)";
    connection.execute(bed, []).unwrap();
    let wrong = asked(&store, &rules, &new, false);
    assert_eq!(wrong.changed, told.changed);
    assert!(wrong.reread > 25, "{wrong:?}");
    std::fs::remove_file(folder.join("0/job-0.gcode")).unwrap();
    assert_eq!(asked(&store, &rules, &new, false).lost, 1);
}
