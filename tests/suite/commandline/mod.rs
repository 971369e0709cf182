//! The real binary: what it says on which stream, and with which exit code.

#[cfg(feature = "audit")]
mod audit;
mod formats;
mod gate;
mod qualify;
mod rework;
mod survey;
mod traveler;
mod validator;
mod watch;

use serde_json::Value;
use std::ffi::OsStr;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use validator::{assert_valid, faults};

/// A square tube of three layers whose first is too fast for PLA (60 mm/s, then 80), and whose hotend
/// is right for it.
const FAST: &str = "\
G21
G90
G28
M140 S60
M190 S60
M109 S210
M82
G92 E0
G1 X10 Y10 Z0.2 F9000
G1 X60 Y10 E2 F3600
G1 X60 Y60 E4 F4800
G1 X10 Y60 E6
G1 X10 Y10 E8
G1 X10 Y10 Z0.4 F9000
G1 X60 Y10 E10 F3000
G1 X60 Y60 E12
G1 X10 Y60 E14
G1 X10 Y10 E16
G1 X10 Y10 Z0.6 F9000
G1 X60 Y10 E18 F3000
G1 X60 Y60 E20
G1 X10 Y60 E22
G1 X10 Y10 E24
M104 S0
M140 S0
M84
";

/// How many lines it has.
const FAST_LINES: usize = 26;

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
    shop.put(
        "own.toml",
        "name = \"spool of March\"\nfrom = \"PLA\"\n[first_layer]\n\
         speed_most = { value = \"30 mm/s\", source = \"the supplier's data sheet\", mark = \"published\" }\n",
    );
    let args = [
        "inspect",
        "lid.gcode",
        "-m",
        "own.toml",
        "-M",
        "open-lined",
        "--hold-from",
        "minor",
    ];
    let ran = shop.run(args).plain();
    assert_eq!((ran.code, ran.err.as_str()), (1, ""), "{}", ran.out);
    assert!(ran.out.starts_with("held  lid.gcode: "), "{}", ran.out);
    let is_asked = |block: &&str| block.starts_with("minor  first-layer-fast");
    let block: String = ran.out.split("\n\n").filter(is_asked).collect();
    insta::assert_snapshot!(block, @"
    minor  first-layer-fast
      ⚠ the first layer is laid at 80 mm/s, above the 30 mm/s that spool of March wants
        ╭─[lid.gcode:11:1]
     11 │ G1 X60 Y60 E4 F4800
        · ───────────────────
        ╰────
      limit:  30 mm/s: material sheet spool of March, first_layer.speed_most; the supplier's data sheet
              (published)
      help:   slow the first layer to 30 mm/s so that it holds to the bed
    ");
    for words in [
        "spool of March (own.toml)",
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
    insta::assert_snapshot!(ran.err, @"
    error  `missing.gcode` does not exist
    help   check the path, and put a name with spaces between quotes
    ");
}

#[test]
fn what_cannot_be_inspected_names_the_file_and_the_next_step() {
    let shop = Shop::new();
    shop.put("empty.gcode", "");
    shop.put(
        "page.gcode",
        "<html><body>\n<p>3 lids</p>\n</body></html>\n",
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
        ("page.gcode", "is no job"),
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

/// A file that may not be read, by somebody who may not read it. Whoever runs the tests as the
/// system's administrator may read everything, so that the program is started as nobody then.
#[cfg(unix)]
#[test]
fn what_may_not_be_read_is_said() {
    use std::os::unix::fs::PermissionsExt;
    use std::os::unix::process::CommandExt;
    /// The user that has no rights, by common practice.
    const NOBODY: u32 = 65534;
    let shop = Shop::new();
    let job = shop.put("locked.gcode", FAST);
    let sheet = shop.put("locked.toml", "name = \"x\"\n");
    let under = shop.put("file/../plain.gcode", FAST);
    let mode = |path: &Path, mode| {
        std::fs::set_permissions(path, PermissionsExt::from_mode(mode)).expect("a mode");
    };
    mode(&job, 0o000);
    mode(&sheet, 0o000);
    mode(shop.folder.path(), 0o755);
    // A file where a folder is wanted: so for everybody.
    let inside = under.join("inside.gcode");
    let ran = shop.run([OsStr::new("inspect"), inside.as_os_str()]);
    assert_eq!(ran.code, 2, "{}", ran.err);
    assert!(ran.err.contains("does not exist"), "{}", ran.err);
    let inside = shop.put("plain.toml", "name = \"x\"\n").join("inside.toml");
    let ran = shop.run([OsStr::new("sheet"), OsStr::new("check"), inside.as_os_str()]);
    assert_eq!(ran.code, 2, "{}", ran.err);
    assert!(ran.err.contains("there is no file"), "{}", ran.err);

    let may_read = std::fs::read(&job).is_ok();
    let program = shop.folder.path().join("program");
    std::fs::copy(env!("CARGO_BIN_EXE_meltgauge"), &program).expect("room for a program");
    mode(&program, 0o755);
    let run = |args: &[&OsStr]| {
        let mut command = Command::new(&program);
        command.current_dir(shop.folder.path()).args(args);
        if may_read {
            command.uid(NOBODY).gid(NOBODY);
        }
        command.output()
    };
    match run(&[OsStr::new("--version")]) {
        Ok(output) if output.status.success() => {}
        other => {
            eprintln!("skipped: the program cannot be started as nobody here: {other:?}");
            return;
        }
    }
    let ran = Ran::of(run(&[OsStr::new("inspect"), job.as_os_str()]).expect("it runs"));
    assert_eq!((ran.code, ran.out.as_str()), (2, ""), "{}", ran.err);
    assert!(
        ran.err.contains("locked.gcode") && ran.err.contains("may not be read"),
        "{}",
        ran.err
    );
    let sheet = [OsStr::new("sheet"), OsStr::new("check"), sheet.as_os_str()];
    let ran = Ran::of(run(&sheet).expect("it runs"));
    assert_eq!((ran.code, ran.out.as_str()), (2, ""), "{}", ran.err);
    assert!(
        ran.err.contains("locked.toml") && ran.err.contains("may be read"),
        "{}",
        ran.err
    );
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
    insta::assert_snapshot!(ran.err, @r#"
      × `hotend.print[0]`: `240` has no unit
       ╭─[own.toml:3:10]
     3 │ print = [240, 270]
       ·          ───
       ╰────
      help: write "240 °C"
    "#);
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
    assert_eq!(record["job"]["lines"], FAST_LINES);
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
            .contains("`UNOBTAINIUM` on line 1, which names no one sheet"),
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
    for (named, is_held) in [("0=PLA", true), ("1=PLA", false)] {
        let ran = shop.run(["inspect", "lid.gcode", "-m", named, "--format", "record"]);
        let findings = ran.records()[0]["findings"]
            .as_array()
            .cloned()
            .expect("a list");
        let is_fast = |finding: &Value| finding["requirement"] == "first-layer-fast";
        assert_eq!(
            findings.iter().any(is_fast),
            is_held,
            "{named}: {}",
            ran.out
        );
    }
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
    let findings = record["findings"].as_array().expect("a list");
    let fast = findings
        .iter()
        .position(|finding| finding["requirement"] == "first-layer-fast");
    assert_eq!(
        record["concessions"][0]["covers"],
        serde_json::json!([fast.expect("found")])
    );
    assert_eq!(findings[fast.expect("found")]["conceded"], 0);
    assert_valid(record);
    for (more, code, kind) in [
        ("bound = \"80 mm/s\"\n", 0, None),
        ("bound = \"79 mm/s\"\n", 1, Some("exceeded")),
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
    for words in ["`lid.gcode`: ", " bytes, 26 lines", " ns a line", " MB/s"] {
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
        "G1 X60 Y10 E2 F3600",
        "G1 X60 Y10 E2 F3600 ;\x1b]0;owned\x07\u{9b}2J\u{202e}\u{200b} \u{feff}",
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
        // The notes for the tests are left out.
        let shown: String = requirement
            .page
            .lines()
            .filter(|line| !line.starts_with(";!"))
            .map(|line| format!("{line}\n"))
            .collect();
        assert_eq!((page.out.as_str(), page.code), (shown.as_str(), 0));
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

#[test]
fn the_validator_finds_faults() {
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
        assert!(!faults(&bad).is_empty(), "{pointer}");
    }
    let mut bad = good;
    bad.as_object_mut().expect("an object").remove("tool");
    assert!(!faults(&bad).is_empty());
}

/// Words that nobody here knows are one block with a line each; the record keeps a finding each.
#[test]
fn a_family_of_findings_is_one_block() {
    let shop = Shop::new();
    let job = FAST.replace("M84\n", "SET_SPARK A=1\nM1001\nset_spark A=2\nM84\n");
    shop.put("job.gcode", job);
    let ran = shop.run(inspect(&["job.gcode"])).plain();
    assert_eq!(ran.out.matches("unknown-word").count(), 1, "{}", ran.out);
    for line in [
        "observation  unknown-word\n",
        "  SET_SPARK  2 times, first on line 26\n",
        "  M1001      on line 27\n",
    ] {
        assert!(ran.out.contains(line), "{line}\n{}", ran.out);
    }
    let ran = shop.run(inspect(&["job.gcode", "--format", "record"]));
    let of_word = |finding: &&Value| finding["requirement"] == "unknown-word";
    let record = &ran.records()[0];
    let findings = record["findings"].as_array().expect("a list");
    assert_eq!(findings.iter().filter(of_word).count(), 2);
}

/// What stands behind the program's end is said once, and in the record.
#[test]
fn lines_behind_the_end_are_counted() {
    let shop = Shop::new();
    let machine = "from = \"open-lined\"\n[control]\nprogram_ends = [\"M2\"]\n";
    shop.put("mine.toml", machine);
    shop.put(
        "job.gcode",
        format!("{FAST}M2\nM104 S900\nNONSENSE_WORD\n; the end\n"),
    );
    let args = [
        "inspect",
        "job.gcode",
        "--material",
        "PLA",
        "--machine",
        "./mine.toml",
    ];
    let ran = shop.run(args).plain();
    let words = "the program ends on line 27, 2 lines after it were not read as job";
    let out: Vec<&str> = ran.out.split_whitespace().collect();
    assert!(out.join(" ").contains(words), "{}", ran.out);
    assert!(
        !ran.out.contains("NONSENSE") && !ran.out.contains("S900"),
        "{}",
        ran.out
    );
    let ran = shop.run(args.into_iter().chain(["--format", "record"]));
    let record = &ran.records()[0];
    assert_eq!(record["job"]["ends_on"], 27);
    assert_eq!(record["job"]["unread"], 2);
    assert_valid(record);
}

/// A sheet's faults are all said at once.
#[test]
fn checking_a_sheet_says_all_that_is_wrong() {
    let shop = Shop::new();
    let sheet = "name = \"x\"\ndensty = \"1 g/cm³\"\n[hotend]\nprint = [\"240\", \"270 °C\"]\n";
    shop.put("x.toml", sheet);
    let ran = shop.run(["sheet", "check", "./x.toml"]).plain();
    assert_eq!(ran.code, 2);
    for words in [
        "`densty`: no sheet has this key",
        "`240` has no unit",
        "2 faults",
    ] {
        assert!(ran.err.contains(words), "{words}\n{}", ran.err);
    }
}
