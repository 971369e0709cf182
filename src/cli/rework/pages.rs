//! The reworks as a list, and the page of one.

use crate::cli::Fault;
use crate::cli::console::Console;
use crate::cli::near::near;
use crate::inspection::page::section;
use crate::report::paint::{Look, Tone};
use crate::report::terminal;
use crate::rework::{REWORKS, Rework, rework};

/// The rework with this id, or which ones are near.
pub(super) fn find(id: &str, look: &Look) -> Result<&'static Rework, Fault> {
    if let Some(known) = rework(id) {
        return Ok(known);
    }
    let near = near(id, REWORKS.iter().map(|rework| rework.id));
    let shown: String = id.chars().take(60).collect();
    let list = "list them with `meltgauge rework --list`";
    let help = if near.is_empty() {
        list.to_owned()
    } else {
        let near: Vec<String> = near.iter().map(|id| format!("`{id}`")).collect();
        format!("did you mean {}? {list}", near.join(" or "))
    };
    let message = format!("there is no rework `{shown}`");
    Err(Fault(terminal::fault(&message, Some(&help), look)))
}

/// Every rework with what it changes and which findings it answers.
pub(super) fn list(console: &Console) -> String {
    let look = &console.out;
    let wide = REWORKS
        .iter()
        .map(|rework| rework.id.len())
        .max()
        .unwrap_or_default();
    let mut text = String::new();
    for rework in REWORKS {
        let words = section(rework.page, "What it changes").unwrap_or_default();
        let line = words.split_whitespace().collect::<Vec<_>>().join(" ");
        let end = line.find(". ").unwrap_or(line.len());
        let summary = line.get(..end).unwrap_or_default().replace('`', "");
        let summary = summary.trim_end_matches('.');
        let answers = rework.answers.join(", ");
        let repair = if rework.is_repair {
            "; alters the print, only with --repair"
        } else {
            ""
        };
        look.entry(&mut text, (Tone::Bold, rework.id), wide + 4, summary);
        look.entry(
            &mut text,
            (Tone::Dim, ""),
            wide + 4,
            &format!("for {answers}{repair}"),
        );
    }
    text
}

/// The page of one.
pub(super) fn page(id: &str, console: &Console) -> Result<String, Fault> {
    let page = find(id, &console.err)?.page;
    Ok(terminal::page(page, &console.out, console.is_terminal))
}
