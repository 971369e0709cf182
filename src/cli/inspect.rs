//! `inspect`: many jobs, one after the other or two at a time, reported in the order given.

use super::args::{Format, Inspect};
use super::console::{Closed, Console};
use super::settings;
use super::{Exit, Fault};
use crate::concession::Verdict;
use crate::inspection::REGISTER;
use crate::job::{Settings, Timing, guarded, inspect};
use crate::report::paint::{Look, Tone};
use crate::report::{Outcome, grouped, record, terminal};
use crate::text::{Bytes, Threads};
use std::ffi::OsString;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

/// How many jobs are inspected at the same time. Chosen: reading one overlaps with working on
/// another; a third would only add memory.
const WORKERS: usize = 2;

/// What one job has for the two streams.
struct Said {
    out: String,
    err: String,
    exit: Exit,
}

/// How far the run is. Whoever has inspected a job waits here until it is that job's turn to be
/// reported, so that no more reports wait than there are workers.
struct Progress {
    next_job: usize,
    next_report: usize,
    exit: Exit,
    /// How many jobs ended in each way.
    ended: [u64; 3],
    closed: Option<Closed>,
}

struct Run<'a> {
    jobs: &'a [OsString],
    settings: &'a Settings,
    args: &'a Inspect,
    console: &'a Console,
    threads: Threads,
    progress: Mutex<Progress>,
    turn: Condvar,
}

pub(super) fn run(args: Inspect, console: &Console) -> Result<Exit, Fault> {
    if args.jobs.iter().filter(|job| *job == "-").count() > 1 {
        let help = "name it once; a stream can be read only once";
        return Err(Fault(terminal::fault(
            "the standard input is named twice",
            Some(help),
            &console.err,
        )));
    }
    let settings = settings::inspect(&args, console)?;
    let workers = if args.one_thread {
        1
    } else {
        WORKERS.min(args.jobs.len())
    };
    let threads = if args.one_thread || workers > 1 {
        Threads::One
    } else {
        Threads::Two
    };
    let run = Run {
        jobs: &args.jobs,
        settings: &settings,
        args: &args,
        console,
        threads,
        progress: Mutex::new(Progress {
            next_job: 0,
            next_report: 0,
            exit: Exit::Released,
            ended: [0; 3],
            closed: None,
        }),
        turn: Condvar::new(),
    };
    if workers == 1 {
        run.work();
    } else {
        std::thread::scope(|scope| {
            // This thread is one of them, so that the run goes on where no other can be had.
            for _ in 1..workers {
                let _ = std::thread::Builder::new()
                    .name("inspect".to_owned())
                    .spawn_scoped(scope, || run.work());
            }
            run.work();
        });
    }
    Ok(run.end())
}

impl Run<'_> {
    fn progress(&self) -> MutexGuard<'_, Progress> {
        self.progress.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Takes jobs until there are none left.
    fn work(&self) {
        loop {
            let (index, job) = {
                let mut progress = self.progress();
                let index = progress.next_job;
                let Some(job) = self.jobs.get(index).filter(|_| progress.closed.is_none()) else {
                    return;
                };
                progress.next_job += 1;
                (index, job)
            };
            let (outcome, timing) = inspect(job, self.settings, self.threads);
            let said =
                guarded(|| self.said(index, &outcome, timing)).unwrap_or_else(|panic| Said {
                    out: String::new(),
                    err: terminal::fault(
                        &format!(
                            "the report on job {} failed: a fault in this program at {panic}",
                            index + 1
                        ),
                        Some("do not print it on this program's word; report the fault"),
                        &self.console.err,
                    ),
                    exit: Exit::Failed,
                });
            self.report(index, &said);
        }
    }

    /// Reports a job when it is its turn.
    fn report(&self, index: usize, said: &Said) {
        let mut progress = self.progress();
        while progress.next_report != index {
            progress = self
                .turn
                .wait(progress)
                .unwrap_or_else(PoisonError::into_inner);
        }
        if progress.closed.is_none() {
            if let Err(closed) = self.console.write(&said.out) {
                progress.closed = Some(closed);
            }
            if !said.err.is_empty() {
                self.console.say(&said.err);
            }
        }
        progress.exit = progress.exit.max(said.exit);
        if let Some(count) = progress.ended.get_mut(said.exit as usize) {
            *count += 1;
        }
        progress.next_report += 1;
        drop(progress);
        self.turn.notify_all();
    }

    /// What a job has to say.
    fn said(&self, index: usize, outcome: &Outcome, timing: Timing) -> Said {
        let look = &self.console.out;
        let mut said = Said {
            out: String::new(),
            err: String::new(),
            exit: exit(outcome),
        };
        match (self.args.format, outcome) {
            (Format::Record, outcome) => match record::line(outcome) {
                Ok(line) => said.out = line + "\n",
                Err(fault) => {
                    said.exit = Exit::Failed;
                    said.err =
                        terminal::fault(&format!("no record: {fault}"), None, &self.console.err);
                }
            },
            (Format::Text, Outcome::Checked(checked)) if self.args.quiet => {
                if checked.settlement.verdict == Verdict::Held {
                    said.out = terminal::line(checked, REGISTER.len(), look);
                }
            }
            (Format::Text, Outcome::Checked(checked)) => {
                if index > 0 {
                    said.out = format!("\n{}\n\n", look.paint(Tone::Dim, &"─".repeat(look.width)));
                }
                said.out
                    .push_str(&terminal::report(checked, REGISTER.len(), look));
            }
            (Format::Text, Outcome::Failed(_)) => {}
        }
        if let Outcome::Failed(failed) = outcome {
            said.err
                .push_str(&terminal::failure(failed, &self.console.err));
        }
        if self.args.timings
            && let Outcome::Checked(checked) = outcome
        {
            let inspected = &checked.inspected;
            said.err.push_str(&timing_line(
                checked.name.to_string(),
                inspected.bytes,
                inspected.lines,
                timing,
            ));
        }
        said
    }

    /// Closes the run: what was left out, and the sum of many jobs.
    fn end(&self) -> Exit {
        let mut progress = self.progress();
        let left = self.jobs.len() - progress.next_report.min(self.jobs.len());
        if left > 0 {
            progress.exit = Exit::Failed;
        }
        if let Some(Closed::Full(fault)) = &progress.closed {
            let message = format!("the report could not be written: {fault}");
            let help = "make room where the output goes, then inspect again";
            self.console
                .say(&terminal::fault(&message, Some(help), &self.console.err));
            progress.exit = Exit::Failed;
        }
        let is_text = self.args.format == Format::Text && !self.args.quiet;
        if is_text && self.jobs.len() > 1 && progress.closed.is_none() {
            let text = sum(&progress.ended, &self.console.out);
            let _ = self.console.write(&text);
        }
        progress.exit
    }
}

fn exit(outcome: &Outcome) -> Exit {
    match outcome {
        Outcome::Failed(_) => Exit::Failed,
        Outcome::Checked(checked) if checked.settlement.verdict == Verdict::Held => Exit::Held,
        Outcome::Checked(_) => Exit::Released,
    }
}

/// The sum of many jobs.
fn sum([released, held, failed]: &[u64; 3], look: &Look) -> String {
    let mut parts = vec![
        look.paint(Tone::Good, &format!("{} released", grouped(*released))),
        look.paint(
            if *held > 0 { Tone::Alarm } else { Tone::Plain },
            &format!("{} held", grouped(*held)),
        ),
    ];
    if *failed > 0 {
        parts.push(look.paint(Tone::Alarm, &format!("{} not inspected", grouped(*failed))));
    }
    format!(
        "\n{} jobs: {}\n",
        grouped(released + held + failed),
        parts.join(", ")
    )
}

/// One line on how long a job took.
fn timing_line(name: String, bytes: u64, lines: u64, timing: Timing) -> String {
    let seconds = timing.took.as_secs_f64().max(1e-9);
    let work = bytes as f64 * f64::from(timing.rounds);
    format!(
        "{name}: {}, {} lines, {:.1} ms in {} round{}, {:.1} ns a line and round, {:.0} MB/s\n",
        Bytes(bytes),
        grouped(lines),
        seconds * 1e3,
        timing.rounds,
        if timing.rounds == 1 { "" } else { "s" },
        seconds * 1e9 / (lines.max(1) as f64 * f64::from(timing.rounds.max(1))),
        work / seconds / 1e6,
    )
}
