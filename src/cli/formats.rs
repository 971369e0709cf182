//! Where reports go: one to the standard output, any number to files.

use super::Fault;
use super::console::{Closed, Console};
use crate::report::paint::Look;
use crate::report::standard::{Csv, JUnit, Lines, Sarif, Stamp, Standard, Text};
use crate::report::{Outcome, terminal};
use clap::ValueEnum;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::str::FromStr;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, SystemTime, UNIX_EPOCH};
use tempfile::NamedTempFile;

/// The formats of an inspection's report.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Format {
    /// For a person
    Text,
    /// One JSON object a job and line, for a program
    Record,
    /// Comma-separated values, a row a finding
    Csv,
    /// SARIF 2.1.0
    Sarif,
    /// JUnit XML
    Junit,
}

/// A format as typed: `text`, `sarif=jobs.sarif`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Wanted {
    pub format: Format,
    /// None for the standard output.
    pub file: Option<PathBuf>,
}

impl FromStr for Wanted {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (word, file) = match text.split_once('=') {
            Some((word, file)) => (word, Some(file)),
            None => (text, None),
        };
        let format = Format::from_str(word, false).map_err(|_| {
            let words: Vec<String> = Format::value_variants()
                .iter()
                .filter_map(|format| Some(format.to_possible_value()?.get_name().to_owned()))
                .collect();
            format!("the formats are {}", words.join(", "))
        })?;
        if file == Some("") {
            return Err(format!("name the file: `{word}=FILE`"));
        }
        Ok(Self {
            format,
            file: file.map(PathBuf::from),
        })
    }
}

/// What the standard output gets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shown {
    /// The text for a person.
    Text,
    /// A format for a program.
    Format,
}

/// Every report of a run but the text on the standard output.
pub(super) struct Outputs {
    pub shown: Shown,
    /// A format on the standard output, and what it has written and nobody has seen yet.
    standard: Option<(Box<dyn Standard>, Shared)>,
    files: Vec<(Box<dyn Standard>, Kept)>,
}

impl Outputs {
    /// Begins every report. A file appears under its name when its report is whole.
    pub fn new(wanted: &[Wanted], console: &Console) -> Result<Self, Fault> {
        let fault =
            |message: &str, help: &str| Fault(terminal::fault(message, Some(help), &console.err));
        let mut outputs = Self {
            shown: Shown::Text,
            standard: None,
            files: Vec::new(),
        };
        let mut is_taken = false;
        for (index, one) in wanted.iter().enumerate() {
            let earlier = wanted.iter().take(index);
            let Some(path) = &one.file else {
                if is_taken {
                    let help = "give all but one a file: `--format sarif=FILE`";
                    return Err(fault("two formats are to go to the standard output", help));
                }
                is_taken = true;
                if one.format != Format::Text {
                    outputs.shown = Shown::Format;
                    let shared = Shared::default();
                    let begun = begin(one.format, shared.clone());
                    let standard = begun.map_err(|said| fault(&said.to_string(), "try again"))?;
                    outputs.standard = Some((standard, shared));
                }
                continue;
            };
            if earlier
                .clone()
                .any(|earlier| earlier.file.as_ref() == Some(path))
            {
                let message = format!("two formats are to go to `{}`", path.display());
                return Err(fault(&message, "give each a file of its own"));
            }
            let begun =
                Kept::new(path).and_then(|(kept, file)| Ok((begin(one.format, file)?, kept)));
            outputs.files.push(begun.map_err(|said| {
                let message = format!("a report cannot be written to `{}`: {said}", path.display());
                fault(
                    &message,
                    "name a file in a folder that is there and may be written to",
                )
            })?);
        }
        Ok(outputs)
    }

    /// Adds a job to every report.
    pub fn add(
        &mut self,
        outcome: &Outcome,
        took: Duration,
        console: &Console,
    ) -> Result<(), Closed> {
        for (standard, _) in &mut self.files {
            standard.add(outcome, took).map_err(Closed::Full)?;
        }
        let Some((standard, shared)) = &mut self.standard else {
            return Ok(());
        };
        standard.add(outcome, took).map_err(Closed::Full)?;
        console.write(&shared.take())
    }

    /// Ends every report and puts the files in place.
    pub fn close(&mut self, console: &Console) -> Result<(), Closed> {
        if let Some((standard, shared)) = &mut self.standard {
            standard.close().map_err(Closed::Full)?;
            console.write(&shared.take())?;
        }
        for (mut standard, kept) in self.files.drain(..) {
            standard.close().map_err(Closed::Full)?;
            drop(standard);
            kept.put().map_err(Closed::Full)?;
        }
        Ok(())
    }
}

fn begin<W: Write + Send + 'static>(format: Format, into: W) -> io::Result<Box<dyn Standard>> {
    Ok(match format {
        Format::Text => Box::new(Text::new(into, Look::default())),
        Format::Record => Box::new(Lines::new(into)),
        Format::Csv => Box::new(Csv::new(into)?),
        Format::Sarif => Box::new(Sarif::new(into)?),
        Format::Junit => Box::new(JUnit::new(into, stamp())?),
    })
}

/// Now, in universal time, and this computer's name where the environment says it.
fn stamp() -> Stamp {
    let since = SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .unwrap_or_default();
    let (days, seconds) = (since.as_secs() / 86_400, since.as_secs() % 86_400);
    let date = u32::try_from(days)
        .ok()
        .and_then(crate::concession::Date::from_days);
    let date = date.map_or_else(|| "1970-01-01".to_owned(), |date| date.to_string());
    let (hours, minutes) = (seconds / 3600, seconds / 60 % 60);
    Stamp {
        time: format!("{date}T{hours:02}:{minutes:02}:{:02}", seconds % 60),
        host: std::env::var("HOSTNAME").unwrap_or_else(|_| "localhost".to_owned()),
    }
}

/// Bytes on their way to the standard output.
#[derive(Clone, Default)]
struct Shared(Arc<Mutex<Vec<u8>>>);

impl Shared {
    fn take(&self) -> String {
        let mut bytes = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        String::from_utf8_lossy(&std::mem::take(&mut *bytes)).into_owned()
    }
}

impl Write for Shared {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        kept.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// Writes a file that takes its place when it is whole.
pub(super) fn whole_file(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let (kept, mut file) = Kept::new(path)?;
    file.write_all(bytes)?;
    file.flush()?;
    drop(file);
    kept.put()
}

/// A file that takes its place when it is whole; a stream or device that is there is written to at once.
struct Kept(Option<(NamedTempFile, PathBuf)>);

impl Kept {
    fn new(path: &Path) -> io::Result<(Self, BufWriter<std::fs::File>)> {
        let is_special = std::fs::metadata(path).is_ok_and(|there| !there.is_file());
        if is_special {
            let file = std::fs::OpenOptions::new().write(true).open(path)?;
            return Ok((Self(None), BufWriter::new(file)));
        }
        let folder = match path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        };
        let mut making = tempfile::Builder::new();
        making.prefix(".meltgauge-");
        #[cfg(unix)]
        {
            // As a file that is simply created: what the user's mask leaves of it.
            use std::os::unix::fs::PermissionsExt;
            making.permissions(std::fs::Permissions::from_mode(0o666));
        }
        let made = making.tempfile_in(folder)?;
        let file = made.as_file().try_clone()?;
        Ok((Self(Some((made, path.to_owned()))), BufWriter::new(file)))
    }

    fn put(self) -> io::Result<()> {
        let Some((made, path)) = self.0 else {
            return Ok(());
        };
        made.persist(path).map_err(|fault| fault.error).map(drop)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_format_is_typed_with_a_file_or_without() {
        let read = |text: &str| text.parse::<Wanted>();
        assert_eq!(
            read("sarif=a=b.sarif"),
            Ok(Wanted {
                format: Format::Sarif,
                file: Some("a=b.sarif".into())
            })
        );
        assert_eq!(read("text").map(|wanted| wanted.file), Ok(None));
        assert!(read("sarif=").is_err());
        let fault = read("xml").expect_err("no such format");
        assert_eq!(fault, "the formats are text, record, csv, sarif, junit");
    }
}
