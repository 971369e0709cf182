//! A job on its way from the inbox to its side, with the power gone at every point between two
//! operations.

use super::hold::{Along, Hold, Taken, record_of};
use crate::job::deliver::forgetful::Forgetful;
use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::io;
use std::path::{Path, PathBuf};

const JOB: &[u8] = b"M104 S220\nG1 X5\n";
const REWORKED: &[u8] = b"M104 S240\nG1 X5\n";
const OTHER: &[u8] = b"; a job that was released before\n";
const STAMP: &[u8] = b"{\"schema\":\"stamp\"}\n";
const OLD_STAMP: &[u8] = b"of a job that went away without it\n";
const HOLD: &str = "in/.meltgauge/a1";

type Files = BTreeMap<PathBuf, Vec<u8>>;

/// A way that a job may go.
#[derive(Debug, Clone, Copy)]
struct Way {
    /// Its side is on another file system.
    elsewhere: bool,
    /// The file systems have no second names.
    is_card: bool,
    /// Another job has its name there.
    is_taken: bool,
    reworked: bool,
    /// It is stamped, and its original is kept.
    laden: bool,
}

impl Way {
    fn all() -> impl Iterator<Item = Self> {
        (0..32u8).map(|bits| {
            let bit = |at: u8| bits >> at & 1 == 1;
            Self {
                elsewhere: bit(0),
                is_card: bit(1),
                is_taken: bit(2),
                reworked: bit(3),
                laden: bit(4),
            }
        })
    }

    fn disk(self) -> Forgetful {
        let mut files = vec![("in/lid.gcode", JOB), ("in/.meltgauge/a1/lock", &b""[..])];
        if self.is_taken {
            files.push(("out/lid.gcode", OTHER));
        }
        if self.laden {
            files.push(("out/lid.gcode.stamp", OLD_STAMP));
        }
        let disk = Forgetful::with(&files);
        {
            let mut shelf = disk.0.borrow_mut();
            shelf.renames_whole = true;
            shelf.is_card = self.is_card;
            shelf.elsewhere = self.elsewhere.then(|| PathBuf::from("out"));
        }
        disk
    }

    fn along(self) -> Along<'static> {
        Along {
            record: "{}",
            stamp: self.laden.then(|| str::from_utf8(STAMP).unwrap()),
            reworked: self.reworked,
            original: self.laden,
        }
    }

    fn bring(self, hold: &Hold<Forgetful>, taken: &Taken) -> io::Result<PathBuf> {
        if self.reworked {
            rework(hold, taken)?;
        }
        hold.bring(taken, &self.along(), Path::new("out"))
    }

    /// What a gate does to a job that it answers with a pass.
    fn pass(self, disk: &Forgetful) -> io::Result<PathBuf> {
        let hold = Hold::new(disk.clone(), Path::new(HOLD));
        let taken = hold.take(Path::new("in/lid.gcode"), 1)?;
        hold.note_tries(&taken, 1);
        self.bring(&hold, &taken)
    }

    /// What the next gate does.
    fn again(self, disk: &Forgetful) {
        let hold = Hold::new(disk.clone(), Path::new(HOLD));
        let found = hold.recover().unwrap();
        assert!(found.stuck.is_empty(), "{:?}", found.stuck);
        for (taken, tries) in found.unanswered {
            assert!(tries <= 1);
            self.bring(&hold, &taken).unwrap();
        }
        if disk.now().contains_key(Path::new("in/lid.gcode")) {
            self.pass(disk).unwrap();
        }
    }

    /// Exactly one job lies there, whole, with what belongs to it, and nothing is left anywhere else.
    fn hold(self, files: &Files, at: &str) {
        let name = match self.is_taken {
            true => "lid.2.gcode",
            false => "lid.gcode",
        };
        let job = if self.reworked { REWORKED } else { JOB };
        let mut expected: Files = [
            (format!("out/{name}"), job),
            ("in/.meltgauge/a1/lock".to_owned(), &b""[..]),
        ]
        .map(|(path, bytes)| (PathBuf::from(path), bytes.to_vec()))
        .into();
        let mut expect = |path: String, bytes: &[u8]| {
            expected.insert(PathBuf::from(path), bytes.to_vec());
        };
        if self.is_taken {
            expect("out/lid.gcode".to_owned(), OTHER);
        }
        if self.laden {
            expect("out/lid.gcode.stamp".to_owned(), OLD_STAMP);
            expect(format!("out/{name}.stamp"), STAMP);
        }
        if self.laden && self.reworked {
            expect(format!("out/{name}.original"), JOB);
        }
        let mut files = files.clone();
        let record = Path::new("out").join(record_of(OsStr::new(name)));
        let record = files.remove(&record).unwrap_or_default();
        assert!(record.starts_with(b"{}\n"), "{at}");
        assert_eq!(files, expected, "{at}");
    }
}

fn rework(hold: &Hold<Forgetful>, taken: &Taken) -> io::Result<()> {
    use crate::job::deliver::Disk;
    use std::io::Write;
    let disk = hold.disk();
    let mut file = disk.create_at(&hold.reworked(taken), true)?;
    file.write_all(REWORKED)?;
    disk.sync(&file)
}

#[test]
fn a_job_goes_with_its_record_and_leaves_nothing_behind() {
    for way in Way::all() {
        let disk = way.disk();
        way.pass(&disk).unwrap();
        way.hold(&disk.after(0), "at the end");
    }
}

#[test]
fn whenever_the_power_goes_the_next_gate_finishes() {
    for way in Way::all() {
        let whole = way.disk();
        way.pass(&whole).unwrap();
        let operations = whole.0.borrow().done;
        assert!(operations > 20, "{operations}");
        for stop in 0..=operations {
            let first = way.disk();
            first.0.borrow_mut().stops_at = Some(stop);
            let outcome = way.pass(&first);
            let namings = first.0.borrow().pending.len();
            for namings in 0..=namings {
                let at = format!("{way:?}, before operation {stop}, {namings} names");
                let left = first.after(namings);
                if outcome.is_ok() {
                    way.hold(&left, &at);
                }
                // Nothing half-written has a job's name there.
                for (path, bytes) in &left {
                    if path.starts_with("out") && path.extension().is_some_and(|end| end == "gcode")
                    {
                        assert!(
                            [JOB, REWORKED, OTHER].contains(&bytes.as_slice()),
                            "{at}: {left:?}"
                        );
                    }
                }
                let second = first.again(&left);
                way.again(&second);
                way.hold(&second.now(), &at);
            }
        }
    }
}

#[test]
fn whichever_operation_fails_it_can_be_done_again() {
    for way in Way::all() {
        let whole = way.disk();
        way.pass(&whole).unwrap();
        let operations = whole.0.borrow().done;
        for fail in 0..operations {
            let disk = way.disk();
            disk.0.borrow_mut().fails_at = Some(fail);
            let outcome = way.pass(&disk);
            if outcome.is_err() {
                way.again(&disk);
            }
            way.hold(&disk.now(), &format!("{way:?}, operation {fail} fails"));
        }
    }
}

#[test]
fn how_often_a_job_was_begun_outlives_its_gate() {
    let disk = Forgetful::with(&[("in/lid.gcode", JOB), ("in/.meltgauge/a1/lock", b"")]);
    let hold = Hold::new(disk.clone(), Path::new(HOLD));
    let taken = hold.take(Path::new("in/lid.gcode"), 1).unwrap();
    let tries = || hold.recover().unwrap().unanswered[0].1;
    assert_eq!(tries(), 0);
    hold.note_tries(&taken, 3);
    assert_eq!((tries(), tries()), (3, 3));
    hold.note_tries(&taken, 0);
    assert_eq!(tries(), 0);
}

#[test]
fn two_jobs_of_one_name_and_the_same_bytes_both_go() {
    let way = Way::all().next().unwrap();
    let disk = way.disk();
    let first = Hold::new(disk.clone(), Path::new("in/.meltgauge/a1"));
    let second = Hold::new(disk.clone(), Path::new("in/.meltgauge/b2"));
    let one = first.take(Path::new("in/lid.gcode"), 1).unwrap();
    assert!(second.take(Path::new("in/lid.gcode"), 1).is_err());
    let along = Along {
        record: "{}",
        ..Along::default()
    };
    let place = first.bring(&one, &along, Path::new("out")).unwrap();
    assert_eq!(place, Path::new("out/lid.gcode"));
    use crate::job::deliver::Disk;
    use std::io::Write;
    let mut again = disk.create_at(Path::new("in/lid.gcode"), false).unwrap();
    again.write_all(JOB).unwrap();
    let other = second.take(Path::new("in/lid.gcode"), 1).unwrap();
    let place = second.bring(&other, &along, Path::new("out")).unwrap();
    assert_eq!(place, Path::new("out/lid.2.gcode"));
    assert_eq!(disk.now()[Path::new("out/lid.gcode")], JOB);
    assert_eq!(disk.now()[Path::new("out/lid.2.gcode")], JOB);
}
