//! `qualify`: material, machine and use against each other.

mod ask;
mod read;
mod typed;

pub(super) use typed::Typed;

use super::args::Format;
use super::console::Console;
use super::requirement::print;
use super::settings;
use super::{Exit, Fault, sheet};
use crate::job::Settings;
use crate::qualify::{
    Answer, Build, Candidate, OfJob, Question, Verdict, beside, find, qualify, symptom,
};
use crate::report::{Checked, Outcome, qualified::Qualified, record, reply, terminal};
use crate::sheet::{Material, library, load_material};
use crate::survey::{Carried, Told};
use crate::text::Threads;
use std::sync::Arc;

pub(super) fn run(typed: &Typed, console: &Console) -> Result<Exit, Fault> {
    let named = settings::Typed {
        material: typed.material.as_ref(),
        machine: typed.machine.as_ref(),
        config: typed.config.as_deref(),
        hold_from: None,
    };
    let settings = Settings {
        sections: typed.along.is_some(),
        ..settings::of(&named, console)?
    };
    let machine = ask::machine(typed, settings.machine.as_deref());
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
    let job = match &typed.job {
        Some(job) => match crate::job::inspect(job, &settings, Threads::Two).0 {
            Outcome::Checked(checked) => Some(checked),
            Outcome::Failed(failed) => return Err(Fault(terminal::failure(&failed, &console.err))),
        },
        None => None,
    };
    let application = ask::application(typed, job.as_deref(), console)?;
    let named = material(&settings, typed.tool, job.as_deref());
    let before = typed
        .after
        .as_ref()
        .map(|named| load(named, console))
        .transpose()?;
    let others = typed
        .compare
        .iter()
        .map(|named| load(named, console))
        .collect::<Result<Vec<_>, _>>()?;
    let of_job = of_job(typed, job.as_deref());
    let nobody = Material::default();
    let question = Question {
        material: named.as_deref().unwrap_or(&nobody),
        machine: machine.as_ref(),
        application: &application,
        tool: typed.tool,
        before: before.as_ref(),
        weighed: typed.weighed,
        build: typed.section.map(|section| Build {
            section: section.map(crate::quantity::Millimetres::get),
            walls: typed.walls,
            infill: typed.infill.get(),
        }),
        of_job: of_job.as_ref().map(|(job, along, carried)| OfJob {
            job,
            along: *along,
            carried,
        }),
        wants_finish: typed.finish,
        fahrenheit: typed.degrees().any(|typed| typed.is_fahrenheit),
    };
    if typed.find {
        let own = named.iter().map(AsRef::as_ref).chain(&others);
        return ranked(&question, own, typed.format, console);
    }
    let Some(named) = &named else {
        let help = "name one with --material, or ask with --find; `meltgauge sheet list` shows the library";
        return Err(Fault(terminal::fault(
            "no material is named",
            Some(help),
            &console.err,
        )));
    };
    if !others.is_empty() {
        let all: Vec<&Material> = std::iter::once(named.as_ref()).chain(&others).collect();
        let candidates = beside(&question, &all);
        let text = match typed.format {
            Format::Text => terminal::compare(&candidates, &console.out),
            Format::Record => records(&question, &candidates, console)?,
        };
        let exit = candidates
            .first()
            .map_or(Exit::Released, |first| exit(&first.answer));
        return Ok(exit.max(print(console, &text)?));
    }
    let answer = qualify(&question);
    let qualified = Qualified {
        question,
        answer: &answer,
    };
    if let (Some(symptom), Some(job)) = (typed.symptom, &job) {
        let signs = symptom::signs(&job.inspected, &answer, named);
        let causes = symptom::rank(symptom, &signs);
        let text = match typed.format {
            Format::Text => terminal::symptom(&qualified, symptom, &causes, &console.out),
            Format::Record => {
                record::symptom_line(&qualified, symptom, &causes)
                    .map_err(|cause| unrecorded(&cause, console))?
                    + "\n"
            }
        };
        return print(console, &text);
    }
    let text = match typed.format {
        _ if typed.reply => reply::reply(&qualified),
        Format::Text => terminal::qualify(&qualified, &console.out),
        Format::Record => line(&qualified, console)?,
    };
    Ok(exit(&answer).max(print(console, &text)?))
}

/// What carries a load along the axis that is asked about, in the job of this name.
fn of_job(typed: &Typed, job: Option<&Checked>) -> Option<(String, usize, Told<Carried>)> {
    let (axis, job) = (typed.along?, job?);
    let walls = job.inspected.survey.walls.as_ref()?;
    let carried = walls.carried.as_ref()?.get(axis.index())?;
    Some((job.name.to_string(), axis.index(), carried.clone()))
}

/// The library's materials and one's own, best first; 0 where one of them suits.
fn ranked<'a>(
    question: &Question<'_>,
    own: impl Iterator<Item = &'a Material>,
    format: Format,
    console: &Console,
) -> Result<Exit, Fault> {
    let mut all: Vec<&Material> = library::materials().iter().collect();
    for sheet in own {
        if !all
            .iter()
            .any(|known| known.digest == sheet.digest && known.name == sheet.name)
        {
            all.push(sheet);
        }
    }
    let candidates = find(question, &all);
    let text = match format {
        Format::Text => terminal::find(&candidates, &console.out),
        Format::Record => records(question, &candidates, console)?,
    };
    let best = candidates
        .first()
        .map_or(Exit::Held, |best| exit(&best.answer));
    Ok(best.max(print(console, &text)?))
}

/// One record a material and line.
fn records(
    question: &Question<'_>,
    candidates: &[Candidate<'_>],
    console: &Console,
) -> Result<String, Fault> {
    candidates
        .iter()
        .map(|one| {
            let question = Question {
                material: one.material,
                application: &one.application,
                ..*question
            };
            line(
                &Qualified {
                    question,
                    answer: &one.answer,
                },
                console,
            )
        })
        .collect()
}

fn line(qualified: &Qualified<'_>, console: &Console) -> Result<String, Fault> {
    record::qualify_line(qualified)
        .map(|line| line + "\n")
        .map_err(|cause| unrecorded(&cause, console))
}

fn unrecorded(cause: &serde_json::Error, console: &Console) -> Fault {
    Fault(terminal::fault(
        &format!("no record: {cause}"),
        None,
        &console.err,
    ))
}

const fn exit(answer: &Answer) -> Exit {
    match answer.verdict {
        Verdict::Suits | Verdict::SuitsWithChanges | Verdict::NothingHeld => Exit::Released,
        Verdict::Open | Verdict::DoesNotSuit => Exit::Held,
    }
}

fn load(named: &str, console: &Console) -> Result<Material, Fault> {
    load_material(named).map_err(|error| sheet::fault(&error, &console.err))
}

/// The material of the tool that is asked about: the one that is named, else the job's.
fn material(settings: &Settings, tool: usize, job: Option<&Checked>) -> Option<Arc<Material>> {
    let of_tool = |all: &[Option<Arc<Material>>]| match all {
        [one] => one.clone(),
        many => many.get(tool).cloned().flatten(),
    };
    settings
        .materials
        .as_deref()
        .and_then(of_tool)
        .or_else(|| of_tool(&job?.held.materials))
}
