//! A job on its way from the inbox to its side, with the power gone at every point between two
//! operations.

use super::hold::{Hold, Taken, record_of};
use crate::job::deliver::forgetful::Forgetful;
use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::io;
use std::path::{Path, PathBuf};

const JOB: &[u8] = b"M104 S220\nG1 X5\n";
const REWORKED: &[u8] = b"M104 S240\nG1 X5\n";
const OTHER: &[u8] = b"; a job that was released before\n";
const HOLD: &str = "in/.meltgauge/a1";

type Files = BTreeMap<PathBuf, Vec<u8>>;

fn disk(elsewhere: bool, is_card: bool, is_taken: bool) -> Forgetful {
    let mut files = vec![("in/lid.gcode", JOB), ("in/.meltgauge/a1/lock", &b""[..])];
    if is_taken {
        files.push(("out/lid.gcode", OTHER));
    }
    let disk = Forgetful::with(&files);
    {
        let mut shelf = disk.0.borrow_mut();
        shelf.renames_whole = true;
        shelf.is_card = is_card;
        shelf.elsewhere = elsewhere.then(|| PathBuf::from("out"));
    }
    disk
}

fn rework(disk: &Forgetful, hold: &Hold<Forgetful>, taken: &Taken) -> io::Result<()> {
    use crate::job::deliver::Disk;
    use std::io::Write;
    let mut file = disk.create_at(&hold.reworked(taken), true)?;
    file.write_all(REWORKED)?;
    disk.sync(&file)
}

/// What a gate does to a job that it answers with a pass.
fn pass(disk: &Forgetful, reworked: bool) -> io::Result<PathBuf> {
    let hold = Hold::new(disk.clone(), Path::new(HOLD));
    let taken = hold.take(Path::new("in/lid.gcode"), 1)?;
    if reworked {
        rework(disk, &hold, &taken)?;
    }
    hold.bring(&taken, reworked, "{}", Path::new("out"))
}

/// What the next gate does.
fn again(disk: &Forgetful, reworked: bool) {
    let hold = Hold::new(disk.clone(), Path::new(HOLD));
    let found = hold.recover().unwrap();
    assert!(found.stuck.is_empty(), "{:?}", found.stuck);
    for taken in found.unanswered {
        if reworked {
            rework(disk, &hold, &taken).unwrap();
        }
        hold.bring(&taken, reworked, "{}", Path::new("out"))
            .unwrap();
    }
    let has_job = disk.now().contains_key(Path::new("in/lid.gcode"));
    if has_job {
        pass(disk, reworked).unwrap();
    }
}

/// Exactly one job lies there, whole, with its record, and nothing is left anywhere else.
fn hold(files: &Files, reworked: bool, is_taken: bool, at: &str) {
    let name = if is_taken { "lid.2.gcode" } else { "lid.gcode" };
    let job = if reworked { REWORKED } else { JOB };
    let place = Path::new("out").join(name);
    assert_eq!(
        files.get(&place).map(Vec::as_slice),
        Some(job),
        "{at}: {files:?}"
    );
    let record = Path::new("out").join(record_of(OsStr::new(name)));
    assert!(files[&record].starts_with(b"{}\n"), "{at}");
    if is_taken {
        assert_eq!(files[Path::new("out/lid.gcode")], OTHER, "{at}");
    }
    assert_eq!(files.len(), 3 + usize::from(is_taken), "{at}: {files:?}");
}

fn everywhere(mut each: impl FnMut(bool, bool, bool, bool)) {
    for bits in 0..16u8 {
        let bit = |at: u8| bits >> at & 1 == 1;
        each(bit(0), bit(1), bit(2), bit(3));
    }
}

#[test]
fn a_job_goes_with_its_record_and_leaves_nothing_behind() {
    everywhere(|elsewhere, is_card, is_taken, reworked| {
        let disk = disk(elsewhere, is_card, is_taken);
        pass(&disk, reworked).unwrap();
        hold(&disk.after(0), reworked, is_taken, "at the end");
    });
}

#[test]
fn whenever_the_power_goes_the_next_gate_finishes() {
    everywhere(|elsewhere, is_card, is_taken, reworked| {
        let whole = disk(elsewhere, is_card, is_taken);
        pass(&whole, reworked).unwrap();
        let operations = whole.0.borrow().done;
        assert!(operations > 20, "{operations}");
        for stop in 0..=operations {
            let first = disk(elsewhere, is_card, is_taken);
            first.0.borrow_mut().stops_at = Some(stop);
            let outcome = pass(&first, reworked);
            let namings = first.0.borrow().pending.len();
            for namings in 0..=namings {
                let at = format!(
                    "elsewhere {elsewhere}, card {is_card}, taken {is_taken}, reworked {reworked}, \
                     before operation {stop}, {namings} names"
                );
                let left = first.after(namings);
                if outcome.is_ok() {
                    hold(&left, reworked, is_taken, &at);
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
                again(&second, reworked);
                hold(&second.now(), reworked, is_taken, &at);
            }
        }
    });
}

#[test]
fn whichever_operation_fails_it_can_be_done_again() {
    everywhere(|elsewhere, is_card, is_taken, reworked| {
        let whole = disk(elsewhere, is_card, is_taken);
        pass(&whole, reworked).unwrap();
        let operations = whole.0.borrow().done;
        for fail in 0..operations {
            let disk = disk(elsewhere, is_card, is_taken);
            disk.0.borrow_mut().fails_at = Some(fail);
            let at = format!(
                "elsewhere {elsewhere}, card {is_card}, taken {is_taken}, reworked {reworked}, \
                 operation {fail} fails"
            );
            let outcome = pass(&disk, reworked);
            if outcome.is_err() {
                again(&disk, reworked);
            }
            hold(&disk.now(), reworked, is_taken, &at);
        }
    });
}

#[test]
fn two_jobs_of_one_name_and_the_same_bytes_both_go() {
    let disk = disk(false, false, false);
    let first = Hold::new(disk.clone(), Path::new("in/.meltgauge/a1"));
    let second = Hold::new(disk.clone(), Path::new("in/.meltgauge/b2"));
    let one = first.take(Path::new("in/lid.gcode"), 1).unwrap();
    assert!(second.take(Path::new("in/lid.gcode"), 1).is_err());
    let place = first.bring(&one, false, "{}", Path::new("out")).unwrap();
    assert_eq!(place, Path::new("out/lid.gcode"));
    use crate::job::deliver::Disk;
    use std::io::Write;
    let mut again = disk.create_at(Path::new("in/lid.gcode"), false).unwrap();
    again.write_all(JOB).unwrap();
    let other = second.take(Path::new("in/lid.gcode"), 1).unwrap();
    let place = second.bring(&other, false, "{}", Path::new("out")).unwrap();
    assert_eq!(place, Path::new("out/lid.2.gcode"));
    assert_eq!(disk.now()[Path::new("out/lid.gcode")], JOB);
    assert_eq!(disk.now()[Path::new("out/lid.2.gcode")], JOB);
}
