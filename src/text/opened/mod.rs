//! Jobs in files and on the standard input, plain or packed.
//!
//! A plain file is read with plain reads into the inspecting thread's own buffer; there is no memory
//! map, because a file cut short under a map ends the process. A packed one is unpacked on a thread
//! of its own. Either way the stored bytes are read once, and digested as they come.

mod hand_over;
mod source;
mod unpack;

#[cfg(test)]
mod tests;

use super::sniff::{LOOK, admit};
use super::{Error, Feed, Name, Packing};
use hand_over::{News, Worker};
use source::Source;
use std::fs::{File, Metadata};
use std::io::Read;
use std::path::Path;
use unpack::Unpacker;

/// On how many threads a job is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Threads {
    /// Unpacking, reading and inspecting take turns on the calling thread.
    One,
    /// Unpacking has a thread of its own; a plain job's lines may be read ahead on one.
    #[default]
    Two,
}

/// How to read a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reading {
    /// On how many threads.
    pub threads: Threads,
    /// Whether to digest the stored bytes.
    pub digest: bool,
}

impl Default for Reading {
    fn default() -> Self {
        Self {
            threads: Threads::Two,
            digest: true,
        }
    }
}

/// What there was to read, known once a job was read to its end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stored {
    /// The length as stored, in bytes.
    pub bytes_stored: u64,
    /// The length of the job itself, in bytes.
    pub bytes_unpacked: u64,
    /// BLAKE3 of the stored bytes, 64 hexadecimal digits; none where it was not asked for.
    pub digest_hex: Option<String>,
    /// How the job was stored.
    pub packing: Packing,
}

/// A job that is being read.
pub struct Opened {
    name: Name,
    packing: Packing,
    hands: Hands,
    /// The first piece of a packed job, unpacked when it was opened.
    first: Option<Vec<u8>>,
}

enum Hands {
    Plain(Box<Source>),
    Here(Box<Unpacker>, Vec<u8>),
    There(Worker),
    Ended(Stored),
    Failed,
}

/// Opens the job at `path`, which may be plain text, gzip or zstd by its content, whatever its name.
///
/// # Errors
///
/// Where there is no such file, where it is a directory, a pipe, a device or a socket, where it may
/// not be read, and where its beginning is empty, damaged, packed twice or no text.
pub fn open(path: &Path, reading: Reading) -> Result<Opened, Error> {
    let name = Name::Path(path.as_os_str().to_owned());
    let system = |fault| Error::system(name.clone(), 0, fault);
    // Asked before it is opened, because opening a named pipe waits for its writer.
    refuse(&name, &std::fs::metadata(path).map_err(system)?)?;
    let file = File::open(path).map_err(system)?;
    let metadata = file.metadata().map_err(system)?;
    refuse(&name, &metadata)?;
    // Files that the kernel makes up state the length 0.
    let stated = Some(metadata.len()).filter(|&length| length > 0);
    let source = Source::new(Box::new(file), name, stated, reading.digest);
    Opened::new(source, reading.threads, true)
}

/// Opens the job that comes through the standard input.
///
/// # Errors
///
/// As [`open`], where they can occur.
pub fn stdin(reading: Reading) -> Result<Opened, Error> {
    open_stream(std::io::stdin(), Name::StandardInput, reading)
}

/// Opens the job that `stream` holds.
///
/// # Errors
///
/// As [`open`], where they can occur.
pub fn open_stream(
    stream: impl Read + Send + 'static,
    name: Name,
    reading: Reading,
) -> Result<Opened, Error> {
    let source = Source::new(Box::new(stream), name, None, reading.digest);
    Opened::new(source, reading.threads, false)
}

/// Refuses what is no file.
fn refuse(name: &Name, metadata: &Metadata) -> Result<(), Error> {
    let name = name.clone();
    let kind = metadata.file_type();
    if kind.is_file() {
        return Ok(());
    }
    if kind.is_dir() {
        return Err(Error::Directory { name });
    }
    #[cfg(unix)]
    {
        use std::os::unix::fs::FileTypeExt;
        if kind.is_fifo() {
            return Err(Error::Pipe { name });
        }
        if kind.is_socket() {
            let what = "a socket";
            return Err(Error::Device { name, what });
        }
    }
    let what = "a device";
    Err(Error::Device { name, what })
}

/// What there was, once `unpacker` is at its end.
fn stored(unpacker: &Unpacker) -> Stored {
    let (bytes_stored, digest_hex) = unpacker.source().close();
    Stored {
        bytes_stored,
        bytes_unpacked: unpacker.unpacked(),
        digest_hex,
        packing: unpacker.packing(),
    }
}

impl Opened {
    fn new(mut source: Source, threads: Threads, from_file: bool) -> Result<Self, Error> {
        let packing = Packing::of(source.peek(LOOK)?);
        let name = source.name.clone();
        let mut opened = Self {
            name,
            packing,
            hands: Hands::Failed,
            first: None,
        };
        if packing == Packing::Plain {
            admit(source.unused(), &opened.name, packing, 0)?;
            opened.hands = Hands::Plain(Box::new(source));
            return Ok(opened);
        }
        // The first piece is unpacked here: a small job needs no thread, and what is wrong at once
        // is said at once.
        let mut unpacker = Unpacker::new(source, packing)?;
        let mut first = Unpacker::buffer();
        unpacker.next(&mut first)?;
        admit(&first, &opened.name, packing, unpacker.source().place())?;
        let short = first.len() < first.capacity();
        opened.first = Some(first);
        opened.hands = if threads == Threads::One || short {
            Hands::Here(Box::new(unpacker), Unpacker::buffer())
        } else {
            match Worker::start(unpacker, from_file) {
                Ok(worker) => Hands::There(worker),
                Err(unpacker) => Hands::Here(unpacker, Unpacker::buffer()),
            }
        };
        Ok(opened)
    }

    /// What the job is called.
    #[must_use]
    pub const fn name(&self) -> &Name {
        &self.name
    }

    /// How the job is stored.
    #[must_use]
    pub const fn packing(&self) -> Packing {
        self.packing
    }

    /// What there was to read; none where the job was not read to its end.
    ///
    /// A thread that still unpacks is stopped and waited for, unless it waits for a stream.
    #[must_use]
    pub fn finish(self) -> Option<Stored> {
        match self.hands {
            Hands::Ended(stored) => Some(stored),
            _ => None,
        }
    }

    /// Appends the next piece; the stored facts at the end.
    fn take(&mut self, into: &mut Vec<u8>) -> Result<Option<Stored>, Error> {
        if let Some(first) = self.first.take() {
            into.extend_from_slice(&first);
            return Ok(None);
        }
        match &mut self.hands {
            Hands::Plain(source) => {
                if source.append(into)? {
                    return Ok(None);
                }
                let (bytes_stored, digest_hex) = source.close();
                Ok(Some(Stored {
                    bytes_stored,
                    bytes_unpacked: bytes_stored,
                    digest_hex,
                    packing: Packing::Plain,
                }))
            }
            Hands::Here(unpacker, piece) => {
                if unpacker.next(piece)? {
                    into.extend_from_slice(piece);
                    return Ok(None);
                }
                Ok(Some(stored(unpacker)))
            }
            Hands::There(worker) => match worker.next(into) {
                Some(Ok(News::More)) => Ok(None),
                Some(Ok(News::End(stored))) => Ok(Some(stored)),
                Some(Err(fault)) => Err(fault),
                None => Err(Error::Stopped {
                    name: self.name.clone(),
                }),
            },
            Hands::Ended(stored) => Ok(Some(stored.clone())),
            Hands::Failed => Err(Error::Stopped {
                name: self.name.clone(),
            }),
        }
    }
}

impl Feed for Opened {
    fn next(&mut self, into: &mut Vec<u8>) -> Result<bool, Error> {
        match self.take(into) {
            Ok(None) => Ok(true),
            Ok(Some(stored)) => {
                self.hands = Hands::Ended(stored);
                Ok(false)
            }
            Err(fault) => {
                // Never an end after a fault: a job cut short must not look whole.
                self.hands = Hands::Failed;
                Err(fault)
            }
        }
    }
}

impl std::fmt::Debug for Opened {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Opened")
            .field("name", &self.name)
            .field("packing", &self.packing)
            .finish_non_exhaustive()
    }
}
