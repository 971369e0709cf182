//! A disk that forgets: every operation is counted, what was not synced is lost, and it stops at any
//! point between two operations. All points are tried, one after the other.

use super::{Delivery, Disk, How, Target, Undelivered};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::fs::Metadata;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::rc::Rc;

/// A file's bytes: as written, and as they lie on the disk.
#[derive(Debug, Clone, Default)]
struct Node {
    written: Vec<u8>,
    synced: Vec<u8>,
}

/// A change of names that may not lie on the disk yet.
#[derive(Debug, Clone)]
enum Naming {
    Link(PathBuf, usize),
    Remove(PathBuf),
}

#[derive(Debug, Default)]
struct Shelf {
    nodes: Vec<Node>,
    names: BTreeMap<PathBuf, usize>,
    synced_names: BTreeMap<PathBuf, usize>,
    pending: Vec<Naming>,
    done: usize,
    /// Before this operation the power goes; counted from 0.
    stops_at: Option<usize>,
    /// Only this operation fails, and the program goes on.
    fails_at: Option<usize>,
    stopped: bool,
    /// Whether it has no second names, as a memory card has none.
    is_card: bool,
    /// How many files were begun.
    begun: usize,
}

#[derive(Debug, Clone)]
struct Forgetful(Rc<RefCell<Shelf>>);

struct Open {
    disk: Forgetful,
    node: usize,
}

impl Forgetful {
    fn with(files: &[(&str, &[u8])]) -> Self {
        let mut shelf = Shelf::default();
        for (name, bytes) in files {
            shelf.nodes.push(Node {
                written: bytes.to_vec(),
                synced: bytes.to_vec(),
            });
            shelf
                .names
                .insert(PathBuf::from(name), shelf.nodes.len() - 1);
        }
        shelf.synced_names = shelf.names.clone();
        Self(Rc::new(RefCell::new(shelf)))
    }

    /// One operation.
    fn act<T>(&self, act: impl FnOnce(&mut Shelf) -> io::Result<T>) -> io::Result<T> {
        let mut shelf = self.0.borrow_mut();
        if shelf.stops_at == Some(shelf.done) {
            shelf.stopped = true;
        }
        if shelf.stopped {
            return Err(io::Error::other("no power"));
        }
        let fails = shelf.fails_at == Some(shelf.done);
        shelf.done += 1;
        if fails {
            return Err(io::Error::new(io::ErrorKind::StorageFull, "full"));
        }
        act(&mut shelf)
    }

    /// What lies on the disk after the power went: what was not synced is lost, and of the changes
    /// of names the first few have happened all the same.
    fn after(&self, namings: usize) -> BTreeMap<PathBuf, Vec<u8>> {
        let shelf = self.0.borrow();
        let mut names = shelf.synced_names.clone();
        for naming in shelf.pending.iter().take(namings) {
            match naming {
                Naming::Link(path, node) => names.insert(path.clone(), *node),
                Naming::Remove(path) => names.remove(path),
            };
        }
        names
            .into_iter()
            .map(|(path, node)| (path, shelf.nodes[node].synced.clone()))
            .collect()
    }

    /// What a running system sees.
    fn now(&self) -> BTreeMap<PathBuf, Vec<u8>> {
        let shelf = self.0.borrow();
        let seen =
            |(path, node): (&PathBuf, &usize)| (path.clone(), shelf.nodes[*node].written.clone());
        shelf.names.iter().map(seen).collect()
    }
}

impl Write for Open {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.disk.act(|shelf| {
            // A write may take only a part.
            let part = &bytes[..bytes.len().min(7)];
            shelf.nodes[self.node].written.extend_from_slice(part);
            Ok(part.len())
        })
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// A file that is being read, a few bytes at a time.
struct Reading {
    disk: Forgetful,
    node: usize,
    at: usize,
}

impl Read for Reading {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        self.disk.act(|shelf| {
            let rest = &shelf.nodes[self.node].written[self.at..];
            let count = rest.len().min(into.len()).min(5);
            into[..count].copy_from_slice(&rest[..count]);
            self.at += count;
            Ok(count)
        })
    }
}

impl Disk for Forgetful {
    type File = Open;
    type Source = Reading;

    fn open(&self, path: &Path) -> io::Result<Reading> {
        self.act(|shelf| {
            let node = *shelf.names.get(path).ok_or(io::ErrorKind::NotFound)?;
            Ok(Reading {
                disk: self.clone(),
                node,
                at: 0,
            })
        })
    }

    fn exists(&self, path: &Path) -> io::Result<bool> {
        self.act(|shelf| Ok(shelf.names.contains_key(path)))
    }

    fn create(&self, folder: &Path, _: bool) -> io::Result<(Open, PathBuf)> {
        self.act(|shelf| {
            shelf.begun += 1;
            let path = folder.join(format!("{}.part", shelf.begun));
            shelf.nodes.push(Node::default());
            let node = shelf.nodes.len() - 1;
            shelf.names.insert(path.clone(), node);
            shelf.pending.push(Naming::Link(path.clone(), node));
            Ok((
                Open {
                    disk: self.clone(),
                    node,
                },
                path.clone(),
            ))
        })
    }

    fn resemble(&self, _: &Open, _: &Metadata) -> io::Result<()> {
        self.act(|_| Ok(()))
    }

    fn sync(&self, file: &Open) -> io::Result<()> {
        self.act(|shelf| {
            let node = &mut shelf.nodes[file.node];
            node.synced = node.written.clone();
            Ok(())
        })
    }

    fn link(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.act(|shelf| {
            let node = *shelf.names.get(from).ok_or(io::ErrorKind::NotFound)?;
            if shelf.is_card {
                return Err(io::ErrorKind::PermissionDenied.into());
            }
            if shelf.names.contains_key(to) {
                return Err(io::ErrorKind::AlreadyExists.into());
            }
            shelf.names.insert(to.to_owned(), node);
            shelf.pending.push(Naming::Link(to.to_owned(), node));
            Ok(())
        })
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.act(|shelf| {
            let node = shelf.names.remove(from).ok_or(io::ErrorKind::NotFound)?;
            shelf.names.insert(to.to_owned(), node);
            shelf.pending.push(Naming::Link(to.to_owned(), node));
            shelf.pending.push(Naming::Remove(from.to_owned()));
            Ok(())
        })
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        self.act(|shelf| {
            shelf.names.remove(path).ok_or(io::ErrorKind::NotFound)?;
            shelf.pending.push(Naming::Remove(path.to_owned()));
            Ok(())
        })
    }

    fn sync_folder(&self, _: &Path) -> io::Result<()> {
        self.act(|shelf| {
            shelf.synced_names = shelf.names.clone();
            shelf.pending.clear();
            Ok(())
        })
    }
}

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
