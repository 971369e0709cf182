//! `survey`: what jobs build and use, with no requirement held.

use super::args::{Axis, Survey, SurveyFormat};
use super::console::{Closed, Console};
use super::settings;
use super::{Exit, Fault};
use crate::job::{guarded, inspect};
use crate::report::paint::Tone;
use crate::report::{Outcome, layers, record, terminal};
use crate::text::Threads;

/// What one job has for the two streams.
struct Said {
    out: String,
    err: String,
}

pub(super) fn run(args: &Survey, console: &Console) -> Result<Exit, Fault> {
    if args.jobs.iter().filter(|job| *job == "-").count() > 1 {
        let help = "name it once; a stream can be read only once";
        return Err(Fault(terminal::fault(
            "the standard input is named twice",
            Some(help),
            &console.err,
        )));
    }
    let settings = settings::survey(args, console)?;
    let mut exit = Exit::Released;
    let mut closed = None;
    if args.format == SurveyFormat::Csv {
        closed = console.write(layers::CSV_HEAD).err();
    }
    for (index, job) in args.jobs.iter().enumerate() {
        if closed.is_some() {
            exit = Exit::Failed;
            break;
        }
        let (outcome, _) = inspect(job, &settings, Threads::Two);
        if matches!(outcome, Outcome::Failed(_)) {
            exit = Exit::Failed;
        }
        let said = guarded(|| said(index, &outcome, args, console)).unwrap_or_else(|panic| {
            Err(format!(
                "the survey of job {} failed: a fault in this program at {panic}",
                index + 1
            ))
        });
        match said {
            Ok(said) => {
                closed = console.write(&said.out).err();
                if !said.err.is_empty() {
                    console.say(&said.err);
                }
            }
            Err(message) => {
                exit = Exit::Failed;
                console.say(&terminal::fault(&message, None, &console.err));
            }
        }
    }
    if let Some(Closed::Full(fault)) = &closed {
        let message = format!("the survey could not be written: {fault}");
        let help = "make room where the output goes, then survey again";
        console.say(&terminal::fault(&message, Some(help), &console.err));
        exit = Exit::Failed;
    }
    Ok(exit)
}

/// The axes along which loads are asked for, 0 to 2.
const fn axes(args: &Survey) -> &'static [usize] {
    match args.load {
        Some(Axis::X) => &[0],
        Some(Axis::Y) => &[1],
        Some(Axis::Z) => &[2],
        None => &[0, 1, 2],
    }
}

/// What a job has to say; else why it has nothing.
fn said(index: usize, outcome: &Outcome, args: &Survey, console: &Console) -> Result<Said, String> {
    let look = &console.out;
    let mut said = Said {
        out: String::new(),
        err: String::new(),
    };
    match (args.format, outcome) {
        (SurveyFormat::Record, outcome) => {
            let line = record::survey_line(outcome, args.layers)
                .map_err(|fault| format!("no record: {fault}"))?;
            said.out = line + "\n";
        }
        (SurveyFormat::Csv, Outcome::Checked(checked)) => {
            let name = terminal::title(&checked.name);
            said.out = layers::csv(&name, &checked.inspected.survey.rows);
        }
        (SurveyFormat::Table, Outcome::Checked(checked)) => {
            if index > 0 {
                said.out = format!("\n{}\n\n", look.paint(Tone::Dim, &"─".repeat(look.width)));
            }
            said.out
                .push_str(&terminal::survey(checked, args.layers, axes(args), look));
        }
        (_, Outcome::Failed(_)) => {}
    }
    if let Outcome::Failed(failed) = outcome {
        said.err = terminal::failure(failed, &console.err);
    }
    Ok(said)
}
