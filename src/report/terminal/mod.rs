//! A job's report for a terminal: verdict and sheets, findings worst first, what the job sets and
//! uses, what was not held and why, cautions.

mod candidates;
pub(super) mod finding;
pub(super) mod head;
mod names;
mod page;
mod qualify;
pub(super) mod rework;
pub(super) mod summary;
pub(super) mod survey;
mod uses;
pub(super) mod walls;

pub use candidates::{compare, find};
pub use head::title;
pub use page::page;
pub(crate) use qualify::NO_CERTIFICATE;
pub use qualify::{qualify, symptom};
pub use rework::rework;
pub use survey::survey;

use super::paint::{Look, Tone};
use super::{Checked, Failed, grouped};
use crate::text::clean;

/// The column in which entries begin.
const COLUMN: usize = 13;

/// The whole report on a job; with `pages`, each requirement's page below its findings.
#[must_use]
pub fn report(checked: &Checked, requirements: usize, pages: bool, look: &Look) -> String {
    let mut text = String::new();
    head::write(checked, requirements, look, &mut text);
    finding::all(checked, pages, look, &mut text);
    finding::remarks(checked, look, &mut text);
    uses::write(checked, look, &mut text);
    not_held(checked, requirements, look, &mut text);
    uses::cautions(checked, look, &mut text);
    text
}

/// One line: the verdict, the job, how many findings of which class.
#[must_use]
pub fn line(checked: &Checked, requirements: usize, look: &Look) -> String {
    head::verdict(checked, requirements, look)
}

/// Why a job could not be inspected, and what to do.
#[must_use]
pub fn failure(failed: &Failed, look: &Look) -> String {
    fault(&failed.message, Some(&failed.help), look)
}

/// An error without a place: what is wrong, and what to do.
#[must_use]
pub fn fault(message: &str, help: Option<&str>, look: &Look) -> String {
    let mut text = String::new();
    let error = (Tone::Bad, "error");
    look.entry(&mut text, error, 9, &clean(message.as_bytes()));
    if let Some(help) = help {
        look.entry(&mut text, (Tone::Note, "help"), 9, &clean(help.as_bytes()));
    }
    text
}

/// How many requirements were not held.
pub(in crate::report) fn not_held_count(checked: &Checked) -> u64 {
    let mut ids: Vec<&str> = checked
        .inspected
        .not_held
        .iter()
        .map(|left_out| left_out.requirement)
        .collect();
    ids.sort_unstable();
    ids.dedup();
    ids.len() as u64
}

/// What was not held by its reason, the reason for most of it first.
pub(in crate::report) fn by_reason(checked: &Checked) -> Vec<(&str, Vec<&str>)> {
    let mut reasons: Vec<(&str, Vec<&str>)> = Vec::new();
    for left_out in &checked.inspected.not_held {
        match reasons
            .iter_mut()
            .find(|(reason, _)| *reason == left_out.reason)
        {
            Some((_, of_reason)) => of_reason.push(left_out.requirement),
            None => reasons.push((&left_out.reason, vec![left_out.requirement])),
        }
    }
    reasons.sort_by_key(|(_, of_reason)| std::cmp::Reverse(of_reason.len()));
    reasons
}

/// What was not held, one entry a reason.
fn not_held(checked: &Checked, requirements: usize, look: &Look, into: &mut String) {
    let not_held = &checked.inspected.not_held;
    if not_held.is_empty() {
        return;
    }
    let heading = format!(
        "not held, {} of {} requirements",
        grouped(not_held_count(checked)),
        grouped(requirements as u64)
    );
    into.push_str(&format!("\n{}\n", look.paint(Tone::Bold, &heading)));
    for (reason, of_reason) in by_reason(checked) {
        let text = format!("{}: {}", clean(reason.as_bytes()), of_reason.join(", "));
        look.entry(into, (Tone::Dim, "·"), 4, &text);
    }
}
