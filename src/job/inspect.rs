//! One job: read, inspected, settled.

use super::{Settings, Source, ahead, guarded, name_of};
use crate::command::hint::Key;
use crate::concession::{Case, Terms, settle};
use crate::inspection::{Declared, Glance, Held, Inspected, Round, requirement};
use crate::report::{Checked, Failed, NamedBy, Outcome};
use crate::sheet::{self, Material, library};
use crate::text::{Error, Feed, Name, Stored, Threads};
use std::ffi::OsStr;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// How long a job took.
#[derive(Debug, Clone, Copy)]
pub struct Timing {
    pub rounds: u32,
    pub took: Duration,
}

/// Inspects one job. Whatever happens, it comes back as an outcome.
pub fn inspect(job: &OsStr, settings: &Settings, threads: Threads) -> (Outcome, Timing) {
    let begin = Instant::now();
    let name = name_of(job);
    let mut rounds = 0;
    let outcome = guarded(|| {
        // Only where the job is to be asked for its material are its bytes needed twice.
        let source = match settings.materials {
            Some(_) => Source::once(job, &name),
            None => Source::new(job, &name)?,
        };
        attempt(&source, &name, settings, threads, &mut rounds)
    });
    let outcome = outcome.unwrap_or_else(|panic| Err(fault(&name, &panic)));
    let took = begin.elapsed();
    (Outcome::from(outcome), Timing { rounds, took })
}

/// Inspects the job that a source holds.
pub fn inspect_source(
    source: &Source,
    name: &Name,
    settings: &Settings,
    threads: Threads,
) -> Result<Box<Checked>, Failed> {
    guarded(|| attempt(source, name, settings, threads, &mut 0))
        .unwrap_or_else(|panic| Err(fault(name, &panic)))
}

fn fault(name: &Name, panic: &str) -> Failed {
    Failed {
        name: name.clone(),
        message: format!("{name} could not be inspected: a fault in this program at {panic}"),
        help: "do not print it on this program's word; report the fault with the job, if you may share it"
            .to_owned(),
    }
}

fn attempt(
    source: &Source,
    name: &Name,
    settings: &Settings,
    threads: Threads,
    rounds: &mut u32,
) -> Result<Box<Checked>, Failed> {
    let mut held = Held {
        materials: settings.materials.clone().unwrap_or_default(),
        machine: settings.machine.clone(),
        walls: settings.walls,
        sections: settings.sections,
    };
    let mut material_by = settings.material_by.clone();
    if settings.materials.is_none() {
        held.materials = asked(&glance(source, name)?, settings).0;
    }
    *rounds += 1;
    let (mut inspected, stored) = round(source, name, held.clone(), threads)?;
    if settings.materials.is_none() {
        let (materials, by) = asked(&inspected.declared, settings);
        material_by = by;
        // What stands behind the end of a program is seen at a glance, and is not the job's word.
        if materials != held.materials {
            held.materials = materials;
            *rounds += 1;
            let (again, now) = round(source, name, held.clone(), threads)?;
            if now.digest_hex != stored.digest_hex {
                return Err(Failed {
                    name: name.clone(),
                    message: format!("{name} changed while it was inspected"),
                    help: "wait until it is written in full, then inspect it again".to_owned(),
                });
            }
            inspected = again;
        }
    }
    let checked = checked(name, stored, held, material_by, settings, inspected);
    Ok(Box::new(checked))
}

/// The materials that a job declares, or the sheets in their place.
pub(super) fn asked(said: &Declared, settings: &Settings) -> (Vec<Option<Arc<Material>>>, NamedBy) {
    let (mut materials, by) = declared(said);
    if let Some((name, sheet)) = &settings.instead {
        let slots = materials.iter_mut().flatten();
        for slot in slots.filter(|slot| slot.name == *name) {
            *slot = Arc::clone(sheet);
        }
    }
    (materials, by)
}

/// What a job's comments declare, with nothing carried out. Bytes that are no job declare nothing here.
pub(super) fn glance(source: &Source, name: &Name) -> Result<Declared, Failed> {
    let mut opened = source.open(name, Threads::One)?;
    let mut glance = Glance::default();
    while opened
        .next(glance.buffer())
        .map_err(|fault| failed(name, &fault))?
    {
        glance.go_on();
        if glance.is_hopeless() {
            break;
        }
    }
    Ok(glance.finish())
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

/// One round past everything; bytes that are no job are a failure.
pub(super) fn round(
    source: &Source,
    name: &Name,
    held: Held,
    threads: Threads,
) -> Result<(Inspected, Stored), Failed> {
    let mut opened = source.open(name, threads)?;
    let mut round = Round::new(held);
    let packing = opened.packing();
    ahead::carry_out(&mut opened, packing, &mut round, threads)
        .map_err(|fault| failed(name, &fault))?;
    let inspected = round.finish();
    if let Some(reason) = inspected.no_job {
        return Err(no_job(name, reason));
    }
    let stopped = Error::Stopped { name: name.clone() };
    let stored = opened.finish().ok_or_else(|| failed(name, &stopped))?;
    Ok((inspected, stored))
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
