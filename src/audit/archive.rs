//! Jobs within zip archives. A 3MF package is one, too (ISO/IEC 29500-2, published, says how).
//!
//! Nothing is ever extracted: a member is unpacked into the inspection, piece by piece, so that its
//! name leads nowhere. What is stated of sizes is not believed; what comes out is counted.

use super::walk::is_job_name;
use flate2::Crc;
use flate2::read::DeflateDecoder;
use std::collections::BTreeSet;
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// How many jobs of one archive are inspected (chosen: a plate is a job, and thirty-six are many).
const MOST_JOBS: usize = 1000;

/// How many members an archive may have (chosen; its directory is held in memory).
const MOST_MEMBERS: u64 = 65_535;

/// How many bytes may come out of an archive for each of its own (as of packed jobs: chosen).
const RATIO: u64 = 200;

/// From how many bytes on that is held: 16 MiB (chosen).
const RATIO_FROM: u64 = 16 << 20;

/// A job within an archive.
#[derive(Debug, Clone)]
pub(super) struct Member {
    /// Its name, as far as it is UTF-8; unlike all others of the archive.
    pub name: String,
    /// Why it cannot be inspected, lower case and without a final stop.
    pub refused: Option<String>,
    archive: PathBuf,
    begins: u64,
    stored: u64,
    is_deflated: bool,
    crc: u32,
    /// What may still come out of the whole archive, in bytes.
    budget: Arc<AtomicU64>,
}

/// Whether a file's first bytes are those of a zip archive (APPNOTE 4.3.7 and 4.3.16, published).
pub(super) fn is_archive(head: &[u8]) -> bool {
    matches!(head, [b'P', b'K', 3, 4, ..] | [b'P', b'K', 5, 6, ..])
}

/// The jobs of an archive, by their names, in the order of its directory.
///
/// # Errors
///
/// Why it cannot be read as an archive, lower case and without a final stop.
pub(super) fn members(path: &Path) -> Result<Vec<Member>, String> {
    let damaged = |fault: &dyn std::fmt::Display| format!("its directory cannot be read: {fault}");
    let mut file = File::open(path).map_err(|fault| damaged(&fault))?;
    let length = file.metadata().map_err(|fault| damaged(&fault))?.len();
    let count = stated_members(&mut file, length).map_err(|fault| damaged(&fault))?;
    if count >= MOST_MEMBERS {
        return Err(format!("it has {MOST_MEMBERS} members or more"));
    }
    let mut zip = zip::ZipArchive::new(file).map_err(|fault| damaged(&fault))?;
    let most = length.saturating_mul(RATIO).max(RATIO_FROM);
    let budget = Arc::new(AtomicU64::new(most));
    let mut members: Vec<Member> = Vec::new();
    let mut names = BTreeSet::new();
    for index in 0..zip.len() {
        let Ok(entry) = zip.by_index_raw(index) else {
            return Err(damaged(&format!("member {} fails", index + 1)));
        };
        let written = String::from_utf8_lossy(entry.name_raw()).into_owned();
        let is_nested = has_ending(&written, &["zip", "3mf", "gz", "zst"]);
        if entry.is_dir()
            || !(is_job_name(Path::new(&written)) || is_nested && looks_like_jobs(&written))
        {
            continue;
        }
        if members.len() == MOST_JOBS {
            return Err(format!("it holds more than {MOST_JOBS} jobs"));
        }
        let refused = if is_nested {
            Some("is packed once more within the archive".to_owned())
        } else if entry.encrypted() {
            Some("is encrypted".to_owned())
        } else {
            match entry.compression() {
                zip::CompressionMethod::Stored | zip::CompressionMethod::Deflated => None,
                other => Some(format!("is packed as {other}, which is not read here")),
            }
        };
        // Two of one name are two jobs all the same.
        let mut name = written.clone();
        let mut number = 1;
        while !names.insert(name.clone()) {
            number += 1;
            name = format!("{written} ({number})");
        }
        members.push(Member {
            name,
            refused,
            archive: path.to_owned(),
            begins: entry.data_start().unwrap_or(0),
            stored: entry.compressed_size(),
            is_deflated: entry.compression() == zip::CompressionMethod::Deflated,
            crc: entry.crc32(),
            budget: Arc::clone(&budget),
        });
    }
    Ok(members)
}

/// How many members the end of the directory states (APPNOTE 4.3.16, published).
fn stated_members(file: &mut File, length: u64) -> io::Result<u64> {
    /// The record without its comment, and the longest comment.
    const RECORD: u64 = 22;
    const COMMENT: u64 = 65_535;
    let most = length.min(RECORD + COMMENT);
    file.seek(SeekFrom::Start(length - most))?;
    let mut tail = Vec::new();
    file.take(most).read_to_end(&mut tail)?;
    let at = tail.windows(4).rposition(|window| window == b"PK\x05\x06");
    let count = at.and_then(|at| tail.get(at + 10..at + 12));
    match count {
        Some(&[low, high]) => Ok(u64::from(u16::from_le_bytes([low, high]))),
        _ => Err(io::Error::new(io::ErrorKind::InvalidData, "it has no end")),
    }
}

fn has_ending(name: &str, endings: &[&str]) -> bool {
    let ending = Path::new(name)
        .extension()
        .and_then(|ending| ending.to_str());
    ending.is_some_and(|ending| endings.iter().any(|one| ending.eq_ignore_ascii_case(one)))
}

/// Whether a packed member may hold jobs: an archive, or a packed job.
fn looks_like_jobs(name: &str) -> bool {
    has_ending(name, &["zip", "3mf"])
        || Path::new(name)
            .file_stem()
            .is_some_and(|stem| is_job_name(Path::new(stem)))
}

impl Member {
    /// Its bytes from the first on.
    ///
    /// # Errors
    ///
    /// Where the archive can no longer be opened.
    pub(super) fn open(&self) -> io::Result<Box<dyn Read + Send>> {
        let mut file = File::open(&self.archive)?;
        file.seek(SeekFrom::Start(self.begins))?;
        let stored = io::BufReader::with_capacity(1 << 16, file.take(self.stored));
        let bytes: Box<dyn Read + Send> = if self.is_deflated {
            Box::new(DeflateDecoder::new(stored))
        } else {
            Box::new(stored)
        };
        Ok(Box::new(Checked {
            bytes,
            crc: Crc::new(),
            wanted: self.crc,
            budget: Arc::clone(&self.budget),
        }))
    }
}

/// A member's bytes, counted and checked.
struct Checked {
    bytes: Box<dyn Read + Send>,
    crc: Crc,
    wanted: u32,
    budget: Arc<AtomicU64>,
}

impl Read for Checked {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let count = self.bytes.read(into)?;
        let wrong = |what: String| Err(io::Error::new(io::ErrorKind::InvalidData, what));
        if count == 0 && !into.is_empty() && self.crc.sum() != self.wanted {
            return wrong("what came out of the archive is not what its checksum says".to_owned());
        }
        self.crc.update(into.get(..count).unwrap_or_default());
        let taken = count as u64;
        let left = |left: u64| left.checked_sub(taken);
        if self
            .budget
            .fetch_update(Ordering::Relaxed, Ordering::Relaxed, left)
            .is_err()
        {
            return wrong(format!(
                "the archive unpacks to more than {RATIO} times its size"
            ));
        }
        Ok(count)
    }
}
