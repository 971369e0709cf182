//! Beyond one machine: from paths to lines, and from lines into a store.
//!
//! `map` keeps nothing: the same path gives the same line, wherever and however often it runs, so
//! that an engine may retry as it likes. `fold` puts lines into a store, and twice is once.

use super::Error;
use super::desk::{Desk, now};
use super::line::{Line, write};
use super::store::{Counts, Store};
use super::walk::{Found, manifest};
use crate::job::Rules;
use std::io::{BufRead, Read, Write};
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
pub fn fold(mut input: impl BufRead, path: &Path) -> Result<u64, Error> {
    let mut store = Store::begin(path, &now())?;
    let mut text = String::new();
    let (mut number, mut count) = (0, 0);
    loop {
        text.clear();
        number += 1;
        if (&mut input)
            .take(LONGEST)
            .read_line(&mut text)
            .map_err(Error::Input)?
            == 0
        {
            break;
        }
        if text.trim().is_empty() {
            continue;
        }
        let line = Line::read(&text).map_err(|why| Error::Line { line: number, why });
        let line = match line {
            Ok(line) => line,
            Err(fault) => {
                store.commit()?;
                return Err(fault);
            }
        };
        count += 1;
        if store.fold(&line.site, &line.job)? {
            store.commit()?;
        }
    }
    let inspected = Counts {
        inspected: count,
        ..Counts::default()
    };
    store.end(&now(), false, inspected)?;
    Ok(count)
}
