//! `meltgauge survey`: tables, records and comma-separated values.

use super::validator::assert_valid_survey;
use super::{FAST, Shop};
use serde_json::Value;

const ON: [&str; 4] = ["--material", "PLA", "--machine", "open-lined"];

fn survey<'a>(rest: &[&'a str]) -> Vec<&'a str> {
    [&["survey"], &ON[..], rest].concat()
}

#[test]
fn a_survey_tells_what_a_job_uses_and_holds_nothing() {
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    // Inspected, this job has findings; surveyed it has none.
    let ran = shop.run(survey(&["lid.gcode"]));
    assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{}", ran.out);
    for words in [
        "time ",
        "printing",
        "heating",
        "24 mm, 0.06 cm³, 0.07 g",
        "layers ",
        "mm³/s over any second",
        "footprint 50 by 50 mm",
        "part 24 mm",
        "never",
        "part fan in %",
    ] {
        assert!(ran.out.contains(words), "{words}: {}", ran.out);
    }
    assert!(
        !ran.out.contains("released") && !ran.out.contains("minor"),
        "{}",
        ran.out
    );
    assert!(
        ran.out.lines().all(|line| line.chars().count() <= 100),
        "{}",
        ran.out
    );
}

#[test]
fn neither_material_nor_machine_is_needed() {
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    let ran = shop.run(["survey", "lid.gcode"]);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{}", ran.out);
    for words in [
        "mass and cost are not told",
        "time, speed and flow are not told",
        "unknown: no machine is named",
        "layers     3,",
    ] {
        assert!(ran.out.contains(words), "{words}: {}", ran.out);
    }
}

#[test]
fn a_record_says_what_is_unknown_and_why() {
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    let ran = shop.run(survey(&["lid.gcode", "--format", "record"]));
    let record = &ran.records()[0];
    assert_valid_survey(record);
    assert_eq!(record["schema"], "meltgauge-survey");
    let told = &record["survey"];
    assert_eq!(
        (&told["filament_mm"], &told["layers"]),
        (&24.0.into(), &3.into())
    );
    assert_eq!(
        told["box_mm"],
        serde_json::json!([[10.0, 10.0, 0.0], [60.0, 60.0, 0.6]])
    );
    assert_eq!(record["layers"], Value::Null);
    // The library's sheets have no price.
    let why = told["reasons"]["cost"].as_str().expect("a reason");
    assert!(told["cost"].is_null() && why.contains("price"), "{told:#}");
    let parts = told["time_parts_s"].as_object().expect("parts");
    let sum: f64 = parts.values().filter_map(Value::as_f64).sum();
    assert!((sum - told["time_s"].as_f64().expect("a time")).abs() < 1e-6);

    let ran = shop.run(["survey", "lid.gcode", "--format", "record", "--layers"]);
    let record = &ran.records()[0];
    assert_valid_survey(record);
    assert_eq!(record["layers"].as_array().map(Vec::len), Some(3));
    let told = record["survey"].as_object().expect("a survey");
    // Every null of it has its reason, and nothing else has one.
    let reasons = told["reasons"].as_object().expect("reasons");
    for (key, value) in told {
        assert_eq!(value.is_null(), reasons.contains_key(key), "{key}: {value}");
    }
    assert!(reasons.len() >= 10, "{reasons:?}");
    for key in [
        "time_s",
        "peak_flow_mm3_s",
        "quickest_layer_s",
        "segments_per_s",
    ] {
        assert_eq!(reasons[key], "no machine is named", "{key}");
    }
}

#[test]
fn a_row_a_layer_as_comma_separated_values() {
    let shop = Shop::new();
    shop.put("a, b.gcode", FAST);
    shop.put("lid.gcode", FAST);
    let ran = shop.run(survey(&[
        "a, b.gcode",
        "lid.gcode",
        "--layers",
        "--format",
        "csv",
    ]));
    assert_eq!((ran.code, ran.err.as_str()), (0, ""));
    let lines: Vec<&str> = ran.out.lines().collect();
    assert_eq!(lines.len(), 7, "{}", ran.out);
    assert!(
        lines[0].starts_with("job,layer,layers,z [mm],"),
        "{}",
        lines[0]
    );
    let columns = lines[0].split(',').count();
    assert!(
        lines[1].starts_with("\"a, b.gcode\",1,1,0.2,0.2,0.2,"),
        "{}",
        lines[1]
    );
    for (number, line) in lines[4..].iter().enumerate() {
        assert_eq!(line.split(',').count(), columns, "{line}");
        assert!(
            line.starts_with(&format!("lid.gcode,{},1,", number + 1)),
            "{line}"
        );
    }
    // Without a machine the columns stay, and are empty.
    let ran = shop.run(["survey", "lid.gcode", "--format", "csv"]);
    let row = ran.out.lines().nth(1).expect("a row");
    assert_eq!(row.split(',').count(), columns);
    assert!(row.contains(",,"), "{row}");
}

#[test]
fn jobs_come_by_every_way() {
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    let expected = shop.run(survey(&["lid.gcode", "--format", "csv"])).out;
    let ran = shop.fed(&survey(&["-", "--format", "csv"]), FAST.as_bytes());
    assert_eq!(ran.code, 0, "{}", ran.err);
    let rows = |text: &str| -> Vec<String> {
        let lines = text.lines().skip(1);
        lines
            .filter_map(|line| Some(line.split_once(',')?.1.to_owned()))
            .collect()
    };
    assert_eq!(rows(&ran.out), rows(&expected));
    assert_eq!(rows(&expected).len(), 3);
    let ran = shop.run(survey(&["-", "-"]));
    assert_eq!((ran.code, ran.out.as_str()), (2, ""));
}

#[test]
fn a_job_that_cannot_be_read_is_2_and_the_others_are_surveyed() {
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    shop.put("letter.txt", "Dear Sir or Madam,\nthank you.\n".repeat(20));
    let ran = shop.run(survey(&["letter.txt", "gone.gcode", "lid.gcode"]));
    assert_eq!(ran.code, 2);
    assert!(
        ran.err.contains("letter.txt") && ran.err.contains("gone.gcode"),
        "{}",
        ran.err
    );
    assert!(
        ran.out.contains("lid.gcode") && ran.out.contains("24 mm"),
        "{}",
        ran.out
    );
    let ran = shop.run(survey(&["gone.gcode", "--format", "record"]));
    let record = &ran.records()[0];
    assert_valid_survey(record);
    assert_eq!((ran.code, &record["survey"]), (2, &Value::Null));
    assert!(record["error"]["message"].is_string());
    let ran = shop.run(["survey", "lid.gcode", "--machine", "no-such"]);
    assert_eq!((ran.code, ran.out.as_str()), (2, ""));
}

#[test]
fn an_inspection_shows_the_survey_in_short() {
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    let ran = shop.run(super::inspect(&["lid.gcode"]));
    for words in [
        "  time  ",
        "  filament  ",
        "the quickest takes",
        "mm³/s over any second",
    ] {
        assert!(ran.out.contains(words), "{words}: {}", ran.out);
    }
    let ran = shop.run(super::inspect(&["lid.gcode", "--format", "record"]));
    let told = &ran.records()[0]["survey"];
    assert!(
        told["time_s"].is_number() && told["retractions"]["count"] == 0,
        "{told:#}"
    );
}

/// The README shows what the program prints.
#[test]
fn the_readme_shows_a_real_survey() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = std::fs::read_to_string(folder.join("README.md")).expect("it is there");
    let call = "meltgauge survey corpus/demo/bracket.gcode --material PA6-CF --machine open-lined";
    let (_, after) = readme
        .split_once(&format!("{call}\n"))
        .expect("the README calls it");
    let (_, block) = after.split_once("```text\n").expect("a block");
    let (shown, _) = block.split_once("```").expect("its end");
    let ran = Shop::new()
        .command()
        .current_dir(folder)
        .args(call.split(' ').skip(1))
        .output()
        .expect("starts");
    let printed = String::from_utf8(ran.stdout).expect("UTF-8");
    assert!(shown.lines().count() > 20);
    assert!(printed.starts_with(shown), "{printed}");
}

#[test]
fn walls_are_told_where_they_are_asked_for() {
    let shop = Shop::new();
    let job = concat!(env!("CARGO_MANIFEST_DIR"), "/corpus/demo/bracket.gcode");
    let ran = shop.run(survey(&[job, "--walls"]));
    assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{}", ran.out);
    for words in [
        "walls      2, outermost beads 0.45 mm wide",
        "infill     2",
        "3 layers at the bottom, 3 on top",
    ] {
        assert!(ran.out.contains(words), "{words}: {}", ran.out);
    }
    let ran = shop.run(survey(&[job, "--walls", "--format", "record"]));
    let record = &ran.records()[0];
    assert_valid_survey(record);
    let told = &record["survey"];
    assert_eq!(
        (&told["walls"], &told["solid_layers"]),
        (&2.into(), &serde_json::json!([3, 3]))
    );
    assert_eq!(told["regions"][0]["walls"]["usual"], 2);
    let ran = shop.run(survey(&[job, "--format", "record"]));
    let told = &ran.records()[0]["survey"];
    assert_eq!(
        (&told["walls"], &told["regions"]),
        (&Value::Null, &Value::Null)
    );
    assert_eq!(told["reasons"]["walls"], "walls were not asked for");
}

/// Names of objects come from a stranger: nothing of them reaches a terminal or a page as it is.
#[test]
fn hostile_names_of_objects_are_shown_harmlessly() {
    let shop = Shop::new();
    let bracket = std::fs::read(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/corpus/demo/bracket.gcode"
    ))
    .unwrap();
    let long = [b'x'].repeat(1_000_000);
    let names: [&[u8]; 6] = [
        b"\x1b[2J\x07\x00lid",
        b"li\xffd\xc3",
        "a\u{202e}b\u{200b}".as_bytes(),
        b"\"lid\" \"",
        b"<script>alert(1)</script>",
        &long,
    ];
    for (name, number) in names.into_iter().zip(0..) {
        let job = [
            &b"; printing object "[..],
            name,
            b"\n",
            &bracket,
            b"\n; stop printing object ",
            name,
            b"\n",
        ]
        .concat();
        let file = format!("lid{number}.gcode");
        shop.put(&file, &job);
        let ran = shop.run(survey(&[&file, "--walls"]));
        assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{}", ran.out);
        assert!(ran.out.contains("1 name for 1 object"), "{}", ran.out);
        let is_safe = |letter: char| {
            letter == '\n' || !(letter.is_control() || "\u{202e}\u{200b}".contains(letter))
        };
        assert!(ran.out.chars().all(is_safe), "{}", ran.out);
        assert!(ran.out.len() < 10_000);
        let ran = shop.run(survey(&[&file, "--walls", "--format", "record"]));
        let record = &ran.records()[0];
        assert_valid_survey(record);
        let told = record["survey"]["object_names"][0]["name"]
            .as_str()
            .expect("a name");
        assert!(!told.is_empty() && told.len() <= 1024 && told.chars().all(is_safe));
        assert_eq!(record["survey"]["objects"][0]["names"][0]["name"], 1);
    }
}

/// Names of objects are told beside the objects that motion shows, and where the two are not one to one.
#[test]
fn names_of_objects_are_told() {
    let shop = Shop::new();
    let two = include_str!("../../../corpus/conforming/pla-one-after-another.gcode");
    let job = format!("DEFINE_OBJECT NAME=lug\nBEGIN_OBJECT NAME=both\n{two}\nEND_OBJECT\n");
    shop.put("two.gcode", job);
    let ran = shop.run(survey(&["two.gcode", "--walls"]));
    assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{}", ran.out);
    let told = ran.out.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in [
        "2 names for 2 objects by motion: “lug” (lines 1 to 1) and “both” (lines 2 to 2,",
        "infill, named “both”; 2 at",
        "“both” names objects 1 and 2, which do not touch each other",
        "nothing of the part is laid for “lug”",
    ] {
        assert!(told.contains(words), "{words}: {told}");
    }
    shop.put("bare.gcode", two);
    let ran = shop.run(survey(&["bare.gcode", "--walls", "--format", "record"]));
    let told = &ran.records()[0]["survey"];
    assert_eq!(told["reasons"]["object_names"], "no mark names an object");
    let ran = shop.run(survey(&["bare.gcode", "--walls"]));
    assert!(!ran.out.contains("  names "), "{}", ran.out);
}

/// A tower of one tool is a part by its motion; where comments name it, the survey says so, and where it begins.
#[test]
fn a_tower_that_comments_name_is_told() {
    use crate::sliced::{Comments, Job, Object, Shape};
    let part = Object {
        shape: Shape::Box { x: 30.0, y: 40.0 },
        at: [110.0, 110.0],
        height: 6.0,
    };
    let sliced = Job {
        tower: Some([60.0, 60.0]),
        comments: Comments::On,
        ..Job::of(&[part])
    }
    .slice();
    let of_tower = |line: &&crate::sliced::Line| line.class == crate::sliced::Class::Tower;
    let first = sliced.lines.iter().find(of_tower).expect("a tower").number;
    let line = |line: &str| {
        let changes = line.starts_with('T') || line.starts_with("G92");
        if changes {
            String::from("\n")
        } else {
            format!("{line}\n")
        }
    };
    let shop = Shop::new();
    shop.put(
        "lid.gcode",
        sliced.text.lines().map(line).collect::<String>(),
    );
    let ran = shop.run(survey(&["lid.gcode", "--walls"]));
    let told = ran.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("they call tower what it shows as"), "{told}");
    let place = format!("first at Z 0.2 mm (line {first})");
    assert!(told.contains(&place), "{place}: {told}");
}
