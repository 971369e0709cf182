//! `meltgauge audit`: archives into a store, and questions to it.

use super::{FAST, PLA, Ran, Shop};
use serde_json::Value;

fn shop() -> Shop {
    let shop = Shop::new();
    shop.put("archive/lid.gcode", FAST);
    shop.put("archive/left-on.gcode", FAST.replace("M104 S0\n", ""));
    shop.put("archive/=1+1.gcode", FAST);
    shop.put("archive/clear\x1b[2J.gcode", FAST);
    shop
}

fn audit(shop: &Shop, rest: &[&str]) -> Ran {
    shop.run([&["audit"], rest, &PLA[..]].concat()).plain()
}

#[test]
fn an_archive_is_audited_into_a_store_and_asked() {
    let shop = shop();
    let ran = audit(&shop, &["archive"]);
    assert_eq!((ran.code, ran.err.as_str()), (1, ""), "{}", ran.out);
    for words in [
        "audit.sqlite  run 1",
        "4 in the store, 3 released, 1 held",
        "4 inspected",
        "first-layer-fast",
        "heater-left-on",
        "####",
    ] {
        assert!(ran.out.contains(words), "{words}: {}", ran.out);
    }
    let ran = shop.run(["audit", "report", "worst"]).plain();
    assert_eq!(ran.code, 0, "{}", ran.err);
    let first = ran.out.lines().nth(1).unwrap_or_default();
    assert!(
        first.starts_with("held") && first.contains("left-on.gcode"),
        "{}",
        ran.out
    );
    assert!(ran.out.contains("clear␛[2J.gcode"), "{}", ran.out);
    let held = "SELECT path FROM jobs WHERE state = 'held'";
    let ran = shop
        .run(["audit", "query", held, "--format", "record"])
        .plain();
    let [row] = &ran.records()[..] else {
        panic!("{}", ran.out)
    };
    assert!(
        row["path"]
            .as_str()
            .is_some_and(|path| path.ends_with("left-on.gcode"))
    );
    let names = "SELECT substr(path, -9) AS name, 1.5 AS x, NULL AS none FROM jobs WHERE path LIKE '%=1+1%'";
    let ran = shop
        .run(["audit", "query", names, "--format", "csv"])
        .plain();
    assert_eq!(ran.out, "name,x,none\n1+1.gcode,1.5,\n");
    let formula = "SELECT substr(path, -10) AS name FROM jobs WHERE path LIKE '%=1+1%'";
    let ran = shop
        .run(["audit", "query", formula, "--format", "csv"])
        .plain();
    assert_eq!(ran.out, "name\n\"'=1+1.gcode\"\n");
}

#[test]
fn reports_are_listed_and_mistakes_are_2() {
    let shop = shop();
    let ran = shop.run(["audit", "report"]).plain();
    assert_eq!((ran.code, ran.out.contains("worst ")), (0, true));
    for (args, words) in [
        (&["audit", "report", "totals"][..], "there is no store"),
        (&["audit", "report", "nothing"], "ask for one of totals"),
        (&["audit"], "PATH"),
        (&["audit", "-", "archive"], "name `-` alone"),
        (&["audit", "archive", "--map"], "cannot be used with"),
    ] {
        let ran = shop.run(args).plain();
        assert_eq!(ran.code, 2, "{args:?}");
        assert!(ran.err.contains(words), "{args:?}: {}", ran.err);
    }
    audit(&shop, &["archive"]);
    for question in ["DELETE FROM _job", "DROP VIEW jobs", "ATTACH 'x' AS x"] {
        let ran = shop.run(["audit", "query", question]).plain();
        assert_eq!(ran.code, 2, "{question}");
        assert!(
            ran.err.contains("cannot be answered"),
            "{question}: {}",
            ran.err
        );
    }
    let ran = shop.run([
        "audit",
        "query",
        "SELECT count(*) AS jobs FROM jobs",
        "--format",
        "csv",
    ]);
    assert_eq!(ran.out, "jobs\n4\n");
}

#[test]
fn a_job_that_no_rule_fits_is_listed_as_such() {
    let shop = shop();
    shop.put(
        "meltgauge.toml",
        "[[rule]]\nname = \"l*.gcode\"\nmaterial = \"PLA\"\nmachine = \"open-lined\"\n",
    );
    let ran = shop.run(["audit", "archive"]).plain();
    assert_eq!(ran.code, 2, "{}{}", ran.out, ran.err);
    assert!(
        ran.out.contains("1 released, 1 held, 2 that no rule fits"),
        "{}",
        ran.out
    );
    let question =
        "SELECT count(*) AS jobs FROM jobs WHERE state = 'no-rule' AND error LIKE 'no rule fits%'";
    let ran = shop.run(["audit", "query", question, "--format", "csv"]);
    assert_eq!(ran.out, "jobs\n2\n");
    // Another sheet by another rule: what it fits is looked at again, and nothing else.
    shop.put(
        "meltgauge.toml",
        "[[rule]]\nname = \"l*.gcode\"\nmaterial = \"PLA\"\nmachine = \"open-lined\"\n\
         [[rule]]\nname = \"=*\"\nmaterial = \"PETG\"\nmachine = \"open-lined\"\n",
    );
    let ran = shop.run(["audit", "archive"]).plain();
    assert!(ran.out.contains("1 that no rule fits"), "{}", ran.out);
}

#[test]
fn paths_come_through_the_standard_input_and_lines_go_out() {
    let shop = shop();
    let list = "archive/lid.gcode\nno-such.gcode\narchive/left-on.gcode\n";
    let args = [&["audit", "--map"], &PLA[..]].concat();
    let ran = shop.fed(&args, list.as_bytes());
    assert_eq!((ran.code, ran.err.as_str()), (0, ""));
    let verdicts: Vec<Value> = ran
        .records()
        .iter()
        .map(|line| line["record"]["verdict"].clone())
        .collect();
    assert_eq!(
        verdicts,
        [Value::from("released"), Value::Null, Value::from("held")]
    );
    let folded = shop.fed(
        &["audit", "--fold", "--store", "folded.sqlite"],
        ran.out.as_bytes(),
    );
    assert_eq!(folded.code, 0, "{}", folded.err);
    assert!(folded.err.contains("3 lines"), "{}", folded.err);
    let direct = shop.fed(&[&["audit", "-"], &PLA[..]].concat(), list.as_bytes());
    assert_eq!(direct.code, 2, "{}", direct.out);
    assert!(direct.err.contains("no-such.gcode"), "{}", direct.err);
    let question = "SELECT path, state, findings.requirement FROM jobs LEFT JOIN findings USING (path) \
                    WHERE state <> 'failed' ORDER BY 1, 3";
    let ask = |store: &str| {
        shop.run([
            "audit", "query", question, "--store", store, "--format", "csv",
        ])
        .out
    };
    assert_eq!(ask("folded.sqlite"), ask("audit.sqlite"));
    // The head, two findings on the one job and three on the other.
    assert_eq!(ask("folded.sqlite").lines().count(), 6);
}

#[cfg(feature = "parquet")]
#[test]
fn answers_go_out_as_tables_and_lines_come_in_from_files() {
    let shop = shop();
    audit(&shop, &["archive"]);
    let question = "SELECT path AS line, major FROM jobs ORDER BY path";
    let path = shop.folder.path().join("jobs.parquet");
    let file = std::fs::File::create(&path).expect("room");
    let status = shop
        .command()
        .args(["audit", "query", question, "--format", "parquet"])
        .stdout(file)
        .status()
        .expect("starts");
    assert!(status.success());
    let bytes = std::fs::read(&path).expect("is there");
    assert!(bytes.starts_with(b"PAR1") && bytes.ends_with(b"PAR1"));
    // A table of something else has no lines of an audit.
    let fold = ["audit", "--fold", "jobs.parquet", "--store", "far.sqlite"];
    let ran = shop.run(fold).plain();
    assert_eq!(ran.code, 2);
    assert!(
        ran.err.contains("line 1 is no line of an audit"),
        "{}",
        ran.err
    );
    let list = "archive/lid.gcode\narchive/left-on.gcode\n";
    let mapped = shop.fed(&[&["audit", "--map"], &PLA[..]].concat(), list.as_bytes());
    shop.put("far/lines", mapped.out);
    let fold = ["audit", "--fold", "far/lines", "--store", "far.sqlite"];
    let ran = shop.run(fold).plain();
    assert_eq!(
        (ran.code, ran.err.as_str()),
        (0, "2 lines are in the store\n")
    );
    let ran = shop.run(["audit", "--fold", "no-such.parquet"]).plain();
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("no-such.parquet"), "{}", ran.err);
}

#[test]
fn options_of_a_question_are_refused_without_it() {
    let shop = shop();
    for option in [["--format", "csv"], ["--instead-of", "PLA"]] {
        let ran = shop.run([&["audit", "archive"][..], &option, &PLA].concat());
        assert_eq!(ran.code, 2, "{}", ran.err);
        assert!(ran.err.contains("--what-if"), "{}", ran.err);
        assert!(!shop.folder.path().join("audit.sqlite").exists());
    }
}

/// A file that is not there is named once.
#[test]
fn trouble_names_its_file_once() {
    let shop = shop();
    let ran = audit(&shop, &["no-such-folder"]).plain();
    assert_eq!(ran.code, 2);
    let named = ran.err.matches("no-such-folder").count();
    assert_eq!(named, 1, "{}", ran.err);
}

/// A machine sheet is never told from the store, so that every job is read again: each is named, in every
/// form of output, with where its answer comes from.
#[test]
fn what_if_names_the_jobs_that_it_reads_again() {
    let shop = shop();
    audit(&shop, &["archive"]);
    std::fs::remove_file(shop.folder.path().join("archive/left-on.gcode")).unwrap();
    let what_if = |more: &[&str]| {
        let call = [
            "audit",
            "--what-if",
            "closed-hardened",
            "--instead-of",
            PLA[3],
        ];
        shop.run([&call[..], more, &PLA[..]].concat()).plain()
    };
    let ran = what_if(&["--format", "csv"]);
    assert_eq!(ran.code, 2, "{}", ran.err);
    let mut lines = ran.out.lines();
    assert_eq!(lines.next(), Some("now,then,from,path,member"));
    let lines: Vec<&str> = lines.collect();
    assert_eq!(lines.len(), 4, "{}", ran.out);
    for line in lines {
        match line.contains("left-on") {
            true => assert!(line.starts_with("held,,lost,"), "{line}"),
            false => assert!(line.contains(",job read again,"), "{line}"),
        }
    }
    assert!(ran.err.contains("4 were read again"), "{}", ran.err);
    let records = what_if(&["--format", "record"]).records();
    assert_eq!(records.len(), 4);
    assert!(records.iter().all(|row| row["from"] != "store"));
    assert_eq!(
        records.iter().filter(|row| row["then"].is_null()).count(),
        1
    );
    let table = what_if(&[]);
    assert!(table.out.contains("job read again"), "{}", table.out);
    #[cfg(feature = "parquet")]
    {
        let path = shop.folder.path().join("what-if.parquet");
        let call = [
            "audit",
            "--what-if",
            "closed-hardened",
            "--instead-of",
            PLA[3],
            "--format",
            "parquet",
        ];
        let mut ran = shop.command();
        ran.args(call)
            .args(PLA)
            .stdout(std::fs::File::create(&path).expect("room"));
        let ended = ran.output().expect("starts");
        assert_eq!(ended.status.code(), Some(2));
        let err = String::from_utf8_lossy(&ended.stderr);
        assert!(err.contains("4 were read again"), "{err}");
        let bytes = std::fs::read(&path).expect("is there");
        assert!(bytes.starts_with(b"PAR1") && bytes.ends_with(b"PAR1"));
    }
}
