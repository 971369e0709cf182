//! The gate at a folder: jobs that arrive in every way, gates that are killed, two gates at one inbox.
//!
//! With `MELTGAUGE_LONG=1` there are 2,000 jobs and 300 kills, which takes minutes.

use super::FAST;
use super::validator::assert_valid_by;
use serde_json::Value;
use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

fn is_long() -> bool {
    std::env::var_os("MELTGAUGE_LONG").is_some()
}

/// The job with this number; every third is held, for its hotend is too cold.
fn job(number: usize) -> String {
    let job = FAST.replace("F3600", "F1200").replace("F4800", "F1200");
    let job = if number.is_multiple_of(3) {
        job.replace("M109 S210", "M109 S165")
    } else {
        job
    };
    format!("; job number {number}\n{job}; end of job {number}\n")
}

struct Site {
    folder: tempfile::TempDir,
    /// On another file system, where there is one.
    held: tempfile::TempDir,
}

impl Site {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        for name in ["in", "out", "made"] {
            std::fs::create_dir(folder.path().join(name)).unwrap();
        }
        let shm = Path::new("/dev/shm");
        let held = if shm.is_dir() {
            tempfile::tempdir_in(shm).unwrap()
        } else {
            tempfile::tempdir().unwrap()
        };
        Self { folder, held }
    }

    fn at(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn gate(&self, log: &str, more: &[&str]) -> Child {
        let log = std::fs::File::options()
            .append(true)
            .create(true)
            .open(self.at(log))
            .unwrap();
        Command::new(env!("CARGO_BIN_EXE_meltgauge"))
            .args([
                "gate",
                "--watch",
                "in",
                "--released",
                "out",
                "-m",
                "PLA",
                "-M",
                "open-lined",
            ])
            .args(["--settle", "0.3", "--log", "json", "--held"])
            .arg(self.held.path())
            .args(match more.contains(&"--poll") {
                true => &[][..],
                false => &["--poll", "0.2"],
            })
            .args(more)
            .current_dir(self.folder.path())
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(log)
            .spawn()
            .unwrap()
    }

    /// Whole in one step.
    fn rename_in(&self, number: usize) {
        let made = self.at(&format!("made/{number}"));
        std::fs::write(&made, job(number)).unwrap();
        std::fs::rename(made, self.at(&format!("in/job-{number}.gcode"))).unwrap();
    }

    /// Waits until nothing is in the inbox, and nothing taken that has not gone.
    fn drain(&self) {
        let begin = Instant::now();
        loop {
            let mut left = Vec::new();
            let mut open = vec![self.at("in")];
            while let Some(folder) = open.pop() {
                for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
                    let path = entry.path();
                    if path.is_dir() {
                        open.push(path);
                    } else if path.file_name().unwrap() != "lock" {
                        left.push(path);
                    }
                }
            }
            if left.is_empty() {
                return;
            }
            assert!(begin.elapsed() < Duration::from_secs(600), "{left:?}");
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    /// Every job that lies on either side, by its text: how often, and on which side.
    fn jobs(&self) -> BTreeMap<String, (usize, bool)> {
        let mut jobs = BTreeMap::new();
        for (folder, is_released) in [(self.at("out"), true), (self.held.path().to_owned(), false)]
        {
            for entry in std::fs::read_dir(folder).unwrap() {
                let path = entry.unwrap().path();
                let name = path.file_name().unwrap().to_str().unwrap().to_owned();
                assert!(!name.starts_with('.'), "{name} is left behind");
                if name.ends_with(".record.json") {
                    let job = path.with_file_name(name.trim_end_matches(".record.json"));
                    assert!(job.is_file(), "{name} has no job");
                    continue;
                }
                let text = std::fs::read_to_string(&path).unwrap();
                let record = path.with_file_name(format!("{name}.record.json"));
                let record = std::fs::read_to_string(record).expect("every job has its record");
                let record: Value = serde_json::from_str(record.lines().next().unwrap()).unwrap();
                assert_valid_by("record", &record);
                let held = record["verdict"] != "released";
                assert_eq!(held, !is_released, "{name}: {record}");
                let found = jobs.entry(text).or_insert((0, is_released));
                found.0 += 1;
            }
        }
        jobs
    }

    /// Each job lies in one place, whole, on its side.
    fn assert_whole(&self, numbers: std::ops::Range<usize>) {
        let jobs = self.jobs();
        for number in numbers.clone() {
            let expected = Some(&(1, number % 3 != 0));
            assert_eq!(jobs.get(&job(number)), expected, "job {number}");
        }
        assert_eq!(jobs.len(), numbers.len());
    }
}

/// Numbers that look random, by a fixed rule (Knuth's MMIX generator).
struct Dice(u64);

impl Dice {
    fn below(&mut self, end: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % end
    }
}

/// Whether the process minds SIGTERM by now: one that has just started dies of it, as any does.
fn is_listening(pid: &str) -> bool {
    let status = std::fs::read_to_string(format!("/proc/{pid}/status")).unwrap();
    let caught = status.lines().find_map(|line| line.strip_prefix("SigCgt:"));
    let caught = u64::from_str_radix(caught.unwrap().trim(), 16).unwrap();
    caught >> 14 & 1 == 1
}

fn stop(gate: &mut Child) {
    let pid = gate.id().to_string();
    let begin = Instant::now();
    while !is_listening(&pid) {
        assert!(
            begin.elapsed() < Duration::from_secs(60),
            "it never listens"
        );
        std::thread::sleep(Duration::from_millis(5));
    }
    assert!(
        Command::new("kill")
            .args(["-TERM", &pid])
            .status()
            .unwrap()
            .success()
    );
    assert_eq!(
        gate.wait().unwrap().code(),
        Some(0),
        "it stops when told to"
    );
}

#[test]
fn whatever_way_jobs_arrive_two_gates_take_each_once() {
    let site = Site::new();
    let count = if is_long() { 2_000 } else { 120 };
    let mut gates = [site.gate("one.log", &[]), site.gate("two.log", &[])];
    let write = |name: &str, bytes: &[u8]| std::fs::write(site.at(name), bytes).unwrap();
    for number in 0..count {
        let name = format!("in/job-{number}.gcode");
        let text = job(number);
        let (head, tail) = text.as_bytes().split_at(text.len() / 2);
        match number % 4 {
            0 => site.rename_in(number),
            1 => write(&name, text.as_bytes()),
            2 if number % 40 == 2 => {
                // Half-written, for longer than a file has to be still.
                let mut file = std::fs::File::create(site.at(&name)).unwrap();
                file.write_all(head).unwrap();
                std::thread::sleep(Duration::from_millis(700));
                file.write_all(tail).unwrap();
            }
            2 => {
                let mut file = std::fs::File::create(site.at(&name)).unwrap();
                file.write_all(head).unwrap();
                std::thread::sleep(Duration::from_millis(5));
                file.write_all(tail).unwrap();
            }
            _ => {
                // Replaced before it is still.
                write(&name, head);
                site.rename_in(number);
            }
        }
    }
    site.drain();
    gates.iter_mut().for_each(stop);
    site.assert_whole(0..count);
    let lines = |log: &str| -> Vec<Value> {
        let text = std::fs::read_to_string(site.at(log)).unwrap();
        let lines = text.lines().map(|line| serde_json::from_str(line).unwrap());
        lines
            .filter(|line: &Value| !line["answer"].is_null())
            .collect()
    };
    let (one, two) = (lines("one.log"), lines("two.log"));
    assert_eq!(one.len() + two.len(), count);
    // Of few jobs one gate may take all before the other has started.
    assert!(
        !is_long() || (!one.is_empty() && !two.is_empty()),
        "both had work"
    );
    one.iter()
        .chain(&two)
        .for_each(|line| assert_valid_by("gate", line));
    let left: Vec<_> = std::fs::read_dir(site.at("in/.meltgauge"))
        .unwrap()
        .collect();
    assert!(left.is_empty(), "{left:?}");
}

#[test]
fn however_often_a_gate_is_killed_no_job_is_lost_doubled_or_cut() {
    let site = Site::new();
    let kills = if is_long() { 300 } else { 25 };
    let mut dice = Dice(2_026);
    let mut number = 0;
    // One more lives beside it, and takes over what the killed ones leave.
    let mut second = site.gate("second.log", &[]);
    for kill in 0..kills {
        let mut gate = site.gate("killed.log", &[]);
        for _ in 0..dice.below(6) + 2 {
            site.rename_in(number);
            number += 1;
        }
        std::thread::sleep(Duration::from_millis(dice.below(160)));
        gate.kill().unwrap();
        gate.wait().unwrap();
        if kill % 5 == 4 {
            second.kill().unwrap();
            second.wait().unwrap();
            second = site.gate("second.log", &[]);
        }
    }
    site.drain();
    stop(&mut second);
    site.assert_whole(0..number);
}

#[test]
fn a_job_that_fails_does_not_stop_the_next_and_the_status_tells() {
    let site = Site::new();
    std::fs::write(site.at("in/bad.gcode"), [0, 1, 2, 3]).unwrap();
    std::fs::write(site.at("in/empty.gcode"), "").unwrap();
    #[cfg(unix)]
    {
        // What is no file of its own stays where it is.
        std::os::unix::fs::symlink("/etc/hostname", site.at("in/link.gcode")).unwrap();
    }
    site.rename_in(1);
    let mut gate = site.gate("gate.log", &["--status", "gate.prom"]);
    let status = || std::fs::read_to_string(site.at("gate.prom")).unwrap_or_default();
    let begin = Instant::now();
    while !status().contains("{answer=\"not-inspected\"} 2") {
        assert!(begin.elapsed() < Duration::from_secs(60), "{}", status());
        std::thread::sleep(Duration::from_millis(20));
    }
    stop(&mut gate);
    assert!(
        status().contains("meltgauge_gate_jobs_total{answer=\"pass\"} 1\n"),
        "{}",
        status()
    );
    assert!(status().ends_with("# EOF\n"));
    assert!(site.at("out/job-1.gcode").is_file());
    assert!(site.held.path().join("bad.gcode").is_file());
    assert!(site.held.path().join("empty.gcode.record.json").is_file());
    assert!(site.at("in/link.gcode").is_symlink());
}

#[test]
fn under_rework_the_reworked_job_is_released() {
    let site = Site::new();
    site.rename_in(3);
    let mut gate = site.gate("gate.log", &["--rework"]);
    site.drain();
    stop(&mut gate);
    let released = std::fs::read_to_string(site.at("out/job-3.gcode")).unwrap();
    assert!(!released.contains("S165") && released.ends_with("; end of job 3\n"));
    let record = std::fs::read_to_string(site.at("out/job-3.gcode.record.json")).unwrap();
    let record: Value = serde_json::from_str(record.lines().next().unwrap()).unwrap();
    assert_valid_by("rework", &record);
    assert_eq!(std::fs::read_dir(site.held.path()).unwrap().count(), 0);
}

#[test]
fn what_is_released_carries_its_stamp_and_its_original() {
    let site = Site::new();
    let shop = |args: &[&str]| {
        Command::new(env!("CARGO_BIN_EXE_meltgauge"))
            .args(args)
            .current_dir(site.folder.path())
            .output()
            .unwrap()
    };
    assert!(shop(&["gate", "--new-key", "made/key"]).status.success());
    site.rename_in(2);
    site.rename_in(3);
    std::fs::write(site.at("in/old.gcode.original"), "G28\n").unwrap();
    let more = ["--rework", "--keep-original", "--sign", "made/key"];
    let mut gate = site.gate("gate.log", &more);
    for name in ["out/job-2.gcode", "out/job-3.gcode"] {
        wait_for(|| site.at(name).is_file());
    }
    stop(&mut gate);
    for (number, was_reworked) in [(2, false), (3, true)] {
        let name = format!("out/job-{number}.gcode");
        let ran = shop(&["gate", "--verify", "made/key.pub", &name]);
        assert_eq!(ran.status.code(), Some(0), "{ran:?}");
        let original = std::fs::read_to_string(site.at(&format!("{name}.original"))).ok();
        assert_eq!(original, was_reworked.then(|| job(number)));
        let is_same = std::fs::read_to_string(site.at(&name)).unwrap() == job(number);
        assert_eq!(is_same, !was_reworked);
    }
    // A byte more, and the stamp is for another job.
    let mut file = std::fs::File::options()
        .append(true)
        .open(site.at("out/job-2.gcode"))
        .unwrap();
    file.write_all(b"\n").unwrap();
    let ran = shop(&["gate", "--verify", "made/key.pub", "out/job-2.gcode"]);
    assert_eq!(ran.status.code(), Some(1), "{ran:?}");
    assert!(site.at("in/old.gcode.original").is_file(), "no job");
}

#[test]
fn a_job_that_stops_every_gate_is_held_at_last() {
    let site = Site::new();
    let left = site.at("in/.meltgauge/dead");
    std::fs::create_dir_all(&left).unwrap();
    std::fs::write(left.join("lock"), "").unwrap();
    for (id, tries) in [("000001", 4), ("000002", 5)] {
        std::fs::write(left.join(format!("{id}-job-{id}.gcode")), job(1)).unwrap();
        std::fs::write(left.join(format!("{id}-tries")), tries.to_string()).unwrap();
    }
    let mut gate = site.gate("gate.log", &[]);
    site.drain();
    stop(&mut gate);
    assert!(site.at("out/000001.gcode").is_file());
    let record = site.held.path().join("000002.gcode.record.json");
    let record = std::fs::read_to_string(record).unwrap();
    let record: Value = serde_json::from_str(record.lines().next().unwrap()).unwrap();
    assert_valid_by("record", &record);
    let said = record["error"]["message"].as_str().unwrap();
    assert!(said.contains("was stopped 5 times"), "{said}");
}

/// A gate in a room of its own of the system, in which `prepare` was done before; none where the system
/// gives no such rooms.
#[cfg(target_os = "linux")]
fn gate_in_room(site: &Site, prepare: &str, held: &str) -> Option<Child> {
    let room = |then: &str| {
        let mut command = Command::new("unshare");
        command
            .args(["--user", "--map-root-user", "--mount", "sh", "-ec"])
            .arg(format!("{prepare}\n{then}"))
            .current_dir(site.folder.path())
            .stdin(Stdio::null())
            .stdout(Stdio::null());
        command
    };
    let is_there = room("true").stderr(Stdio::null()).status();
    if !is_there.is_ok_and(|status| status.success()) {
        eprintln!("skipped: this system gives no rooms of their own to who runs the tests");
        return None;
    }
    let log = std::fs::File::create(site.at("gate.log")).unwrap();
    let program = env!("CARGO_BIN_EXE_meltgauge");
    let gate = room(&format!(
        "exec '{program}' gate --watch in --released out --held {held} -m PLA -M open-lined \
         --settle 0.3 --poll 0.2 --log json --status gate.prom"
    ));
    let mut gate = gate;
    Some(gate.stderr(log).spawn().unwrap())
}

#[test]
#[cfg(target_os = "linux")]
fn without_events_the_folder_is_polled() {
    let site = Site::new();
    std::fs::create_dir(site.at("held")).unwrap();
    let prepare = "echo 0 > /proc/sys/user/max_inotify_instances";
    let Some(mut gate) = gate_in_room(&site, prepare, "held") else {
        return;
    };
    let log = || std::fs::read_to_string(site.at("gate.log")).unwrap();
    wait_for(|| log().contains("the folder is polled"));
    site.rename_in(1);
    std::fs::write(site.at("in/job-2.gcode"), job(2)).unwrap();
    site.drain();
    for number in [1, 2] {
        let released = site.at(&format!("out/job-{number}.gcode"));
        assert_eq!(std::fs::read_to_string(released).unwrap(), job(number));
    }
    stop(&mut gate);
}

#[test]
#[cfg(target_os = "linux")]
fn while_a_disk_is_full_nothing_more_is_taken_and_afterwards_all_goes() {
    let site = Site::new();
    std::fs::create_dir(site.at("full")).unwrap();
    let prepare = "mount -t tmpfs -o size=64k tmpfs full\nhead -c 61440 /dev/zero > full/ballast";
    let Some(mut gate) = gate_in_room(&site, prepare, "full") else {
        return;
    };
    let log = || std::fs::read_to_string(site.at("gate.log")).unwrap();
    wait_for(|| log().contains("the gate watches"));
    // Held, with a record larger than what is left.
    site.rename_in(3);
    wait_for(|| log().contains("cannot be brought to its place yet"));
    let status = || std::fs::read_to_string(site.at("gate.prom")).unwrap_or_default();
    wait_for(|| status().contains("meltgauge_gate_taken 1\n"));
    assert!(status().contains("meltgauge_gate_last_error_info{message=\"a job cannot"));
    // The other file system, as the gate sees it.
    let full = PathBuf::from(format!("/proc/{}/root", gate.id())).join(
        site.at("full")
            .canonicalize()
            .unwrap()
            .strip_prefix("/")
            .unwrap(),
    );
    assert!(!full.join("job-3.gcode").exists(), "nothing half");
    std::fs::remove_file(full.join("ballast")).unwrap();
    site.rename_in(1);
    site.drain();
    let held = std::fs::read_to_string(full.join("job-3.gcode")).unwrap();
    assert_eq!(held, job(3));
    assert!(full.join("job-3.gcode.record.json").is_file());
    assert!(site.at("out/job-1.gcode").is_file());
    stop(&mut gate);
}

#[test]
#[cfg(target_os = "linux")]
fn where_events_were_lost_the_folder_is_looked_at_again() {
    let most = std::fs::read_to_string("/proc/sys/fs/inotify/max_queued_events").unwrap();
    let most: usize = most.trim().parse().unwrap();
    if most > 100_000 {
        eprintln!("skipped: this system keeps {most} events");
        return;
    }
    let site = Site::new();
    let mut gate = site.gate("gate.log", &["--poll", "3600"]);
    let log = || std::fs::read_to_string(site.at("gate.log")).unwrap();
    wait_for(|| log().contains("the gate watches"));
    let pid = gate.id().to_string();
    let signal = |signal: &str| {
        let sent = Command::new("kill").args([signal, &pid]).status().unwrap();
        assert!(sent.success());
    };
    signal("-STOP");
    // Making a file and taking it away are two events at least.
    for _ in 0..=most / 2 {
        let junk = site.at("in/.junk");
        std::fs::write(&junk, "").unwrap();
        std::fs::remove_file(&junk).unwrap();
    }
    site.rename_in(1);
    std::fs::write(site.at("in/job-2.gcode"), job(2)).unwrap();
    signal("-CONT");
    site.drain();
    stop(&mut gate);
    assert!(site.at("out/job-1.gcode").is_file());
    assert!(site.at("out/job-2.gcode").is_file());
}

fn wait_for(is_there: impl Fn() -> bool) {
    let begin = Instant::now();
    while !is_there() {
        assert!(begin.elapsed() < Duration::from_secs(60), "it never comes");
        std::thread::sleep(Duration::from_millis(20));
    }
}

#[test]
fn a_call_that_cannot_work_says_so() {
    let shop = super::Shop::new();
    std::fs::create_dir(shop.folder.path().join("in")).unwrap();
    std::fs::create_dir(shop.folder.path().join("out")).unwrap();
    shop.put("in/gate.toml", "material = \"PLA\"\n");
    for (args, words) in [
        (
            &["--released", "out", "--held", "none", "-m", "PLA"][..],
            "`none` cannot be used",
        ),
        (
            &["--released", "out", "--held", "out", "-m", "PLA"],
            "not three folders",
        ),
        (
            &[
                "--released",
                "out",
                "--held",
                "out",
                "--config",
                "in/gate.toml",
            ],
            "lies in the job's folder",
        ),
        (&["--released", "out", "--held", "out"], "--config"),
        (&["--released", "out"], "--held"),
    ] {
        let ran = shop.run(["gate", "--watch", "in"].iter().chain(args));
        assert_eq!(ran.code, 2);
        assert!(ran.err.contains(words), "{words}: {}", ran.err);
    }
}
