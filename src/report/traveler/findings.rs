//! Every finding: extent, the very lines, whose limit, what to do.

use super::Traveler;
use super::head::badge;
use super::html::{Html, sentence};
use crate::finding::{Class, Excerpt, Finding};
use crate::report::terminal::finding::{RELATED, extent, granted, places, whose};
use crate::report::{Checked, grouped};
use crate::text::clean_with_span;

/// Findings go on for so many bytes; the rest is counted (chosen: a page is to stay below 1 MB).
const ROOM: usize = 200_000;

/// The most findings that are told together (chosen).
const ALIKE: usize = 12;

/// Characters shown on either side of the words in question (chosen: a line of paper).
const AROUND: usize = 90;

/// The findings, worst first.
pub fn section(traveler: &Traveler, page: &mut Html) {
    let checked = traveler.checked();
    let findings = &checked.inspected.findings;
    page.section("findings", "Findings", |page| {
        if findings.is_empty() {
            page.put("p", "", "Nothing was found.");
            return;
        }
        let begin = page.len();
        let mut index = 0;
        for alike in findings.chunk_by(is_alike) {
            if page.len() - begin > ROOM {
                let text = format!(
                    "{} more findings, none worse than these, have no room on this page: `meltgauge inspect` \
                     lists them.",
                    grouped((findings.len() - index) as u64)
                );
                page.put("p", "", &text);
                break;
            }
            one(checked, index, alike, page);
            index += alike.len();
        }
    });
}

/// Whether two findings differ in nothing but what they are about, so that they are told together.
fn is_alike(one: &Finding, other: &Finding) -> bool {
    one.class == Class::Observation
        && one.requirement == other.requirement
        && one.class == other.class
        && one.help == other.help
}

/// Findings that are alike, nearly always one: the first of them is the one at `index`.
fn one(checked: &Checked, index: usize, alike: &[Finding], page: &mut Html) {
    let Some(finding) = alike.first() else { return };
    let conceded = checked
        .settlement
        .conceded(index)
        .and_then(|at| checked.concessions.get(at));
    let class = finding.class.word();
    let attributes = [("class", "finding"), ("data-class", class)];
    page.within("article", &attributes, |page| {
        page.within("h3", &[], |page| {
            badge(finding.class, page);
            page.say(" ");
            page.say(finding.requirement);
        });
        for finding in alike.iter().take(ALIKE) {
            page.put("p", "message", &sentence(&finding.message));
            lines(finding, page);
        }
        if let Some(more @ 1..) = alike.len().checked_sub(ALIKE) {
            let text = format!("And {} more like these.", grouped(more as u64));
            page.put("p", "", &text);
        }
        let mut entries: Vec<(&str, String)> = Vec::new();
        if let Some(limit) = &finding.limit {
            entries.push(("Limit", whose(limit)));
        }
        if let Some(extent) = extent(&finding.extent).filter(|_| alike.len() == 1) {
            entries.push(("Where", extent));
        }
        if !finding.help.is_empty() {
            entries.push(("What to do", sentence(&finding.help)));
        }
        if let Some(concession) = conceded {
            entries.push(("Permitted by", granted(concession)));
        } else if finding.class >= checked.hold_from && finding.class > Class::Observation {
            entries.push(("So", "the job is held".to_owned()));
        }
        page.entries(entries);
    });
}

/// The lines at which a finding shows.
fn lines(finding: &Finding, page: &mut Html) {
    let unit = finding.limit.as_ref().map_or("", |limit| limit.unit);
    let shown = places(&finding.extent, unit);
    if shown.is_empty() && finding.related.is_empty() {
        return;
    }
    page.within("ul", &[("class", "lines")], |page| {
        for (at, words) in &shown {
            line(at, words.as_deref(), page);
        }
        for (at, words) in finding.related.iter().take(RELATED) {
            line(at, Some(words), page);
        }
    });
}

/// A line of the job, its words in question marked.
fn line(excerpt: &Excerpt, words: Option<&str>, page: &mut Html) {
    let (text, span) = clean_with_span(&excerpt.text, excerpt.span());
    let before = text.get(..span.start).unwrap_or_default();
    let marked = text.get(span.clone()).unwrap_or_default();
    let after = text.get(span.end..).unwrap_or_default();
    let head: String = {
        let skipped = before.chars().count().saturating_sub(AROUND);
        before.chars().skip(skipped).collect()
    };
    let is_cut_front = excerpt.clipped_front || head.len() < before.len();
    let body: String = marked.chars().take(AROUND * 2).collect();
    let tail: String = after.chars().take(AROUND).collect();
    let is_cut_back = excerpt.clipped_back || tail.len() < after.len() || body.len() < marked.len();
    page.within("li", &[], |page| {
        page.put(
            "span",
            "number",
            &format!("line {}", grouped(excerpt.place.line)),
        );
        page.within("code", &[], |page| {
            if is_cut_front {
                page.say("… ");
            }
            page.say(&head);
            page.put("mark", "", &body);
            if body.len() == marked.len() {
                page.say(&tail);
            }
            if is_cut_back {
                page.say(" … (cut)");
            }
        });
        if let Some(words) = words {
            page.put("span", "words", words);
        }
    });
}
