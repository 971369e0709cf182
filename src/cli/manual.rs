//! Completions and manual pages, made from the very definitions that the help is made from.

use super::args::Args;
use super::console::Console;
use super::requirement::print;
use super::{Exit, Fault};
use crate::report::terminal;
use clap::CommandFactory;
use std::path::Path;

/// What `shell` needs.
pub(super) fn completions(shell: clap_complete::Shell, console: &Console) -> Result<Exit, Fault> {
    let mut command = Args::command();
    let name = command.get_name().to_owned();
    let mut bytes = Vec::new();
    clap_complete::generate(shell, &mut command, name, &mut bytes);
    print(console, &String::from_utf8_lossy(&bytes))
}

/// The manual page of `command`, or every page into a folder.
pub(super) fn run(
    command: &[String],
    into: Option<&Path>,
    console: &Console,
) -> Result<Exit, Fault> {
    let fault =
        |message: &str, help: &str| Fault(terminal::fault(message, Some(help), &console.err));
    let mut all = Args::command();
    all.build();
    if let Some(folder) = into {
        return match clap_mangen::generate_to(all, folder) {
            Ok(()) => Ok(Exit::Released),
            Err(said) => {
                let message = format!(
                    "the manual cannot be written to `{}`: {said}",
                    folder.display()
                );
                Err(fault(
                    &message,
                    "name a folder that is there and may be written to",
                ))
            }
        };
    }
    let mut wanted = &all;
    for word in command.iter().flat_map(|words| words.split(' ')) {
        wanted = wanted.find_subcommand(word).ok_or_else(|| {
            let shown: String = word.chars().take(60).collect();
            let help = "list the commands with `meltgauge help`";
            fault(&format!("there is no command `{shown}`"), help)
        })?;
    }
    let mut bytes = Vec::new();
    match clap_mangen::Man::new(wanted.clone()).render(&mut bytes) {
        Ok(()) => print(console, &String::from_utf8_lossy(&bytes)),
        Err(said) => Err(fault(
            &format!("no manual page: {said}"),
            "report the fault",
        )),
    }
}
