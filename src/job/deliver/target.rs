//! Where a reworked job goes, and what must not lie there.

use super::folder_of;
use crate::text::{Bytes, clean};
use std::ffi::OsString;
use std::fs::Metadata;
use std::io;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// How the result takes its place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum How {
    /// Where nothing may lie.
    New,
    /// In place of whatever lies there.
    Over,
    /// In place of the job, which is kept under another name, or dropped.
    InPlace {
        /// That name.
        kept: Option<PathBuf>,
    },
}

/// Where the result goes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Target {
    path: PathBuf,
    how: How,
}

/// Why a result cannot go where it is asked to: a message and what to do.
pub type Refused = (String, &'static str);

fn shown(path: &Path) -> String {
    format!("`{}`", clean(path.as_os_str().as_encoded_bytes()))
}

fn unseen(path: &Path, fault: &io::Error) -> Refused {
    (
        format!("{} cannot be looked at: {fault}", shown(path)),
        "check the path and your rights in its folder",
    )
}

impl Target {
    /// A file of the user's choosing.
    ///
    /// # Errors
    ///
    /// Where something lies there that is not to be overwritten: a file without `overwrite`, the job
    /// itself, a symbolic link, a folder, a device.
    pub fn file(path: &Path, job: Option<&Path>, overwrite: bool) -> Result<Self, Refused> {
        let target = |how| Self {
            path: path.to_owned(),
            how,
        };
        let there = match std::fs::symlink_metadata(path) {
            Err(fault) if fault.kind() == io::ErrorKind::NotFound => return Ok(target(How::New)),
            Err(fault) => return Err(unseen(path, &fault)),
            Ok(there) => there,
        };
        if there.is_symlink() {
            return Err((
                format!("{} is a symbolic link", shown(path)),
                "name the file that it leads to, or another name",
            ));
        }
        if !there.is_file() {
            let what = if there.is_dir() {
                "a directory"
            } else {
                "not a file"
            };
            return Err((
                format!("{} is {what}", shown(path)),
                "name a file that is to be written",
            ));
        }
        let is_job = |job: &Path| match (std::fs::canonicalize(job), std::fs::canonicalize(path)) {
            (Ok(job), Ok(path)) => job == path,
            _ => false,
        };
        if job.is_some_and(is_job) {
            return Err((
                format!("{} is the job itself", shown(path)),
                "use --in-place, which keeps the original, or name another file",
            ));
        }
        if !overwrite {
            return Err((
                format!("{} is there already", shown(path)),
                "name another file with -o, or use --overwrite",
            ));
        }
        Ok(target(How::Over))
    }

    /// Beside the job, under its name with a word in it.
    ///
    /// # Errors
    ///
    /// As [`Target::file`].
    pub fn beside(job: &Path, overwrite: bool) -> Result<Self, Refused> {
        Self::file(&with_word(job, "reworked"), Some(job), overwrite)
    }

    /// In place of the job, which is kept unless it is to be dropped.
    ///
    /// # Errors
    ///
    /// Where the job is a symbolic link or has further names, which would lead to the old one, and
    /// where the name for the original is taken.
    pub fn in_place(job: &Path, drop_original: bool) -> Result<Self, Refused> {
        let kept = (!drop_original).then(|| with_word(job, "original"));
        let there = match std::fs::symlink_metadata(job) {
            Err(fault) if fault.kind() == io::ErrorKind::NotFound => {
                // Reading it says so.
                return Ok(Self {
                    path: job.to_owned(),
                    how: How::InPlace { kept },
                });
            }
            Err(fault) => return Err(unseen(job, &fault)),
            Ok(there) => there,
        };
        if there.is_symlink() {
            return Err((
                format!(
                    "{} is a symbolic link, and is not reworked in place",
                    shown(job)
                ),
                "name the file that it leads to, or write elsewhere with -o",
            ));
        }
        #[cfg(unix)]
        {
            use std::os::unix::fs::MetadataExt;
            let names = there.nlink();
            if there.is_file() && names > 1 {
                return Err((
                    format!(
                        "{} has {names} names (hard links), and only this one would be reworked",
                        shown(job)
                    ),
                    "write elsewhere with -o, or make it a file of its own first",
                ));
            }
        }
        if let Some(kept) = &kept
            && std::fs::symlink_metadata(kept).is_ok()
        {
            return Err((
                format!(
                    "{} is there already, perhaps the original of an earlier rework",
                    shown(kept)
                ),
                "move it away, or do without keeping this one by --drop-original",
            ));
        }
        Ok(Self {
            path: job.to_owned(),
            how: How::InPlace { kept },
        })
    }

    /// The name that the result gets.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// How it gets it.
    pub const fn how(&self) -> &How {
        &self.how
    }

    /// The folder it lies in.
    pub fn folder(&self) -> &Path {
        folder_of(&self.path)
    }

    #[cfg(test)]
    pub fn of(path: &str, how: How) -> Self {
        Self {
            path: PathBuf::from(path),
            how,
        }
    }
}

/// `lid.gcode` with `reworked` in it is `lid.reworked.gcode`, and `lid.gcode.gz` is
/// `lid.reworked.gcode.gz`. Names need not be UTF-8.
fn with_word(path: &Path, word: &str) -> PathBuf {
    let is_packed = |ending: &&std::ffi::OsStr| {
        ["gz", "zst"]
            .iter()
            .any(|packed| ending.eq_ignore_ascii_case(packed))
    };
    let name = Path::new(path.file_name().unwrap_or_default());
    let packed = name.extension().filter(is_packed);
    let inner = match packed {
        Some(_) => Path::new(name.file_stem().unwrap_or_default()),
        None => name,
    };
    let mut new = OsString::from(inner.file_stem().unwrap_or_default());
    new.push(".");
    new.push(word);
    for ending in inner.extension().into_iter().chain(packed) {
        new.push(".");
        new.push(ending);
    }
    path.with_file_name(new)
}

/// What a file was like when it was first looked at, so that another one in its place is noticed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Seen {
    length: u64,
    modified: Option<SystemTime>,
    /// Device and number, where the system has them.
    identity: Option<(u64, u64)>,
}

impl Seen {
    /// What is seen of a file.
    pub fn of(metadata: &Metadata) -> Self {
        #[cfg(unix)]
        let identity = {
            use std::os::unix::fs::MetadataExt;
            Some((metadata.dev(), metadata.ino()))
        };
        #[cfg(not(unix))]
        let identity = None;
        Self {
            length: metadata.len(),
            modified: metadata.modified().ok(),
            identity,
        }
    }

    /// Whether the file at `path` still is what it was.
    ///
    /// # Errors
    ///
    /// Where it is not, or cannot be looked at.
    pub fn is_still(&self, path: &Path) -> io::Result<()> {
        let now = Self::of(&std::fs::metadata(path)?);
        if now == *self {
            return Ok(());
        }
        Err(io::Error::other(format!(
            "the job changed while it was reworked: {} at first, {} now",
            Bytes(self.length),
            Bytes(now.length)
        )))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_get_their_word_before_their_endings() {
        for (name, new) in [
            ("lid.gcode", "lid.reworked.gcode"),
            ("a b/lid.v2.gcode", "a b/lid.v2.reworked.gcode"),
            ("lid.gcode.gz", "lid.reworked.gcode.gz"),
            ("lid.gcode.ZST", "lid.reworked.gcode.ZST"),
            ("lid.gz", "lid.reworked.gz"),
            ("lid", "lid.reworked"),
            (".lid", ".lid.reworked"),
            ("li\nd.gcode", "li\nd.reworked.gcode"),
        ] {
            assert_eq!(with_word(Path::new(name), "reworked"), Path::new(new));
        }
    }

    #[cfg(unix)]
    #[test]
    fn names_need_not_be_utf8() {
        use std::ffi::OsStr;
        use std::os::unix::ffi::OsStrExt;
        let path = |name: &'static [u8]| Path::new(OsStr::from_bytes(name));
        assert_eq!(
            with_word(path(b"li\xb0d.gcode"), "original"),
            path(b"li\xb0d.original.gcode")
        );
    }
}
