//! Which files in the inbox have finished arriving: those that were renamed in, and those whose size and
//! time have not changed for a while and that nobody holds open to write.

use crate::job::deliver::Seen;
use std::collections::{BTreeMap, BTreeSet};
use std::ffi::{OsStr, OsString};
use std::fs::Metadata;
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Endings of files that are on their way, or that belong to a job (common practice, no source).
const NOT_JOBS: [&str; 5] = ["part", "tmp", "stamp", "json", "original"];

/// The inbox as it was seen last.
#[derive(Debug, Default)]
pub struct Arrivals {
    seen: BTreeMap<OsString, (Seen, Instant)>,
    /// Names that something was renamed to.
    renamed: BTreeSet<OsString>,
    /// How long a file must not change before it is taken.
    settle: Duration,
}

/// A file that has finished arriving.
#[derive(Debug)]
pub struct Arrived {
    pub path: PathBuf,
    pub seen: Seen,
    /// Whether it was renamed in, and is whole by that.
    renamed: bool,
}

impl Arrived {
    /// Whether some process still holds it open to write; one that was renamed in is not asked.
    pub fn is_open(&self) -> bool {
        !self.renamed && std::fs::metadata(&self.path).is_ok_and(|metadata| has_writer(&metadata))
    }
}

impl Arrivals {
    /// An inbox of which nothing is known; a file must not change for so long before it is taken.
    pub fn new(settle: Duration) -> Self {
        Self {
            settle,
            ..Self::default()
        }
    }

    /// Something was renamed to this name.
    pub fn renamed(&mut self, path: &Path) {
        if let Some(name) = path.file_name() {
            self.renamed.insert(name.to_owned());
        }
    }

    /// How many files wait, and since when the oldest of them has not changed.
    pub fn waiting(&self) -> (usize, Option<Instant>) {
        let since = self.seen.values().map(|(_, since)| *since).min();
        (self.seen.len(), since)
    }

    /// Looks at the whole inbox and gives what has arrived, oldest first.
    pub fn look(&mut self, inbox: &Path) -> io::Result<Vec<Arrived>> {
        let now = Instant::now();
        let mut seen = BTreeMap::new();
        let mut arrived = Vec::new();
        for entry in std::fs::read_dir(inbox)? {
            let entry = entry?;
            let name = entry.file_name();
            if is_on_its_way(&name) {
                continue;
            }
            // It may be gone by now, taken by another gate.
            let Some(metadata) = entry.metadata().ok().filter(Metadata::is_file) else {
                continue;
            };
            let like = Seen::of(&metadata);
            let since = match self.seen.remove(&name) {
                Some((before, since)) if before == like => since,
                _ => now,
            };
            let path = entry.path();
            let renamed = self.renamed.contains(&name);
            if renamed || now.duration_since(since) >= self.settle {
                arrived.push((
                    metadata.modified().ok(),
                    Arrived {
                        path,
                        seen: like.clone(),
                        renamed,
                    },
                ));
            }
            seen.insert(name, (like, since));
        }
        self.seen = seen;
        self.renamed.clear();
        arrived.sort_by(|(one, first), (other, second)| {
            (one, &first.path).cmp(&(other, &second.path))
        });
        Ok(arrived.into_iter().map(|(_, arrived)| arrived).collect())
    }

    /// The file is no longer there.
    pub fn forget(&mut self, name: &OsStr) {
        self.seen.remove(name);
    }
}

fn is_on_its_way(name: &OsStr) -> bool {
    name.as_encoded_bytes().starts_with(b".")
        || Path::new(name).extension().is_some_and(|ending| {
            NOT_JOBS
                .iter()
                .any(|other| ending.eq_ignore_ascii_case(other))
        })
}

/// Whether some process holds the file open to write, as far as this one may see it: where the system
/// does not tell, size and time have to do.
fn has_writer(metadata: &Metadata) -> bool {
    #[cfg(target_os = "linux")]
    {
        use std::os::unix::fs::MetadataExt;
        let (device, number) = (metadata.dev(), metadata.ino());
        let Ok(processes) = std::fs::read_dir("/proc") else {
            return false;
        };
        let opened = processes.flatten().filter(|process| {
            let name = process.file_name();
            name.as_encoded_bytes().iter().all(u8::is_ascii_digit)
        });
        opened
            .flat_map(|process| {
                let files = std::fs::read_dir(process.path().join("fd"));
                files.into_iter().flatten().flatten()
            })
            .filter(|file| {
                std::fs::metadata(file.path())
                    .is_ok_and(|other| (other.dev(), other.ino()) == (device, number))
            })
            .any(|file| is_to_write(&file.path()).unwrap_or(false))
    }
    #[cfg(not(target_os = "linux"))]
    {
        let _ = metadata;
        false
    }
}

/// Whether a process' open file is open to write, by the flags that `/proc` shows in base eight.
#[cfg(target_os = "linux")]
fn is_to_write(opened: &Path) -> Option<bool> {
    let number = opened.file_name()?;
    let info = opened.parent()?.parent()?.join("fdinfo").join(number);
    let text = std::fs::read_to_string(info).ok()?;
    let flags = text.lines().find_map(|line| line.strip_prefix("flags:"))?;
    let flags = u32::from_str_radix(flags.trim(), 8).ok()?;
    // 1 is to write, 2 is to read and write (open(2)).
    Some(flags & 3 != 0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_has_not_finished_arriving_is_left_alone() {
        let inbox = tempfile::tempdir().unwrap();
        let at = |name: &str| inbox.path().join(name);
        let mut arrivals = Arrivals::new(Duration::from_millis(60));
        for name in [".hidden", "a.gcode.part", "b.TMP", "lid.gcode.stamp"] {
            std::fs::write(at(name), "G28\n").unwrap();
        }
        std::fs::create_dir(at("folder.gcode")).unwrap();
        std::fs::write(at("lid.gcode"), "G28\n").unwrap();
        std::fs::write(at("moved.gcode"), "G28\n").unwrap();
        arrivals.renamed(&at("moved.gcode"));
        let names = |arrived: Vec<Arrived>| -> Vec<PathBuf> {
            let free = arrived.into_iter().filter(|arrived| !arrived.is_open());
            free.map(|arrived| arrived.path).collect()
        };
        assert_eq!(
            names(arrivals.look(inbox.path()).unwrap()),
            [at("moved.gcode")]
        );
        std::fs::remove_file(at("moved.gcode")).unwrap();
        std::thread::sleep(Duration::from_millis(80));
        assert_eq!(
            names(arrivals.look(inbox.path()).unwrap()),
            [at("lid.gcode")]
        );
        // It grows, and has to settle anew.
        std::fs::write(at("lid.gcode"), "G28\nG1 X5\n").unwrap();
        assert!(arrivals.look(inbox.path()).unwrap().is_empty());
        // It is held open, however long.
        #[cfg(target_os = "linux")]
        {
            let open = std::fs::File::options()
                .append(true)
                .open(at("lid.gcode"))
                .unwrap();
            std::thread::sleep(Duration::from_millis(80));
            assert!(names(arrivals.look(inbox.path()).unwrap()).is_empty());
            drop(open);
            assert_eq!(
                names(arrivals.look(inbox.path()).unwrap()),
                [at("lid.gcode")]
            );
        }
    }
}
