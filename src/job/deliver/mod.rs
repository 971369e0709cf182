//! Putting a reworked job in place: written beside, made safe, then named in one step.
//!
//! Whatever happens in between, the original is whole, and under the name asked for lies either what
//! lay there before or the whole result. What was begun and not finished is taken away again, also where
//! the process is told to stop; only one that is ended by force leaves a `.meltgauge-….part` behind.

mod disk;
mod stop;
mod target;

#[cfg(test)]
pub mod forgetful;
#[cfg(test)]
mod tests;

pub use disk::{Disk, Real, cannot};
pub use stop::heed;
pub use target::{How, Seen, Target};

use std::fs::Metadata;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// A result on its way to its place.
pub struct Delivery<D: Disk> {
    disk: D,
    file: D::File,
    part: Part<D>,
}

/// A file under a name that goes with this value, unless it was given its last one.
struct Part<D: Disk> {
    disk: D,
    /// Where it is written; none once it is in place.
    path: Option<PathBuf>,
}

impl<D: Disk> Part<D> {
    fn begin(disk: &D, folder: &Path, private: bool) -> io::Result<(D::File, Self)> {
        let _busy = stop::busy();
        let (file, path) = disk.create(folder, private)?;
        stop::began(&path);
        let part = Self {
            disk: disk.clone(),
            path: Some(path),
        };
        Ok((file, part))
    }

    /// The name is given up: nothing lies there any more, or it does no harm.
    fn give_up(&mut self) {
        if let Some(path) = self.path.take() {
            stop::ended(&path);
        }
    }

    /// Gives the file its last name, in place of whatever has it.
    fn rename(&mut self, to: &Path) -> io::Result<()> {
        if let Some(path) = &self.path {
            self.disk.rename(path, to)?;
        }
        self.give_up();
        Ok(())
    }
}

impl<D: Disk> Drop for Part<D> {
    fn drop(&mut self) {
        if let Some(path) = self.path.take() {
            let _busy = stop::busy();
            let _ = self.disk.remove(&path);
            stop::ended(&path);
        }
    }
}

/// Why a result is not where it should be.
#[derive(Debug)]
pub struct Undelivered {
    /// What the system says.
    pub fault: io::Error,
    /// Whether it is in its place all the same, and only not safe should the power go.
    pub in_place: bool,
}

impl From<io::Error> for Undelivered {
    fn from(fault: io::Error) -> Self {
        Self {
            fault,
            in_place: false,
        }
    }
}

impl<D: Disk> Delivery<D> {
    /// Begins a file beside the target.
    ///
    /// # Errors
    ///
    /// What the system says.
    pub fn begin(disk: D, target: &Target, private: bool) -> io::Result<Self> {
        let (file, part) = Part::begin(&disk, target.folder(), private)?;
        Ok(Self { disk, file, part })
    }

    /// Puts it in place. `original` is what the job's file was like, `is_same` says at the last
    /// moment whether it still is that file.
    ///
    /// # Errors
    ///
    /// What the system says; then nothing was changed, or it is in place and not safe yet.
    pub fn commit(
        mut self,
        target: &Target,
        original: Option<&Metadata>,
        is_same: impl Fn() -> io::Result<()>,
    ) -> Result<(), Undelivered> {
        self.file.flush()?;
        if let Some(original) = original {
            self.disk.resemble(&self.file, original)?;
        }
        // The bytes must lie on the disk before a name leads to them.
        self.disk.sync(&self.file)?;
        is_same()?;
        let (place, folder) = (target.path(), target.folder());
        // Whoever tells the process to stop waits until all names are right.
        let _busy = stop::busy();
        match target.how() {
            How::New => self.name_new(place)?,
            How::Over | How::InPlace { kept: None } => self.part.rename(place)?,
            How::InPlace { kept: Some(kept) } => {
                self.keep(place, kept, original, &is_same)?;
                let renamed = self
                    .disk
                    .sync_folder(folder)
                    .and_then(|()| self.part.rename(place));
                if let Err(fault) = renamed {
                    // The original has its first name still.
                    let _ = self.disk.remove(kept);
                    return Err(fault.into());
                }
            }
        }
        self.disk.sync_folder(folder).map_err(|fault| Undelivered {
            fault,
            in_place: true,
        })
    }

    /// Gives the result a name that nothing has.
    fn name_new(&mut self, place: &Path) -> io::Result<()> {
        let Some(part) = &self.part.path else {
            return Ok(());
        };
        // A second name fails where something has it; a rename would take its place.
        match self.disk.link(part, place) {
            Ok(()) => {
                // The result is in place; another name of it does no harm.
                let _ = self.disk.remove(part);
                self.part.give_up();
                Ok(())
            }
            Err(fault) if cannot(&fault) && !self.disk.exists(place)? => self.part.rename(place),
            Err(fault) => Err(fault),
        }
    }

    /// Keeps the original under another name: by a second name, or where a file system has no such
    /// thing, as on memory cards, by a copy that is safe before it has its name.
    fn keep(
        &self,
        place: &Path,
        kept: &Path,
        original: Option<&Metadata>,
        is_same: &impl Fn() -> io::Result<()>,
    ) -> io::Result<()> {
        let fault = match self.disk.link(place, kept) {
            Ok(()) => return Ok(()),
            Err(fault) => fault,
        };
        if !cannot(&fault) || self.disk.exists(kept)? {
            return Err(fault);
        }
        let (mut copy, mut part) = Part::begin(&self.disk, folder_of(place), true)?;
        io::copy(&mut self.disk.open(place)?, &mut copy)?;
        copy.flush()?;
        if let Some(original) = original {
            self.disk.resemble(&copy, original)?;
        }
        self.disk.sync(&copy)?;
        is_same()?;
        part.rename(kept)
    }
}

impl<D: Disk> Write for Delivery<D> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

/// The folder that a path lies in.
fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}
