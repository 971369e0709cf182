//! Beyond one machine: from paths to lines, and from lines into a store.
//!
//! `map` keeps nothing: the same path gives the same line, wherever and however often it runs, so
//! that an engine may retry as it likes. `fold` puts lines into a store, and twice is once.

use super::Error;
use super::desk::{Desk, now};
use super::line::{Line, write};
use super::store::{Counts, Store};
#[cfg(feature = "parquet")]
use super::table;
use super::walk::{Found, manifest};
use crate::job::Rules;
use std::fs::File;
use std::io::{BufRead, BufReader, Read, Write};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

/// The longest line that is folded, bytes (chosen: a hundred times the longest that jobs give).
const LONGEST: u64 = 1 << 26;

/// Reads paths and writes a line for every job in them, in the order of the paths; what is written
/// for a path is flushed before the next is read. How many lines were written.
///
/// # Errors
///
/// Where the paths cannot be read or the lines not written. What is wrong with a job is on its line.
pub fn map(
    input: impl BufRead,
    is_nul: bool,
    rules: &Rules,
    out: &mut dyn Write,
) -> Result<u64, Error> {
    let desk = Desk::new(rules);
    let mut lines = 0;
    let mut outcome = Ok(());
    let mut each = |path: PathBuf| {
        let path = std::path::absolute(&path).unwrap_or(path);
        match one(&desk, path, out) {
            Ok(count) => {
                lines += count;
                ControlFlow::Continue(())
            }
            Err(fault) => {
                outcome = Err(fault);
                ControlFlow::Break(())
            }
        }
    };
    manifest(input, is_nul, &mut each).map_err(Error::Input)?;
    outcome.map(|()| lines)
}

/// The lines of one path.
fn one(desk: &Desk<'_>, path: PathBuf, out: &mut dyn Write) -> Result<u64, Error> {
    let terms = desk.terms(&path);
    // One that cannot be looked at is tried all the same, and says so on its line.
    let found = Found::named(path.clone()).unwrap_or(Found {
        path,
        size: None,
        modified: None,
    });
    let mut say = |(site, member, outcome, no_rule): super::desk::Examined<'_>| {
        let line = write(site, member, no_rule, outcome).map_err(|fault| Error::Line {
            line: 0,
            why: fault.to_string(),
        })?;
        out.write_all(line.as_bytes())
            .and_then(|()| out.write_all(b"\n"))
            .map_err(Error::Output)
    };
    let (_, said) = desk.examine(&found, &terms, &mut say);
    let count = said.len() as u64;
    said.into_iter().collect::<Result<(), _>>()?;
    out.flush().map_err(Error::Output)?;
    Ok(count)
}

/// Puts lines into a store; how many there were. Empty lines are none.
///
/// # Errors
///
/// Where the store cannot be written, and where a line is none: the lines before it are kept, and
/// may be folded again.
pub fn fold(input: impl BufRead, store: &Path) -> Result<u64, Error> {
    let mut folding = Folding::begin(store)?;
    let outcome = folding.lines(input);
    folding.end(outcome)
}

/// Puts the lines of files into a store; how many there were. A file holds lines as they were written,
/// or is a table (Parquet) with a column of them; of a folder all tables are taken, as engines write
/// them.
///
/// # Errors
///
/// As of [`fold`], and where a file cannot be read.
pub fn fold_files(paths: &[PathBuf], store: &Path) -> Result<u64, Error> {
    let mut folding = Folding::begin(store)?;
    let outcome =
        files(paths).and_then(|files| files.iter().try_for_each(|path| folding.file(path)));
    folding.end(outcome)
}

/// The files that are named, and the tables of folders that are, by their names.
fn files(paths: &[PathBuf]) -> Result<Vec<PathBuf>, Error> {
    let mut files = Vec::new();
    for path in paths {
        if !path.is_dir() {
            files.push(path.clone());
            continue;
        }
        let unread = |fault| Error::unread(path, &fault);
        let mut within = Vec::new();
        for entry in std::fs::read_dir(path).map_err(unread)? {
            let path = entry.map_err(unread)?.path();
            let is_table = path.extension().is_some_and(|ending| ending == "parquet");
            within.extend((is_table && path.is_file()).then_some(path));
        }
        within.sort();
        files.append(&mut within);
    }
    Ok(files)
}

/// A store that lines are put into.
struct Folding {
    store: Store,
    count: u64,
}

impl Folding {
    fn begin(store: &Path) -> Result<Self, Error> {
        let store = Store::begin(store, &now())?;
        Ok(Self { store, count: 0 })
    }

    /// Makes last what was put, whatever came of the rest.
    fn end(mut self, outcome: Result<(), Error>) -> Result<u64, Error> {
        if let Err(fault) = outcome {
            self.store.commit()?;
            return Err(fault);
        }
        let inspected = Counts {
            inspected: self.count,
            ..Counts::default()
        };
        self.store.end(&now(), false, inspected)?;
        Ok(self.count)
    }

    fn line(&mut self, number: u64, text: &str) -> Result<(), Error> {
        if text.trim().is_empty() {
            return Ok(());
        }
        let line = Line::read(text).map_err(|why| Error::Line { line: number, why })?;
        self.count += 1;
        if self.store.fold(&line.site, &line.job)? {
            self.store.commit()?;
        }
        Ok(())
    }

    fn lines(&mut self, mut input: impl BufRead) -> Result<(), Error> {
        let mut text = String::new();
        for number in 1.. {
            text.clear();
            let mut piece = (&mut input).take(LONGEST);
            if piece.read_line(&mut text).map_err(Error::Input)? == 0 {
                break;
            }
            self.line(number, &text)?;
        }
        Ok(())
    }

    fn file(&mut self, path: &Path) -> Result<(), Error> {
        let unread = |fault| Error::unread(path, &fault);
        #[cfg_attr(
            not(feature = "parquet"),
            allow(unused_mut, reason = "only a table is looked for")
        )]
        let mut input = BufReader::new(File::open(path).map_err(unread)?);
        #[cfg(feature = "parquet")]
        if table::is_parquet(input.fill_buf().map_err(unread)?) {
            let (mut number, mut outcome) = (0, Ok(()));
            table::texts(path, &mut |text| {
                number += 1;
                outcome = self.line(number, text);
                outcome.is_ok()
            })?;
            return outcome;
        }
        self.lines(input)
    }
}
