//! The seam over the file operations by which a reworked job is put in place, so that tests can stop
//! between any two of them.

use std::ffi::OsString;
use std::fs::{File, FileTimes, Metadata, OpenOptions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

/// File operations, each of which either happens or gives an error.
pub trait Disk: Clone {
    /// A file that is being written.
    type File: Write;
    /// A file that is being read.
    type Source: Read;

    /// Makes a new, empty file in `folder` under a name that nothing has; only for its owner's eyes
    /// where it is to be `private`.
    fn create(&self, folder: &Path, private: bool) -> io::Result<(Self::File, PathBuf)>;
    /// Makes an empty file with this name, in place of what it held; only for its owner's eyes where
    /// it is to be `private`.
    fn create_at(&self, path: &Path, private: bool) -> io::Result<Self::File>;
    /// The names in a folder.
    fn list(&self, folder: &Path) -> io::Result<Vec<OsString>>;
    /// Opens a file to read it.
    fn open(&self, path: &Path) -> io::Result<Self::Source>;
    /// Whether anything has this name, a symbolic link to nowhere among it.
    fn exists(&self, path: &Path) -> io::Result<bool>;
    /// Gives a file the permissions and times of another, and its owner and group where the system
    /// allows it. Whoever could not read the other cannot read it either. A file system without
    /// permissions or times is no fault.
    fn resemble(&self, file: &Self::File, original: &Metadata) -> io::Result<()>;
    /// Returns once what was written lies on the disk.
    fn sync(&self, file: &Self::File) -> io::Result<()>;
    /// Gives a file a second name, which nothing may have yet.
    fn link(&self, from: &Path, to: &Path) -> io::Result<()>;
    /// Gives a file another name, in place of whatever has it.
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()>;
    /// Takes a name away.
    fn remove(&self, path: &Path) -> io::Result<()>;
    /// Returns once the names in a folder lie on the disk.
    fn sync_folder(&self, folder: &Path) -> io::Result<()>;
}

/// The disk of this computer.
#[derive(Debug, Clone, Copy)]
pub struct Real;

impl Disk for Real {
    type File = File;
    type Source = File;

    fn create(&self, folder: &Path, private: bool) -> io::Result<(File, PathBuf)> {
        let mut builder = tempfile::Builder::new();
        builder.prefix(".meltgauge-").suffix(".part");
        let made = builder.make_in(folder, |path| {
            let mut options = OpenOptions::new();
            options.write(true).create_new(true);
            with_rights(&mut options, private);
            options.open(path)
        })?;
        // Removed by whoever began it, through this seam.
        made.keep().map_err(|fault| fault.error)
    }

    fn create_at(&self, path: &Path, private: bool) -> io::Result<File> {
        let mut options = OpenOptions::new();
        options.write(true).create(true).truncate(true);
        with_rights(&mut options, private);
        options.open(path)
    }

    fn list(&self, folder: &Path) -> io::Result<Vec<OsString>> {
        let entries = std::fs::read_dir(folder)?;
        entries.map(|entry| Ok(entry?.file_name())).collect()
    }

    fn open(&self, path: &Path) -> io::Result<File> {
        File::open(path)
    }

    fn exists(&self, path: &Path) -> io::Result<bool> {
        match std::fs::symlink_metadata(path) {
            Ok(_) => Ok(true),
            Err(fault) if fault.kind() == io::ErrorKind::NotFound => Ok(false),
            Err(fault) => Err(fault),
        }
    }

    fn resemble(&self, file: &File, original: &Metadata) -> io::Result<()> {
        // Times first: a file whose permissions forbid writing may refuse them.
        let mut times = FileTimes::new();
        if let Ok(modified) = original.modified() {
            times = times.set_modified(modified);
        }
        if let Ok(accessed) = original.accessed() {
            times = times.set_accessed(accessed);
        }
        where_able(file.set_times(times))?;
        #[cfg(unix)]
        let permissions = {
            use std::os::unix::fs::{MetadataExt, PermissionsExt, fchown};
            let is_like =
                |now: &Metadata| (now.uid() == original.uid(), now.gid() == original.gid());
            if is_like(&file.metadata()?) != (true, true) {
                // Only an administrator may give a file away; its group any member of it may set.
                let _ = fchown(file, None, Some(original.gid()));
                let _ = fchown(file, Some(original.uid()), None);
            }
            let (_, group) = is_like(&file.metadata()?);
            std::fs::Permissions::from_mode(mode(original.mode(), group))
        };
        #[cfg(not(unix))]
        let permissions = original.permissions();
        where_able(file.set_permissions(permissions))
    }

    fn sync(&self, file: &File) -> io::Result<()> {
        file.sync_all()
    }

    fn link(&self, from: &Path, to: &Path) -> io::Result<()> {
        std::fs::hard_link(from, to)
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        std::fs::rename(from, to)
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        std::fs::remove_file(path)
    }

    fn sync_folder(&self, folder: &Path) -> io::Result<()> {
        #[cfg(unix)]
        {
            match File::open(folder).and_then(|folder| folder.sync_all()) {
                // Some file systems have no such operation on folders.
                Err(fault) if fault.kind() == io::ErrorKind::InvalidInput => Ok(()),
                outcome => outcome,
            }
        }
        #[cfg(not(unix))]
        {
            let _ = folder;
            Ok(())
        }
    }
}

/// The rights of a new file; what the system takes away by its mask stays away.
fn with_rights(options: &mut OpenOptions, private: bool) {
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(if private { 0o600 } else { 0o666 });
    }
    #[cfg(not(unix))]
    let _ = (options, private);
}

/// Some file systems have no permissions, owners or times of their own, such as those of memory cards;
/// what they cannot keep is no reason to write nothing.
fn where_able(outcome: io::Result<()>) -> io::Result<()> {
    match outcome {
        Err(fault) if cannot(&fault) => Ok(()),
        outcome => outcome,
    }
}

/// Whether a file system says that it has no such operation.
pub fn cannot(fault: &io::Error) -> bool {
    matches!(
        fault.kind(),
        io::ErrorKind::Unsupported | io::ErrorKind::PermissionDenied
    )
}

/// The permissions of a file's like: where its group could not be kept, the new group may do no more
/// than others could.
#[cfg(unix)]
const fn mode(original: u32, group: bool) -> u32 {
    // What lets a program run as its owner or group is no matter of a job's.
    let mode = original & 0o777;
    let others = mode & 0o7;
    let of_group = if group {
        mode & 0o70
    } else {
        mode & (others << 3)
    };
    (mode & 0o707) | of_group
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;

    #[test]
    fn a_group_that_could_not_be_kept_gets_what_others_have() {
        assert_eq!(mode(0o100_640, true), 0o640);
        assert_eq!(mode(0o100_640, false), 0o600);
        assert_eq!(mode(0o100_664, false), 0o644);
        assert_eq!(mode(0o104_755, true), 0o755);
    }

    #[test]
    fn what_a_file_system_cannot_keep_is_no_fault() {
        for number in [1, 95] {
            // EPERM and EOPNOTSUPP of Linux (memory).
            assert!(
                where_able(Err(io::Error::from_raw_os_error(number))).is_ok(),
                "{number}"
            );
        }
        assert!(where_able(Err(io::ErrorKind::StorageFull.into())).is_err());
    }
}
