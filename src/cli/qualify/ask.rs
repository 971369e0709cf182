//! What is asked: sheets with what is typed laid over them.

use super::Typed;
use crate::cli::console::Console;
use crate::cli::{Fault, sheet};
use crate::finding::SourceMark;
use crate::job::ask_of;
use crate::qualify::AS_ASKED;
use crate::report::{Checked, terminal};
use crate::sheet::{Application, Cited, Machine, Tool, load_application};

fn asked<T>(value: T) -> Cited<T> {
    Cited::new(value, Some(AS_ASKED.to_owned()), SourceMark::Chosen)
}

/// The machine with what is typed about it laid over its sheet; a machine of its own where no sheet is
/// named.
pub(super) fn machine(typed: &Typed, sheet: Option<&Machine>) -> Option<Machine> {
    let says = typed.hotend.is_some()
        || typed.bed.is_some()
        || typed.nozzle.is_some()
        || typed.bore.is_some();
    if sheet.is_none() && !says {
        return None;
    }
    let mut machine = sheet.cloned().unwrap_or_else(|| Machine {
        name: AS_ASKED.to_owned(),
        tools: vec![Tool::default()],
        ..Machine::default()
    });
    if let Some(bed) = typed.bed {
        machine.bed.limit = Some(asked(bed.celsius));
    }
    if let Some(tool) = machine.tools.get_mut(typed.tool) {
        if let Some(hotend) = typed.hotend {
            tool.limit = Some(asked(hotend.celsius));
        }
        if let Some(nozzle) = typed.nozzle {
            tool.nozzle_material = Some(asked(nozzle));
        }
        if let Some(bore) = typed.bore {
            tool.bore = Some(asked(bore));
        }
    }
    Some(machine)
}

/// Lays a typed value over what a sheet says.
fn over<T>(slot: &mut Option<Cited<T>>, typed: Option<T>) {
    if let Some(value) = typed {
        *slot = Some(asked(value));
    }
}

/// Adds the words that are not there yet.
fn add(words: &mut Vec<String>, typed: &[String]) {
    for word in typed {
        let word = word.trim().to_lowercase();
        if !word.is_empty() && !words.contains(&word) {
            words.push(word);
        }
    }
}

/// The application's sheet with what is typed laid over it.
pub(super) fn application(
    typed: &Typed,
    job: Option<&Checked>,
    console: &Console,
) -> Result<Application, Fault> {
    let mut of = match &typed.application {
        Some(file) => load_application(file).map_err(|error| sheet::fault(&error, &console.err))?,
        None => Application {
            name: AS_ASKED.to_owned(),
            ..Application::default()
        },
    };
    if let Some(job) = job {
        ask_of(job, &mut of);
    }
    over(&mut of.part.size, typed.footprint);
    over(&mut of.part.mass, typed.part_mass);
    over(&mut of.service.continuous, typed.service.map(Into::into));
    over(&mut of.service.short_term, typed.peak.map(Into::into));
    over(&mut of.service.load, typed.load);
    over(&mut of.service.stress, typed.stress);
    over(&mut of.flame, typed.flame);
    over(&mut of.print.time, typed.hours);
    over(&mut of.print.speed, typed.speed);
    over(&mut of.print.bead, typed.bead);
    over(
        &mut of.room.temperature,
        typed.room.map(|air| air.temperature.celsius),
    );
    over(&mut of.room.humidity, typed.room.map(|air| air.humidity));
    over(
        &mut of.dryer.temperature,
        typed.dryer.map(|dryer| dryer.temperature.celsius),
    );
    over(&mut of.dryer.time, typed.dryer.and_then(|dryer| dryer.time));
    over(&mut of.dryer.dries_air, typed.dry_air.then_some(true));
    over(&mut of.batch.parts, typed.parts);
    over(&mut of.batch.scrap, typed.scrap);
    over(&mut of.batch.spool, typed.spool);
    add(&mut of.exposed, &typed.exposed);
    add(&mut of.concerns, &typed.concern);
    match of.contradiction() {
        None => Ok(of),
        Some((message, help)) => Err(Fault(terminal::fault(&message, Some(&help), &console.err))),
    }
}
