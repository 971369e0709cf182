//! One finding: its message over the very line, the limit and whose figure it is, what to do.

use super::head::title;
use crate::concession::{Concession, Remark};
use crate::finding::{Excerpt, Extent, Limit};
use crate::inspection::requirement;
use crate::report::paint::{Look, Tone, cut};
use crate::report::shown::Shown;
use crate::report::{Checked, figure_of, grouped, tidy};
use crate::text::clean;
use std::ops::Range;

/// The column in which entries below a finding begin.
const COLUMN: usize = 10;

/// The most related places that are shown.
pub(in crate::report) const RELATED: usize = 3;

/// Requirements that have one finding a word, and what all of them say.
const FAMILIES: [(&str, &str); 2] = [
    (
        "control-lacks-word",
        "the job uses words that the control lacks",
    ),
    ("unknown-word", "the job uses words that are not known here"),
];

/// Every finding, worst first; those of one family in one block. With `pages`, below the last finding of
/// each requirement its page.
pub(super) fn all(checked: &Checked, pages: bool, look: &Look, into: &mut String) {
    let findings = &checked.inspected.findings;
    let mut index = 0;
    while let Some(finding) = findings.get(index) {
        let family = FAMILIES.iter().find(|(id, _)| *id == finding.requirement);
        let conceded = checked.settlement.conceded(index);
        let alike = findings
            .iter()
            .enumerate()
            .skip(index)
            .take_while(|(at, other)| {
                other.requirement == finding.requirement
                    && other.class == finding.class
                    && checked.settlement.conceded(*at) == conceded
            })
            .count();
        match family {
            Some((_, says)) if alike > 1 => {
                self::family(checked, index..index + alike, says, look, into);
                index += alike;
            }
            _ => {
                write(checked, index, look, into);
                index += 1;
            }
        }
        let goes_on = findings.get(index).map(|next| next.requirement) == Some(finding.requirement);
        if pages
            && !goes_on
            && let Some(requirement) = requirement(finding.requirement)
        {
            into.push('\n');
            for line in super::page(requirement.page, &narrower(look), true).lines() {
                into.push_str(format!("    {line}").trim_end());
                into.push('\n');
            }
        }
    }
}

/// The look of what is set four columns further in.
fn narrower(look: &Look) -> Look {
    Look {
        width: look.width.saturating_sub(4),
        ..*look
    }
}

/// The column in which a family's places begin, at most.
const FAMILY_COLUMN: usize = 34;

/// Findings of one requirement, one a word: a line for each.
fn family(checked: &Checked, of: Range<usize>, says: &str, look: &Look, into: &mut String) {
    let findings = checked
        .inspected
        .findings
        .get(of.clone())
        .unwrap_or_default();
    let Some(one) = findings.first() else {
        return;
    };
    let conceded = head(checked, of.start, look, into);
    into.push_str(&Shown::new(says, one.class, look.width).render(look));
    let entries: Vec<(String, String)> = findings
        .iter()
        .map(|finding| {
            let first = finding.extent.first.as_ref();
            let word = first.map_or_else(String::new, |first| {
                let word = first.text.get(first.span()).unwrap_or_default();
                cut(&clean(word), look.width / 2)
            });
            let line = first.map_or(0, |first| first.place.line);
            let count = finding.extent.count;
            let place = match count {
                0 | 1 => format!("on line {}", grouped(line)),
                _ => format!("{} times, first on line {}", grouped(count), grouped(line)),
            };
            // What it says of its word beyond how often it stands there.
            let message = clean(finding.message.as_bytes());
            match message.split_once(", but ") {
                _ if !message
                    .to_ascii_uppercase()
                    .starts_with(&word.to_ascii_uppercase()) =>
                {
                    (String::new(), format!("{message}; {place}"))
                }
                Some((_, but)) => (word, format!("{place}; {but}")),
                None => (word, place),
            }
        })
        .collect();
    let wide = entries.iter().map(|(word, _)| word.chars().count() + 4);
    let most = FAMILY_COLUMN.min(look.width / 2);
    let column = wide.filter(|wide| *wide <= most).max().unwrap_or(COLUMN);
    for (word, place) in &entries {
        if word.chars().count() + 4 > column {
            into.push_str(&format!("  {}\n", look.paint(Tone::Bold, word)));
            look.entry(into, (Tone::Plain, ""), column, place);
        } else {
            look.entry(into, (Tone::Bold, word), column, place);
        }
    }
    tail(&one.help, conceded, look, into);
}

fn write(checked: &Checked, index: usize, look: &Look, into: &mut String) {
    let Some(finding) = checked.inspected.findings.get(index) else {
        return;
    };
    let conceded = head(checked, index, look, into);
    let mut shown = Shown::new(&finding.message, finding.class, look.width);
    let name = title(&checked.name);
    let unit = finding.limit.as_ref().map_or("", |limit| limit.unit);
    for (excerpt, words) in places(&finding.extent, unit) {
        shown.show(&name, excerpt, words.as_deref());
    }
    for (excerpt, words) in finding.related.iter().take(RELATED) {
        shown.show(&name, excerpt, Some(words));
    }
    into.push_str(&shown.render(look));
    if let Some(limit) = &finding.limit {
        look.entry(into, (Tone::Dim, "limit:"), COLUMN, &whose(limit));
    }
    if let Some(extent) = extent(&finding.extent) {
        look.entry(into, (Tone::Dim, "where:"), COLUMN, &extent);
    }
    if finding.related.len() > RELATED {
        let more = format!(
            "and {} more related places",
            finding.related.len() - RELATED
        );
        look.entry(into, (Tone::Dim, ""), COLUMN, &more);
    }
    tail(&finding.help, conceded, look, into);
}

/// Class and requirement; gives the concession that covers the finding.
fn head<'a>(
    checked: &'a Checked,
    index: usize,
    look: &Look,
    into: &mut String,
) -> Option<&'a Concession> {
    let finding = checked.inspected.findings.get(index)?;
    let conceded = checked
        .settlement
        .conceded(index)
        .and_then(|at| checked.concessions.get(at));
    let class = look.paint(Tone::of(finding.class), finding.class.word());
    let id = look.paint(Tone::Bold, finding.requirement);
    let covered = if conceded.is_some() {
        look.paint(Tone::Doubt, ", covered by a concession")
    } else {
        String::new()
    };
    into.push_str(&format!("\n{class}  {id}{covered}\n"));
    conceded
}

/// What to do, and who conceded it.
fn tail(help: &str, conceded: Option<&Concession>, look: &Look, into: &mut String) {
    if !help.is_empty() {
        look.entry(into, (Tone::Note, "help:"), COLUMN, &clean(help.as_bytes()));
    }
    if let Some(concession) = conceded {
        look.entry(into, (Tone::Doubt, "by:"), COLUMN, &granted(concession));
    }
}

/// The first place and the worst, where that is another.
pub(in crate::report) fn places<'a>(
    extent: &'a Extent,
    unit: &str,
) -> Vec<(&'a Excerpt, Option<String>)> {
    let worst = extent.worst.as_ref().filter(|worst| worst.badness > 0.0);
    // Without a unit it is a count or a word, which the message says better.
    let amount = |amount: f64| {
        if unit.is_empty() {
            "worst".to_owned()
        } else {
            format!("worst: {} {unit}", tidy(amount))
        }
    };
    match (&extent.first, worst) {
        (Some(first), Some(worst)) if worst.at.place != first.place => {
            vec![
                (first, Some("first".to_owned())),
                (&worst.at, Some(amount(worst.amount))),
            ]
        }
        (Some(first), Some(worst)) if extent.count > 1 => {
            let words = format!("first, and {}", amount(worst.amount));
            vec![(first, Some(words))]
        }
        (Some(first), None) if extent.count > 1 => vec![(first, Some("first".to_owned()))],
        (Some(first), _) => vec![(first, None)],
        (None, Some(worst)) => vec![(&worst.at, Some(amount(worst.amount)))],
        (None, None) => Vec::new(),
    }
}

/// How often and where; nothing to say where the shown line is the only one.
pub(in crate::report) fn extent(extent: &Extent) -> Option<String> {
    match (extent.count, &extent.first, &extent.last) {
        (0, None, _) => Some("the job as a whole".to_owned()),
        (0 | 1, _, _) => None,
        (count, Some(first), Some(last)) => {
            let (from, to) = (first.place.line, last.place.line);
            let many = format!("{} {}", grouped(count), extent.counts.word());
            Some(if from == to {
                format!("{many} on line {}", grouped(from))
            } else {
                format!(
                    "{many}, from line {} to line {}",
                    grouped(from),
                    grouped(to)
                )
            })
        }
        (count, _, _) => Some(format!("{} {}", grouped(count), extent.counts.word())),
    }
}

/// The figure and whose it is.
pub(in crate::report) fn whose(limit: &Limit) -> String {
    let mark = figure_of(limit.source.as_deref(), limit.mark);
    let text = if limit.unit.is_empty() {
        // A count or a word: the message has it.
        format!("{}; {mark}", limit.whose)
    } else {
        format!(
            "{} {}: {}; {mark}",
            tidy(limit.value),
            limit.unit,
            limit.whose
        )
    };
    clean(text.as_bytes()).into_owned()
}

pub(in crate::report) fn granted(concession: &Concession) -> String {
    let mut text = format!("{}: {}", concession.by, concession.reason);
    if let Some(bound) = &concession.bound {
        text.push_str(&format!("; as far as {bound}"));
    }
    if let Some(until) = &concession.until {
        text.push_str(&format!("; until {until}"));
    }
    clean(text.as_bytes()).into_owned()
}

/// Remarks on concessions.
pub(super) fn remarks(checked: &Checked, look: &Look, into: &mut String) {
    if checked.settlement.remarks.is_empty() {
        return;
    }
    into.push_str(&format!("\n{}\n", look.paint(Tone::Bold, "concessions")));
    for remarked in &checked.settlement.remarks {
        let Some(concession) = checked.concessions.get(remarked.concession) else {
            continue;
        };
        let tone = if remarked.remark == Remark::Unused {
            Tone::Dim
        } else {
            Tone::Doubt
        };
        let text = format!(
            "{} by {}: {}",
            concession.requirement, concession.by, remarked.remark
        );
        look.entry(into, (tone, "·"), 4, &clean(text.as_bytes()));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::{Counts, SourceMark, Tally};

    fn at(line: u64) -> Excerpt {
        Excerpt::new(line, line * 20, b"G1 X60 E2 F1860", 10..15)
    }

    #[test]
    fn the_first_and_the_worst_are_shown() {
        let mut tally = Tally::default();
        tally.note(1.0, 31.0, &at(8));
        let once = tally.clone().close(Counts::Strokes);
        assert_eq!(places(&once, "mm/s").len(), 1);
        assert_eq!(extent(&once), None);
        tally.note(9.0, 39.04, &at(9));
        tally.note(2.0, 32.0, &at(1200));
        let thrice = tally.close(Counts::Strokes);
        let shown = places(&thrice, "mm/s");
        assert_eq!(shown[1].1.as_deref(), Some("worst: 39.04 mm/s"));
        assert_eq!(shown[1].0.place.line, 9);
        assert_eq!(
            extent(&thrice).as_deref(),
            Some("3 strokes, from line 8 to line 1,200")
        );
    }

    #[test]
    fn a_limit_says_whose_figure_it_is() {
        let mut limit = Limit {
            value: 30.0,
            unit: "mm/s",
            whose: "material sheet PLA, first_layer.speed_most".to_owned(),
            source: None,
            mark: SourceMark::Practice,
        };
        assert_eq!(
            whose(&limit),
            "30 mm/s: material sheet PLA, first_layer.speed_most; common practice, no source"
        );
        limit.source = Some("a handbook".to_owned());
        limit.mark = SourceMark::Published;
        assert!(whose(&limit).ends_with("; a handbook (published)"));
        limit.unit = "";
        assert_eq!(
            whose(&limit),
            "material sheet PLA, first_layer.speed_most; a handbook (published)"
        );
    }

    #[test]
    fn a_finding_on_the_whole_job_says_so() {
        assert_eq!(
            extent(&Extent::whole_job()).as_deref(),
            Some("the job as a whole")
        );
    }
}
