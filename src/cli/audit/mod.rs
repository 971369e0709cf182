//! `audit`: whole archives, into a store and out of it.

mod output;
mod typed;
mod watch;

pub(super) use typed::Typed;

use super::console::{Closed, Console};
use super::settings;
use super::{Exit, Fault, config};
use crate::audit::{
    Answer, Call, Cell, Ended, Error, REPORTS, Reader, Sheet, Summary, What, audit, fold,
    fold_files, map, report, summary,
};
use crate::job::Rules;
use crate::report::grouped;
use crate::report::paint::{Look, Tone};
use crate::report::terminal;
use crate::sheet::{load_machine, load_material};
use crate::text::clean;
#[cfg(feature = "parquet")]
use output::Format;
use output::Rows;
use std::cell::RefCell;
use std::io::BufReader;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use typed::Asked;
use watch::Onlooker;

/// What an audit's fault says on the standard error.
fn fault(error: &Error, look: &Look) -> Fault {
    let help = miette::Diagnostic::help(error).map(|help| help.to_string());
    Fault(terminal::fault(&error.to_string(), help.as_deref(), look))
}

pub(super) fn run(args: Typed, console: &Console) -> Result<Exit, Fault> {
    let said = |error: Error| fault(&error, &console.err);
    if let Some(asked) = args.asked {
        return ask(asked, console);
    }
    if args.fold {
        let files: Vec<PathBuf> = args.paths.iter().map(PathBuf::from).collect();
        let count = match files.as_slice() {
            [] => fold(std::io::stdin().lock(), &args.kept.store),
            files => fold_files(files, &args.kept.store),
        };
        let count = count.map_err(said)?;
        if !args.quiet {
            console.say(&format!("{} lines are in the store\n", grouped(count)));
        }
        return Ok(Exit::Released);
    }
    let is_listed = args.paths.iter().any(|path| path == "-");
    if is_listed && args.paths.len() > 1 {
        let help = "name `-` alone, or folders and files alone";
        let message = "paths are named and a list of paths is to be read";
        return Err(Fault(terminal::fault(message, Some(help), &console.err)));
    }
    // Who names folders beside them is told nothing by the parser.
    if args.what_if.is_none() && (args.format.is_some() || args.instead_of.is_some()) {
        let help =
            "ask with --what-if, or what is in the store with `audit query` and `audit report`";
        let message = "--format and --instead-of are about --what-if";
        return Err(Fault(terminal::fault(message, Some(help), &console.err)));
    }
    let rules = rules(&args.held, console)?;
    if let Some(named) = &args.what_if {
        return what_if(named, &args, &rules, console);
    }
    if args.map {
        // What a job comes to is on its line: the exit code is about the run.
        let mut out = std::io::BufWriter::new(std::io::stdout().lock());
        map(std::io::stdin().lock(), args.nul, &rules, &mut out).map_err(said)?;
        return Ok(Exit::Released);
    }
    let what = if is_listed {
        What::Manifest {
            input: Box::new(BufReader::new(std::io::stdin())),
            is_nul: args.nul,
        }
    } else {
        What::Paths(args.paths.iter().map(PathBuf::from).collect())
    };
    let onlooker = Onlooker::heed();
    let ended = audit(Call {
        what,
        rules: &rules,
        store: &args.kept.store,
        threads: args.threads.unwrap_or_else(cores),
        verify: args.verify,
        watch: &onlooker,
    })
    .map_err(said)?;
    onlooker.close();
    let reader = Reader::open(&args.kept.store).map_err(said)?;
    let sum = summary(&reader, ended.run).map_err(said)?;
    if !args.quiet {
        let text = tell(&sum, &ended, &args.kept.store, &console.out);
        if let Err(Closed::Full(cause)) = console.write(&text) {
            return Err(said(Error::Output(cause)));
        }
    }
    for (path, message) in &sum.troubles {
        let path = clean(path.as_bytes());
        // Many a message names its file itself.
        console.say(&match message.contains(&*path) {
            true => format!("{message}\n"),
            false => format!("{path}: {message}\n"),
        });
    }
    if ended.troubles > sum.troubles.len() as u64 {
        let more = ended.troubles - sum.troubles.len() as u64;
        console.say(&format!(
            "and {} more, in the view `troubles` of the store\n",
            grouped(more)
        ));
    }
    Ok(if ended.is_stopped {
        Exit::Stopped
    } else if ended.troubles > 0 || sum.failed + sum.no_rule > 0 {
        Exit::Failed
    } else if sum.held > 0 {
        Exit::Held
    } else {
        Exit::Released
    })
}

/// Tells what another sheet would change.
fn what_if(named: &str, args: &Typed, rules: &Rules, console: &Console) -> Result<Exit, Fault> {
    let said = |error: Error| fault(&error, &console.err);
    let (sheet, own) = match load_material(named) {
        Ok(material) => {
            let name = material.name.clone();
            (Sheet::Material(Arc::new(material)), name)
        }
        Err(no_material) => match load_machine(named) {
            Ok(machine) => {
                let name = machine.name.clone();
                (Sheet::Machine(Arc::new(machine)), name)
            }
            Err(_) => return Err(super::sheet::fault(&no_material, &console.err)),
        },
    };
    let instead_of = args.instead_of.as_ref().unwrap_or(&own);
    let onlooker = Onlooker::heed();
    let threads = args.threads.unwrap_or_else(cores);
    let answer = crate::audit::what_if(
        &args.kept.store,
        rules,
        (&sheet, instead_of),
        (threads, false),
        &onlooker,
    )
    .map_err(said)?;
    onlooker.close();
    let names = ["now", "then", "from", "path", "member"].map(str::to_owned);
    let rows = what_if_rows(&answer);
    #[cfg(feature = "parquet")]
    if args.format == Some(Format::Parquet) {
        refuse_terminal(console)?;
        let out = std::io::BufWriter::new(std::io::stdout());
        return match crate::audit::write_rows(&names, rows, out) {
            Err(Error::Output(cause)) if cause.kind() == std::io::ErrorKind::BrokenPipe => {
                Ok(Exit::Released)
            }
            outcome => {
                outcome.map_err(said)?;
                console.say(&summed_up(&answer));
                Ok(ended(&answer))
            }
        };
    }
    let mut out = Rows::new(console, args.format.unwrap_or_default(), None);
    let write = || {
        out.head(&names)?;
        for cells in rows {
            out.row(cells)?;
        }
        out.end()
    };
    if let Err(Closed::Full(cause)) = write() {
        return Err(said(Error::Output(cause)));
    }
    console.say(&summed_up(&answer));
    Ok(ended(&answer))
}

fn summed_up(answer: &Answer) -> String {
    format!(
        "{} of {} jobs would change; {} were read again, {} follow from the store{}\n",
        grouped(answer.changed.len() as u64),
        grouped(answer.jobs),
        grouped(answer.reread),
        grouped(answer.from_store),
        match answer.lost {
            0 => String::new(),
            lost => format!(
                "; {} are no longer what was audited, and not told",
                grouped(lost)
            ),
        }
    )
}

const fn ended(answer: &Answer) -> Exit {
    if answer.lost > 0 {
        Exit::Failed
    } else {
        Exit::Released
    }
}

/// The jobs that would change and those that had to be read again: each with where its answer comes from.
fn what_if_rows(answer: &Answer) -> impl Iterator<Item = Vec<Cell>> + '_ {
    let is_read = |job| answer.read.binary_search(job).is_ok();
    let told = answer.changed.iter().filter(move |job| !is_read(job));
    let told = told.map(|job| (job, "store"));
    let read = answer.read.iter().map(|job| match job {
        [.., then] if then.is_empty() => (job, "lost"),
        _ => (job, "job read again"),
    });
    let mut all: Vec<(&[String; 4], &str)> = told.chain(read).collect();
    all.sort();
    all.into_iter().map(|([path, member, now, then], from)| {
        let then = match then.is_empty() {
            true => Cell::Null,
            false => Cell::Text(then.clone()),
        };
        let [now, from, path, member] =
            [now, from, path, member].map(|text| Cell::Text(text.to_string()));
        vec![now, then, from, path, member]
    })
}

/// Asks a store.
fn ask(asked: Asked, console: &Console) -> Result<Exit, Fault> {
    let said = |error: Error| fault(&error, &console.err);
    let (question, bar, kept, format) = match asked {
        Asked::Query {
            question,
            kept,
            format,
        } => (question, None, kept, format),
        Asked::Report { name: None, .. } => {
            let lines = REPORTS
                .iter()
                .map(|one| format!("{:<14}{}\n", one.name, one.about));
            let _ = console.write(&lines.collect::<String>());
            return Ok(Exit::Released);
        }
        Asked::Report {
            name: Some(name),
            kept,
            format,
        } => {
            let Some(report) = report(&name) else {
                let names: Vec<&str> = REPORTS.iter().map(|one| one.name).collect();
                let message = format!("there is no report `{}`", clean(name.as_bytes()));
                let help = format!("ask for one of {}", names.join(", "));
                return Err(Fault(terminal::fault(&message, Some(&help), &console.err)));
            };
            (report.question.to_owned(), report.bar, kept, format)
        }
    };
    let reader = Reader::open(&kept.store).map_err(said)?;
    #[cfg(feature = "parquet")]
    if format == Format::Parquet {
        return table(&reader, &question, console);
    }
    let rows = RefCell::new(Rows::new(console, format, bar));
    let mut closed = None;
    let mut keep = |outcome: Result<(), Closed>| {
        outcome.map_err(|cause| {
            closed = Some(cause);
            Error::Stopped
        })
    };
    let keep = RefCell::new(&mut keep);
    let outcome = reader
        .ask(
            &question,
            |names| (keep.borrow_mut())(rows.borrow_mut().head(names)),
            |cells| (keep.borrow_mut())(rows.borrow_mut().row(cells)),
        )
        .and_then(|()| {
            let rows = rows.into_inner();
            (keep.borrow_mut())(rows.end())
        });
    match (outcome, closed) {
        (_, Some(Closed::Full(cause))) => Err(said(Error::Output(cause))),
        (_, Some(Closed::Reader)) | (Ok(()), None) => Ok(Exit::Released),
        (Err(error), None) => Err(said(error)),
    }
}

#[cfg(feature = "parquet")]
fn refuse_terminal(console: &Console) -> Result<(), Fault> {
    if !console.is_terminal {
        return Ok(());
    }
    let help = "send it into a file: `> jobs.parquet`";
    let message = "a table in Parquet is nothing for a terminal";
    Err(Fault(terminal::fault(message, Some(help), &console.err)))
}

/// Writes the answer to a question as a table for engines.
#[cfg(feature = "parquet")]
fn table(reader: &Reader, question: &str, console: &Console) -> Result<Exit, Fault> {
    refuse_terminal(console)?;
    let out = std::io::BufWriter::new(std::io::stdout());
    match crate::audit::write_table(reader, question, out) {
        Err(Error::Output(cause)) if cause.kind() == std::io::ErrorKind::BrokenPipe => {
            Ok(Exit::Released)
        }
        outcome => outcome
            .map(|()| Exit::Released)
            .map_err(|error| fault(&error, &console.err)),
    }
}

fn cores() -> usize {
    std::thread::available_parallelism().map_or(1, usize::from)
}

/// The rules by which jobs get their sheets.
fn rules(held: &typed::Held, console: &Console) -> Result<Rules, Fault> {
    let typed = settings::Typed {
        material: held.material.as_ref(),
        machine: held.machine.as_ref(),
        config: held.config.as_deref(),
        hold_from: held.hold_from,
    };
    let config = config::load(typed.config, &console.err)?;
    settings::rules(&typed, &config, &console.err)
}

/// What an audit has to say at its end.
fn tell(sum: &Summary, ended: &Ended, store: &Path, look: &Look) -> String {
    let name = clean(store.as_os_str().as_encoded_bytes()).into_owned();
    let mut text = format!("{}  run {}\n\n", look.paint(Tone::Bold, &name), ended.run);
    if ended.is_stopped {
        text.push_str("  stopped    before its end; what was inspected is kept, and the next audit goes on from there\n");
    }
    let mut line = |what: &str, parts: &[(u64, &str)]| {
        let parts: Vec<String> = parts
            .iter()
            .filter(|(count, _)| *count > 0)
            .map(|(count, words)| format!("{} {words}", grouped(*count)))
            .collect();
        if !parts.is_empty() {
            text.push_str(&format!("  {what:<11}{}\n", parts.join(", ")));
        }
    };
    line(
        "jobs",
        &[
            (sum.jobs, "in the store"),
            (sum.released, "released"),
            (sum.conceded, "released by concession"),
            (sum.held, "held"),
            (sum.failed, "not inspected"),
            (sum.no_rule, "that no rule fits"),
        ],
    );
    let counts = &ended.counts;
    line(
        "this run",
        &[
            (counts.inspected, "inspected"),
            (counts.known, "files known and not read"),
            (counts.copied, "files known by their bytes"),
            (counts.gone, "files gone"),
            (counts.moved, "of them moved"),
            (ended.passed, "files passed over"),
            (ended.troubles, "paths not looked into"),
        ],
    );
    if !sum.requirements.is_empty() {
        text.push_str("\n  found most often, by jobs\n");
        let most = sum
            .requirements
            .iter()
            .map(|(_, jobs)| *jobs)
            .max()
            .unwrap_or(1);
        for (requirement, jobs) in &sum.requirements {
            let bar = bar(*jobs, most);
            text.push_str(&format!(
                "  {requirement:<28}{:>9}  {bar}\n",
                grouped(*jobs)
            ));
        }
    }
    text
}

/// A bar for a share of the most.
fn bar(part: u64, most: u64) -> String {
    /// Columns of the longest (chosen).
    const LONGEST: u64 = 24;
    let length = (part * LONGEST).div_ceil(most.max(1));
    "#".repeat(usize::try_from(length).unwrap_or(0))
}
