//! `requirement`: the list, or the page of one.

use super::args::Requirement;
use super::console::{Closed, Console};
use super::near::near;
use super::{Exit, Fault};
use crate::finding::Class;
use crate::inspection::{REGISTER, page, requirement};
use crate::report::paint::{Look, Tone, wrap};
use crate::report::terminal;
use crate::text::clean;

pub(super) fn run(args: &Requirement, console: &Console) -> Result<Exit, Fault> {
    let text = match &args.id {
        None => list(console),
        Some(id) => match requirement(id) {
            Some(requirement) => print_page(requirement.page, console),
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
            let summary = summary(requirement.page);
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

/// The first sentence of a page, on one line.
fn summary(text: &str) -> String {
    let words = page::section(text, "Requirement").unwrap_or_default();
    let line = words.split_whitespace().collect::<Vec<_>>().join(" ");
    let end = line.find(". ").unwrap_or(line.len());
    line.get(..end)
        .unwrap_or_default()
        .trim_end_matches('.')
        .replace('`', "")
}

/// A page as it is written, its headings standing out, its paragraphs set anew where they are wider
/// than the terminal.
pub(super) fn print_page(page: &str, console: &Console) -> String {
    let look = &console.out;
    let mut text = String::with_capacity(page.len());
    let mut is_job = false;
    let mut lines = page.lines().peekable();
    while let Some(line) = lines.next() {
        let is_words =
            |line: &str| line.starts_with(|first: char| first.is_alphanumeric() || first == '`');
        if !is_job && !line.starts_with("```") && is_words(line) {
            let mut paragraph = vec![line];
            while let Some(next) = lines.next_if(|next| {
                !next.is_empty() && !next.starts_with(['-', '#', '|']) && !next.starts_with("```")
            }) {
                paragraph.push(next.trim());
            }
            let fits = |line: &&str| line.chars().count() <= look.width;
            let set: Vec<String> = if !console.is_terminal || paragraph.iter().all(fits) {
                paragraph.iter().map(|line| (*line).to_owned()).collect()
            } else {
                wrap(&paragraph.join(" "), look.width)
            };
            for line in set {
                text.push_str(&clean(line.as_bytes()));
                text.push('\n');
            }
            continue;
        }
        let tone = if line.starts_with("```") {
            is_job = !is_job;
            Tone::Dim
        } else if is_job && line.starts_with(";!") {
            // A note for the tests.
            continue;
        } else if line.starts_with('#') && !is_job {
            Tone::Bold
        } else {
            Tone::Plain
        };
        text.push_str(&look.paint(tone, &clean(line.as_bytes())));
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
            let summary = summary(requirement.page);
            assert!(
                summary.len() > 10 && !summary.contains('\n'),
                "{}: {summary}",
                requirement.id
            );
        }
    }
}
