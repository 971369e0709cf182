//! From paths that were named to files that may be jobs.
//!
//! Hidden files and those that a version control ignores are jobs like others. Links are not
//! followed, so that nothing outside the named folders is read and no walk goes in circles; a path
//! that was itself named is.

use crate::text::Error as JobError;
use crate::text::Name;
use ignore::WalkBuilder;
use std::fs::Metadata;
use std::io::{self, BufRead, Read};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::time::UNIX_EPOCH;

/// Endings by which files of a folder are taken for jobs: those in use for this language (common
/// practice, no source).
const JOBS: &[&str] = &["gcode", "gco", "gc", "g", "ngc", "nc"];

/// Endings of packed jobs, behind that of a job.
const PACKED: &[&str] = &["gz", "zst"];

/// Endings of archives that may hold jobs.
const ARCHIVES: &[&str] = &["zip", "3mf"];

/// A file that may be a job or hold some.
#[derive(Debug, Clone)]
pub struct Found {
    /// Where it lies.
    pub path: PathBuf,
    /// Its length in bytes; none where it is no file, or could not be looked at.
    pub size: Option<u64>,
    /// When it was last written, ns since 1970.
    pub modified: Option<i64>,
}

/// What a walk comes by.
#[derive(Debug)]
pub enum Seen {
    /// A file.
    File(Found),
    /// A folder or a path that cannot be looked into, and why.
    Trouble(PathBuf, String),
}

/// Whether a folder's file of this name is taken for a job.
#[must_use]
pub fn is_job_name(path: &Path) -> bool {
    let is = |path: &Path, endings: &[&str]| {
        let ending = path.extension().and_then(|ending| ending.to_str());
        ending.is_some_and(|ending| endings.iter().any(|one| ending.eq_ignore_ascii_case(one)))
    };
    is(path, JOBS)
        || is(path, PACKED)
            && path
                .file_stem()
                .is_some_and(|stem| is(Path::new(stem), JOBS))
}

/// Whether a folder's file of this name is looked into.
fn is_taken(path: &Path) -> bool {
    let ending = path.extension().and_then(|ending| ending.to_str());
    is_job_name(path)
        || ending.is_some_and(|ending| ARCHIVES.iter().any(|one| ending.eq_ignore_ascii_case(one)))
}

impl Found {
    /// What a file is like.
    #[must_use]
    pub fn of(path: PathBuf, metadata: &Metadata) -> Self {
        let since = metadata.modified().ok();
        let since = since.and_then(|time| time.duration_since(UNIX_EPOCH).ok());
        Self {
            path,
            size: metadata.is_file().then_some(metadata.len()),
            modified: since.and_then(|since| i64::try_from(since.as_nanos()).ok()),
        }
    }

    /// What the file that was named is like; links are followed.
    ///
    /// # Errors
    ///
    /// Where it cannot be looked at.
    pub fn named(path: PathBuf) -> io::Result<Self> {
        let metadata = std::fs::metadata(&path)?;
        Ok(Self::of(path, &metadata))
    }
}

/// Walks a path that was named, and hands on what it comes by until `each` breaks off; how many
/// files were passed over because their names are no jobs' or because they are no files.
pub fn walk(named: &Path, each: &mut dyn FnMut(Seen) -> ControlFlow<()>) -> u64 {
    let mut passed = 0;
    let trouble = |path: PathBuf, fault: io::Error| {
        let name = Name::Path(path.clone().into_os_string());
        Seen::Trouble(path, JobError::system(name, 0, fault).to_string())
    };
    match std::fs::metadata(named) {
        Err(fault) => {
            let _ = each(trouble(named.to_owned(), fault));
            return 0;
        }
        Ok(metadata) if !metadata.is_dir() => {
            let _ = each(Seen::File(Found::of(named.to_owned(), &metadata)));
            return 0;
        }
        Ok(_) => {}
    }
    let walker = WalkBuilder::new(named)
        .standard_filters(false)
        .follow_links(false)
        .build();
    for entry in walker {
        let seen = match entry {
            Ok(entry) => {
                let kind = entry.file_type();
                if kind.is_some_and(|kind| kind.is_dir()) || entry.depth() == 0 {
                    continue;
                }
                if !kind.is_some_and(|kind| kind.is_file()) || !is_taken(entry.path()) {
                    passed += 1;
                    continue;
                }
                match entry.metadata() {
                    Ok(metadata) => Seen::File(Found::of(entry.into_path(), &metadata)),
                    Err(fault) => {
                        let kind = fault
                            .io_error()
                            .map_or(io::ErrorKind::Other, io::Error::kind);
                        trouble(entry.into_path(), kind.into())
                    }
                }
            }
            Err(fault) => {
                let path = path_in(&fault).unwrap_or(named).to_owned();
                let kind = fault
                    .io_error()
                    .map_or(io::ErrorKind::Other, io::Error::kind);
                trouble(path, kind.into())
            }
        };
        if each(seen).is_break() {
            break;
        }
    }
    passed
}

/// The path that a fault of the walk is about.
fn path_in(fault: &ignore::Error) -> Option<&Path> {
    match fault {
        ignore::Error::WithPath { path, .. } => Some(path),
        ignore::Error::WithDepth { err, .. } | ignore::Error::WithLineNumber { err, .. } => {
            path_in(err)
        }
        _ => None,
    }
}

/// Reads paths from a manifest, one a line, or with `is_nul` each ended by a NUL, until `each`
/// breaks off.
///
/// # Errors
///
/// Where the manifest cannot be read.
pub fn manifest(
    mut input: impl BufRead,
    is_nul: bool,
    each: &mut dyn FnMut(PathBuf) -> ControlFlow<()>,
) -> io::Result<()> {
    let end = if is_nul { 0 } else { b'\n' };
    let mut bytes = Vec::new();
    loop {
        bytes.clear();
        if (&mut input).take(LONGEST).read_until(end, &mut bytes)? == 0 {
            return Ok(());
        }
        if bytes.last() == Some(&end) {
            bytes.pop();
        }
        if !is_nul && bytes.last() == Some(&b'\r') {
            bytes.pop();
        }
        if !bytes.is_empty() && each(super::line::path_of(&bytes)).is_break() {
            return Ok(());
        }
    }
}

/// The longest path that is read from a manifest, bytes (chosen: sixteen times what systems allow).
const LONGEST: u64 = 1 << 16;
