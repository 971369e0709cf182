//! The seam over the file operations by which a reworked job is put in place, so that tests can stop
//! between any two of them.

use std::fs::{File, FileTimes, Metadata, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// File operations, each of which either happens or gives an error.
pub(in crate::cli) trait Disk {
    /// A file that is being written.
    type File: Write;

    /// Makes a new, empty file in `folder` under a name that nothing has; only for its owner's eyes
    /// where it is to be `private`.
    fn create(&self, folder: &Path, private: bool) -> io::Result<(Self::File, PathBuf)>;
    /// Gives a file the permissions and times of another, and its owner where the system allows it.
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
pub(in crate::cli) struct Real;

impl Disk for Real {
    type File = File;

    fn create(&self, folder: &Path, private: bool) -> io::Result<(File, PathBuf)> {
        let mut builder = tempfile::Builder::new();
        builder.prefix(".meltgauge-").suffix(".part");
        let made = builder.make_in(folder, |path| {
            let mut options = OpenOptions::new();
            options.write(true).create_new(true);
            #[cfg(unix)]
            {
                use std::os::unix::fs::OpenOptionsExt;
                // What the system takes away by its mask stays away.
                options.mode(if private { 0o600 } else { 0o666 });
            }
            #[cfg(not(unix))]
            let _ = private;
            options.open(path)
        })?;
        // Removed by whoever began it, through this seam.
        made.keep().map_err(|fault| fault.error)
    }

    fn resemble(&self, file: &File, original: &Metadata) -> io::Result<()> {
        #[cfg(unix)]
        {
            use std::os::unix::fs::{MetadataExt, fchown};
            let now = file.metadata()?;
            if (now.uid(), now.gid()) != (original.uid(), original.gid()) {
                // Only an administrator may; whoever may not owns what they wrote.
                let _ = fchown(file, Some(original.uid()), Some(original.gid()));
            }
        }
        // Times first: a file whose permissions forbid writing may refuse them.
        let mut times = FileTimes::new();
        if let Ok(modified) = original.modified() {
            times = times.set_modified(modified);
        }
        if let Ok(accessed) = original.accessed() {
            times = times.set_accessed(accessed);
        }
        file.set_times(times)?;
        file.set_permissions(original.permissions())
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
