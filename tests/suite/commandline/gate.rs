//! The gate as other programs call it: exit code, one line, and what becomes of the job.

use super::validator::assert_valid_by;
use super::{FAST, Ran, Shop};
use serde_json::Value;
use std::path::Path;

const SHEETS: [&str; 4] = ["-m", "PLA", "-M", "open-lined"];

/// Released for PLA: the first layer comes down to 25 mm/s.
fn good() -> String {
    FAST.replace("F3600", "F1200").replace("F4800", "F1200")
}

/// Held: the hotend is too cold, which a rework can put right.
fn cold() -> String {
    good().replace("M109 S210", "M109 S165")
}

fn gate(shop: &Shop, more: &[&str], job: &str) -> Ran {
    let args = ["gate"].iter().chain(&SHEETS).chain(more).chain([&job]);
    shop.run(args)
}

/// The only line that is written, as JSON.
fn line(ran: &Ran) -> Value {
    assert_eq!(ran.out, "");
    assert_eq!(ran.err.lines().count(), 1, "{}", ran.err);
    let line: Value = serde_json::from_str(&ran.err).expect("one JSON object");
    assert_valid_by("gate", &line);
    line
}

#[test]
fn a_job_passes_or_is_held_and_is_left_as_it_is() {
    let shop = Shop::new();
    for (job, answer, code) in [
        (good(), "pass", 0),
        (cold(), "hold", 1),
        (String::new(), "not-inspected", 2),
    ] {
        let path = shop.put("lid.gcode", &job);
        let ran = gate(&shop, &["--log", "json"], "lid.gcode");
        let line = line(&ran);
        assert_eq!(
            (ran.code, line["answer"].as_str()),
            (code, Some(answer)),
            "{}",
            ran.err
        );
        assert_eq!(std::fs::read_to_string(path).unwrap(), job);
        assert_eq!(std::fs::read_dir(shop.folder.path()).unwrap().count(), 1);
    }
    let ran = gate(&shop, &[], "missing.gcode");
    assert_eq!(ran.code, 2);
    assert!(
        ran.err
            .contains("answer=not-inspected job=\"missing.gcode\""),
        "{}",
        ran.err
    );
    let ran = shop.run(["gate", "lid.gcode"]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("--config"), "{}", ran.err);
}

#[test]
fn the_line_is_for_a_log() {
    let shop = Shop::new();
    shop.put("lid.gcode", cold());
    let ran = gate(&shop, &[], "lid.gcode");
    let (time, rest) = ran.err.split_once(" gate=").unwrap();
    assert_eq!(time.len(), "time=2027-03-31T14:05:09Z".len());
    assert!(
        rest.contains("answer=hold job=\"lid.gcode\" reason=\""),
        "{rest}"
    );
    assert!(rest.contains("hotend-below-sheet (major)"), "{rest}");
    assert!(
        rest.contains("material=\"PLA\" machine=\"open-lined\""),
        "{rest}"
    );
}

#[cfg(unix)]
#[test]
fn a_name_cannot_forge_a_line() {
    use std::os::unix::ffi::OsStrExt;
    let shop = Shop::new();
    let name = std::ffi::OsStr::from_bytes(b"a\"\ntime=0 answer=pass\r\x1b[2J\xff.gcode");
    std::fs::write(shop.folder.path().join(name), cold()).unwrap();
    for log in ["text", "json"] {
        let mut args: Vec<&std::ffi::OsStr> = vec!["gate".as_ref()];
        args.extend(SHEETS.iter().map(|arg| std::ffi::OsStr::new(*arg)));
        args.extend(["--log".as_ref(), log.as_ref(), name]);
        let ran = shop.run(args);
        assert_eq!(ran.code, 1);
        assert_eq!(ran.err.lines().count(), 1, "{:?}", ran.err);
        assert!(
            !ran.err.trim_end().contains(char::is_control),
            "{:?}",
            ran.err
        );
        if log == "json" {
            let line: Value = serde_json::from_str(&ran.err).unwrap();
            assert!(
                line["job_bytes"]
                    .as_str()
                    .unwrap()
                    .ends_with("ff2e67636f6465")
            );
        } else {
            assert!(
                ran.err.contains("job=\"a\\\"␊time=0 answer=pass␍"),
                "{}",
                ran.err
            );
        }
    }
}

#[test]
fn under_rework_a_job_is_corrected_in_its_place_or_left_alone() {
    let shop = Shop::new();
    let path = shop.put("lid.gcode", cold());
    let ran = gate(&shop, &["--rework", "--log", "json"], "lid.gcode");
    let said = line(&ran);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert_eq!(said["changes"], 1);
    let reworked = std::fs::read(&path).unwrap();
    assert_ne!(reworked, cold().as_bytes());
    assert_eq!(said["digest"], blake3(&path));
    assert_eq!(gate(&shop, &[], "lid.gcode").code, 0);
    assert_eq!(std::fs::read_dir(shop.folder.path()).unwrap().count(), 1);
    // What cannot be put right in full is not touched.
    let hopeless = cold()
        .replace("M140 S60\n", "M140 S60\nM141 S200\n")
        .replace("Y60", "Y4000");
    let path = shop.put("lid.gcode", &hopeless);
    let ran = gate(&shop, &["--rework"], "lid.gcode");
    assert_eq!(ran.code, 1, "{}", ran.err);
    assert_eq!(std::fs::read_to_string(&path).unwrap(), hopeless);
    // The original is kept where that is asked for.
    shop.put("lid.gcode", cold());
    let ran = gate(&shop, &["--rework", "--keep-original"], "lid.gcode");
    assert_eq!(ran.code, 0, "{}", ran.err);
    let kept = shop.folder.path().join("lid.original.gcode");
    assert_eq!(std::fs::read_to_string(kept).unwrap(), cold());
}

fn blake3(path: &Path) -> Value {
    let shop = Shop::new();
    let args = [
        "inspect",
        "--format",
        "record",
        "-m",
        "PLA",
        path.to_str().unwrap(),
    ];
    let ran = shop.run(args);
    let record: Value = serde_json::from_str(&ran.out).unwrap();
    record["job"]["digest"].clone()
}

#[test]
fn as_a_filter_it_gives_the_job_or_nothing() {
    let shop = Shop::new();
    let args = |more: &[&'static str]| -> Vec<&'static str> {
        ["gate", "-"]
            .iter()
            .chain(&SHEETS)
            .chain(more)
            .copied()
            .collect()
    };
    let ran = shop.fed(&args(&[]), good().as_bytes());
    assert_eq!((ran.code, ran.out.as_str()), (0, good().as_str()));
    assert!(ran.err.contains("answer=pass job=\"-\""), "{}", ran.err);
    let ran = shop.fed(&args(&[]), cold().as_bytes());
    assert_eq!((ran.code, ran.out.as_str()), (1, ""));
    let ran = shop.fed(&args(&["--rework"]), cold().as_bytes());
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(ran.out.contains("M109 S") && !ran.out.contains("S165"));
    let ran = shop.fed(&args(&["--rework"]), good().as_bytes());
    assert_eq!((ran.code, ran.out.as_str()), (0, good().as_str()));
    let ran = shop.fed(&args(&[]), b"");
    assert_eq!((ran.code, ran.out.as_str()), (2, ""));
}

#[test]
fn nobody_attends() {
    let shop = Shop::new();
    let stops = good().replace("G1 X10 Y10 Z0.6 F9000\n", "M0\nG1 X10 Y10 Z0.6 F9000\n");
    let path = shop.put("lid.gcode", &stops);
    assert_eq!(gate(&shop, &[], "lid.gcode").code, 0);
    for more in [&["--unattended"][..], &["--unattended", "--rework"]] {
        let ran = gate(&shop, more, "lid.gcode");
        assert_eq!(ran.code, 1);
        assert!(
            ran.err.contains("stops-for-person, and nobody attends"),
            "{}",
            ran.err
        );
        assert_eq!(std::fs::read_to_string(&path).unwrap(), stops);
    }
    let ran = shop.fed(
        &["gate", "-", "-m", "PLA", "--unattended", "--rework"],
        stops.as_bytes(),
    );
    assert_eq!((ran.code, ran.out.as_str()), (1, ""));
}

#[test]
fn rules_name_the_sheets() {
    let shop = Shop::new();
    std::fs::create_dir(shop.folder.path().join("pla")).unwrap();
    shop.put(
        "shop/gate.toml",
        "machine = \"open-lined\"\n\
         [[rule]]\nfolder = \"../pla\"\nname = \"lid-*.gcode\"\nmaterial = \"PLA\"\n\
         [[rule]]\ndeclared = { material = \"PETG*\" }\nmaterial = \"PETG\"\n\
         [[rule]]\nname = \"any.gcode\"\nmaterial = \"PLA\"\nhold-from = \"observation\"\n",
    );
    let declares = |what: &str| format!("; material: {what}\n{}", good());
    let ask = |name: &str, job: String| {
        shop.put(name, job);
        let ran = shop.run(["gate", "--config", "shop/gate.toml", "--log", "json", name]);
        let said = line(&ran);
        (ran.code, said)
    };
    let (code, said) = ask("pla/lid-1.gcode", good());
    assert_eq!((code, said["rule"].as_u64()), (0, Some(1)), "{said}");
    assert_eq!(said["material"][0], "PLA");
    let (_, said) = ask("other/part.gcode", declares("PETG"));
    assert_eq!(said["rule"], 2, "{said}");
    assert_eq!(said["material"][0], "PETG");
    let (code, said) = ask("other/part.gcode", declares("PLA"));
    assert_eq!((code, &said["rule"]), (1, &Value::Null));
    let reason = said["reason"].as_str().unwrap();
    assert!(
        reason.starts_with("no rule fits `part.gcode` in `"),
        "{reason}"
    );
    assert!(
        reason.ends_with("material: the job declares `PLA`"),
        "{reason}"
    );
    let (_, said) = ask("other/any.gcode", good());
    assert_eq!(said["rule"], 3, "{said}");
    // A sheet on the command line goes before all rules.
    let ran = shop.run([
        "gate",
        "--config",
        "shop/gate.toml",
        "-m",
        "PLA",
        "other/part.gcode",
    ]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(!ran.err.contains("rule="));
}

#[test]
fn nothing_is_configured_from_the_jobs_folder() {
    let shop = Shop::new();
    shop.put(
        "in/meltgauge.toml",
        "material = \"PLA\"\nhold-from = \"critical\"\n",
    );
    shop.put("in/lid.gcode", cold());
    let ran = shop.run(["gate", "--config", "in/meltgauge.toml", "in/lid.gcode"]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("lies in the job's folder"), "{}", ran.err);
    // Nor is it looked for, neither there nor where the program is called.
    shop.put("meltgauge.toml", "this is no TOML");
    let ran = gate(&shop, &[], "in/lid.gcode");
    assert_eq!(ran.code, 1, "{}", ran.err);
    #[cfg(unix)]
    {
        std::fs::create_dir(shop.folder.path().join("shop")).unwrap();
        let link = shop.folder.path().join("shop/link.toml");
        std::os::unix::fs::symlink("../in/meltgauge.toml", link).unwrap();
        let ran = shop.run(["gate", "--config", "shop/link.toml", "in/lid.gcode"]);
        assert_eq!(ran.code, 2, "{}", ran.err);
    }
}

#[test]
fn a_stamp_lets_an_unchanged_job_pass_again_and_no_other() {
    let shop = Shop::new();
    let path = shop.put("lid.gcode", good());
    let stamp = shop.folder.path().join("lid.gcode.stamp");
    let ask = |more: &[&str]| {
        let more: Vec<&str> = ["--stamp", "--log", "json"]
            .iter()
            .chain(more)
            .copied()
            .collect();
        let ran = gate(&shop, &more, "lid.gcode");
        (ran.code, line(&ran)["by_stamp"].as_bool().unwrap())
    };
    assert_eq!(ask(&[]), (0, false));
    assert_eq!(ask(&[]), (0, true));
    // Another wish, another basis: and the stamp of one is none for the other.
    assert!(!ask(&["--hold-from", "observation"]).1);
    assert!(!ask(&["--unattended"]).1);
    assert_eq!(ask(&[]), (0, false));
    let ran = shop.run(["gate", "--stamp", "-m", "PETG", "lid.gcode"]);
    assert!(!ran.err.contains("by_stamp"), "{}", ran.err);
    assert_eq!(ask(&[]), (0, false));
    // One byte of the job.
    let whole = std::fs::read_to_string(&stamp).unwrap();
    std::fs::write(&path, cold()).unwrap();
    assert_eq!(ask(&[]), (1, false));
    assert_eq!(ask(&[]), (1, true));
    // What is no stamp counts as none.
    std::fs::write(&path, good()).unwrap();
    for damaged in [
        "",
        "{}",
        &whole[..whole.len() / 2],
        &whole.replace(":1,", ":2,"),
        "\u{0}",
    ] {
        std::fs::write(&stamp, damaged).unwrap();
        assert_eq!(ask(&[]), (0, false), "{damaged:?}");
    }
    assert_eq!(ask(&[]), (0, true));
    std::fs::remove_file(&stamp).unwrap();
    assert_eq!(gate(&shop, &[], "lid.gcode").code, 0);
    assert!(!stamp.exists());
}

#[test]
fn a_signed_stamp_travels_with_its_job() {
    let shop = Shop::new();
    for key in ["shop.key", "other.key"] {
        assert_eq!(shop.run(["gate", "--new-key", key]).code, 0);
        assert_eq!(shop.run(["gate", "--new-key", key]).code, 2);
    }
    shop.put("lid.gcode", good());
    let verify = |key: &str| {
        let ran = shop.run(["gate", "--log", "json", "--verify", key, "lid.gcode"]);
        let said = line(&ran);
        (ran.code, said["reason"].as_str().unwrap().to_owned())
    };
    assert_eq!(verify("shop.key.pub"), (1, "it has no stamp".to_owned()));
    assert_eq!(gate(&shop, &["--stamp"], "lid.gcode").code, 0);
    assert_eq!(
        verify("shop.key.pub"),
        (1, "its stamp is not signed".to_owned())
    );
    let ran = gate(&shop, &["--sign", "shop.key"], "lid.gcode");
    assert!(
        ran.code == 0 && !ran.err.contains("by_stamp"),
        "{}",
        ran.err
    );
    assert!(
        gate(&shop, &["--sign", "shop.key"], "lid.gcode")
            .err
            .contains("by_stamp=true")
    );
    assert_eq!(verify("shop.key.pub"), (0, String::new()));
    assert_eq!(verify("other.key.pub").0, 1);
    // A word of the stamp, or a byte of the job, and it is worth nothing.
    let stamp = shop.folder.path().join("lid.gcode.stamp");
    let whole = std::fs::read_to_string(&stamp).unwrap();
    std::fs::write(&stamp, whole.replace("\"PLA\"", "\"PVB\"")).unwrap();
    let (code, reason) = verify("shop.key.pub");
    assert!(code == 1 && reason.contains("was changed"), "{reason}");
    std::fs::write(&stamp, &whole).unwrap();
    shop.put("lid.gcode", good().replace("X10", "X11"));
    assert_eq!(
        verify("shop.key.pub"),
        (1, "its stamp is for other bytes".to_owned())
    );
    // A held job has a stamp that says so.
    shop.put("lid.gcode", cold());
    assert_eq!(gate(&shop, &["--sign", "shop.key"], "lid.gcode").code, 1);
    let (code, reason) = verify("shop.key.pub");
    assert!(
        code == 1 && reason.contains("hotend-below-sheet"),
        "{reason}"
    );
    assert_eq!(
        shop.run(["gate", "--verify", "shop.key", "lid.gcode"]).code,
        2
    );
}

#[test]
fn a_record_is_written_where_it_is_asked_for() {
    let shop = Shop::new();
    shop.put("lid.gcode", cold());
    let record = shop.folder.path().join("lid.json");
    for (more, name) in [
        (&["--record", "lid.json"][..], "record"),
        (&["--rework", "--record", "lid.json"], "rework"),
    ] {
        gate(&shop, more, "lid.gcode");
        let text = std::fs::read_to_string(&record).unwrap();
        assert_valid_by(name, &serde_json::from_str(&text).unwrap());
    }
    let ran = gate(&shop, &["--record", "lid.gcode"], "lid.gcode");
    assert!(
        ran.err.contains("no record could be written"),
        "{}",
        ran.err
    );
}

/// A pipeline as a shop would write it: what is held never reaches the printer's folder.
#[cfg(unix)]
#[test]
fn a_pipeline_fails_on_hold() {
    use std::process::{Command, Stdio};
    let shop = Shop::new();
    let script = shop.put(
        "send.sh",
        "#!/bin/sh\nset -eu\n\
         \"$GATE\" gate -m PLA -M open-lined - < \"$1\" > out.part\n\
         mv out.part printer.gcode\n",
    );
    let send = |job: &str| {
        shop.put("job.gcode", job);
        Command::new("sh")
            .arg(&script)
            .arg("job.gcode")
            .env("GATE", env!("CARGO_BIN_EXE_meltgauge"))
            .current_dir(shop.folder.path())
            .stderr(Stdio::null())
            .status()
            .unwrap()
            .code()
    };
    let printer = shop.folder.path().join("printer.gcode");
    assert_eq!(send(&cold()), Some(1));
    assert!(!printer.exists());
    assert_eq!(send("\u{0}\u{1}\u{2}"), Some(2));
    assert!(!printer.exists());
    assert_eq!(send(&good()), Some(0));
    assert_eq!(std::fs::read_to_string(&printer).unwrap(), good());
}
