//! A disk that forgets: every operation is counted, what was not synced is lost, and it stops at any
//! point between two operations.

use super::Disk;
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::ffi::OsString;
use std::fs::Metadata;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::rc::Rc;

/// A file's bytes: as written, and as they lie on the disk.
#[derive(Debug, Clone, Default)]
pub struct Node {
    written: Vec<u8>,
    synced: Vec<u8>,
}

/// A change of names that may not lie on the disk yet.
#[derive(Debug, Clone)]
pub enum Naming {
    Link(PathBuf, usize),
    Remove(PathBuf),
    Rename(PathBuf, PathBuf, usize),
}

#[derive(Debug, Default)]
pub struct Shelf {
    nodes: Vec<Node>,
    names: BTreeMap<PathBuf, usize>,
    synced_names: BTreeMap<PathBuf, usize>,
    pub pending: Vec<Naming>,
    pub done: usize,
    /// Before this operation the power goes; counted from 0.
    pub stops_at: Option<usize>,
    /// Only this operation fails, and the program goes on.
    pub fails_at: Option<usize>,
    stopped: bool,
    /// Whether it has no second names, as a memory card has none.
    pub is_card: bool,
    /// Whether a rename lies on the disk as a whole, as file systems with a log promise.
    pub renames_whole: bool,
    /// What lies in this folder lies on another file system.
    pub elsewhere: Option<PathBuf>,
    /// How many files were begun.
    begun: usize,
}

#[derive(Debug, Clone)]
pub struct Forgetful(pub Rc<RefCell<Shelf>>);

pub struct Open {
    disk: Forgetful,
    node: usize,
}

impl Forgetful {
    pub fn with(files: &[(&str, &[u8])]) -> Self {
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

    /// A disk that was switched on again, on which this lies.
    pub fn again(&self, files: &BTreeMap<PathBuf, Vec<u8>>) -> Self {
        let files: Vec<(&str, &[u8])> = files
            .iter()
            .map(|(path, bytes)| (path.to_str().unwrap(), bytes.as_slice()))
            .collect();
        let again = Self::with(&files);
        {
            let (mut new, old) = (again.0.borrow_mut(), self.0.borrow());
            new.is_card = old.is_card;
            new.renames_whole = old.renames_whole;
            new.elsewhere.clone_from(&old.elsewhere);
        }
        again
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
    pub fn after(&self, namings: usize) -> BTreeMap<PathBuf, Vec<u8>> {
        let shelf = self.0.borrow();
        let mut names = shelf.synced_names.clone();
        for naming in shelf.pending.iter().take(namings) {
            match naming {
                Naming::Link(path, node) => names.insert(path.clone(), *node),
                Naming::Remove(path) => names.remove(path),
                Naming::Rename(from, to, node) => {
                    names.remove(from);
                    names.insert(to.clone(), *node)
                }
            };
        }
        names
            .into_iter()
            .map(|(path, node)| (path, shelf.nodes[node].synced.clone()))
            .collect()
    }

    /// What a running system sees.
    pub fn now(&self) -> BTreeMap<PathBuf, Vec<u8>> {
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
pub struct Reading {
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

impl Shelf {
    fn crosses(&self, from: &Path, to: &Path) -> io::Result<()> {
        let is_elsewhere = |path: &Path| {
            self.elsewhere
                .as_ref()
                .is_some_and(|folder| path.starts_with(folder))
        };
        if is_elsewhere(from) == is_elsewhere(to) {
            return Ok(());
        }
        Err(io::ErrorKind::CrossesDevices.into())
    }
}

impl Disk for Forgetful {
    type File = Open;
    type Source = Reading;

    fn create_at(&self, path: &Path, _: bool) -> io::Result<Open> {
        self.act(|shelf| {
            shelf.nodes.push(Node::default());
            let node = shelf.nodes.len() - 1;
            shelf.names.insert(path.to_owned(), node);
            shelf.pending.push(Naming::Link(path.to_owned(), node));
            Ok(Open {
                disk: self.clone(),
                node,
            })
        })
    }

    fn list(&self, folder: &Path) -> io::Result<Vec<OsString>> {
        self.act(|shelf| {
            let within = shelf
                .names
                .keys()
                .filter(|path| path.parent() == Some(folder));
            Ok(within
                .map(|path| path.file_name().unwrap().to_owned())
                .collect())
        })
    }

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
            shelf.crosses(from, to)?;
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
            shelf.crosses(from, to)?;
            let node = shelf.names.remove(from).ok_or(io::ErrorKind::NotFound)?;
            shelf.names.insert(to.to_owned(), node);
            if shelf.renames_whole {
                let rename = Naming::Rename(from.to_owned(), to.to_owned(), node);
                shelf.pending.push(rename);
                return Ok(());
            }
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
