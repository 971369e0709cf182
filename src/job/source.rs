//! A job's bytes, as often as they are needed: a file is opened anew, the standard input is kept in a
//! temporary file first.

use super::deliver::Seen;
use super::inspect::failed;
use crate::report::Failed;
use crate::text::{Bytes, Name, Opened, Reading, Threads, clean, open, open_stream, stdin};
use std::ffi::OsStr;
use std::fs::{File, Metadata};
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::sync_channel;

/// The most bytes of the standard input that are kept, as they come (chosen: ten times the largest
/// jobs that are printed, and little enough for a workshop's disk).
const SPOOL_CAP: u64 = 4 << 30;

/// Where a job's bytes lie.
pub enum Source {
    File {
        path: PathBuf,
        /// What the file was like at first; none where it could not be looked at.
        metadata: Option<Metadata>,
    },
    Spooled(Arc<File>),
    /// The standard input, which can be read once.
    Passing,
    /// Whatever this opens, each time anew.
    #[cfg_attr(
        not(feature = "audit"),
        allow(dead_code, reason = "audits alone make some")
    )]
    Made(Box<Open>),
}

/// A reader of what is kept of the standard input, with a place of its own: two may be under way at once.
struct Spooled {
    file: Arc<File>,
    at: u64,
}

impl Read for Spooled {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        #[cfg(unix)]
        let count = std::os::unix::fs::FileExt::read_at(&*self.file, into, self.at)?;
        #[cfg(windows)]
        let count = std::os::windows::fs::FileExt::seek_read(&*self.file, into, self.at)?;
        self.at += count as u64;
        Ok(count)
    }
}

/// Opens bytes from the first on.
pub type Open = dyn Fn() -> std::io::Result<Box<dyn Read + Send>> + Send + Sync;

impl Source {
    /// A file.
    #[cfg_attr(
        not(feature = "audit"),
        allow(dead_code, reason = "audits alone make some")
    )]
    pub fn file(path: &Path) -> Self {
        Self::File {
            path: path.to_owned(),
            metadata: None,
        }
    }

    /// Whatever `open` opens, each time anew.
    #[cfg_attr(
        not(feature = "audit"),
        allow(dead_code, reason = "audits alone make some")
    )]
    pub fn made(
        open: impl Fn() -> std::io::Result<Box<dyn Read + Send>> + Send + Sync + 'static,
    ) -> Self {
        Self::Made(Box::new(open))
    }

    /// A file, or the standard input, which is read to its end.
    pub fn new(job: &OsStr, name: &Name) -> Result<Self, Failed> {
        if *name != Name::StandardInput {
            let path = PathBuf::from(job);
            let metadata = std::fs::metadata(&path).ok();
            return Ok(Self::File { path, metadata });
        }
        Ok(Self::Spooled(Arc::new(spool(
            std::io::stdin().lock(),
            SPOOL_CAP,
        )?)))
    }

    /// A file, or the standard input, which is read only once.
    pub fn once(job: &OsStr, name: &Name) -> Self {
        if *name == Name::StandardInput {
            return Self::Passing;
        }
        Self::File {
            path: PathBuf::from(job),
            metadata: None,
        }
    }

    /// Its bytes from the first on.
    pub fn open(&self, name: &Name, threads: Threads) -> Result<Opened, Failed> {
        self.read(
            name,
            Reading {
                threads,
                digest: true,
            },
        )
    }

    /// Its bytes once more, without their digest.
    pub fn open_again(&self, name: &Name) -> Result<Opened, Failed> {
        self.read(
            name,
            Reading {
                threads: Threads::Two,
                digest: false,
            },
        )
    }

    fn read(&self, name: &Name, reading: Reading) -> Result<Opened, Failed> {
        match self {
            Self::Passing => stdin(reading).map_err(|fault| failed(name, &fault)),
            Self::File { path, .. } => open(path, reading).map_err(|fault| failed(name, &fault)),
            Self::Made(made) => {
                let stream = made().map_err(|fault| {
                    failed(name, &crate::text::Error::system(name.clone(), 0, fault))
                })?;
                open_stream(stream, name.clone(), reading).map_err(|fault| failed(name, &fault))
            }
            Self::Spooled(_) => {
                let again = self.stored().map_err(|fault| unspooled(&fault))?;
                open_stream(again, name.clone(), reading).map_err(|fault| failed(name, &fault))
            }
        }
    }

    /// Its bytes as they are stored, packed or not.
    pub fn stored(&self) -> std::io::Result<Box<dyn Read + Send>> {
        match self {
            Self::Passing | Self::Made(_) => Err(std::io::ErrorKind::Unsupported.into()),
            Self::File { path, .. } => Ok(Box::new(File::open(path)?)),
            Self::Spooled(file) => Ok(Box::new(Spooled {
                file: Arc::clone(file),
                at: 0,
            })),
        }
    }

    /// Where it lies; none for the standard input.
    pub fn path(&self) -> Option<&Path> {
        match self {
            Self::File { path, .. } => Some(path),
            Self::Spooled(_) | Self::Passing | Self::Made(_) => None,
        }
    }

    /// What the job's file was like.
    pub const fn metadata(&self) -> Option<&Metadata> {
        match self {
            Self::File { metadata, .. } => metadata.as_ref(),
            Self::Spooled(_) | Self::Passing | Self::Made(_) => None,
        }
    }

    /// Where it lies, and what it was like at first.
    pub fn seen(&self) -> Option<(&Path, Seen)> {
        match self {
            Self::File { path, metadata } => Some((path, Seen::of(metadata.as_ref()?))),
            Self::Spooled(_) | Self::Passing | Self::Made(_) => None,
        }
    }
}

/// How much is read at a time to be digested, bytes (chosen: it stays in the processor's cache).
const DIGESTED: usize = 256 << 10;

/// How many pieces are under way between two threads (chosen).
const UNDER_WAY: usize = 4;

/// BLAKE3 of the bytes that a reader gives, in hexadecimal, and how many they are. Another thread reads
/// ahead.
pub fn digest(mut job: impl Read + Send) -> std::io::Result<(String, u64)> {
    let (full, filled) = sync_channel(UNDER_WAY);
    let (empty, emptied) = sync_channel(UNDER_WAY);
    std::thread::scope(|scope| {
        scope.spawn(move || {
            for number in 0.. {
                let piece = match number < UNDER_WAY {
                    true => Ok(vec![0; DIGESTED]),
                    false => emptied.recv(),
                };
                let Ok(mut piece) = piece else { return };
                let count = read_some(&mut job, &mut piece);
                let is_last = !matches!(count, Ok(1..));
                if full.send(count.map(|count| (piece, count))).is_err() || is_last {
                    return;
                }
            }
        });
        let mut digest = blake3::Hasher::new();
        let mut bytes = 0;
        for piece in &filled {
            let (piece, count) = piece?;
            digest.update(piece.get(..count).unwrap_or_default());
            bytes += count as u64;
            // The reader may have come to the end and be gone.
            let _ = empty.send(piece);
        }
        Ok((digest.finalize().to_hex().to_string(), bytes))
    })
}

fn read_some(job: &mut impl Read, into: &mut [u8]) -> std::io::Result<usize> {
    loop {
        match job.read(into) {
            Err(fault) if fault.kind() == std::io::ErrorKind::Interrupted => {}
            read => return read,
        }
    }
}

fn unspooled(fault: &std::io::Error) -> Failed {
    let cause = clean(fault.to_string().as_bytes()).into_owned();
    Failed {
        name: Name::StandardInput,
        message: format!("standard input could not be kept in a temporary file: {cause}"),
        help: "make room where temporary files go, or save the job as a file and name it"
            .to_owned(),
    }
}

/// Keeps a stream in a file without a name, which is gone with the process.
fn spool(stream: impl Read, cap: u64) -> Result<File, Failed> {
    let keep = || {
        let mut file = tempfile::tempfile()?;
        let count = std::io::copy(&mut stream.take(cap + 1), &mut file)?;
        Ok((file, count))
    };
    let (file, count) = keep().map_err(|fault: std::io::Error| unspooled(&fault))?;
    if count > cap {
        return Err(Failed {
            name: Name::StandardInput,
            message: format!("standard input is larger than {}", Bytes(cap)),
            help: "save the job as a file and name it".to_owned(),
        });
    }
    Ok(file)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::{Seek, SeekFrom};

    #[test]
    fn a_stream_is_kept_up_to_the_cap() {
        let mut file = spool(&b"G28\n"[..], 4).unwrap();
        file.seek(SeekFrom::Start(0)).unwrap();
        let mut text = String::new();
        file.read_to_string(&mut text).unwrap();
        assert_eq!(text, "G28\n");
        // Two readers do not move each other.
        let source = Source::Spooled(Arc::new(file));
        let (mut one, mut other) = (source.stored().unwrap(), source.stored().unwrap());
        let mut first = [0; 2];
        one.read_exact(&mut first).unwrap();
        for (reader, rest) in [(&mut other, "G28\n"), (&mut one, "8\n")] {
            text.clear();
            reader.read_to_string(&mut text).unwrap();
            assert_eq!(text, rest);
        }
        let failed = spool(&b"G28 \n"[..], 4).unwrap_err();
        assert_eq!(failed.message, "standard input is larger than 4 bytes");
    }
}
