//! `meltgauge qualify`: answers, records, and questions that cannot be asked.

use super::Shop;
use super::validator::faults_by;
use serde_json::Value;

/// Without line breaks, which come where the width wants them.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn an_answer_has_a_verdict_two_values_and_cautions() {
    let shop = Shop::new();
    let ran = shop.run([
        "qualify",
        "-m",
        "PA66",
        "-M",
        "open-lined",
        "--footprint",
        "180x120x60",
        "--hours",
        "9",
    ]);
    assert_eq!((ran.code, ran.err.as_str()), (1, ""), "{}", ran.out);
    for words in [
        "does not suit PA66 on open-lined",
        "stops it",
        "wants 250 °C to 280 °C, has 240 °C (liner); margin -10 K",
        "never run the liner hotter",
        "(material sheet PA66, hotend.print:",
        "caution",
        "is no certificate",
    ] {
        assert!(flat(&ran.out).contains(words), "{words}: {}", ran.out);
    }
    assert!(
        ran.out.lines().all(|line| line.chars().count() <= 100),
        "{}",
        ran.out
    );
    let ran = shop.run(["qualify", "-m", "PLA", "-M", "open-lined"]);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{}", ran.out);
    assert!(
        ran.out.starts_with("suits, as far as the sheets say"),
        "{}",
        ran.out
    );
}

#[test]
fn an_answer_can_be_had_as_a_record() {
    let shop = Shop::new();
    let ran = shop.run([
        "qualify", "-m", "PA6-CF", "--hotend", "220C", "--format", "record",
    ]);
    assert_eq!(ran.code, 1, "{}", ran.err);
    let record: Value = serde_json::from_str(&ran.out).unwrap();
    let faults = faults_by("qualify", &record);
    assert!(faults.is_empty(), "{faults:#?}");
    assert_eq!(record["verdict"], "does-not-suit");
    assert_eq!(record["points"][0]["id"], "hotend");
    assert_eq!(record["points"][0]["margin"]["value"], -20.0);
    assert_eq!(record["points"][0]["has"]["whose"], "as asked");
}

#[test]
fn degrees_fahrenheit_stand_beside_degrees_celsius() {
    let shop = Shop::new();
    let ran = shop.run([
        "qualify",
        "-m",
        "PLA",
        "-M",
        "open-lined",
        "--hotend",
        "464F",
    ]);
    assert!(
        ran.out.contains("190 °C (374 °F)") && ran.out.contains("240 °C (464 °F)"),
        "{}",
        ran.out
    );
}

#[test]
fn an_application_can_be_a_file() {
    let shop = Shop::new();
    shop.put("bracket.toml", "name = \"engine bracket\"\nmark = \"measured\"\n[part]\nsize = [\"180 mm\", \"120 mm\", \"60 mm\"]\n");
    let ran = shop.run([
        "qualify",
        "-m",
        "PA6-CF",
        "-M",
        "open-lined",
        "-a",
        "bracket.toml",
    ]);
    assert!(
        ran.out.contains("engine bracket (bracket.toml)"),
        "{}",
        ran.out
    );
    assert!(
        ran.out
            .contains("application engine bracket, part.size: measured"),
        "{}",
        ran.out
    );
    let ran = shop.run(["sheet", "check", "bracket.toml"]);
    assert!(
        ran.out.contains("application sheet engine bracket"),
        "{}{}",
        ran.out,
        ran.err
    );
}

#[test]
fn what_cannot_be_asked_is_said_with_exit_code_2() {
    let shop = Shop::new();
    shop.put(
        "odd.toml",
        "name = \"odd\"\n[part]\nsise = [\"1 mm\", \"1 mm\", \"1 mm\"]\n",
    );
    let with =
        |rest: &[&'static str]| [&["qualify", "-m", "PLA", "-M", "open-lined"], rest].concat();
    for (args, words) in [
        (vec!["qualify", "-m", "PA6CFF"], "PA6-CF"),
        (vec!["qualify", "-M", "open-lined"], "no material is named"),
        (
            vec!["qualify", "-m", "PLA", "-M", "open-linde"],
            "open-lined",
        ),
        (with(&["--service", "-300C"]), "-300"),
        (with(&["--service", "220"]), "220 °C"),
        (with(&["--room", "23C,130%"]), "130 %"),
        (with(&["--room", "200C,50%"]), "no room"),
        (with(&["--footprint", "180x120"]), "180x120x60"),
        (
            with(&["--service", "120C", "--peak", "100C"]),
            "service.short_term",
        ),
        (with(&["--bead", "0.2x0.4"]), "narrower than it is high"),
        (with(&["--tool", "7"]), "no tool 7"),
        (with(&["-a", "odd.toml"]), "size"),
        (with(&["-a", "none.toml"]), "none.toml"),
        (with(&["--hours", "nine"]), "nine"),
    ] {
        let ran = shop.run(&args);
        assert_eq!(
            (ran.code, ran.out.as_str()),
            (2, ""),
            "{args:?} {}",
            ran.err
        );
        assert!(ran.err.contains(words), "{args:?}: {}", ran.err);
    }
}
