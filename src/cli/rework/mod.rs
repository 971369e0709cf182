//! `rework`: from a job in a file to a job in a file, proven before anything is in its place.

mod pages;
mod typed;

#[cfg(test)]
mod tests;

pub(super) use typed::Typed;

use super::args::Format;
use super::console::{Closed, Console};
use super::requirement::print;
use super::settings;
use super::{Exit, Fault};
use crate::job::{Source, To, Wish, name_of, rework};
use crate::report::record::{ReworkRecord, rework_line};
use crate::report::reworked::{Output, Reworked};
use crate::report::{Failed, terminal};
use crate::rework::Wanted;
use std::path::PathBuf;

pub(super) fn run(args: &Typed, console: &Console) -> Result<Exit, Fault> {
    if args.list {
        return print(console, &pages::list(console));
    }
    if let Some(id) = &args.page {
        return print(console, &pages::page(id, console)?);
    }
    for id in &args.only {
        if pages::find(id, &console.err)?.is_repair && !args.repair {
            return Err(Fault(terminal::fault(
                &format!("{id} is a repair, which alters the print"),
                Some("add --repair where that is wanted"),
                &console.err,
            )));
        }
    }
    let Some(job) = &args.job else {
        return Err(Fault(terminal::fault(
            "no job is named",
            Some("name the job to rework"),
            &console.err,
        )));
    };
    let settings = settings::of(
        &settings::Typed {
            material: args.material.as_ref(),
            machine: args.machine.as_ref(),
            config: args.config.as_deref(),
            hold_from: args.hold_from,
        },
        console,
    )?;
    let name = name_of(job);
    let wanted = Wanted {
        only: args.only.clone(),
        repair: args.repair,
    };
    let wish = Wish {
        to: to(args),
        wanted: &wanted,
        accept: &|_| true,
        brief: false,
        meanwhile: None,
    };
    let outcome =
        Source::new(job, &name).and_then(|source| rework(&source, &name, &wish, &settings));
    // The standard output may be the job's.
    let is_taken = args.output.as_ref().is_some_and(|output| output == "-");
    said(&outcome, args.format, is_taken, console)
}

/// Where the result is wanted.
fn to(args: &Typed) -> To {
    match &args.output {
        _ if args.diff => To::Nowhere,
        Some(output) if output == "-" => To::StandardOutput,
        Some(output) => To::File {
            path: PathBuf::from(output),
            overwrite: args.overwrite,
        },
        None if args.in_place => To::InPlace {
            drop_original: args.drop_original,
        },
        None => To::Beside {
            overwrite: args.overwrite,
        },
    }
}

/// Reports what became of it.
fn said(
    outcome: &Result<Reworked, Failed>,
    format: Format,
    is_taken: bool,
    console: &Console,
) -> Result<Exit, Fault> {
    let exit = match outcome {
        Err(_) => Exit::Failed,
        Ok(reworked) if reworked.is_released() => Exit::Released,
        Ok(_) => Exit::Held,
    };
    let look = if is_taken { &console.err } else { &console.out };
    let text = match (format, outcome) {
        (Format::Record, outcome) => {
            let record = match outcome {
                Ok(reworked) => ReworkRecord::of(reworked),
                Err(failed) => ReworkRecord::failed(failed),
            };
            let line = rework_line(&record).map_err(|fault| {
                let message = format!("no record: {fault}");
                Fault(terminal::fault(&message, None, &console.err))
            })?;
            line + "\n"
        }
        (Format::Text, Ok(reworked)) => terminal::rework(reworked, look),
        (Format::Text, Err(_)) => String::new(),
    };
    if is_taken {
        console.say(&text);
    } else {
        match console.write(&text) {
            Ok(()) | Err(Closed::Reader) => {}
            Err(Closed::Full(fault)) => {
                let place = match outcome {
                    Ok(Reworked {
                        output: Output::File { name, .. },
                        ..
                    }) => format!("; {name} is written"),
                    _ => String::new(),
                };
                let message = format!("the report could not be written: {fault}{place}");
                let help = "make room where the output goes";
                return Err(Fault(terminal::fault(&message, Some(help), &console.err)));
            }
        }
    }
    if let Err(failed) = outcome {
        console.say(&terminal::failure(failed, &console.err));
    }
    Ok(exit)
}
