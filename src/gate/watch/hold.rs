//! The gate's own folder in the inbox: jobs that were taken, and their way out of it.
//!
//! Everything here goes through the trait [`Disk`], and may be stopped between any two operations:
//! whoever comes next finishes what was begun. A job is taken by giving it a name here, which only one
//! gate can do. It leaves in this order, and each step shows whether it was done:
//!
//! 1. its record lies here, safe;
//! 2. the journal says where both go;
//! 3. the record lies there, under a name that nothing had: now the job's name there is this gate's;
//! 4. the job is renamed to it; on another file system a whole, safe copy of it is, once the journal
//!    says that the copy is whole;
//! 5. what is left here is taken away, the journal last.

use super::super::stamp::ENDING as STAMP;
use crate::job::deliver::{Disk, cannot};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::ffi::{OsStr, OsString};
use std::io::{self, ErrorKind, Read, Write};
use std::path::{Path, PathBuf};

/// The file whose lock says that a gate lives.
pub const LOCK: &str = "lock";

/// What stands between a job's number and its name.
const JOB: &str = "-job-";

/// What is called by how often a job's inspection was begun.
const TRIES: &str = "tries";

/// A folder of taken jobs.
#[derive(Debug, Clone)]
pub struct Hold<D: Disk> {
    disk: D,
    folder: PathBuf,
    /// What its files on other file systems are called while they are copied.
    token: String,
}

/// A job that was taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Taken {
    /// Its number here, six digits.
    id: String,
    /// The name that it had in the inbox.
    pub name: OsString,
}

/// Where a job goes, in the journal.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Journal {
    /// The folder's bytes in hexadecimal, since names need not be UTF-8.
    folder: String,
    /// The name's bytes in hexadecimal.
    name: String,
    /// Whether the reworked job goes, and not the one that came.
    reworked: bool,
    /// Whether the one that came goes beside it.
    #[serde(default)]
    original: bool,
    /// Whether a whole copy lies in the folder under its name for copies.
    copied: bool,
}

/// What goes to a job's side with it.
#[derive(Debug, Clone, Copy, Default)]
pub struct Along<'a> {
    pub record: &'a str,
    /// The stamp's text, where jobs are stamped.
    pub stamp: Option<&'a str>,
    /// Whether the reworked job goes, and not the one that came.
    pub reworked: bool,
    /// Whether the one that came goes beside it.
    pub original: bool,
}

/// What a hold is found to have in it.
#[derive(Debug, Default)]
pub struct Found {
    /// Jobs that have no answer yet, and how often a gate was stopped while it inspected them.
    pub unanswered: Vec<(Taken, u32)>,
    /// Where jobs lie now whose way out was only to be finished.
    pub finished: Vec<PathBuf>,
    /// What could not be finished, and why.
    pub stuck: Vec<(Taken, io::Error)>,
}

impl<D: Disk> Hold<D> {
    pub fn new(disk: D, folder: &Path) -> Self {
        let token = folder.file_name().unwrap_or_default();
        Self {
            disk,
            folder: folder.to_owned(),
            token: token.to_string_lossy().into_owned(),
        }
    }

    fn at(&self, taken: &Taken, what: &str) -> PathBuf {
        self.folder.join(format!("{}-{what}", taken.id))
    }

    /// Where a taken job lies.
    pub fn job(&self, taken: &Taken) -> PathBuf {
        let mut name = OsString::from(format!("{}{JOB}", taken.id));
        name.push(&taken.name);
        self.folder.join(name)
    }

    /// Where its rework is to be written.
    pub fn reworked(&self, taken: &Taken) -> PathBuf {
        self.at(taken, "reworked")
    }

    /// Takes a job out of the inbox; of several gates one.
    pub fn take(&self, job: &Path, number: u64) -> io::Result<Taken> {
        let taken = Taken {
            id: format!("{number:06}"),
            name: job.file_name().unwrap_or_default().to_owned(),
        };
        self.disk.rename(job, &self.job(&taken))?;
        Ok(taken)
    }

    /// Notes how often the job's inspection was begun, with the one that begins now; 0 once it is over.
    /// A disk too full to note it is no reason not to inspect.
    pub fn note_tries(&self, taken: &Taken, tries: u32) {
        let note = || {
            let mut file = self.disk.create_at(&self.at(taken, TRIES), false)?;
            file.write_all(tries.to_string().as_bytes())
        };
        let _: io::Result<()> = note();
    }

    /// How often the job's inspection was begun and not ended.
    fn tries(&self, taken: &Taken) -> u32 {
        let mut text = String::new();
        self.disk
            .open(&self.at(taken, TRIES))
            .and_then(|mut file| file.read_to_string(&mut text))
            .ok()
            .and_then(|_| text.parse().ok())
            .unwrap_or(0)
    }

    #[cfg(test)]
    pub fn disk(&self) -> &D {
        &self.disk
    }

    /// Where its files lie.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Finishes a job's way where it was begun; none where it was not.
    ///
    /// # Errors
    ///
    /// As [`Hold::bring`].
    pub fn resume(&self, taken: &Taken) -> io::Result<Option<PathBuf>> {
        if !self.disk.exists(&self.at(taken, "journal"))? {
            return Ok(None);
        }
        self.go_on(taken).map(Some)
    }

    /// Brings an answered job with its record to `folder`, and gives its place there.
    ///
    /// # Errors
    ///
    /// What the system says; then it can be asked again, and nothing is lost or doubled.
    pub fn bring(&self, taken: &Taken, along: &Along<'_>, folder: &Path) -> io::Result<PathBuf> {
        if let Some(place) = self.resume(taken)? {
            return Ok(place);
        }
        // No two passages have the same record, so that each knows its own.
        let passage = format!(
            "{{\"gate\":\"{}\",\"passage\":\"{}\"}}",
            self.token, taken.id
        );
        let record = format!("{}\n{passage}\n", along.record);
        self.write(&self.at(taken, "record"), record.as_bytes())?;
        if let Some(stamp) = along.stamp {
            self.write(&self.at(taken, "stamp"), stamp.as_bytes())?;
        }
        let journal = Journal {
            folder: hex(folder.as_os_str()),
            name: hex(&self.free(folder, &taken.name, 1)?),
            reworked: along.reworked,
            original: along.reworked && along.original,
            copied: false,
        };
        self.note(taken, &journal)?;
        self.go_on(taken)
    }

    /// Finishes what the journal says.
    fn go_on(&self, taken: &Taken) -> io::Result<PathBuf> {
        let mut journal = self.journal(taken)?;
        let folder = PathBuf::from(unhex(&journal.folder)?);
        let from = if journal.reworked {
            self.reworked(taken)
        } else {
            self.job(taken)
        };
        let copy = folder.join(format!(".meltgauge-{}-{}.part", self.token, taken.id));
        let is_there = self.disk.exists(&from)?;
        if is_there && !journal.copied {
            self.reserve(taken, &folder, &mut journal)?;
            self.place_beside(taken, &folder, &journal)?;
            let place = folder.join(unhex(&journal.name)?);
            match self.disk.rename(&from, &place) {
                Ok(()) => {}
                Err(fault) if fault.kind() == ErrorKind::CrossesDevices => {
                    self.copy(&from, &copy)?;
                    self.disk.sync_folder(&folder)?;
                    journal.copied = true;
                    self.note(taken, &journal)?;
                }
                Err(fault) => return Err(fault),
            }
        }
        let place = folder.join(unhex(&journal.name)?);
        if journal.copied && is_there && self.disk.exists(&copy)? {
            self.disk.rename(&copy, &place)?;
        }
        self.disk.sync_folder(&folder)?;
        self.clear(taken)?;
        Ok(place)
    }

    /// Brings the record to its place, where nothing may lie: whoever has the record's name has the
    /// job's. Where another was first, both get another name.
    fn reserve(&self, taken: &Taken, folder: &Path, journal: &mut Journal) -> io::Result<()> {
        let record = self.at(taken, "record");
        let copy = folder.join(format!(
            ".meltgauge-{}-{}.record.part",
            self.token, taken.id
        ));
        // The job itself may be gone where it was put beside its rework already.
        let first = match taken.name.is_empty() {
            true => unhex(&journal.name)?,
            false => taken.name.clone(),
        };
        let mut number = 1;
        loop {
            let name = unhex(&journal.name)?;
            let place = folder.join(record_of(&name));
            if self.is_same(&record, &place)? {
                break;
            }
            let placed = self.is_free(folder, &name)? && self.place_new(&record, &place, &copy)?;
            if placed {
                break;
            }
            number += 1;
            journal.name = hex(&self.free(folder, &first, number)?);
            self.note(taken, journal)?;
        }
        self.remove(&copy)?;
        self.disk.sync_folder(folder)
    }

    /// Brings the stamp and the original to places that are this job's by its name. A stamp that lies
    /// there is of a job that went away without it.
    fn place_beside(&self, taken: &Taken, folder: &Path, journal: &Journal) -> io::Result<()> {
        let name = unhex(&journal.name)?;
        let mut beside = vec![(self.at(taken, "stamp"), STAMP)];
        if journal.original {
            beside.push((self.job(taken), ORIGINAL));
        }
        for (from, ending) in beside {
            if !self.disk.exists(&from)? {
                continue;
            }
            let place = folder.join(with(&name, ending));
            match self.disk.rename(&from, &place) {
                Ok(()) => {}
                Err(fault) if fault.kind() == ErrorKind::CrossesDevices => {
                    let copy = format!(".meltgauge-{}-{}{ending}.part", self.token, taken.id);
                    let copy = folder.join(copy);
                    self.copy(&from, &copy)?;
                    self.disk.rename(&copy, &place)?;
                    self.disk.sync_folder(folder)?;
                    self.remove(&from)?;
                }
                Err(fault) => return Err(fault),
            }
            self.disk.sync_folder(folder)?;
        }
        Ok(())
    }

    /// Gives a file a further name that nothing has; by a copy where a second name cannot be had.
    /// Says whether nothing had it.
    fn place_new(&self, from: &Path, place: &Path, copy: &Path) -> io::Result<bool> {
        let fault = match self.disk.link(from, place) {
            Ok(()) => return Ok(true),
            Err(fault) => fault,
        };
        if fault.kind() == ErrorKind::AlreadyExists {
            return Ok(false);
        }
        if fault.kind() != ErrorKind::CrossesDevices && !cannot(&fault) {
            return Err(fault);
        }
        self.copy(from, copy)?;
        match self.disk.link(copy, place) {
            Ok(()) => Ok(true),
            Err(fault) if fault.kind() == ErrorKind::AlreadyExists => Ok(false),
            // Without second names, as on a memory card, the look just before has to do.
            Err(fault) if cannot(&fault) => self.disk.rename(copy, place).map(|()| true),
            Err(fault) => Err(fault),
        }
    }

    /// What lies here, once everything that was begun is finished. What a stopped gate left half done
    /// is taken away.
    pub fn recover(&self) -> io::Result<Found> {
        let mut found = Found::default();
        let mut jobs: BTreeMap<String, Taken> = BTreeMap::new();
        let mut journals = Vec::new();
        let mut others = Vec::new();
        for name in self.disk.list(&self.folder)? {
            match split(&name) {
                Some((id, What::Job(job))) => {
                    let name = job;
                    jobs.insert(id.clone(), Taken { id, name });
                }
                Some((id, What::Journal)) => journals.push(id),
                Some((_, What::Tries)) => {}
                _ if name == LOCK => {}
                _ => others.push(name),
            }
        }
        for id in &journals {
            // A reworked job that has gone leaves the one that came; one that has gone itself, nothing.
            let taken = jobs.remove(id).unwrap_or_else(|| Taken {
                id: id.clone(),
                name: OsString::new(),
            });
            match self.go_on(&taken) {
                Ok(place) => found.finished.push(place),
                Err(fault) => found.stuck.push((taken, fault)),
            }
        }
        for name in others {
            let is_needed = journals.iter().any(|id| {
                found.stuck.iter().any(|(taken, _)| taken.id == *id)
                    && name.to_string_lossy().starts_with(id.as_str())
            });
            if !is_needed {
                self.remove(&self.folder.join(name))?;
            }
        }
        let unanswered = jobs.into_values();
        found.unanswered = unanswered
            .map(|taken| {
                let tries = self.tries(&taken);
                (taken, tries)
            })
            .collect();
        Ok(found)
    }

    /// Takes away what is left of a job that has gone.
    fn clear(&self, taken: &Taken) -> io::Result<()> {
        for name in self.disk.list(&self.folder)? {
            let is_of =
                split(&name).is_some_and(|(id, what)| id == taken.id && what != What::Journal);
            if is_of {
                self.remove(&self.folder.join(name))?;
            }
        }
        self.disk.sync_folder(&self.folder)?;
        self.remove(&self.at(taken, "journal"))?;
        self.disk.sync_folder(&self.folder)
    }

    /// The first free name, from the `number`th on: `lid.gcode`, `lid.2.gcode` …
    fn free(&self, folder: &Path, name: &OsStr, number: u64) -> io::Result<OsString> {
        let mut number = number;
        loop {
            let numbered = numbered(name, number);
            if self.is_free(folder, &numbered)? {
                return Ok(numbered);
            }
            number += 1;
        }
    }

    /// Whether no job there has this name, and none has left its record or its original.
    fn is_free(&self, folder: &Path, name: &OsStr) -> io::Result<bool> {
        for name in [name.to_owned(), record_of(name), with(name, ORIGINAL)] {
            if self.disk.exists(&folder.join(name))? {
                return Ok(false);
            }
        }
        Ok(true)
    }

    fn journal(&self, taken: &Taken) -> io::Result<Journal> {
        let mut text = Vec::new();
        self.disk
            .open(&self.at(taken, "journal"))?
            .read_to_end(&mut text)?;
        serde_json::from_slice(&text).map_err(io::Error::other)
    }

    fn note(&self, taken: &Taken, journal: &Journal) -> io::Result<()> {
        let text = serde_json::to_vec(journal).map_err(io::Error::other)?;
        self.write(&self.at(taken, "journal"), &text)?;
        self.disk.sync_folder(&self.folder)
    }

    /// Writes a file here in one step.
    fn write(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        let mut new = path.as_os_str().to_owned();
        new.push(".new");
        let new = PathBuf::from(new);
        let mut file = self.disk.create_at(&new, false)?;
        file.write_all(bytes)?;
        file.flush()?;
        self.disk.sync(&file)?;
        self.disk.rename(&new, path)
    }

    /// A whole and safe copy, or an error.
    fn copy(&self, from: &Path, to: &Path) -> io::Result<()> {
        let mut copy = self.disk.create_at(to, true)?;
        io::copy(&mut self.disk.open(from)?, &mut copy)?;
        copy.flush()?;
        if let Ok(original) = std::fs::metadata(from) {
            self.disk.resemble(&copy, &original)?;
        }
        self.disk.sync(&copy)
    }

    fn is_same(&self, one: &Path, other: &Path) -> io::Result<bool> {
        if !self.disk.exists(other)? {
            return Ok(false);
        }
        let whole = |path: &Path| {
            let mut bytes = Vec::new();
            self.disk.open(path)?.read_to_end(&mut bytes)?;
            io::Result::Ok(bytes)
        };
        Ok(whole(one)? == whole(other)?)
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        match self.disk.remove(path) {
            Err(fault) if fault.kind() != ErrorKind::NotFound => Err(fault),
            _ => Ok(()),
        }
    }
}

/// What a file here is.
#[derive(Debug, PartialEq, Eq)]
enum What {
    Job(OsString),
    Journal,
    Tries,
    Other,
}

/// A file's number and what it is.
fn split(name: &OsStr) -> Option<(String, What)> {
    let bytes = name.as_encoded_bytes();
    let digits = bytes
        .iter()
        .take_while(|byte| byte.is_ascii_digit())
        .count();
    let (id, rest) = bytes
        .split_at_checked(digits)
        .filter(|(id, _)| id.len() >= 6)?;
    let id = String::from_utf8(id.to_vec()).ok()?;
    let what = match rest.strip_prefix(JOB.as_bytes()) {
        Some(job) => What::Job(os(job)?),
        None if rest == b"-journal" => What::Journal,
        None if rest.strip_prefix(b"-") == Some(TRIES.as_bytes()) => What::Tries,
        None => What::Other,
    };
    Some((id, what))
}

/// The ending of the job as it came beside its rework. No job has it: see `NOT_JOBS`.
const ORIGINAL: &str = ".original";

/// The name of the record beside a job.
pub fn record_of(name: &OsStr) -> OsString {
    with(name, ".record.json")
}

fn with(name: &OsStr, ending: &str) -> OsString {
    let mut name = name.to_owned();
    name.push(ending);
    name
}

/// `lid.gcode` as the third is `lid.3.gcode`, `lid.gcode.gz` is `lid.3.gcode.gz`.
fn numbered(name: &OsStr, number: u64) -> OsString {
    if number == 1 {
        return name.to_owned();
    }
    let bytes = name.as_encoded_bytes();
    let dot = bytes
        .iter()
        .skip(1)
        .position(|byte| *byte == b'.')
        .map_or(bytes.len(), |at| at + 1);
    let (stem, ending) = bytes.split_at_checked(dot).unwrap_or((bytes, b""));
    let number = format!(".{number}");
    os(&[stem, number.as_bytes(), ending].concat()).unwrap_or_else(|| name.to_owned())
}

fn hex(name: &OsStr) -> String {
    let bytes = name.as_encoded_bytes().iter();
    bytes.map(|byte| format!("{byte:02x}")).collect()
}

fn unhex(text: &str) -> io::Result<OsString> {
    let wrong = || io::Error::other("the journal is damaged");
    let digits = text.as_bytes().chunks(2).map(|two| {
        let two = std::str::from_utf8(two).ok()?;
        u8::from_str_radix(two, 16).ok()
    });
    let bytes: Vec<u8> = digits.collect::<Option<_>>().ok_or_else(wrong)?;
    os(&bytes).ok_or_else(wrong)
}

/// A name from its bytes; where names are not bytes, those that are UTF-8.
fn os(bytes: &[u8]) -> Option<OsString> {
    #[cfg(unix)]
    {
        use std::os::unix::ffi::OsStringExt;
        Some(OsString::from_vec(bytes.to_vec()))
    }
    #[cfg(not(unix))]
    String::from_utf8(bytes.to_vec()).ok().map(OsString::from)
}
