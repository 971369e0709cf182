//! What a rework changes, line by line, and what it leaves alone.

use super::Traveler;
use super::html::{Html, sentence};
use super::shop::call;
use crate::edit::Hunk;
use crate::report::grouped;
use crate::report::reworked::{Changed, Reworked};
use crate::report::terminal::finding::whose;
use crate::report::terminal::rework::{changes, unified_lines};

/// Changes go on for so many bytes; the rest is counted (chosen: a page is to stay below 1 MB).
const ROOM: usize = 120_000;

/// The most lines of one stretch, and the most reasons (chosen: more than anybody compares on paper).
const LINES: usize = 160;
const REASONS: usize = 8;

/// The most entries of what is left alone (chosen).
const LEFT: usize = 40;

/// The section.
pub fn section(traveler: &Traveler, page: &mut Html) {
    let reworked = &traveler.reworked;
    page.section("rework", "What a rework changes", |page| {
        match &reworked.change {
            None if reworked.proposals.refusals.is_empty() => {
                page.put("p", "", "No finding is one that a rework answers.");
            }
            None => page.put("p", "", "Nothing could be put right in the file."),
            Some(change) => changed(traveler, change, page),
        }
        left_alone(reworked, page);
    });
}

fn changed(traveler: &Traveler, change: &Changed, page: &mut Html) {
    let reworked = &traveler.reworked;
    match &change.proof {
        Err(unproven) => {
            let text = format!(
                "A rework was tried and is not proven, so that nothing may be changed: {}.",
                unproven.0
            );
            page.put("p", "", &text);
            return;
        }
        Ok(proof) => {
            page.within("p", &[], |page| {
                page.put("code", "", &call(traveler, "rework"));
            });
            let text = format!(
                "{}. Proven to stay: the way of {} moves and every push of {} mm of filament.",
                sentence(&changes(reworked)).trim_end_matches('.'),
                grouped(proof.moves),
                crate::report::rounded(proof.pushed_mm, 2),
            );
            page.put("p", "", &text);
            if reworked.repairs() {
                page.put("p", "", "A repair is among them: the print is altered.");
            }
        }
    }
    if reworked.proposals.restate {
        let text = "Every line's number and checksum is stated anew where it does not fit.";
        page.put("p", "", text);
    }
    let begin = page.len();
    for (index, one) in change.hunks.iter().enumerate() {
        if page.len() - begin > ROOM {
            let left = (change.hunks.len() - index) as u64 + change.beyond;
            let text = format!(
                "{} more stretches have no room on this page: `meltgauge rework --diff` shows them.",
                grouped(left)
            );
            page.put("p", "", &text);
            return;
        }
        hunk(reworked, one, page);
    }
    if change.beyond > 0 {
        let text = format!("And {} more stretches.", grouped(change.beyond));
        page.put("p", "", &text);
    }
}

/// A stretch with its reasons; both may be long where every line of a job changes.
fn hunk(reworked: &Reworked, hunk: &Hunk, page: &mut Html) {
    let (head, lines) = unified_lines(hunk);
    let mut said: Vec<String> = Vec::new();
    let of_hunk = reworked.of_hunk(hunk);
    for index in of_hunk.iter().take(REASONS) {
        let Some(proposal) = reworked.proposals.list.get(*index) else {
            continue;
        };
        let limit = proposal
            .limit
            .as_ref()
            .map(|limit| format!("; limit {}", whose(limit)));
        let text = format!(
            "{}, for {}: {} → {}{}",
            proposal.rework,
            proposal.requirement,
            proposal.old,
            proposal.new,
            limit.unwrap_or_default()
        );
        if !said.contains(&text) {
            said.push(text);
        }
    }
    if let Some(more @ 1..) = of_hunk.len().checked_sub(REASONS) {
        said.push(format!("and {} more like these", grouped(more as u64)));
    }
    page.within("div", &[("class", "hunk")], |page| {
        page.within("ul", &[], |page| {
            for text in &said {
                page.put("li", "", text);
            }
        });
        let name = format!("changed lines {head}");
        let attributes = [
            ("tabindex", "0"),
            ("role", "region"),
            ("aria-label", name.as_str()),
        ];
        page.within("pre", &attributes, |page| {
            page.put("span", "head", &head);
            page.newline();
            for (mark, bytes) in lines.iter().take(LINES) {
                let body = bytes.strip_suffix(b"\n").unwrap_or(bytes);
                let body = body.strip_suffix(b"\r").unwrap_or(body);
                let text = format!("{mark}{}", crate::text::clean(body));
                match mark {
                    '-' => page.put("del", "", &text),
                    '+' => page.put("ins", "", &text),
                    _ => page.say(&text),
                }
                page.newline();
            }
            if let Some(more @ 1..) = lines.len().checked_sub(LINES) {
                let text = format!(
                    "… {} more lines have no room on this page",
                    grouped(more as u64)
                );
                page.put("span", "head", &text);
                page.newline();
            }
        });
    });
}

fn left_alone(reworked: &Reworked, page: &mut Html) {
    let refusals = &reworked.proposals.refusals;
    if refusals.is_empty() {
        return;
    }
    page.put("h3", "", "Left alone");
    page.within("ul", &[], |page| {
        let mut by_reason: Vec<(&str, Vec<&str>)> = Vec::new();
        for refusal in refusals {
            let reason = &*refusal.reason;
            match by_reason.iter_mut().find(|(known, _)| *known == reason) {
                Some((_, of)) if of.contains(&refusal.requirement) => {}
                Some((_, of)) => of.push(refusal.requirement),
                None => by_reason.push((reason, vec![refusal.requirement])),
            }
        }
        for (reason, of) in by_reason.iter().take(LEFT) {
            page.put("li", "", &format!("For {}: {reason}.", of.join(", ")));
        }
        if let Some(more @ 1..) = by_reason.len().checked_sub(LEFT) {
            page.put("li", "", &format!("and {} more", grouped(more as u64)));
        }
    });
}
