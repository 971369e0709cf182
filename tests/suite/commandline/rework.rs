//! `rework` as it is run: what is written where, and what is not.

use super::validator::faults_by;
use super::{FAST, Ran, Shop};
use serde_json::Value;
use std::ffi::OsStr;
use std::io::{Read, Write};
use std::path::Path;
use std::process::{Command, Stdio};

/// `FAST` at a good pace on its first layer.
fn tube() -> String {
    FAST.replace("F3600", "F1500").replace("F4800", "F1500")
}

/// The same, laid too cold for PLA to melt.
fn cold() -> String {
    tube().replace("M109 S210", "M109 S165 ; first layer")
}

/// What it becomes.
fn warm() -> String {
    cold().replace("M109 S165", "M109 S190")
}

const PLA: [&str; 5] = ["rework", "-m", "PLA", "-M", "open-lined"];

fn rework<'a>(rest: &[&'a str]) -> Vec<&'a str> {
    [&PLA[..], rest].concat()
}

impl Shop {
    fn read(&self, name: impl AsRef<Path>) -> String {
        let bytes = std::fs::read(self.folder.path().join(name)).expect("it is there");
        String::from_utf8(bytes).expect("UTF-8")
    }

    /// The names in the folder, sorted.
    fn names(&self) -> Vec<String> {
        let mut names: Vec<String> = std::fs::read_dir(self.folder.path())
            .expect("the folder")
            .map(|entry| {
                let name = entry.expect("an entry").file_name();
                name.to_string_lossy().into_owned()
            })
            .collect();
        names.sort();
        names
    }
}

fn gzip(job: &str) -> Vec<u8> {
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
    packer.write_all(job.as_bytes()).expect("memory");
    packer.finish().expect("memory")
}

fn gunzip(bytes: &[u8]) -> String {
    let mut text = String::new();
    flate2::read::MultiGzDecoder::new(bytes)
        .read_to_string(&mut text)
        .expect("gzip");
    text
}

fn record(ran: &Ran) -> Value {
    let record: Value = serde_json::from_str(&ran.out).expect("JSON");
    let faults = faults_by("rework", &record);
    assert!(faults.is_empty(), "{faults:#?}\n{record:#}");
    record
}

#[test]
fn it_writes_beside_the_original() {
    let shop = Shop::new();
    shop.put("lid.gcode", cold());
    let ran = shop.run(rework(&["lid.gcode"])).plain();
    assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{}", ran.out);
    assert!(
        ran.out
            .starts_with("reworked  lid.gcode: 1 change, proven\n"),
        "{}",
        ran.out
    );
    assert!(ran.out.contains("lid.reworked.gcode"), "{}", ran.out);
    assert_eq!(shop.names(), ["lid.gcode", "lid.reworked.gcode"]);
    assert_eq!(shop.read("lid.gcode"), cold());
    assert_eq!(shop.read("lid.reworked.gcode"), warm());
    // Once more finds the file there.
    let ran = shop.run(rework(&["lid.gcode"])).plain();
    assert_eq!((ran.code, ran.out.as_str()), (2, ""));
    assert!(
        ran.err.contains("`lid.reworked.gcode` is there already")
            && ran.err.contains("--overwrite"),
        "{}",
        ran.err
    );
    assert_eq!(shop.run(rework(&["lid.gcode", "--overwrite"])).code, 0);
    // The result has nothing to do.
    let ran = shop.run(rework(&["lid.reworked.gcode"])).plain();
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(
        ran.out.starts_with("nothing to do  lid.reworked.gcode: "),
        "{}",
        ran.out
    );
    assert_eq!(shop.names(), ["lid.gcode", "lid.reworked.gcode"]);
}

#[test]
fn a_diff_names_the_figure_and_writes_nothing() {
    let shop = Shop::new();
    shop.put("lid.gcode", cold());
    let ran = shop.run(rework(&["lid.gcode", "--diff"])).plain();
    assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{}", ran.out);
    assert_eq!(shop.names(), ["lid.gcode"]);
    let from = ran.out.find("hotend-setpoints").expect("the rework");
    let to = ran.out.find("caution").expect("a caution");
    insta::assert_snapshot!(ran.out[from..to].trim_end(), @"
    hotend-setpoints, for hotend-below-sheet
      value:  165 °C → 190 °C
      limit:  190 °C: material sheet PLA, hotend.print; common practice, no source
    @@ -3,7 +3,7 @@
     G28
     M140 S60
     M190 S60
    -M109 S165 ; first layer
    +M109 S190 ; first layer
     M82
     G92 E0
     G1 X10 Y10 Z0.2 F9000

    kept
      path       15 moves, every one as it was
      deposit    24 mm of filament in 12 pushes, every one as it was
      also       retraction, fan, feeds of deposit and feeds of travel, as they were
      changed    heat
      time       4 min 51 s before, 5 min 11 s after
      bytes      351 bytes before, 351 bytes after; outside the changes every byte is copied

    verdict
      before     held: 1 major, 1 observation
      after      released: 1 observation
      gone       hotend-below-sheet
    ");
    assert!(
        ran.out.lines().all(|line| line.chars().count() <= 100),
        "{}",
        ran.out
    );
    let ran = shop.run(rework(&["lid.gcode", "--diff", "--color", "always"]));
    assert!(ran.out.contains("\x1b[31m-M109 S165"), "{:?}", ran.out);
    assert!(ran.out.contains("\x1b[32m+M109 S190"), "{:?}", ran.out);
}

#[test]
fn in_place_keeps_the_original_unless_told_otherwise() {
    let shop = Shop::new();
    shop.put("lid.gcode", cold());
    let ran = shop.run(rework(&["lid.gcode", "--in-place"])).plain();
    assert_eq!(ran.code, 0, "{}{}", ran.out, ran.err);
    assert!(
        ran.out
            .contains("the original is kept as lid.original.gcode"),
        "{}",
        ran.out
    );
    assert_eq!(shop.names(), ["lid.gcode", "lid.original.gcode"]);
    assert_eq!(shop.read("lid.gcode"), warm());
    assert_eq!(shop.read("lid.original.gcode"), cold());
    // A kept original is never overwritten.
    shop.put("lid.gcode", cold());
    let ran = shop.run(rework(&["lid.gcode", "--in-place"])).plain();
    assert_eq!(ran.code, 2);
    assert!(
        ran.err.contains("`lid.original.gcode` is there already"),
        "{}",
        ran.err
    );
    assert_eq!(shop.read("lid.gcode"), cold());
    let ran = shop.run(rework(&["lid.gcode", "--in-place", "--drop-original"]));
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert_eq!(shop.read("lid.gcode"), warm());
    assert_eq!(shop.names(), ["lid.gcode", "lid.original.gcode"]);
}

#[test]
fn packed_jobs_stay_packed() {
    let shop = Shop::new();
    shop.put("lid.gcode.gz", gzip(&cold()));
    let zstd = zstd::encode_all(cold().as_bytes(), 3).expect("zstd");
    shop.put("lid.gcode.zst", zstd);
    for name in ["lid.gcode.gz", "lid.gcode.zst"] {
        let ran = shop.run(rework(&[name])).plain();
        assert_eq!(ran.code, 0, "{}{}", ran.out, ran.err);
    }
    let there = |name: &str| std::fs::read(shop.folder.path().join(name)).expect("it is there");
    assert_eq!(gunzip(&there("lid.reworked.gcode.gz")), warm());
    let plain = zstd::decode_all(&there("lid.reworked.gcode.zst")[..]).expect("zstd");
    assert_eq!(String::from_utf8(plain).unwrap(), warm());
}

#[test]
fn the_standard_streams_are_a_job_too() {
    let shop = Shop::new();
    let ran = shop
        .fed(&rework(&["-", "-o", "-"]), cold().as_bytes())
        .plain();
    assert_eq!((ran.code, ran.out), (0, warm()), "{}", ran.err);
    assert!(
        ran.err.starts_with("reworked  standard input: "),
        "{}",
        ran.err
    );
    let ran = shop.fed(&rework(&["-", "-o", "out.gcode"]), cold().as_bytes());
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert_eq!(shop.read("out.gcode"), warm());
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = std::fs::metadata(shop.folder.path().join("out.gcode")).unwrap();
        // As the shell would have made it, not for the owner's eyes alone.
        assert_ne!(mode.permissions().mode() & 0o444, 0o400);
    }
    // A material that the job declares asks for the bytes once more.
    let declared = format!("; material = PLA\n{}", cold());
    let ran = shop.fed(&["rework", "-", "-o", "-"], declared.as_bytes());
    assert_eq!(
        ran.out,
        format!("; material = PLA\n{}", warm()),
        "{}",
        ran.err
    );
    let ran = shop.fed(&rework(&["-"]), cold().as_bytes()).plain();
    assert_eq!((ran.code, ran.out.as_str()), (2, ""));
    assert!(
        ran.err.contains("has no file to write beside"),
        "{}",
        ran.err
    );
    let ran = shop.fed(&rework(&["-", "-o", "-"]), b"");
    assert_eq!((ran.code, ran.out.as_str()), (2, ""));
    assert!(ran.err.contains("standard input is empty"), "{}", ran.err);
}

/// Whoever takes what lies there after a good end finds the job; a held one goes nowhere.
#[test]
fn a_job_that_needs_nothing_goes_where_it_was_asked_to() {
    let shop = Shop::new();
    let ran = shop
        .fed(&rework(&["-", "-o", "-"]), warm().as_bytes())
        .plain();
    assert_eq!((ran.code, ran.out), (0, warm()), "{}", ran.err);
    assert!(
        ran.err.starts_with("nothing to do  standard"),
        "{}",
        ran.err
    );
    assert!(ran.err.contains("the job as it is"), "{}", ran.err);
    // Byte for byte, packed as it was, also over an older one.
    let packed = gzip(&warm());
    std::fs::write(shop.folder.path().join("lid.gcode.gz"), &packed).expect("room");
    shop.put("out.gcode.gz", "an older job");
    let args = [
        "lid.gcode.gz",
        "-o",
        "out.gcode.gz",
        "--overwrite",
        "--format",
        "record",
    ];
    let ran = shop.run(rework(&args));
    assert_eq!(ran.code, 0, "{}", ran.err);
    let out = std::fs::read(shop.folder.path().join("out.gcode.gz")).expect("it is there");
    assert!(out == packed);
    let record = record(&ran);
    assert_eq!(record["output"]["digest"], record["job"]["digest"]);
    assert!(record["proven"].is_null() && record["after"].is_null());
    // Shown, beside and in place there is nothing to write.
    for more in ["--diff", "--in-place", "--color=never"] {
        let ran = shop.run(rework(&["lid.gcode.gz", more]));
        assert_eq!(ran.code, 0, "{}", ran.err);
    }
    assert_eq!(shop.names(), ["lid.gcode.gz", "out.gcode.gz"]);
    // A held job that nothing helps does not go on.
    let job = format!("; material = PLA\n{}", tube());
    let args = [
        "rework",
        "-",
        "-o",
        "-",
        "-m",
        "PC",
        "-M",
        "closed-hardened",
    ];
    let ran = shop.fed(&args, job.as_bytes()).plain();
    assert_eq!((ran.code, ran.out.as_str()), (1, ""), "{}", ran.err);
    assert!(
        ran.err.contains("held, and nothing could be put right"),
        "{}",
        ran.err
    );
}

/// Told to stop, from the keyboard or by the system, it takes away what it began.
#[cfg(unix)]
#[test]
fn a_run_that_is_stopped_leaves_nothing_behind() {
    let shop = Shop::new();
    let job = cold() + &"G1 X20 Y20 F9000\nG1 X30 Y30\n".repeat(600_000);
    shop.put("lid.gcode", &job);
    for signal in ["-INT", "-TERM"] {
        let mut stopped = false;
        // It may be too quick for us.
        for _ in 0..5 {
            let mut child = Command::new(env!("CARGO_BIN_EXE_meltgauge"))
                .current_dir(shop.folder.path())
                .args(rework(&["lid.gcode", "--overwrite"]))
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .spawn()
                .expect("it starts");
            let began = |shop: &Shop| shop.names().iter().any(|name| name.ends_with(".part"));
            while !began(&shop) && child.try_wait().expect("a child").is_none() {
                std::thread::sleep(std::time::Duration::from_millis(2));
            }
            let pid = child.id().to_string();
            let told = Command::new("kill").args([signal, pid.as_str()]).status();
            let status = child.wait().expect("a child");
            assert!(!began(&shop), "{signal}: {:?}", shop.names());
            assert_eq!(shop.read("lid.gcode").len(), job.len());
            if told.is_ok_and(|told| told.success()) && status.code() == Some(130) {
                stopped = true;
                break;
            }
            assert!(matches!(status.code(), Some(0 | 1)), "{signal}: {status}");
        }
        assert!(stopped, "{signal} never came in time");
    }
}

/// An administrator's rework does not take a job away from its owner.
#[cfg(unix)]
#[test]
fn the_owner_stays_the_owner() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt, chown};
    const SOMEBODY: u32 = 12345;
    let shop = Shop::new();
    for more in [&[][..], &["--in-place"]] {
        let job = shop.put("lid.gcode", cold());
        std::fs::set_permissions(&job, PermissionsExt::from_mode(0o640)).expect("a mode");
        if let Err(fault) = chown(&job, Some(SOMEBODY), Some(SOMEBODY + 1)) {
            eprintln!("skipped: only an administrator may give files away: {fault}");
            return;
        }
        let ran = shop.run(rework(&[&["lid.gcode"][..], more].concat()));
        assert_eq!(ran.code, 0, "{}", ran.err);
        let names: &[&str] = if more.is_empty() {
            &["lid.reworked.gcode"]
        } else {
            &["lid.gcode", "lid.original.gcode"]
        };
        for name in names {
            let now = std::fs::metadata(shop.folder.path().join(name)).expect("it is there");
            let seen = (now.uid(), now.gid(), now.mode() & 0o7777);
            assert_eq!(seen, (SOMEBODY, SOMEBODY + 1, 0o640), "{name}");
        }
    }
}

#[test]
fn the_record_says_what_changed_and_is_valid() {
    let shop = Shop::new();
    shop.put("lid.gcode", cold());
    let ran = shop.run(rework(&["lid.gcode", "--format", "record"]));
    let record = self::record(&ran);
    assert_eq!(record["proven"], true, "{record:#}");
    let change = &record["reworks"][0];
    assert_eq!(
        (&change["rework"], &change["requirement"]),
        (&"hotend-setpoints".into(), &"hotend-below-sheet".into())
    );
    assert_eq!(
        (&change["old"], &change["new"]),
        (&"165 °C".into(), &"190 °C".into())
    );
    assert_eq!(change["place"]["line"], 6);
    assert_eq!(record["before"]["verdict"], "held");
    assert_eq!(record["after"]["verdict"], "released");
    assert_eq!(record["output"]["path"], "lid.reworked.gcode");
    let bytes = std::fs::read(shop.folder.path().join("lid.reworked.gcode")).unwrap();
    let digest = blake3_of(&shop, "lid.reworked.gcode");
    assert_eq!(record["output"]["digest"], digest);
    assert_eq!(record["after"]["bytes"], bytes.len());
    // Shown, done and failed.
    for (args, code) in [
        (&["lid.gcode", "--diff"][..], 0),
        (&["lid.reworked.gcode"], 0),
        (&["lid.gcode"], 2),
        (&["none.gcode"], 2),
    ] {
        let ran = shop.run(rework(&[args, &["--format", "record"]].concat()));
        assert_eq!(ran.code, code, "{args:?}: {}", ran.out);
        let record = self::record(&ran);
        assert_eq!(record["error"].is_null(), code == 0, "{record:#}");
        assert!(record["output"].is_null(), "{record:#}");
    }
}

/// The digest that an inspection records.
fn blake3_of(shop: &Shop, name: &str) -> Value {
    let ran = shop.run(["inspect", name, "--format", "record"]);
    ran.records()[0]["job"]["digest"].clone()
}

#[test]
fn only_what_is_named_is_done() {
    let shop = Shop::new();
    let job = cold().replace("M104 S0\n", "");
    shop.put("lid.gcode", &job);
    let ran = shop.run(rework(&[
        "lid.gcode",
        "-o",
        "a.gcode",
        "--only",
        "heaters-off",
    ]));
    assert_eq!(ran.code, 1, "{}", ran.out);
    assert!(ran.out.contains("  holding "), "{}", ran.out);
    assert_eq!(shop.read("a.gcode"), format!("{job}M104 S0\n"));
    let both = ["--only", "heaters-off", "--only", "hotend-setpoints"];
    let ran = shop.run(rework(
        &[&["lid.gcode", "-o", "b.gcode"][..], &both].concat(),
    ));
    assert_eq!(ran.code, 0, "{}", ran.out);
    let ran = shop
        .run(rework(&["lid.gcode", "--only", "hotend-setpoint"]))
        .plain();
    assert_eq!((ran.code, ran.out.as_str()), (2, ""));
    assert!(
        ran.err.contains("did you mean `hotend-setpoints`"),
        "{}",
        ran.err
    );
}

/// Repairs alter the print: never without their flag, and said where they are done.
#[test]
fn repairs_are_asked_for_and_said() {
    let shop = Shop::new();
    let square = "G1 X60 Y10 E2 F1200\nG1 X60 Y60 E2\nG1 X10 Y60 E2\nG1 X10 Y10 E2\n";
    let drawn = "G1 E-9 F1800\nG0 X60 Y60 F6000\nG0 X10 Y10\nG1 E9 F1800\n";
    let mut job = String::from("M190 S60\nM109 S210\nG28\nM83\n");
    for z in ["0.2", "0.4", "0.6", "0.8"] {
        job += &format!("G1 X10 Y10 Z{z} F6000\n{square}{drawn}");
    }
    job += "M104 S0\nM140 S0\n";
    shop.put("lid.gcode", &job);
    let ran = shop.run(rework(&["lid.gcode"])).plain();
    assert!(!ran.out.contains("retraction-lengths"), "{}", ran.out);
    assert!(!shop.names().iter().any(|name| name.contains("reworked")));
    let ran = shop
        .run(rework(&["lid.gcode", "--only", "retraction-lengths"]))
        .plain();
    assert_eq!((ran.code, ran.out.as_str()), (2, ""));
    assert!(ran.err.contains("add --repair"), "{}", ran.err);
    let only = ["lid.gcode", "--only", "retraction-lengths", "--repair"];
    let ran = shop.run(rework(&[&only[..], &["--diff"]].concat())).plain();
    assert!(ran.out.starts_with("to repair  lid.gcode"), "{}", ran.out);
    assert!(ran.out.contains("a repair alters the print"), "{}", ran.out);
    let ran = shop.run(rework(&[&only[..], &["--format", "record"]].concat()));
    let record = record(&ran);
    assert_eq!(record["repaired"], true);
    assert_eq!(record["reworks"][0]["is_repair"], true);
    let same = record["kept"]["same"].as_array().expect("a list");
    for kept in ["path", "deposit", "feed", "travel", "heat", "fan"] {
        assert!(same.iter().any(|one| one == kept), "{kept}: {record:#}");
    }
    assert_eq!(record["kept"]["changed"], serde_json::json!(["retraction"]));
    let repaired = job.replace("E-9", "E-7").replace("E9", "E7");
    assert_eq!(shop.read("lid.reworked.gcode"), repaired);
}

#[test]
fn mistakes_in_the_call_are_2_and_write_nothing() {
    let shop = Shop::new();
    shop.put("lid.gcode", cold());
    shop.put("cut.gcode.gz", &gzip(&cold().repeat(40))[..200]);
    std::fs::create_dir(shop.folder.path().join("folder")).expect("room");
    let before = shop.names();
    for (args, words) in [
        (&["none.gcode"][..], "does not exist"),
        (&["none.gcode", "--in-place"], "does not exist"),
        (&["folder"], "is a directory"),
        (&["cut.gcode.gz"], "cut short"),
        (
            &["lid.gcode", "-o", "lid.gcode", "--overwrite"],
            "is the job itself",
        ),
        (&["lid.gcode", "-o", "folder"], "is a directory"),
        (
            &["lid.gcode", "-o", "none/out.gcode"],
            "could not be written",
        ),
        (&["lid.gcode", "-o", "out.gcode", "--diff"], "--diff"),
        (&["lid.gcode", "--drop-original"], "--in-place"),
        (&["lid.gcode", "--only", "zebra"], "rework --list"),
        (&[], "JOB"),
    ] {
        let ran = shop.run(rework(args)).plain();
        assert_eq!((ran.code, ran.out.as_str()), (2, ""), "{args:?}");
        assert!(ran.err.contains(words), "{args:?}: {}", ran.err);
        assert_eq!(shop.names(), before, "{args:?}");
    }
}

#[test]
fn reworks_can_be_listed_and_read() {
    let shop = Shop::new();
    let list = shop.run(["rework", "--list"]).plain();
    assert_eq!(list.code, 0, "{}", list.err);
    for rework in meltgauge::rework::REWORKS {
        assert!(
            list.out.contains(&format!("  {}  ", rework.id)),
            "{}",
            list.out
        );
        let page = shop.run(["rework", "--page", rework.id]).plain();
        assert!(
            page.out.starts_with(&format!("# {}\n", rework.id)),
            "{}",
            page.out
        );
        assert!(!page.out.contains(";!"), "{}", page.out);
    }
    assert!(list.out.lines().all(|line| line.chars().count() <= 100));
    assert_eq!(shop.run(["rework", "--page", "heaters"]).code, 2);
}

#[test]
fn a_held_job_that_no_rework_helps_stays_held() {
    let shop = Shop::new();
    // Sliced for another material: left alone, and said so.
    let job = format!("; material = PLA\n{}", tube());
    shop.put("lid.gcode", &job);
    let ran = shop
        .run(["rework", "lid.gcode", "-m", "PC", "-M", "closed-hardened"])
        .plain();
    assert_eq!(ran.code, 1, "{}", ran.out);
    assert!(ran.out.contains("left alone"), "{}", ran.out);
    assert!(ran.out.contains("slice it again"), "{}", ran.out);
    assert_eq!(shop.names(), ["lid.gcode"]);
}

#[test]
fn hostile_text_does_not_reach_the_terminal() {
    let shop = Shop::new();
    let name = "li\x1b[2Jd\u{202e} x.gcode";
    let job = cold().replace("; first layer", ";\x1b]0;owned\x07\u{9b}2J\u{202e}");
    shop.put(name, &job);
    for more in [&["--diff"][..], &["--diff", "--format", "record"], &[]] {
        let ran = shop.run(rework(&[&[name][..], more].concat())).plain();
        assert_eq!(ran.code, 0, "{}", ran.err);
        assert!(!ran.out.contains(['\u{202e}', '\u{9b}']), "{:?}", ran.out);
    }
    assert!(
        shop.read("li\x1b[2Jd\u{202e} x.reworked.gcode")
            .contains("S190 ;\x1b]0;owned")
    );
}

#[test]
fn odd_names_are_kept() {
    let shop = Shop::new();
    shop.put("a lid of two\nlines.gcode", cold());
    assert_eq!(shop.run(rework(&["a lid of two\nlines.gcode"])).code, 0);
    assert_eq!(shop.read("a lid of two\nlines.reworked.gcode"), warm());
    #[cfg(unix)]
    {
        use std::os::unix::ffi::OsStrExt;
        let name = OsStr::from_bytes(b"lid\xb0.gcode");
        std::fs::write(shop.folder.path().join(name), cold()).expect("room");
        let args = rework(&["--format", "record"]);
        let ran = shop.run(args.into_iter().map(OsStr::new).chain([name]));
        let record = self::record(&ran);
        let hex = "6c6964b02e7265776f726b65642e67636f6465";
        assert_eq!(record["output"]["path_bytes"], hex, "{record:#}");
        assert_eq!(
            shop.read(OsStr::from_bytes(b"lid\xb0.reworked.gcode")),
            warm()
        );
    }
}

#[cfg(unix)]
#[test]
fn links_are_not_followed_by_surprise() {
    use std::os::unix::fs::symlink;
    let shop = Shop::new();
    let at = |name: &str| shop.folder.path().join(name);
    shop.put("real.gcode", cold());
    shop.put("other.gcode", "; precious\n");
    symlink("real.gcode", at("link.gcode")).expect("a link");
    symlink("other.gcode", at("out.gcode")).expect("a link");
    symlink("nowhere.gcode", at("dangling.gcode")).expect("a link");
    // In place through a symbolic link: refused.
    let ran = shop.run(rework(&["link.gcode", "--in-place"])).plain();
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("is a symbolic link"), "{}", ran.err);
    // Onto one: refused, with or without --overwrite.
    for out in ["out.gcode", "dangling.gcode"] {
        for more in [&[][..], &["--overwrite"]] {
            let args = [&["real.gcode", "-o", out][..], more].concat();
            let ran = shop.run(rework(&args)).plain();
            assert_eq!(ran.code, 2, "{}", ran.out);
            assert!(ran.err.contains("is a symbolic link"), "{}", ran.err);
        }
    }
    assert_eq!(shop.read("other.gcode"), "; precious\n");
    // The job itself under a link's name is still the job.
    let ran = shop.run(rework(&["link.gcode", "-o", "real.gcode", "--overwrite"]));
    assert_eq!(ran.code, 2, "{}", ran.out);
    assert!(ran.err.contains("is the job itself"), "{}", ran.err);
    // Read through a link, it is written beside the link.
    assert_eq!(shop.run(rework(&["link.gcode"])).code, 0);
    assert_eq!(shop.read("link.reworked.gcode"), warm());
    assert_eq!(shop.read("real.gcode"), cold());
    // Hard links: in place only one name would change.
    std::fs::hard_link(at("real.gcode"), at("second.gcode")).expect("a second name");
    let ran = shop.run(rework(&["real.gcode", "--in-place"])).plain();
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("has 2 names"), "{}", ran.err);
    assert_eq!(shop.read("second.gcode"), cold());
    // Over one of two names: the other keeps its bytes.
    shop.put("old.gcode", "; old\n");
    std::fs::hard_link(at("old.gcode"), at("older.gcode")).expect("a second name");
    let ran = shop.run(rework(&["real.gcode", "-o", "old.gcode", "--overwrite"]));
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert_eq!(
        (shop.read("old.gcode"), shop.read("older.gcode")),
        (warm(), "; old\n".to_owned())
    );
}

#[cfg(unix)]
#[test]
fn permissions_and_times_are_kept() {
    use std::fs::{FileTimes, Permissions};
    use std::os::unix::fs::PermissionsExt;
    use std::time::{Duration, SystemTime};
    let shop = Shop::new();
    let then = SystemTime::UNIX_EPOCH + Duration::from_secs(1_700_000_000);
    for (mode, more) in [(0o640, &[][..]), (0o444, &["--in-place"])] {
        let path = shop.put(&format!("lid-{mode:o}.gcode"), cold());
        let file = std::fs::File::options().write(true).open(&path).unwrap();
        file.set_times(FileTimes::new().set_modified(then)).unwrap();
        std::fs::set_permissions(&path, Permissions::from_mode(mode)).unwrap();
        let ran = shop.run(rework(&[&[path.to_str().unwrap()][..], more].concat()));
        assert_eq!(ran.code, 0, "{}", ran.err);
        let new = if more.is_empty() {
            shop.folder
                .path()
                .join(format!("lid-{mode:o}.reworked.gcode"))
        } else {
            path
        };
        let metadata = std::fs::metadata(&new).unwrap();
        assert_eq!(metadata.permissions().mode() & 0o7777, mode);
        assert_eq!(metadata.modified().unwrap(), then);
        assert_eq!(std::fs::read_to_string(&new).unwrap(), warm());
    }
}

/// A folder in which nothing may be made, by somebody without an administrator's rights.
#[cfg(unix)]
#[test]
fn a_read_only_folder_is_said() {
    use std::os::unix::fs::PermissionsExt;
    use std::os::unix::process::CommandExt;
    const NOBODY: u32 = 65534;
    let shop = Shop::new();
    let mode = |path: &Path, mode| {
        std::fs::set_permissions(path, PermissionsExt::from_mode(mode)).expect("a mode");
    };
    let job = shop.put("locked/lid.gcode", cold());
    mode(&job, 0o644);
    mode(&shop.folder.path().join("locked"), 0o555);
    mode(shop.folder.path(), 0o755);
    let program = shop.folder.path().join("program");
    std::fs::copy(env!("CARGO_BIN_EXE_meltgauge"), &program).expect("room for a program");
    mode(&program, 0o755);
    let is_administrator = std::fs::write(shop.folder.path().join("locked/try"), "").is_ok();
    let mut command = Command::new(&program);
    command
        .current_dir(shop.folder.path())
        .args(rework(&["locked/lid.gcode"]));
    if is_administrator {
        std::fs::remove_file(shop.folder.path().join("locked/try")).expect("it was made");
        command.uid(NOBODY).gid(NOBODY);
    }
    let ran = match command.output() {
        Ok(output) => Ran::of(output),
        Err(fault) => {
            eprintln!("skipped: the program cannot be started as nobody here: {fault}");
            return;
        }
    };
    assert_eq!((ran.code, ran.out.as_str()), (2, ""), "{}", ran.err);
    assert!(
        ran.err.contains("lid.reworked.gcode") && ran.err.contains("could not be written"),
        "{}",
        ran.err
    );
    assert_eq!(std::fs::read_to_string(&job).unwrap(), cold());
    assert_eq!(std::fs::read_dir(job.parent().unwrap()).unwrap().count(), 1);
}

/// A disk with room for the job and not for its like.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_leaves_everything_as_it_was() {
    let shop = Shop::new();
    let disk = shop.folder.path().join("disk");
    std::fs::create_dir(&disk).expect("room");
    let mounted = Command::new("mount")
        .args(["-t", "tmpfs", "-o", "size=64k", "none"])
        .arg(&disk)
        .stderr(Stdio::null())
        .status();
    if !mounted.is_ok_and(|status| status.success()) {
        eprintln!("skipped: no small disk can be mounted here");
        return;
    }
    let job = cold() + &"G1 X20 Y20\nG1 X30 Y30\n".repeat(1600);
    std::fs::write(disk.join("lid.gcode"), &job).expect("room for the job");
    let outcomes: Vec<Ran> = [&["disk/lid.gcode"][..], &["disk/lid.gcode", "--in-place"]]
        .iter()
        .map(|args| shop.run(rework(args)))
        .collect();
    let names: Vec<_> = std::fs::read_dir(&disk)
        .expect("the disk")
        .map(|entry| entry.expect("an entry").file_name())
        .collect();
    let now = std::fs::read_to_string(disk.join("lid.gcode")).expect("the job");
    let _ = Command::new("umount").arg(&disk).status();
    for ran in outcomes {
        assert_eq!((ran.code, ran.out.as_str()), (2, ""), "{}", ran.err);
        assert!(ran.err.contains("could not be written"), "{}", ran.err);
        assert!(ran.err.contains("No space left"), "{}", ran.err);
    }
    assert_eq!(names, ["lid.gcode"]);
    assert_eq!(now, job);
}

/// A job of many megabytes, in little memory.
#[cfg(target_os = "linux")]
#[test]
fn memory_does_not_grow_with_the_job() {
    /// MiB; an inspection is held to 32 (chosen), and a rework runs two rounds, one after the other.
    const MOST: u64 = 40;
    let megabytes = std::env::var("MELTGAUGE_REWORK_MB")
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(24);
    let shop = Shop::new();
    let mut job = String::from("M190 S60\nM109 S165\nG28\nM83\n");
    let mut layer = 0;
    while job.len() < megabytes * 1_000_000 {
        layer += 1;
        job += &format!(
            "G1 X10 Y10 Z{:.1} F9000\nG1 F1800\n",
            f64::from(layer % 900 + 1) * 0.2
        );
        for line in 0..500 {
            let y = f64::from(line) * 0.3 + 10.0;
            job += &format!(
                "G1 X150.125 Y{y:.3} E4.65725\nG1 X10.000 Y{:.3} E4.65725\n",
                y + 0.15
            );
        }
    }
    job += "M104 S0\nM140 S0\n";
    let path = shop.put("large.gcode", &job);
    drop(job);
    for args in [&["large.gcode"][..], &["-", "-o", "piped.gcode"]] {
        let mut child = shop
            .command()
            .args(rework(args))
            .stdin(std::fs::File::open(&path).expect("the job"))
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .expect("starts");
        let status = format!("/proc/{}/status", child.id());
        let mut peak = 0;
        // The system keeps the peak, so that only the very last moment can be missed.
        while child.try_wait().expect("runs").is_none() {
            let text = std::fs::read_to_string(&status).unwrap_or_default();
            let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
            let kib =
                line.and_then(|line| line.trim().strip_suffix("kB")?.trim().parse::<u64>().ok());
            peak = peak.max(kib.unwrap_or(0));
            std::thread::sleep(std::time::Duration::from_millis(5));
        }
        let ran = Ran::of(child.wait_with_output().expect("ends"));
        assert!(ran.code < 2, "{}", ran.err);
        assert!(peak > 1024, "no measurement");
        eprintln!(
            "{megabytes} MB, {args:?}: {:.1} MiB at the most",
            peak as f64 / 1024.0
        );
        assert!(peak <= MOST * 1024, "{args:?}: {peak} KiB at the most");
    }
    assert!(shop.folder.path().join("large.reworked.gcode").is_file());
}

/// The README shows what the program prints.
#[test]
fn the_readmes_tour_is_what_is_printed() {
    let top = Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = std::fs::read_to_string(top.join("README.md")).expect("the README");
    let shown = readme
        .split("```text\n")
        .find(|block| block.starts_with("to rework"))
        .and_then(|block| block.split("```").next())
        .expect("the tour");
    let mut command = Command::new(env!("CARGO_BIN_EXE_meltgauge"));
    let args =
        "rework corpus/demo/bracket.gcode --material PA6-CF --machine closed-hardened --diff";
    command.current_dir(top).args(args.split(' '));
    let ran = Ran::of(command.output().expect("starts")).plain();
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert_eq!(ran.out, shown);
}
