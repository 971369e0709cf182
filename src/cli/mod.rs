//! The command line: arguments as typed → settings, ready → run → exit code.
//!
//! Exit codes: 0 every job is released, with or without a concession; 1 some job is held; 2 something
//! could not be inspected: a mistake in the call, a sheet, a file, or a fault in this program. 2 wins
//! over 1, and the other jobs are still inspected. A rework that is told to stop ends with 130.

mod args;
#[cfg(feature = "audit")]
mod audit;
mod config;
mod console;
mod formats;
mod gate;
mod inspect;
mod manual;
mod near;
mod qualify;
mod requirement;
mod rework;
mod settings;
mod sheet;
mod survey;
mod traveler;

use crate::job::quieten;
use args::{Args, Command};
use clap::Parser;
use console::Console;
use std::process::ExitCode;

/// How a run ends; the worst counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Exit {
    /// All is released, or what was asked for was shown.
    Released = 0,
    /// Some job is held.
    Held = 1,
    /// Something could not be inspected.
    Failed = 2,
    /// An audit was told to stop (practice: 128 and the number of the signal that a keyboard sends).
    #[cfg_attr(
        not(feature = "audit"),
        allow(dead_code, reason = "only an audit is stopped")
    )]
    Stopped = 130,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit as u8)
    }
}

/// A fault of a run that is not about one job: what is said on the standard error.
struct Fault(String);

/// Runs the command line of this process.
#[must_use]
pub fn main() -> ExitCode {
    let args = match Args::try_parse() {
        Ok(args) => args,
        Err(said) => {
            // What is asked for (help, version) is no fault; clap writes it to the right stream.
            let exit = if said.use_stderr() {
                Exit::Failed
            } else {
                Exit::Released
            };
            let _ = said.print();
            return exit.into();
        }
    };
    quieten();
    let console = Console::new(args.color);
    let outcome = match args.command {
        Command::Gate(args) => gate::run(&args, &console),
        #[cfg(feature = "audit")]
        Command::Audit(args) => audit::run(args, &console),
        Command::Inspect(args) => inspect::run(args, &console),
        Command::Survey(args) => survey::run(&args, &console),
        Command::Requirement(args) => requirement::run(&args, &console),
        Command::Qualify(args) => qualify::run(&args, &console),
        Command::Rework(args) => rework::run(&args, &console),
        Command::Sheet(args) => sheet::run(args.command, &console),
        Command::Traveler(args) => traveler::run(&args, &console),
        Command::Completions { shell } => manual::completions(shell, &console),
        Command::Manual { command, into } => manual::run(&command, into.as_deref(), &console),
    };
    let exit = outcome.unwrap_or_else(|Fault(text)| {
        console.say(&text);
        Exit::Failed
    });
    exit.into()
}
