//! Why a job could not be read.

use super::{Packing, clean};
use miette::Diagnostic;
use std::ffi::OsString;
use std::fmt;
use std::io;
use thiserror::Error as ThisError;

/// What a job is called. Kept as given, shown clean.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Name {
    /// A path as given, which need not be UTF-8.
    Path(OsString),
    /// The standard input.
    StandardInput,
    /// A source with a name of its own, such as a page's upload.
    Given(String),
}

impl fmt::Display for Name {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Path(path) => write!(f, "`{}`", clean(path.as_encoded_bytes())),
            Self::StandardInput => f.write_str("standard input"),
            Self::Given(name) => write!(f, "`{}`", clean(name.as_bytes())),
        }
    }
}

/// A number of bytes, shown with its unit: `812 bytes`, `16.0 MiB`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bytes(pub u64);

impl fmt::Display for Bytes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 {
            1 => f.write_str("1 byte"),
            few if few < 10 * 1024 => write!(f, "{few} bytes"),
            some if some < 1024 * 1024 => write!(f, "{:.1} KiB", some as f64 / 1024.0),
            many => write!(f, "{:.1} MiB", many as f64 / (1024.0 * 1024.0)),
        }
    }
}

/// Why a job could not be read, or not to its end.
#[derive(Debug, ThisError, Diagnostic)]
#[non_exhaustive]
pub enum Error {
    /// Nothing is there.
    #[error("{name} does not exist")]
    #[diagnostic(help("check the path, and put a name with spaces between quotes"))]
    Missing {
        /// The job.
        name: Name,
    },
    /// A directory was named.
    #[error("{name} is a directory, not a job")]
    #[diagnostic(help("name the jobs inside it"))]
    Directory {
        /// The job.
        name: Name,
    },
    /// A named pipe: opening it could wait for ever.
    #[error("{name} is a named pipe, not a file")]
    #[diagnostic(help("pipe it through standard input"))]
    Pipe {
        /// The job.
        name: Name,
    },
    /// A device or a socket.
    #[error("{name} is {what}, not a file")]
    #[diagnostic(help("name a file that holds the sliced job"))]
    Device {
        /// The job.
        name: Name,
        /// What it is: `a device`, `a socket`.
        what: &'static str,
    },
    /// The system does not let this user read it.
    #[error("{name} may not be read by this user")]
    #[diagnostic(help("ask its owner for the right to read it, or work on a copy of your own"))]
    Denied {
        /// The job.
        name: Name,
    },
    /// No bytes at all.
    #[error("{name} is empty: {}", emptiness(*.packing, *.stored))]
    #[diagnostic(help("slice the part again, and check that there was room on the disk"))]
    Empty {
        /// The job.
        name: Name,
        /// How it was stored.
        packing: Packing,
        /// Its stored length, in bytes.
        stored: u64,
    },
    /// The system failed to open or to read it.
    #[error("{name} could not be read past byte {at}: {}", clean(.source.to_string().as_bytes()))]
    #[diagnostic(help("check the disk or the network it lies on, or work on a copy"))]
    Unreadable {
        /// The job.
        name: Name,
        /// How many stored bytes had been read.
        at: u64,
        /// What the system said.
        source: io::Error,
    },
    /// The file's length changed while it was read.
    #[error("{name} changed while it was read: {} at first, {} read", Bytes(*.stated), Bytes(*.read))]
    #[diagnostic(help("wait until it is written in full, then inspect it again"))]
    Changed {
        /// The job.
        name: Name,
        /// Its length when it was opened, in bytes.
        stated: u64,
        /// How many bytes came, at least.
        read: u64,
    },
    /// The packed data stops before its end.
    #[error("{name} is cut short: its {packing} data ends after {}, which hold {} of job", Bytes(*.stored), Bytes(*.unpacked))]
    #[diagnostic(help("copy it again from where it was made, or slice the part again"))]
    Truncated {
        /// The job.
        name: Name,
        /// How it was packed.
        packing: Packing,
        /// Its stored length, in bytes.
        stored: u64,
        /// How many bytes of job came out, unpacked.
        unpacked: u64,
    },
    /// The packed data contradicts itself.
    #[error("{name} is damaged: its {packing} data fails near byte {at}, after {} of job: {why}", Bytes(*.unpacked))]
    #[diagnostic(help("copy it again from where it was made, or slice the part again"))]
    Damaged {
        /// The job.
        name: Name,
        /// How it was packed.
        packing: Packing,
        /// How many stored bytes had been used.
        at: u64,
        /// How many bytes of job came out, unpacked.
        unpacked: u64,
        /// What the decoder said.
        why: String,
    },
    /// Something follows the packed data.
    #[error("{name} has something else behind its {packing} data: byte {at} is 0x{byte:02x}, after {} of job", Bytes(*.unpacked))]
    #[diagnostic(help("copy it again from where it was made; were two files joined into one?"))]
    Garbage {
        /// The job.
        name: Name,
        /// How it was packed.
        packing: Packing,
        /// Where the first foreign byte stands, from 0, in stored bytes.
        at: u64,
        /// That byte.
        byte: u8,
        /// How many bytes of job came out before it, unpacked.
        unpacked: u64,
    },
    /// Unpacking would take more memory than is granted.
    #[error("{name} needs a zstd window of {}, and the limit is {}", Bytes(*.window), Bytes(*.limit))]
    #[diagnostic(help(
        "unpack it first, or pack it again at level 19 or below and without long windows"
    ))]
    Window {
        /// The job.
        name: Name,
        /// The window it asks for, in bytes.
        window: u64,
        /// The largest window that is granted, in bytes.
        limit: u64,
    },
    /// It unpacks to far more than any job does.
    #[error("{name} unpacks to more than {limit} times its size: {} out of {}", Bytes(*.unpacked), Bytes(*.stored))]
    #[diagnostic(help(
        "do not print it; a sliced job packs to about a third: find out where this file comes from"
    ))]
    Bomb {
        /// The job.
        name: Name,
        /// How many bytes had come out.
        unpacked: u64,
        /// Out of how many stored bytes.
        stored: u64,
        /// The largest ratio that is granted.
        limit: u64,
    },
    /// What came out is packed again.
    #[error("{name} is packed twice: {inner} within {outer}")]
    #[diagnostic(help("unpack it once and inspect the result"))]
    PackedTwice {
        /// The job.
        name: Name,
        /// The outer packing.
        outer: Packing,
        /// The inner packing.
        inner: Packing,
    },
    /// A packing that is not unpacked here.
    #[error("{name} is {what}, not plain text, gzip or zstd")]
    #[diagnostic(help("turn it into plain text first, then inspect the job"))]
    Foreign {
        /// The job.
        name: Name,
        /// What it is: `a zip archive`.
        what: &'static str,
    },
    /// No text at all.
    #[error("{name} is no text: {controls} of its first {looked} bytes are control bytes")]
    #[diagnostic(help("give the sliced job as text; save it without a binary format"))]
    Binary {
        /// The job.
        name: Name,
        /// How many control bytes.
        controls: usize,
        /// Out of how many.
        looked: usize,
    },
    /// Reading had stopped already, or the decoding thread is gone.
    #[error("{name} was not read to its end: reading had stopped")]
    #[diagnostic(help("inspect it again"))]
    Stopped {
        /// The job.
        name: Name,
    },
}

fn emptiness(packing: Packing, stored: u64) -> String {
    match packing {
        Packing::Plain => Bytes(stored).to_string(),
        packed => format!("{} of {packed} hold 0 bytes of job", Bytes(stored)),
    }
}

impl Error {
    /// The job it is about.
    #[must_use]
    pub const fn name(&self) -> &Name {
        match self {
            Self::Missing { name }
            | Self::Directory { name }
            | Self::Pipe { name }
            | Self::Device { name, .. }
            | Self::Denied { name }
            | Self::Empty { name, .. }
            | Self::Unreadable { name, .. }
            | Self::Changed { name, .. }
            | Self::Truncated { name, .. }
            | Self::Damaged { name, .. }
            | Self::Garbage { name, .. }
            | Self::Window { name, .. }
            | Self::Bomb { name, .. }
            | Self::PackedTwice { name, .. }
            | Self::Foreign { name, .. }
            | Self::Binary { name, .. }
            | Self::Stopped { name } => name,
        }
    }

    /// What the system's answer to an opening or reading means, after `at` bytes.
    #[must_use]
    pub fn system(name: Name, at: u64, source: io::Error) -> Self {
        match source.kind() {
            io::ErrorKind::NotFound | io::ErrorKind::NotADirectory => Self::Missing { name },
            io::ErrorKind::PermissionDenied => Self::Denied { name },
            io::ErrorKind::IsADirectory => Self::Directory { name },
            _ => Self::Unreadable { name, at, source },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_shown_clean_and_kept_as_given() {
        let name = Name::Path(OsString::from("lid\x1b[2J\n.gcode"));
        assert_eq!(name.to_string(), "`lid␛[2J␊.gcode`");
        assert_eq!(name, Name::Path(OsString::from("lid\x1b[2J\n.gcode")));
        assert_eq!(Name::StandardInput.to_string(), "standard input");
    }

    #[cfg(unix)]
    #[test]
    fn names_need_not_be_utf8() {
        use std::os::unix::ffi::OsStringExt;
        let given = OsString::from_vec(b"lid\xb0.gcode".to_vec());
        let error = Error::Missing {
            name: Name::Path(given.clone()),
        };
        assert_eq!(error.to_string(), "`lid\u{FFFD}.gcode` does not exist");
        assert_eq!(error.name(), &Name::Path(given));
    }

    #[test]
    fn amounts_carry_units() {
        assert_eq!(Bytes(0).to_string(), "0 bytes");
        assert_eq!(Bytes(1).to_string(), "1 byte");
        assert_eq!(Bytes(20 * 1024).to_string(), "20.0 KiB");
        assert_eq!(Bytes(16 << 20).to_string(), "16.0 MiB");
    }

    #[test]
    fn the_systems_answers_are_told_apart() {
        let told = |kind: io::ErrorKind| Error::system(Name::StandardInput, 7, kind.into());
        assert!(matches!(
            told(io::ErrorKind::NotFound),
            Error::Missing { .. }
        ));
        assert!(matches!(
            told(io::ErrorKind::NotADirectory),
            Error::Missing { .. }
        ));
        assert!(matches!(
            told(io::ErrorKind::PermissionDenied),
            Error::Denied { .. }
        ));
        assert!(matches!(
            told(io::ErrorKind::IsADirectory),
            Error::Directory { .. }
        ));
        assert!(matches!(
            told(io::ErrorKind::Other),
            Error::Unreadable { at: 7, .. }
        ));
    }

    #[test]
    fn every_message_ends_in_help() {
        let name = || Name::StandardInput;
        let errors = [
            Error::Missing { name: name() },
            Error::Empty {
                name: name(),
                packing: Packing::Plain,
                stored: 0,
            },
            Error::Bomb {
                name: name(),
                unpacked: 17 << 20,
                stored: 20_000,
                limit: 200,
            },
            Error::Garbage {
                name: name(),
                packing: Packing::Gzip,
                at: 40,
                byte: 0x0a,
                unpacked: 20,
            },
        ];
        for error in errors {
            let message = error.to_string();
            assert!(
                !message.ends_with('.') && message.starts_with("standard input"),
                "{message}"
            );
            assert!(
                error
                    .help()
                    .is_some_and(|help| help.to_string().starts_with(char::is_lowercase))
            );
        }
    }
}
