//! Putting a reworked job in place: written beside, made safe, then named in one step.
//!
//! Whatever happens in between, the original is whole, and under the name asked for lies either what
//! lay there before or the whole result. What was begun and not finished is taken away again; only a
//! process that is ended by force leaves a `.meltgauge-….part` behind.

mod disk;
mod target;

#[cfg(test)]
mod tests;

pub(super) use disk::{Disk, Real};
pub(super) use target::{How, Seen, Target};

use std::fs::Metadata;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// A result on its way to its place.
pub(super) struct Delivery<D: Disk> {
    disk: D,
    file: D::File,
    /// Where it is written; none once it is in place.
    part: Option<PathBuf>,
}

impl<D: Disk> Delivery<D> {
    /// Begins a file beside the target.
    ///
    /// # Errors
    ///
    /// What the system says.
    pub fn begin(disk: D, target: &Target, private: bool) -> io::Result<Self> {
        let (file, part) = disk.create(target.folder(), private)?;
        Ok(Self {
            disk,
            file,
            part: Some(part),
        })
    }

    /// Puts it in place. `original` is what the job's file was like, `is_same` says at the last
    /// moment whether it still is that file.
    ///
    /// # Errors
    ///
    /// What the system says; then nothing was changed.
    pub fn commit(
        mut self,
        target: &Target,
        original: Option<&Metadata>,
        is_same: impl FnOnce() -> io::Result<()>,
    ) -> io::Result<()> {
        let Some(part) = self.part.clone() else {
            return Ok(());
        };
        self.file.flush()?;
        if let Some(original) = original {
            self.disk.resemble(&self.file, original)?;
        }
        // The bytes must lie on the disk before a name leads to them.
        self.disk.sync(&self.file)?;
        is_same()?;
        let place = target.path();
        match target.how() {
            How::New => {
                // A second name fails where something has it; a rename would take its place.
                match self.disk.link(&part, place) {
                    Ok(()) => {
                        self.disk.sync_folder(target.folder())?;
                        // The result is in place; a second name of it does no harm.
                        self.part = None;
                        let _ = self.disk.remove(&part);
                        return Ok(());
                    }
                    Err(fault) if has_no_links(&fault) && !place.try_exists()? => {
                        self.disk.rename(&part, place)?;
                    }
                    Err(fault) => return Err(fault),
                }
            }
            How::Over => self.disk.rename(&part, place)?,
            How::InPlace { kept: None } => self.disk.rename(&part, place)?,
            How::InPlace { kept: Some(kept) } => {
                self.disk.link(place, kept)?;
                let renamed = self
                    .disk
                    .sync_folder(target.folder())
                    .and_then(|()| self.disk.rename(&part, place));
                if let Err(fault) = renamed {
                    // The original has its first name still.
                    let _ = self.disk.remove(kept);
                    return Err(fault);
                }
            }
        }
        self.part = None;
        self.disk.sync_folder(target.folder())
    }
}

/// Whether a file system says that it has no second names.
fn has_no_links(fault: &io::Error) -> bool {
    matches!(
        fault.kind(),
        io::ErrorKind::Unsupported | io::ErrorKind::PermissionDenied
    )
}

impl<D: Disk> Write for Delivery<D> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

impl<D: Disk> Drop for Delivery<D> {
    fn drop(&mut self) {
        if let Some(part) = self.part.take() {
            let _ = self.disk.remove(&part);
        }
    }
}

/// The folder that a path lies in.
fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}
