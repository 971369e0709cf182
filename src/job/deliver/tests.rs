//! A result on its way to its place, stopped at every point between two operations.

use super::forgetful::Forgetful;
use super::{Delivery, How, Target, Undelivered};
use std::collections::BTreeMap;
use std::fs::Metadata;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

const OLD: &[u8] = b"M104 S220\nG1 X5\n";
const NEW: &[u8] = b"M104 S245\nG1 X5\n";
const OTHER: &[u8] = b"; something else\n";

/// Something real to take permissions from.
fn metadata() -> Metadata {
    std::fs::metadata(env!("CARGO_MANIFEST_DIR")).unwrap()
}

fn deliver(disk: &Forgetful, target: &Target) -> Result<(), Undelivered> {
    let mut delivery = Delivery::begin(disk.clone(), target, true)?;
    delivery.write_all(NEW)?;
    delivery.commit(target, Some(&metadata()), || Ok(()))
}

/// Where a result goes, and what lies there before.
type Way = (Target, Vec<(&'static str, &'static [u8])>);

/// Where it goes, what lies there, and under which names the original may be found.
fn ways() -> Vec<Way> {
    let kept = Some(PathBuf::from("shop/lid.original.gcode"));
    let job = ("shop/lid.gcode", OLD);
    vec![
        (Target::of("shop/lid.reworked.gcode", How::New), vec![job]),
        (
            Target::of("shop/out.gcode", How::Over),
            vec![job, ("shop/out.gcode", OTHER)],
        ),
        (
            Target::of("shop/lid.gcode", How::InPlace { kept }),
            vec![job],
        ),
        (
            Target::of("shop/lid.gcode", How::InPlace { kept: None }),
            vec![job],
        ),
    ]
}

/// Every way on a disk with second names and on one without.
fn everywhere() -> impl Iterator<Item = (Target, Vec<(&'static str, &'static [u8])>, Forgetful)> {
    [false, true].into_iter().flat_map(|is_card| {
        ways().into_iter().map(move |(target, before)| {
            let disk = Forgetful::with(&before);
            disk.0.borrow_mut().is_card = is_card;
            (target, before, disk)
        })
    })
}

/// The same disk before anything happened.
fn anew(disk: &Forgetful, before: &[(&str, &[u8])]) -> Forgetful {
    let new = Forgetful::with(before);
    new.0.borrow_mut().is_card = disk.0.borrow().is_card;
    new
}

fn has_parts(files: &BTreeMap<PathBuf, Vec<u8>>) -> bool {
    files
        .keys()
        .any(|name| name.extension().is_some_and(|end| end == "part"))
}

/// The original is whole, and in place is either the old or the new.
fn hold(target: &Target, files: &BTreeMap<PathBuf, Vec<u8>>, before: &[(&str, &[u8])], at: &str) {
    let place = files.get(target.path()).map(Vec::as_slice);
    let old = before
        .iter()
        .find(|(name, _)| Path::new(name) == target.path())
        .map(|(_, bytes)| *bytes);
    assert!(place == old || place == Some(NEW), "{at}: {files:?}");
    let job = Path::new("shop/lid.gcode");
    let whole = match target.how() {
        How::InPlace { kept: None } => true,
        How::InPlace { kept: Some(kept) } => {
            files.get(job).is_some_and(|bytes| bytes == OLD)
                || files.get(kept).is_some_and(|bytes| bytes == OLD)
        }
        How::New | How::Over => files.get(job).is_some_and(|bytes| bytes == OLD),
    };
    assert!(whole, "{at}: {files:?}");
}

#[test]
fn without_a_fault_the_new_is_in_place_and_safe() {
    for (target, before, disk) in everywhere() {
        deliver(&disk, &target).unwrap();
        let files = disk.after(0);
        assert_eq!(files.get(target.path()).unwrap(), NEW, "{target:?}");
        hold(&target, &files, &before, "at the end");
        let now = disk.now();
        assert!(!has_parts(&now), "{now:?}");
    }
}

#[test]
fn whenever_the_power_goes_old_or_new_is_in_place() {
    for (target, before, disk) in everywhere() {
        deliver(&disk, &target).unwrap();
        let operations = disk.0.borrow().done;
        assert!(operations >= 7, "{target:?}: {operations}");
        for stop in 0..=operations {
            let disk = anew(&disk, &before);
            disk.0.borrow_mut().stops_at = Some(stop);
            let outcome = deliver(&disk, &target);
            // What is said to be done is done.
            let namings = disk.0.borrow().pending.len();
            for namings in 0..=namings {
                let files = disk.after(namings);
                let at = format!("{target:?} before operation {stop}, {namings} names");
                hold(&target, &files, &before, &at);
                if outcome.is_ok() {
                    assert_eq!(files.get(target.path()).unwrap(), NEW, "{at}");
                }
            }
        }
    }
}

#[test]
fn whichever_operation_fails_nothing_is_left_behind() {
    for (target, before, disk) in everywhere() {
        deliver(&disk, &target).unwrap();
        let operations = disk.0.borrow().done;
        let mut failed = 0;
        for fail in 0..operations {
            let disk = anew(&disk, &before);
            disk.0.borrow_mut().fails_at = Some(fail);
            let outcome = deliver(&disk, &target);
            let now = disk.now();
            let at = format!("{target:?}, operation {fail} fails");
            hold(&target, &now, &before, &at);
            let Err(undelivered) = outcome else {
                // Only the second name that is not needed any more may stay.
                assert_eq!(now.get(target.path()).unwrap(), NEW, "{at}");
                continue;
            };
            failed += 1;
            // It says truly whether anything was changed.
            if undelivered.in_place {
                assert_eq!(now.get(target.path()).unwrap(), NEW, "{at}");
            } else {
                let names = before
                    .iter()
                    .map(|(name, bytes)| (PathBuf::from(name), bytes.to_vec()));
                assert_eq!(now, names.collect(), "{at}");
            }
            assert!(!has_parts(&now), "{at}: {now:?}");
        }
        assert!(failed >= 5, "{target:?}");
    }
}

#[test]
fn what_appears_in_between_is_not_overwritten() {
    let target = Target::of("shop/lid.reworked.gcode", How::New);
    let disk = Forgetful::with(&[("shop/lid.gcode", OLD), ("shop/lid.reworked.gcode", OTHER)]);
    assert!(deliver(&disk, &target).is_err());
    let now = disk.now();
    assert_eq!(now.get(target.path()).unwrap(), OTHER);
    assert!(!has_parts(&now));
}

#[test]
fn another_file_in_the_jobs_place_stops_it() {
    let kept = Some(PathBuf::from("shop/lid.original.gcode"));
    let target = Target::of("shop/lid.gcode", How::InPlace { kept });
    let disk = Forgetful::with(&[("shop/lid.gcode", OTHER)]);
    let mut delivery = Delivery::begin(disk.clone(), &target, true).unwrap();
    delivery.write_all(NEW).unwrap();
    let outcome = delivery.commit(&target, Some(&metadata()), || {
        Err(io::Error::other("the job changed"))
    });
    assert!(outcome.is_err());
    let now = disk.now();
    assert_eq!(now.len(), 1);
    assert_eq!(now.get(target.path()).unwrap(), OTHER);
}
