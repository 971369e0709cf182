//! The real binary: what it says on which stream, and with which exit code.

use serde_json::Value;
use std::ffi::OsStr;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// A job whose first layer is too fast for PLA and whose hotend is right for it.
const FAST: &str = "G28\nM140 S60\nM190 S60\nM109 S210\nG1 X10 Y10 Z0.2 F9000\nG1 X60 Y10 E2 F2400\n\
                    G1 X60 Y60 E4 F3000\nG1 X10 Y60 Z0.4 E6\nG1 X10 Y10 E8\nM104 S0\nM140 S0\n";

/// A folder of its own for each test, with no configuration above it that this project wrote.
struct Shop {
    folder: tempfile::TempDir,
}

struct Ran {
    out: String,
    err: String,
    code: i32,
}

impl Shop {
    fn new() -> Self {
        Self {
            folder: tempfile::tempdir().expect("room for a folder"),
        }
    }

    fn put(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        let path = self.folder.path().join(name);
        std::fs::create_dir_all(path.parent().expect("a folder")).expect("room");
        std::fs::write(&path, bytes).expect("room for a file");
        path
    }

    fn command(&self) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_meltgauge"));
        command
            .current_dir(self.folder.path())
            .env_remove("NO_COLOR")
            .env_remove("TERM");
        command
    }

    fn run<S: AsRef<OsStr>>(&self, args: impl IntoIterator<Item = S>) -> Ran {
        Ran::of(
            self.command()
                .args(args)
                .stdin(Stdio::null())
                .output()
                .expect("starts"),
        )
    }

    fn fed(&self, args: &[&str], job: &[u8]) -> Ran {
        let mut child = self
            .command()
            .args(args)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("starts");
        // Where the program stops reading early, the rest of the job has nowhere to go.
        let _ = child.stdin.take().expect("piped").write_all(job);
        Ran::of(child.wait_with_output().expect("ends"))
    }
}

impl Ran {
    fn of(output: Output) -> Self {
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("output is UTF-8");
        let ran = Self {
            out: text(output.stdout),
            err: text(output.stderr),
            code: output.status.code().expect("no signal ended it"),
        };
        for text in [&ran.out, &ran.err] {
            let harmful = |letter: char| letter.is_control() && letter != '\n' && letter != '\x1b';
            assert!(!text.contains(harmful), "{text:?}");
            assert!(!text.contains("panicked"), "{text}");
        }
        ran
    }

    /// Without colour there is no escape either.
    fn plain(self) -> Self {
        assert!(
            !self.out.contains('\x1b') && !self.err.contains('\x1b'),
            "{}{}",
            self.out,
            self.err
        );
        self
    }

    fn records(&self) -> Vec<Value> {
        let read = |line: &str| serde_json::from_str(line).expect("every line is JSON");
        self.out.lines().map(read).collect()
    }
}

const PLA: [&str; 4] = ["--material", "PLA", "--machine", "open-lined"];

fn inspect<'a>(rest: &[&'a str]) -> Vec<&'a str> {
    [&["inspect"], &PLA[..], rest].concat()
}

#[test]
fn a_finding_is_shown_with_its_line_its_limit_and_what_to_do() {
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    let ran = shop
        .run(inspect(&["lid.gcode", "--hold-from", "minor"]))
        .plain();
    assert_eq!((ran.code, ran.err.as_str()), (1, ""), "{}", ran.out);
    assert!(ran.out.starts_with("held  lid.gcode: "), "{}", ran.out);
    let block: String = ran
        .out
        .split("\n\n")
        .filter(|block| block.contains("first-layer-fast") && block.starts_with("minor"))
        .collect();
    insta::assert_snapshot!(block, @"");
    for words in [
        "PLA (built-in library)",
        "open-lined (built-in library)",
        "210 °C",
        "the job sets and uses",
        "caution",
    ] {
        assert!(ran.out.contains(words), "{words}: {}", ran.out);
    }
    assert!(
        ran.out.lines().all(|line| line.chars().count() <= 100),
        "{}",
        ran.out
    );
}

#[test]
fn the_verdict_makes_the_exit_code() {
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    // Minor: released by default, held where minor holds.
    assert_eq!(shop.run(inspect(&["lid.gcode"])).code, 0);
    assert_eq!(
        shop.run(inspect(&["lid.gcode", "--hold-from", "minor"]))
            .code,
        1
    );
    // Held for being far too cold; what cannot be inspected wins over it, and the batch goes on.
    let cold = ["inspect", "lid.gcode", "-m", "PC"];
    let ran = shop.run(cold);
    assert_eq!(ran.code, 1, "{}", ran.out);
    let ran = shop
        .run(["inspect", "missing.gcode", "lid.gcode", "-m", "PC"])
        .plain();
    assert_eq!(ran.code, 2);
    assert!(ran.out.contains("held  lid.gcode"), "{}", ran.out);
    assert!(
        ran.out
            .ends_with("2 jobs: 0 released, 1 held, 1 not inspected\n"),
        "{}",
        ran.out
    );
    insta::assert_snapshot!(ran.err, @"");
}

#[test]
fn what_cannot_be_inspected_names_the_file_and_the_next_step() {
    let shop = Shop::new();
    shop.put("empty.gcode", "");
    shop.put(
        "prose.gcode",
        "Dear shop,\nplease print the lid\nby Friday.\nThank you\n",
    );
    shop.put(
        "random.gcode",
        (0u32..9000)
            .map(|at| (at.wrapping_mul(2_654_435_761) >> 13) as u8)
            .collect::<Vec<_>>(),
    );
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
    packer
        .write_all(FAST.repeat(40).as_bytes())
        .expect("memory");
    let packed = packer.finish().expect("memory");
    shop.put("cut.gcode.gz", &packed[..packed.len() / 2]);
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
    std::io::copy(
        &mut std::io::Read::take(std::io::repeat(b'\n'), 40 << 20),
        &mut packer,
    )
    .expect("memory");
    shop.put("bomb.gcode.gz", packer.finish().expect("memory"));
    std::fs::create_dir(shop.folder.path().join("folder")).expect("room");
    for (job, words) in [
        ("missing.gcode", "does not exist"),
        ("folder", "is a directory"),
        ("empty.gcode", "is empty"),
        ("prose.gcode", "is no job"),
        ("random.gcode", "is no text"),
        ("cut.gcode.gz", "cut short"),
        ("bomb.gcode.gz", "unpacks to more than 200 times"),
    ] {
        let ran = shop.run(inspect(&[job])).plain();
        assert_eq!((ran.code, ran.out.as_str()), (2, ""), "{job}: {}", ran.err);
        assert!(
            ran.err.contains(job) && ran.err.contains(words),
            "{job}: {}",
            ran.err
        );
        assert!(ran.err.contains("\n  help   "), "{job}: {}", ran.err);
        // A program that reads records gets one all the same.
        let ran = shop.run(inspect(&[job, "--format", "record"])).plain();
        let record = &ran.records()[0];
        assert_eq!((ran.code, &record["verdict"]), (2, &Value::Null), "{job}");
        assert!(
            record["error"]["message"]
                .as_str()
                .is_some_and(|said| said.contains(words)),
            "{record}"
        );
        assert_valid(record);
    }
}

#[test]
fn mistakes_in_the_call_are_2() {
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    for (args, words) in [
        (&["inspect"][..], "JOB"),
        (&["inspect", "lid.gcode", "--format", "poem"], "poem"),
        (&["inspect", "lid.gcode", "--hold-from", "all"], "all"),
        (&["inspect", "-", "-"], "named twice"),
        (&["inspect", "lid.gcode", "-m", "PLAA"], "`PLA`"),
        (&["inspect", "lid.gcode", "-M", "open-line"], "`open-lined`"),
        (
            &["inspect", "lid.gcode", "-m", "0=PLA,PVAL"],
            "`PVAL` does not name a tool",
        ),
        (
            &["inspect", "lid.gcode", "-m", "none.toml"],
            "there is no file none.toml",
        ),
        (
            &["inspect", "lid.gcode", "--config", "none.toml"],
            "there is no configuration",
        ),
        (
            &["requirement", "hotend-bellow-sheet"],
            "`hotend-below-sheet`",
        ),
        (&["sheet", "show", "unobtainium"], "unobtainium"),
        (&["prit"], "prit"),
        (&[], "Usage"),
    ] {
        let ran = shop.run(args).plain();
        assert_eq!((ran.code, ran.out.as_str()), (2, ""), "{args:?}");
        assert!(ran.err.contains(words), "{args:?}: {}", ran.err);
    }
    for args in [&["--help"][..], &["--version"], &["inspect", "--help"]] {
        let ran = shop.run(args).plain();
        assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{args:?}");
    }
}

#[test]
fn a_sheet_that_is_wrong_is_shown_at_its_place() {
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    shop.put("own.toml", "name = \"X\"\n[hotend]\nprint = [240, 270]\n");
    let ran = shop
        .run(["inspect", "lid.gcode", "--material", "own.toml"])
        .plain();
    assert_eq!((ran.code, ran.out.as_str()), (2, ""));
    insta::assert_snapshot!(ran.err, @"");
    shop.put("good.toml", "from = \"PLA\"\nname = \"my PLA\"\n");
    let ran = shop
        .run(["sheet", "check", "good.toml", "own.toml"])
        .plain();
    assert_eq!(ran.code, 2);
    assert!(
        ran.out
            .starts_with("good  good.toml: material sheet my PLA, "),
        "{}",
        ran.out
    );
    assert!(ran.err.contains("own.toml:3:"), "{}", ran.err);
    assert_eq!(shop.run(["sheet", "check", "good.toml"]).code, 0);
    // A machine's fault is told as a machine's.
    shop.put(
        "box.toml",
        "name = \"box\"\nheight = \"warm\"\n[bed]\nlimit = \"100 °C\"\n",
    );
    let ran = shop.run(["sheet", "check", "box.toml"]).plain();
    assert!(
        ran.err.contains("box.toml:2:10") && ran.code == 2,
        "{}",
        ran.err
    );
}

#[test]
fn the_standard_input_is_a_job_too() {
    let shop = Shop::new();
    let ran = shop.fed(&inspect(&["-", "--format", "record"]), FAST.as_bytes());
    let record = &ran.records()[0];
    assert_eq!(
        (ran.code, record["job"]["path"].as_str()),
        (0, Some("-")),
        "{}",
        ran.err
    );
    assert_eq!(record["job"]["lines"], 11);
    let ran = shop.fed(&inspect(&["-"]), b"");
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("standard input is empty"), "{}", ran.err);
}

#[test]
fn a_job_may_name_its_material_and_no_class_is_guessed() {
    let shop = Shop::new();
    let declares = |word: &str| format!("; material = {word}\n{FAST}");
    shop.put("lid.gcode", declares("PLA"));
    for ran in [
        shop.run(["inspect", "lid.gcode", "--format", "record"]),
        shop.fed(
            &["inspect", "-", "--format", "record"],
            declares("PLA").as_bytes(),
        ),
    ] {
        let record = &ran.records()[0];
        let material = &record["material"][0];
        assert_eq!(material["name"], "PLA", "{record}");
        assert_eq!(
            (&material["named_by"], &material["declared_on"]),
            (&Value::from("job"), &Value::from(1))
        );
        assert_eq!(record["machine"], Value::Null);
        let finds = |record: &Value| {
            let findings = record["findings"].as_array().cloned().unwrap_or_default();
            findings
                .iter()
                .any(|finding| finding["requirement"] == "first-layer-fast")
        };
        assert!(finds(record), "{record}");
    }
    let ran = shop.run(["inspect", "lid.gcode"]).plain();
    assert!(
        ran.out.contains("as the job declares on line 1"),
        "{}",
        ran.out
    );
    assert!(ran.out.contains("no machine is named: "), "{}", ran.out);
    // What is no sheet is said so, and nothing is held in its place.
    shop.put("odd.gcode", declares("unobtainium"));
    let ran = shop.run(["inspect", "odd.gcode"]).plain();
    assert!(
        ran.out
            .contains("`UNOBTAINIUM` on line 1, which is no sheet"),
        "{}",
        ran.out
    );
    assert!(ran.out.contains("no material is named: "), "{}", ran.out);
    assert!(
        ran.out
            .lines()
            .next()
            .is_some_and(|line| line.contains("requirements not held")),
        "{}",
        ran.out
    );
    // The command line goes before the job.
    let ran = shop.run(["inspect", "lid.gcode", "-m", "PETG", "--format", "record"]);
    assert_eq!(ran.records()[0]["material"][0]["named_by"], "command-line");
}

#[test]
fn materials_by_tool() {
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    let ran = shop.run([
        "inspect",
        "lid.gcode",
        "-m",
        "0=PLA,1=PVAL",
        "--format",
        "record",
    ]);
    let record = &ran.records()[0];
    assert_eq!(
        (
            &record["material"][0]["tool"],
            &record["material"][1]["tool"]
        ),
        (&0.into(), &1.into())
    );
    assert_eq!(record["material"][1]["name"], "PVAL");
    // Named for another tool only, a sheet holds nothing of this one.
    let ran = shop.run(["inspect", "lid.gcode", "-m", "1=PLA", "--format", "record"]);
    assert_eq!(
        ran.records()[0]["findings"].as_array().map(Vec::len),
        Some(0),
        "{}",
        ran.out
    );
}

#[test]
fn a_configuration_gives_defaults_and_concessions() {
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    let concession = |more: &str| {
        format!(
            "material = \"own.toml\"\nmachine = \"open-lined\"\nhold-from = \"minor\"\n[[concession]]\n\
             requirement = \"first-layer-fast\"\nreason = \"wide brim\"\nby = \"the shop\"\n{more}"
        )
    };
    shop.put(
        "own.toml",
        "from = \"PLA\"\nname = \"shop PLA\"\n[first_layer]\nspeed_most = \"30 mm/s\"\n",
    );
    shop.put("below/deep/lid.gcode", FAST);
    let inspect = |folder: &str, more: &str| {
        shop.put("meltgauge.toml", concession(more));
        let folder = shop.folder.path().join(folder);
        let args = ["inspect", "lid.gcode", "--format", "record"];
        Ran::of(
            shop.command()
                .current_dir(folder)
                .args(args)
                .output()
                .expect("starts"),
        )
    };
    // Found upward; its sheet lies beside it.
    let ran = inspect("below/deep", "");
    assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{}", ran.out);
    let record = &ran.records()[0];
    assert_eq!(record["verdict"], "released-by-concession");
    assert_eq!(record["material"][0]["name"], "shop PLA");
    assert_eq!(record["material"][0]["named_by"], "configuration");
    assert_eq!(record["concessions"][0]["covers"], serde_json::json!([0]));
    assert_valid(record);
    for (more, code, kind) in [
        ("bound = \"50 mm/s\"\n", 0, None),
        ("bound = \"49 mm/s\"\n", 1, Some("exceeded")),
        ("bound = \"250 °C\"\n", 1, Some("unmeasured")),
        ("until = 2020-01-31\n", 1, Some("expired")),
        ("until = 9999-12-31\n", 0, None),
        ("material = \"PETG\"\n", 1, None),
        ("job = \"lid.*\"\n", 0, None),
        ("job = \"cup.*\"\n", 1, None),
    ] {
        let ran = inspect(".", more);
        assert_eq!(ran.code, code, "{more}: {}", ran.out);
        let record = &ran.records()[0];
        assert_eq!(
            record["concessions"][0]["remarks"][0]["kind"].as_str(),
            kind,
            "{more}"
        );
        assert_valid(record);
    }
    let ran = inspect(
        ".",
        "[[concession]]\nrequirement = \"first-layer-slow\"\nreason = \"a\"\nby = \"b\"\n",
    );
    assert_eq!(
        ran.records()[0]["concessions"][1]["remarks"][0]["kind"],
        "unknown-requirement"
    );
    // On a terminal's page it reads so.
    let ran = shop.run(["inspect", "lid.gcode"]).plain();
    assert!(
        ran.out.starts_with("released by concession  lid.gcode: "),
        "{}",
        ran.out
    );
    assert!(ran.out.contains("the shop: wide brim"), "{}", ran.out);
    assert!(
        ran.out.contains("names a requirement that does not exist"),
        "{}",
        ran.out
    );
    // The command line goes before it.
    let ran = shop.run([
        "inspect",
        "lid.gcode",
        "--hold-from",
        "major",
        "--format",
        "record",
    ]);
    assert_eq!(ran.records()[0]["verdict"], "released");
    // A mistake in it is shown at its place.
    let ran = inspect(".", "bound = 50\n");
    assert_eq!((ran.code, ran.out.as_str()), (2, ""));
    assert!(
        ran.err.contains("meltgauge.toml:8:9") && ran.err.contains("a bare number"),
        "{}",
        ran.err
    );
}

#[test]
fn a_configuration_beside_the_job_is_not_read() {
    let shop = Shop::new();
    shop.put("theirs/lid.gcode", FAST);
    shop.put(
        "theirs/meltgauge.toml",
        "[[concession]]\nrequirement = \"first-layer-fast\"\nreason = \"trust me\"\nby = \"a stranger\"\n",
    );
    let ran = shop
        .run(inspect(&["theirs/lid.gcode", "--hold-from", "minor"]))
        .plain();
    assert_eq!(ran.code, 1);
    assert!(!ran.out.contains("stranger"), "{}", ran.out);
}

#[test]
fn quiet_says_one_line_for_what_is_held() {
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    let ran = shop.run(inspect(&["lid.gcode", "--quiet"]));
    assert_eq!((ran.out.as_str(), ran.err.as_str(), ran.code), ("", "", 0));
    let ran = shop.run(inspect(&[
        "lid.gcode",
        "lid.gcode",
        "--quiet",
        "--hold-from",
        "minor",
    ]));
    assert_eq!((ran.out.lines().count(), ran.code), (2, 1), "{}", ran.out);
    assert!(
        ran.out
            .lines()
            .all(|line| line.starts_with("held  lid.gcode: ")),
        "{}",
        ran.out
    );
}

#[test]
fn timings_are_one_line_on_the_standard_error() {
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    let ran = shop.run(inspect(&["lid.gcode", "--timings", "--format", "record"]));
    assert_eq!(
        (ran.records().len(), ran.err.lines().count()),
        (1, 1),
        "{}",
        ran.err
    );
    for words in ["`lid.gcode`: ", " bytes, 11 lines", " ns a line", " MB/s"] {
        assert!(ran.err.contains(words), "{}", ran.err);
    }
}

#[test]
fn many_jobs_come_in_the_order_given_however_many_threads() {
    let shop = Shop::new();
    let names: Vec<String> = (0..24).map(|at| format!("job-{at:02}.gcode")).collect();
    for (at, name) in names.iter().enumerate() {
        // The first are the longest, so that the others overtake them.
        shop.put(
            name,
            FAST.to_owned() + &"G1 X20 Y20\nG1 X30 Y30\n".repeat((24 - at) * 400),
        );
    }
    let run = |more: &[&str]| {
        let names = names.iter().map(String::as_str);
        shop.run(inspect(more).into_iter().chain(names))
    };
    let (two, one) = (
        run(&["--format", "record"]),
        run(&["--format", "record", "--one-thread"]),
    );
    assert_eq!(two.out, one.out);
    let paths: Vec<String> = two
        .records()
        .iter()
        .map(|record| {
            record["job"]["path"]
                .as_str()
                .unwrap_or_default()
                .to_owned()
        })
        .collect();
    assert_eq!(paths, names);
}

#[test]
fn a_hostile_job_and_its_name_cannot_write_to_the_terminal() {
    let shop = Shop::new();
    let name = "li\x1b[2Jd\u{202e}.gcode";
    let job = FAST.replace(
        "G1 X60 Y10 E2 F2400",
        "G1 X60 Y10 E2 F2400 ;\x1b]0;owned\x07\u{9b}2J\u{202e}\u{200b} \u{feff}",
    );
    let mut bytes = job.into_bytes();
    bytes.extend_from_slice(b"; \xb0\xff\x00\x7f\n");
    shop.put(name, &bytes);
    for more in [
        &[][..],
        &["--format", "record"],
        &["--quiet", "--hold-from", "minor"],
    ] {
        let ran = shop
            .run([&["inspect"], &PLA[..], more, &[name]].concat())
            .plain();
        assert!(ran.code < 2, "{}", ran.err);
        assert!(
            !ran.out.contains(['\u{202e}', '\u{200b}', '\u{feff}']),
            "{:?}",
            ran.out
        );
    }
    let ran = shop.run([&["inspect"], &PLA[..], &["--format", "record", name]].concat());
    // The record still has the very name.
    assert_eq!(ran.records()[0]["job"]["path"].as_str(), Some(name));
    let ran = shop.run(inspect(&["no\x1b[2J.gcode"])).plain();
    assert!(ran.err.contains("no␛[2J.gcode"), "{}", ran.err);
}

#[cfg(unix)]
#[test]
fn a_name_that_is_not_utf8_is_kept_without_loss() {
    use std::os::unix::ffi::OsStrExt;
    let shop = Shop::new();
    let name = OsStr::from_bytes(b"lid\xb0.gcode");
    std::fs::write(shop.folder.path().join(name), FAST).expect("room");
    let ran = shop.run([
        OsStr::new("inspect"),
        OsStr::new("--format"),
        OsStr::new("record"),
        name,
    ]);
    let record = &ran.records()[0];
    assert_eq!(record["job"]["path_bytes"], "6c6964b02e67636f6465");
    assert_valid(record);
}

#[test]
fn colour_is_asked_for_or_not_there() {
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    let ran = shop.run(inspect(&["lid.gcode", "--color", "always"]));
    assert!(ran.out.contains("\x1b[32mreleased\x1b[0m"), "{:?}", ran.out);
    shop.run(inspect(&["lid.gcode", "--color", "never"]))
        .plain();
    shop.run(inspect(&["lid.gcode"])).plain();
    let ran = Ran::of(
        shop.command()
            .env("NO_COLOR", "1")
            .args(inspect(&["lid.gcode"]))
            .output()
            .expect("starts"),
    );
    ran.plain();
}

#[cfg(unix)]
#[test]
fn a_reader_that_goes_away_is_no_fault() {
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    for args in [
        inspect(&["lid.gcode"]),
        vec!["requirement"],
        vec!["sheet", "show", "PLA"],
    ] {
        let mut child = shop
            .command()
            .args(&args)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("starts");
        drop(child.stdout.take());
        let output = child.wait_with_output().expect("ends");
        assert_eq!(output.status.code(), Some(0), "{args:?}");
        assert_eq!(String::from_utf8_lossy(&output.stderr), "", "{args:?}");
    }
}

#[test]
fn requirements_and_sheets_can_be_read() {
    let shop = Shop::new();
    let list = shop.run(["requirement"]).plain();
    assert_eq!(list.code, 0);
    for requirement in meltgauge::inspection::REGISTER {
        assert!(
            list.out.contains(&format!("  {}", requirement.id)),
            "{}",
            requirement.id
        );
        let page = shop.run(["requirement", requirement.id]).plain();
        assert_eq!((page.out.as_str(), page.code), (requirement.page, 0));
    }
    let list = shop.run(["sheet", "list"]).plain();
    for name in ["PA6-CF", "PEEK", "open-lined", "two-tools"] {
        assert!(list.out.contains(&format!("  {name} ")), "{}", list.out);
        let shown = shop.run(["sheet", "show", name]).plain();
        assert!(
            shown.out.starts_with(&format!("{name}  m")) && shown.code == 0,
            "{}",
            shown.out
        );
        assert!(
            shown.out.lines().all(|line| line.chars().count() <= 100),
            "{}",
            shown.out
        );
    }
    for kind in ["material", "machine"] {
        let ran = shop.run(["sheet", "schema", kind]);
        let schema: Value = serde_json::from_str(&ran.out).expect("a schema is JSON");
        assert_eq!(
            schema["$schema"],
            "https://json-schema.org/draft/2020-12/schema"
        );
    }
}

#[test]
fn every_conforming_job_gives_a_record_that_is_valid() {
    let shop = Shop::new();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus/conforming");
    let mut jobs: Vec<PathBuf> = std::fs::read_dir(folder)
        .expect("the folder is there")
        .map(|entry| entry.expect("readable").path())
        .filter(|path| path.extension().is_some_and(|end| end == "gcode"))
        .collect();
    jobs.sort();
    assert!(jobs.len() >= 10);
    for (material, machine) in [
        ("PLA", "open-lined"),
        ("0=PEEK,1=PVAL", "two-tools"),
        ("ABS", "heated-chamber"),
    ] {
        let args = [
            "inspect", "--format", "record", "-m", material, "-M", machine,
        ]
        .map(OsStr::new);
        let ran = shop.run(
            args.into_iter()
                .chain(jobs.iter().map(|job| job.as_os_str())),
        );
        let records = ran.records();
        assert_eq!(records.len(), jobs.len(), "{}", ran.err);
        for record in &records {
            assert_valid(record);
            assert_ne!(record["verdict"], Value::Null, "{record}");
        }
    }
}

/// Holds a record against `corpus/record.schema.json`.
fn assert_valid(record: &Value) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus/record.schema.json");
    let schema: Value =
        serde_json::from_slice(&std::fs::read(path).expect("the schema is there")).expect("JSON");
    let mut faults = Vec::new();
    validate(record, &schema, &schema, "", &mut faults);
    assert!(faults.is_empty(), "{faults:#?}\n{record:#}");
}

/// A validator for the words of JSON Schema (2020-12) that this schema uses; another word is a fault,
/// so that none is passed over.
fn validate(value: &Value, schema: &Value, root: &Value, at: &str, faults: &mut Vec<String>) {
    let Some(words) = schema.as_object() else {
        if schema == &Value::Bool(false) {
            faults.push(format!("{at}: nothing is allowed here"));
        }
        return;
    };
    for (word, rule) in words {
        let mut fault = |what: &str| faults.push(format!("{at}: {what}: {value}"));
        match word.as_str() {
            "$schema" | "$defs" | "title" | "description" | "format" => {}
            "$ref" => {
                let pointer = rule
                    .as_str()
                    .and_then(|rule| rule.strip_prefix('#'))
                    .expect("a local reference");
                validate(
                    value,
                    root.pointer(pointer).expect("it is there"),
                    root,
                    at,
                    faults,
                );
            }
            "type" => {
                let is = |kind: &str| match kind {
                    "null" => value.is_null(),
                    "object" => value.is_object(),
                    "array" => value.is_array(),
                    "string" => value.is_string(),
                    "boolean" => value.is_boolean(),
                    "number" => value.is_number(),
                    "integer" => value.is_u64() || value.is_i64(),
                    other => panic!("the type {other} is not known here"),
                };
                let fits = match rule {
                    Value::String(kind) => is(kind),
                    Value::Array(kinds) => kinds.iter().filter_map(Value::as_str).any(is),
                    _ => false,
                };
                if !fits {
                    fault(&format!("is not {rule}"));
                }
            }
            "const" if value != rule => fault(&format!("is not {rule}")),
            "enum" if !rule.as_array().is_some_and(|list| list.contains(value)) => {
                fault("is none of the words")
            }
            "const" | "enum" => {}
            "minimum" | "maximum" => {
                if let (Some(number), Some(bound)) = (value.as_f64(), rule.as_f64())
                    && ((word == "minimum" && number < bound)
                        || (word == "maximum" && number > bound))
                {
                    fault(&format!("is beyond {word} {rule}"));
                }
            }
            "minItems" | "maxItems" => {
                if let (Some(list), Some(bound)) = (value.as_array(), rule.as_u64())
                    && ((word == "minItems" && (list.len() as u64) < bound)
                        || (word == "maxItems" && list.len() as u64 > bound))
                {
                    fault(&format!("does not keep {word} {rule}"));
                }
            }
            "required" => {
                for key in rule
                    .as_array()
                    .into_iter()
                    .flatten()
                    .filter_map(Value::as_str)
                {
                    if value.is_object() && value.get(key).is_none() {
                        fault(&format!("lacks {key}"));
                    }
                }
            }
            "properties" => {
                for (key, rule) in rule.as_object().into_iter().flatten() {
                    if let Some(value) = value.get(key) {
                        validate(value, rule, root, &format!("{at}/{key}"), faults);
                    }
                }
            }
            "additionalProperties" => {
                let known = words.get("properties").and_then(Value::as_object);
                for (key, value) in value.as_object().into_iter().flatten() {
                    if known.is_none_or(|known| !known.contains_key(key)) {
                        validate(value, rule, root, &format!("{at}/{key}"), faults);
                    }
                }
            }
            "items" => {
                for (index, value) in value.as_array().into_iter().flatten().enumerate() {
                    validate(value, rule, root, &format!("{at}/{index}"), faults);
                }
            }
            "anyOf" | "oneOf" => {
                let fits = rule.as_array().into_iter().flatten().filter(|rule| {
                    let mut faults = Vec::new();
                    validate(value, rule, root, at, &mut faults);
                    faults.is_empty()
                });
                let count = fits.count();
                if count == 0 || (word == "oneOf" && count > 1) {
                    fault(&format!("fits {count} of {word}"));
                }
            }
            other => panic!("the word {other} is not known to this validator"),
        }
    }
}

#[test]
fn the_validator_finds_faults() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus/record.schema.json");
    let schema: Value =
        serde_json::from_slice(&std::fs::read(path).expect("the schema is there")).expect("JSON");
    let shop = Shop::new();
    shop.put("lid.gcode", FAST);
    let ran = shop.run(inspect(&["lid.gcode", "--format", "record"]));
    let good = ran.records().remove(0);
    assert_valid(&good);
    assert!(
        good["findings"]
            .as_array()
            .is_some_and(|list| !list.is_empty()),
        "{good}"
    );
    for (pointer, wrong) in [
        ("/verdict", Value::from("maybe")),
        ("/job/lines", Value::from("eleven")),
        ("/job/lines", Value::from(-1)),
        ("/findings/0/class", Value::from("grave")),
        ("/findings/0/extent/first/byte", serde_json::json!([1])),
        ("/survey/part_mm", serde_json::json!([[0, 1]])),
        ("/not_held", Value::Null),
    ] {
        let mut bad = good.clone();
        *bad.pointer_mut(pointer).expect("it is there") = wrong;
        let mut faults = Vec::new();
        validate(&bad, &schema, &schema, "", &mut faults);
        assert!(!faults.is_empty(), "{pointer}");
    }
    let mut bad = good;
    bad.as_object_mut().expect("an object").remove("tool");
    let mut faults = Vec::new();
    validate(&bad, &schema, &schema, "", &mut faults);
    assert!(!faults.is_empty());
}
