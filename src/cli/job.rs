//! One job: read, inspected, settled.

use super::guard::guarded;
use super::settings::Settings;
use crate::command::hint::Key;
use crate::concession::{Case, Terms, settle};
use crate::inspection::{Declared, Held, Inspected, Round, requirement};
use crate::report::{Checked, Failed, NamedBy, Outcome};
use crate::sheet::{self, Material, library};
use crate::text::{Bytes, Error, Feed, Name, Opened, Reading, Slice, Stored, Threads, open, stdin};
use std::ffi::OsStr;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// How much of the standard input is kept to be gone over again (chosen).
const KEPT: usize = 64 << 20;

/// How long a job took.
#[derive(Debug, Clone, Copy)]
pub(super) struct Timing {
    pub rounds: u32,
    pub took: Duration,
}

/// Inspects one job. Whatever happens, it comes back as an outcome.
pub(super) fn inspect(job: &OsStr, settings: &Settings, threads: Threads) -> (Outcome, Timing) {
    let begin = Instant::now();
    let name = if job == "-" {
        Name::StandardInput
    } else {
        Name::Path(job.to_owned())
    };
    let mut rounds = 0;
    let outcome = guarded(|| attempt(job, &name, settings, threads, &mut rounds)).unwrap_or_else(|panic| {
        Err(Failed {
            name: name.clone(),
            message: format!("{name} could not be inspected: a fault in this program at {panic}"),
            help: "do not print it on this program's word; report the fault with the job, if you may share it"
                .to_owned(),
        })
    });
    let outcome = match outcome {
        Ok(checked) => Outcome::Checked(checked),
        Err(failed) => Outcome::Failed(failed),
    };
    (
        outcome,
        Timing {
            rounds,
            took: begin.elapsed(),
        },
    )
}

/// The job's bytes, for a second round.
enum Again<'a> {
    File(&'a Path),
    Kept(Vec<u8>),
    Gone,
}

fn attempt(
    job: &OsStr,
    name: &Name,
    settings: &Settings,
    threads: Threads,
    rounds: &mut u32,
) -> Result<Box<Checked>, Failed> {
    let reading = Reading {
        threads,
        digest: true,
    };
    let failed = |fault: Error| failed(name, &fault);
    let is_stdin = *name == Name::StandardInput;
    let opened = if is_stdin {
        stdin(reading)
    } else {
        open(Path::new(job), reading)
    };
    let mut held = Held {
        materials: settings.materials.clone().unwrap_or_default(),
        machine: settings.machine.clone(),
        walls: settings.walls,
    };
    let mut material_by = settings.material_by.clone();
    let ask_job = settings.materials.is_none();
    let mut again = match (ask_job, is_stdin) {
        (true, true) => Again::Kept(Vec::new()),
        (true, false) => Again::File(Path::new(job)),
        (false, _) => Again::Gone,
    };
    *rounds += 1;
    let (mut inspected, stored) =
        round(opened.map_err(failed)?, held.clone(), &mut again).map_err(failed)?;
    if ask_job && inspected.no_job.is_none() {
        let (materials, by) = declared(&inspected.declared);
        material_by = by;
        if !materials.is_empty() {
            held.materials = materials;
            *rounds += 1;
            match again {
                Again::File(path) => {
                    let opened = open(path, reading).map_err(failed)?;
                    let (second, now) =
                        round(opened, held.clone(), &mut Again::Gone).map_err(failed)?;
                    if now.digest_hex != stored.digest_hex {
                        return Err(Failed {
                            name: name.clone(),
                            message: format!("{name} changed while it was inspected"),
                            help: "wait until it is written in full, then inspect it again"
                                .to_owned(),
                        });
                    }
                    inspected = second;
                }
                Again::Kept(bytes) => {
                    let mut second = Round::new(held.clone());
                    feed(&mut Slice(&bytes), &mut second, &mut Again::Gone).map_err(failed)?;
                    inspected = second.finish();
                }
                Again::Gone => {
                    *rounds -= 1;
                    held.materials.clear();
                    material_by = NamedBy::Nobody(format!(
                        "the job declares one, but came through standard input and is larger than {}",
                        Bytes(KEPT as u64)
                    ));
                }
            }
        }
    }
    if let Some(reason) = inspected.no_job {
        return Err(no_job(name, reason));
    }
    Ok(Box::new(checked(
        name,
        stored,
        held,
        material_by,
        settings,
        inspected,
    )))
}

/// What was inspected, settled.
pub(super) fn checked(
    name: &Name,
    stored: Stored,
    held: Held,
    material_by: NamedBy,
    settings: &Settings,
    inspected: Inspected,
) -> Checked {
    let settlement = {
        let job = match name {
            Name::Path(path) => path.to_string_lossy(),
            Name::Given(given) => given.into(),
            Name::StandardInput => "-".into(),
        };
        let case = Case {
            job: &job,
            materials: held
                .each_material()
                .map(|material| material.name.as_str())
                .collect(),
            machine: held.machine.as_ref().map(|machine| machine.name.as_str()),
        };
        let terms = Terms {
            concessions: &settings.concessions,
            today: settings.today,
            hold_from: settings.hold_from,
            known: &|id| requirement(id).is_some(),
        };
        settle(&inspected.findings, &case, &terms)
    };
    Checked {
        name: name.clone(),
        stored,
        held,
        material_by,
        machine_by: settings.machine_by.clone(),
        hold_from: settings.hold_from,
        inspected,
        concessions: Arc::clone(&settings.concessions),
        settlement,
    }
}

/// Bytes that are no job.
pub(super) fn no_job(name: &Name, reason: &str) -> Failed {
    Failed {
        name: name.clone(),
        message: format!("{name} is no job: {reason}"),
        help: "give the sliced job itself, as the slicing program wrote it".to_owned(),
    }
}

/// Why a job could not be read.
pub(super) fn failed(name: &Name, fault: &Error) -> Failed {
    let help = miette::Diagnostic::help(fault).map(|help| help.to_string());
    Failed {
        name: name.clone(),
        message: fault.to_string(),
        help: help.unwrap_or_default(),
    }
}

fn round(
    mut opened: Opened,
    held: Held,
    again: &mut Again<'_>,
) -> Result<(Inspected, Stored), Error> {
    let mut round = Round::new(held);
    feed(&mut opened, &mut round, again)?;
    let name = opened.name().clone();
    if round.is_hopeless() {
        // Not read to its end: no digest, and a word about why it is no job.
        let stored = Stored {
            bytes_stored: 0,
            bytes_unpacked: 0,
            digest_hex: None,
            packing: opened.packing(),
        };
        return Ok((round.finish(), stored));
    }
    let stored = opened.finish().ok_or(Error::Stopped { name })?;
    Ok((round.finish(), stored))
}

/// Feeds the whole job to the round, and keeps it where that is asked for and it fits.
fn feed(feed: &mut impl Feed, round: &mut Round, again: &mut Again<'_>) -> Result<(), Error> {
    loop {
        let before = round.buffer().len();
        if !feed.next(round.buffer())? {
            return Ok(());
        }
        if let Again::Kept(kept) = again {
            let piece = round.buffer().get(before..).unwrap_or_default();
            if kept.len() + piece.len() > KEPT {
                *again = Again::Gone;
            } else {
                kept.extend_from_slice(piece);
            }
        }
        round.go_on();
        if round.is_hopeless() {
            return Ok(());
        }
    }
}

/// The materials that the job itself declares, as far as the library has them; else why there are
/// none.
pub(super) fn declared(declared: &Declared) -> (Vec<Option<Arc<Material>>>, NamedBy) {
    let nobody = |why: String| (Vec::new(), NamedBy::Nobody(why));
    let Some((written, at)) = declared.get(Key::Material) else {
        return nobody("the job declares none".to_owned());
    };
    let line = at.place.line;
    let words: Vec<&str> = written
        .split([',', ';'])
        .map(|word| {
            word.trim_matches(|letter: char| letter.is_whitespace() || matches!(letter, '"' | '\''))
        })
        .collect();
    let mut materials: Vec<Option<Arc<Material>>> = words
        .iter()
        .map(|word| library::material(word).ok().map(Arc::new))
        .collect();
    if materials.iter().all(Option::is_none) {
        let shown: String = written.chars().take(40).collect();
        let near = match words.first().map(|word| library::material(word)) {
            Some(Err(sheet::Error::Unknown { near, .. })) if !near.is_empty() => {
                format!(" (near are {})", near.join(", "))
            }
            Some(Err(sheet::Error::Shared { names, .. })) => {
                format!(" (it may be any of {})", names.join(", "))
            }
            _ => String::new(),
        };
        return nobody(format!(
            "the job declares `{shown}` on line {line}, which names no one sheet of the library{near}"
        ));
    }
    let is_same = |pair: &[Option<Arc<Material>>]| match pair {
        [Some(one), Some(other)] => one.name == other.name,
        _ => false,
    };
    if materials.windows(2).all(is_same) {
        materials.truncate(1);
    }
    (materials, NamedBy::Job { line })
}
