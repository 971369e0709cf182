//! `requirement`: the list, or the page of one.

use super::args::Requirement;
use super::console::{Closed, Console};
use super::near::near;
use super::{Exit, Fault};
use crate::finding::Class;
use crate::inspection::{REGISTER, page, requirement};
use crate::report::paint::{Look, Tone, wrap};
use crate::report::terminal;

pub(super) fn run(args: &Requirement, console: &Console) -> Result<Exit, Fault> {
    let text = match &args.id {
        None => list(console),
        Some(id) => match requirement(id) {
            Some(requirement) => {
                terminal::page(requirement.page, &console.out, console.is_terminal)
            }
            None => return Err(unknown(id, &console.err)),
        },
    };
    print(console, &text)
}

/// Writes what was asked for. A reader that has gone wants no more, and that is no fault.
pub(super) fn print(console: &Console, text: &str) -> Result<Exit, Fault> {
    match console.write(text) {
        Ok(()) | Err(Closed::Reader) => Ok(Exit::Released),
        Err(Closed::Full(fault)) => {
            let message = format!("the output could not be written: {fault}");
            Err(Fault(terminal::fault(
                &message,
                Some("make room where it goes"),
                &console.err,
            )))
        }
    }
}

fn unknown(id: &str, look: &Look) -> Fault {
    let near = near(id, REGISTER.iter().map(|requirement| requirement.id));
    let shown: String = id.chars().take(60).collect();
    let help = if near.is_empty() {
        "list them with `meltgauge requirement`".to_owned()
    } else {
        let near: Vec<String> = near.iter().map(|id| format!("`{id}`")).collect();
        format!(
            "did you mean {}? List them with `meltgauge requirement`",
            near.join(" or ")
        )
    };
    Fault(terminal::fault(
        &format!("there is no requirement `{shown}`"),
        Some(&help),
        look,
    ))
}

/// Every requirement with its class and what it asks for, most harmful class first.
fn list(console: &Console) -> String {
    let look = &console.out;
    let wide = REGISTER
        .iter()
        .map(|requirement| requirement.id.len())
        .max()
        .unwrap_or_default();
    let mut text = String::new();
    for class in Class::ALL {
        let mut of_class = REGISTER
            .iter()
            .filter(|requirement| requirement.class == class)
            .peekable();
        if of_class.peek().is_none() {
            continue;
        }
        if !text.is_empty() {
            text.push('\n');
        }
        text.push_str(&format!("{}\n", look.paint(Tone::of(class), class.word())));
        for requirement in of_class {
            let summary = page::summary(requirement.page);
            let name = (Tone::Bold, requirement.id);
            if console.is_terminal {
                look.entry(&mut text, name, wide + 4, &summary);
            } else {
                // One line each, for whoever looks for a word in them.
                text.push_str(&format!("  {:wide$}  {summary}\n", requirement.id));
            }
        }
    }
    text.push('\n');
    let last = format!(
        "{} requirements; the class is the most harmful that its findings have.",
        REGISTER.len()
    );
    for line in wrap(&last, look.width) {
        text.push_str(&line);
        text.push('\n');
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_requirement_has_a_summary() {
        for requirement in REGISTER {
            let summary = page::summary(requirement.page);
            assert!(
                summary.len() > 10 && !summary.contains('\n'),
                "{}: {summary}",
                requirement.id
            );
        }
    }
}
