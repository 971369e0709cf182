//! `qualify`: material, machine and use against each other, with no job.

mod read;
mod typed;

pub(super) use typed::Typed;

use super::args::Format;
use super::console::Console;
use super::requirement::print;
use super::settings;
use super::{Exit, Fault, sheet};
use crate::finding::SourceMark;
use crate::job::Settings;
use crate::qualify::{AS_ASKED, Question, Verdict, qualify};
use crate::report::{qualified::Qualified, record, terminal};
use crate::sheet::{Application, Cited, Machine, Material, load_application, load_material};
use std::sync::Arc;

pub(super) fn run(typed: &Typed, console: &Console) -> Result<Exit, Fault> {
    let settings = settings::of(
        &settings::Typed {
            material: typed.material.as_ref(),
            machine: typed.machine.as_ref(),
            config: typed.config.as_deref(),
            hold_from: None,
        },
        console,
    )?;
    let machine = machine(typed, settings.machine.as_deref());
    if let Some(machine) = &machine
        && typed.tool >= machine.tools.len().max(1)
    {
        let message = format!(
            "the machine sheet {} has no tool {}",
            machine.name, typed.tool
        );
        let help = "name a tool that the sheet has, or leave it out";
        return Err(Fault(terminal::fault(&message, Some(help), &console.err)));
    }
    let application = application(typed, console)?;
    let material = material(&settings, typed.tool, console)?;
    let before = match &typed.after {
        Some(named) => {
            Some(load_material(named).map_err(|error| sheet::fault(&error, &console.err))?)
        }
        None => None,
    };
    let question = Question {
        material: &material,
        machine: machine.as_ref(),
        application: &application,
        tool: typed.tool,
        before: before.as_ref(),
        wants_finish: typed.finish,
        fahrenheit: typed.degrees().any(|typed| typed.is_fahrenheit),
    };
    let answer = qualify(&question);
    let qualified = Qualified {
        question,
        answer: &answer,
    };
    let text = match typed.format {
        Format::Text => terminal::qualify(&qualified, &console.out),
        Format::Record => {
            let line = record::qualify_line(&qualified).map_err(|cause| {
                Fault(terminal::fault(
                    &format!("no record: {cause}"),
                    None,
                    &console.err,
                ))
            })?;
            line + "\n"
        }
    };
    let exit = match answer.verdict {
        Verdict::Suits | Verdict::SuitsWithChanges => Exit::Released,
        Verdict::Open | Verdict::DoesNotSuit => Exit::Held,
    };
    Ok(exit.max(print(console, &text)?))
}

/// The material of the tool that is asked about.
fn material(settings: &Settings, tool: usize, console: &Console) -> Result<Arc<Material>, Fault> {
    let of_tool = match settings.materials.as_deref() {
        Some([one]) => one.clone(),
        Some(many) => many.get(tool).cloned().flatten(),
        None => None,
    };
    of_tool.ok_or_else(|| {
        let help = "name one with --material; `meltgauge sheet list` shows the library";
        Fault(terminal::fault(
            "no material is named",
            Some(help),
            &console.err,
        ))
    })
}

fn asked<T>(value: T) -> Cited<T> {
    Cited::new(value, Some(AS_ASKED.to_owned()), SourceMark::Chosen)
}

/// The machine with what is typed about it laid over its sheet; a machine of its own where no sheet is
/// named.
fn machine(typed: &Typed, sheet: Option<&Machine>) -> Option<Machine> {
    let says = typed.hotend.is_some()
        || typed.bed.is_some()
        || typed.nozzle.is_some()
        || typed.bore.is_some();
    if sheet.is_none() && !says {
        return None;
    }
    let mut machine = sheet.cloned().unwrap_or_else(|| Machine {
        name: AS_ASKED.to_owned(),
        tools: vec![crate::sheet::Tool::default()],
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
fn application(typed: &Typed, console: &Console) -> Result<Application, Fault> {
    let mut of = match &typed.application {
        Some(file) => load_application(file).map_err(|error| sheet::fault(&error, &console.err))?,
        None => Application {
            name: AS_ASKED.to_owned(),
            ..Application::default()
        },
    };
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
