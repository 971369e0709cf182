//! Reports in standard formats, completions and manual pages: from the real binary.

use super::{FAST, Shop, inspect};
use proptest::prelude::*;
use serde_json::Value;
use std::collections::BTreeSet;

/// A job whose text tries to break out of whatever holds it.
const HOSTILE: &str = "\
G28
M109 S210
M117 </system-out>]]>&\"'\u{1}\u{202e}<script>alert(1)</script>
M9999 <b>\"quoted\", =1+1
G1 X10 Y10 Z0.2 F9000
G1 X60 Y10 E2 F6000 ; ü <&>
G1 X60 Y60 E4
";

fn sarif(shop: &Shop, job: &str) -> Value {
    let ran = shop.run(inspect(&["--format", "sarif", job])).plain();
    assert_eq!(ran.err, "");
    serde_json::from_str(&ran.out).expect("one JSON document")
}

fn results(log: &Value) -> &Vec<Value> {
    log["runs"][0]["results"].as_array().expect("results")
}

#[test]
fn sarif_says_what_the_record_says() {
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    let record = &shop
        .run(inspect(&["--format", "record", "lid.gcode"]))
        .records()[0];
    let log = sarif(&shop, "lid.gcode");
    let found: Vec<&Value> = results(&log)
        .iter()
        .filter(|result| result["kind"] != "open")
        .collect();
    let findings = record["findings"].as_array().expect("findings");
    assert_eq!(found.len(), findings.len());
    assert!(!found.is_empty());
    let rules = &log["runs"][0]["tool"]["driver"]["rules"];
    for (result, finding) in found.iter().zip(findings) {
        assert_eq!(result["ruleId"], finding["requirement"]);
        let rule = &rules[result["ruleIndex"].as_u64().expect("an index") as usize];
        assert_eq!(rule["id"], result["ruleId"]);
        assert!(
            rule["help"]["markdown"]
                .as_str()
                .is_some_and(|page| page.contains("## Why it matters"))
        );
        let worst = &finding["extent"]["worst"];
        let at = if worst.is_null() {
            &finding["extent"]["first"]
        } else {
            worst
        };
        let region = &result["locations"][0]["physicalLocation"]["region"];
        assert_eq!(region["startLine"], at["line"]);
        assert_eq!(region["byteOffset"], at["byte"][0]);
        let (kind, level) = match finding["class"].as_str() {
            Some("critical" | "major") => ("fail", "error"),
            Some("minor") => ("fail", "warning"),
            _ => ("informational", "none"),
        };
        assert_eq!(
            (&result["kind"], &result["level"]),
            (&kind.into(), &level.into())
        );
    }
    let held: BTreeSet<&str> = results(&log)
        .iter()
        .filter(|result| result["kind"] == "open")
        .filter_map(|result| result["ruleId"].as_str())
        .collect();
    let not_held: BTreeSet<&str> = record["not_held"]
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(|left| left["requirement"].as_str())
        .collect();
    assert_eq!(held, not_held);
    let first_fast = found
        .iter()
        .find(|result| result["ruleId"] == "first-layer-fast")
        .expect("the job is fast");
    let place = &first_fast["locations"][0]["physicalLocation"];
    assert_eq!(place["artifactLocation"]["uri"], "lid.gcode");
    assert_eq!(place["region"]["startLine"], 11);
    let line = FAST.lines().nth(10).expect("line 11");
    let column = |key: &str| place["region"][key].as_u64().expect("a column") as usize;
    let words = &line[column("startColumn") - 1..column("endColumn") - 1];
    let start = place["region"]["byteOffset"].as_u64().expect("an offset") as usize;
    let length = place["region"]["byteLength"].as_u64().expect("a length") as usize;
    assert_eq!(words, &FAST[start..start + length]);
}

#[test]
fn a_job_that_cannot_be_read_is_told_in_every_format() {
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    let args = [
        "--quiet",
        "--format",
        "sarif=all.sarif",
        "--format",
        "junit=all.xml",
        "--format",
        "csv=all.csv",
        "--format",
        "record=all.jsonl",
        "--format",
        "text=all.txt",
        "lid.gcode",
        "none.gcode",
    ];
    let ran = shop.run(inspect(&args)).plain();
    assert_eq!(ran.code, 2, "{}", ran.err);
    let read = |name: &str| std::fs::read_to_string(shop.folder.path().join(name)).expect(name);
    let log: Value = serde_json::from_str(&read("all.sarif")).expect("JSON");
    let invocation = &log["runs"][0]["invocations"][0];
    assert_eq!(invocation["executionSuccessful"], false);
    let told = invocation["toolExecutionNotifications"][0]["message"]["text"].as_str();
    assert!(
        told.is_some_and(|told| told.contains("none.gcode")),
        "{told:?}"
    );
    let xml = read("all.xml");
    assert!(
        xml.contains("<error type=\"not-inspected\"") && xml.contains("errors=\"1\""),
        "{xml}"
    );
    assert_eq!(read("all.jsonl").lines().count(), 2);
    assert!(read("all.txt").contains("none.gcode"));
    let rows = read("all.csv");
    assert!(
        rows.lines().any(|row| row.starts_with("none.gcode,,")),
        "{rows}"
    );
    // Nothing is left beside the five reports and the job.
    assert_eq!(
        std::fs::read_dir(shop.folder.path())
            .expect("a folder")
            .count(),
        6
    );
}

#[test]
fn nothing_of_a_job_breaks_out() {
    let shop = Shop::new();
    shop.put("<a>&\"b\",=c.gcode", HOSTILE);
    let name = "<a>&\"b\",=c.gcode";
    let xml = shop
        .run(inspect(&[
            "--format",
            "junit",
            "--hold-from",
            "observation",
            name,
        ]))
        .plain()
        .out;
    for letter in xml.chars() {
        // What XML 1.0 allows: <https://www.w3.org/TR/xml/#charsets>.
        let is_allowed = matches!(letter, '\t' | '\n' | '\r' | ' '..='\u{D7FF}' | '\u{E000}'..='\u{FFFD}' | '\u{10000}'..);
        assert!(is_allowed, "{letter:?}");
    }
    assert!(!xml.contains("<script") && !xml.contains("<b>"), "{xml}");
    assert_eq!(
        xml.matches("<testcase ").count(),
        xml.matches("</testcase>").count() + xml.matches(" time=\"0\"/>").count()
    );
    let log = sarif(&shop, name);
    let uri = &log["runs"][0]["results"][0]["locations"][0]["physicalLocation"]["artifactLocation"]
        ["uri"];
    assert_eq!(uri, "%3Ca%3E%26%22b%22%2C%3Dc.gcode");
    // Rows end with carriage return and line feed, which on a terminal nothing else does.
    shop.run(inspect(&["--format", "csv=rows.csv", name]))
        .plain();
    let csv = std::fs::read_to_string(shop.folder.path().join("rows.csv")).expect("written");
    let rows = table(&csv);
    assert!(rows.len() > 2);
    for row in &rows {
        assert_eq!(row.len(), 15, "{row:?}");
    }
    assert_eq!(rows[1][0], name);
}

/// Reads comma-separated values by RFC 4180, apart from what writes them.
fn table(text: &str) -> Vec<Vec<String>> {
    let (mut rows, mut row, mut field, mut quoted) = (Vec::new(), Vec::new(), String::new(), false);
    let mut letters = text.chars().peekable();
    while let Some(letter) = letters.next() {
        match (letter, quoted) {
            ('"', true) if letters.next_if_eq(&'"').is_some() => field.push('"'),
            ('"', _) => quoted = !quoted,
            (',', false) => row.push(std::mem::take(&mut field)),
            ('\r', false) => {}
            ('\n', false) => {
                row.push(std::mem::take(&mut field));
                rows.push(std::mem::take(&mut row));
            }
            (letter, _) => field.push(letter),
        }
    }
    rows
}

#[test]
fn counts_of_a_suite_are_those_of_its_cases() {
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    let ran = shop
        .run(inspect(&[
            "--format",
            "junit",
            "--hold-from",
            "minor",
            "lid.gcode",
        ]))
        .plain();
    assert_eq!(ran.code, 1);
    let count = |key: &str| -> usize {
        let mark = format!(" {key}=\"");
        let rest = &ran.out[ran.out.find(&mark).expect(key) + mark.len()..];
        rest[..rest.find('"').expect("an end")]
            .parse()
            .expect("a number")
    };
    assert_eq!(count("tests"), ran.out.matches("<testcase ").count());
    assert_eq!(count("failures"), ran.out.matches("<failure ").count());
    assert_eq!(count("skipped"), ran.out.matches("<skipped/>").count());
    assert!(count("failures") >= 1);
    assert!(ran.out.contains("first-layer-fast"));
}

#[test]
fn one_format_takes_the_standard_output() {
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    let ran = shop.run(inspect(&[
        "--format",
        "sarif",
        "--format",
        "csv",
        "lid.gcode",
    ]));
    assert_eq!(ran.code, 2);
    assert!(
        ran.err
            .contains("two formats are to go to the standard output"),
        "{}",
        ran.err
    );
    let ran = shop.run(inspect(&[
        "--format",
        "sarif=a",
        "--format",
        "csv=a",
        "lid.gcode",
    ]));
    assert!(
        ran.err.contains("two formats are to go to `a`"),
        "{}",
        ran.err
    );
    let ran = shop.run(inspect(&["--format", "sarif=no/a.sarif", "lid.gcode"]));
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("no/a.sarif"), "{}", ran.err);
    let ran = shop.run(inspect(&["--format", "xml", "lid.gcode"]));
    assert!(
        ran.err
            .contains("the formats are text, record, csv, sarif, junit"),
        "{}",
        ran.err
    );
}

#[test]
fn a_page_stands_below_its_findings() {
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    let ran = shop.run(inspect(&["--with-page", "lid.gcode"])).plain();
    let finding = ran.out.find("minor  first-layer-fast").expect("found");
    let page = ran.out.find("    # first-layer-fast").expect("its page");
    assert!(page > finding);
    assert_eq!(ran.out.matches("    # first-layer-fast").count(), 1);
    assert!(!ran.out.contains(";!"), "{}", ran.out);
}

#[test]
fn completions_and_manual_pages_come_from_the_help() {
    let shop = Shop::new();
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let ran = shop.run(["completions", shell]).plain();
        assert_eq!(ran.code, 0);
        assert!(ran.out.contains("hold-from"), "{shell}");
    }
    let ran = shop.run(["manual", "sheet", "show"]);
    assert!(
        ran.code == 0 && ran.out.contains(".TH meltgauge-sheet-show"),
        "{}",
        ran.out
    );
    let ran = shop.run(["manual", "shoot"]);
    assert_eq!(ran.code, 2);
    let pages = shop.folder.path().join("man");
    std::fs::create_dir(&pages).expect("room");
    let ran = shop.run(["manual", "--into", "man"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(pages.join("meltgauge-inspect.1").is_file());
    let ran = shop.run(["manual", "--into", "nowhere"]);
    assert_eq!(ran.code, 2, "{}", ran.err);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    /// A finding keeps its fingerprint when comments come in anywhere and lines get numbers and checksums.
    #[test]
    fn a_fingerprint_stays_when_other_lines_move(
        comments in prop::collection::vec(0usize..26, 0..6),
        numbered in any::<bool>(),
    ) {
        let prints = |job: String| -> Vec<(String, String)> {
            let shop = Shop::new();
            shop.put("lid.gcode", job);
            let log = sarif(&shop, "lid.gcode");
            results(&log)
                .iter()
                .filter(|result| result["kind"] != "open")
                .map(|result| {
                    let print = result["partialFingerprints"].as_object().and_then(|all| all.values().next());
                    let text = |value: &Value| value.as_str().expect("text").to_owned();
                    (text(&result["ruleId"]), text(print.expect("a fingerprint")))
                })
                .collect()
        };
        let plain = prints(FAST.to_owned());
        prop_assert!(!plain.is_empty());
        let distinct: BTreeSet<&String> = plain.iter().map(|(_, print)| print).collect();
        prop_assert_eq!(distinct.len(), plain.len());
        let mut lines: Vec<String> = FAST.lines().map(str::to_owned).collect();
        for at in comments {
            lines.insert(at.min(lines.len()), "; a remark".to_owned());
        }
        if numbered {
            for (number, line) in lines.iter_mut().enumerate() {
                let text = format!("N{} {line}", number + 1);
                let sum = text.bytes().fold(0u8, |sum, byte| sum ^ byte);
                *line = if line.starts_with(';') { line.clone() } else { format!("{text}*{sum}") };
            }
        }
        let moved = prints(lines.join("\n") + "\n");
        for one in &plain {
            prop_assert!(moved.contains(one), "{:?} is not in {:?}", one, moved);
        }
    }
}
