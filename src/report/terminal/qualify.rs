//! An answer for a terminal: the verdict, then every point with its two values, worst first.

use super::COLUMN;
use crate::finding::SourceMark;
use crate::qualify::symptom::{Likely, Symptom};
use crate::qualify::{Point, Side, Standing, Verdict};
use crate::report::paint::{Look, Tone};
use crate::report::qualified::Qualified;
use crate::report::{figure_of, rounded};
use crate::text::clean;

/// The column in which what is said of a point begins.
const POINT: usize = 21;

/// The whole answer.
#[must_use]
pub fn qualify(qualified: &Qualified<'_>, look: &Look) -> String {
    let (question, answer) = (&qualified.question, qualified.answer);
    let mut text = String::new();
    let (tone, verdict) = verdict(answer.verdict);
    let on = question
        .machine
        .map_or_else(String::new, |machine| format!(" on {}", machine.name));
    let title = format!("{}{on}", question.material.name);
    text.push_str(&format!(
        "{}  {}\n\n",
        look.paint(tone, verdict),
        clean(title.as_bytes())
    ));
    let mut head = |label: &str, entry: &str| {
        look.entry(
            &mut text,
            (Tone::Dim, label),
            COLUMN,
            &clean(entry.as_bytes()),
        );
    };
    head(
        "material",
        &format!("{} ({})", question.material.name, question.material.origin),
    );
    match question.machine {
        Some(machine) => head("machine", &format!("{} ({})", machine.name, machine.origin)),
        None => head(
            "machine",
            "none named: only the material and its use are looked at",
        ),
    }
    if let crate::sheet::Origin::File(file) = &question.application.origin {
        head("use", &format!("{} ({file})", question.application.name));
    }
    for standing in Standing::ALL {
        let mut points = answer.standing(standing).peekable();
        if points.peek().is_none() {
            continue;
        }
        let (tone, heading) = heading(standing);
        text.push_str(&format!("\n{}\n", look.paint(tone, heading)));
        for one in points {
            point(one, look, &mut text);
        }
    }
    text.push('\n');
    for caution in &answer.cautions {
        look.entry(
            &mut text,
            (Tone::Doubt, "caution"),
            COLUMN,
            &clean(caution.as_bytes()),
        );
    }
    look.entry(&mut text, (Tone::Doubt, "caution"), COLUMN, NO_CERTIFICATE);
    text
}

/// The causes that the evidence speaks for, likeliest first.
#[must_use]
pub fn symptom(
    qualified: &Qualified<'_>,
    symptom: Symptom,
    causes: &[Likely],
    look: &Look,
) -> String {
    let question = &qualified.question;
    let on = question
        .machine
        .map_or_else(String::new, |machine| format!(" on {}", machine.name));
    let title = format!(
        "{} of {}{on}",
        symptom.word().replace('-', " "),
        question.material.name
    );
    let mut text = format!("{}\n\n", look.paint(Tone::Bold, &clean(title.as_bytes())));
    if causes.is_empty() {
        let usual: Vec<&str> = symptom.causes().iter().map(|cause| cause.says()).collect();
        let say = format!(
            "neither the job nor the sheets show evidence of a cause. What usually brings it about, most frequent first \
             (common practice, no source): {}",
            usual.join("; ")
        );
        look.entry(&mut text, (Tone::Note, "no evidence"), 16, &say);
    }
    for (index, likely) in causes.iter().enumerate() {
        look.entry(
            &mut text,
            (Tone::Bold, &format!("{}.", index + 1)),
            6,
            likely.cause.says(),
        );
        for sign in &likely.evidence {
            let say = format!("{} ({})", sign.says, sign.id);
            look.entry(
                &mut text,
                (Tone::Dim, "    seen"),
                12,
                &clean(say.as_bytes()),
            );
        }
        look.entry(&mut text, (Tone::Note, "    try"), 12, likely.cause.next());
    }
    text.push('\n');
    for caution in &qualified.answer.cautions {
        look.entry(
            &mut text,
            (Tone::Doubt, "caution"),
            COLUMN,
            &clean(caution.as_bytes()),
        );
    }
    look.entry(&mut text, (Tone::Doubt, "caution"), COLUMN, NO_CERTIFICATE);
    text
}

/// What stands at the end of every answer.
pub(crate) const NO_CERTIFICATE: &str = "This answer compares figures and is no certificate: local rules, the makers' instructions \
     and the data sheet of the spool at hand come first.";

pub(super) const fn verdict(verdict: Verdict) -> (Tone, &'static str) {
    match verdict {
        Verdict::Suits => (Tone::Good, "suits, as far as the sheets say"),
        Verdict::SuitsWithChanges => (Tone::Doubt, "suits with changes"),
        Verdict::NothingHeld => (
            Tone::Note,
            "nothing to hold it against: name a machine or a use",
        ),
        Verdict::Open => (Tone::Doubt, "open: a sheet does not say what decides it"),
        Verdict::DoesNotSuit => (Tone::Bad, "does not suit"),
    }
}

const fn heading(standing: Standing) -> (Tone, &'static str) {
    match standing {
        Standing::Stops => (Tone::Bad, "stops it"),
        Standing::Change => (Tone::Doubt, "to be changed"),
        Standing::Trial => (Tone::Doubt, "to be tried first"),
        Standing::Unknown => (Tone::Note, "not said"),
        Standing::Told => (Tone::Bold, "to know"),
        Standing::Fits => (Tone::Good, "fits"),
    }
}

fn point(point: &Point, look: &Look, into: &mut String) {
    let mut label = Some(point.id);
    let mut line = |tone: Tone, said: &str| {
        let said = clean(said.as_bytes());
        match label.take() {
            Some(id) => look.entry(into, (Tone::Plain, id), POINT, &said),
            None => {
                let room = look.width.saturating_sub(POINT).max(20);
                for line in crate::report::paint::wrap(&said, room) {
                    into.push_str(&format!(
                        "{}{}\n",
                        " ".repeat(POINT),
                        look.paint(tone, &line)
                    ));
                }
            }
        }
    };
    // What is only told says its values itself.
    if let Some(values) = values(point).filter(|_| point.standing != Standing::Told) {
        line(Tone::Plain, &values);
    }
    line(Tone::Plain, &point.says);
    if let Some(action) = &point.action {
        line(Tone::Note, &format!("→ {action}"));
    }
    let mut whose: Vec<String> = [&point.needs, &point.has]
        .into_iter()
        .flatten()
        .map(whose)
        .collect();
    whose.dedup();
    if !whose.is_empty() {
        line(Tone::Dim, &format!("({})", whose.join("; ")));
    }
}

/// The two values beside each other, with the margin.
fn values(point: &Point) -> Option<String> {
    let mut text = match (&point.needs, &point.has) {
        (Some(needs), Some(has)) => format!("wants {}, has {}", needs.text, has.text),
        (Some(needs), None) => format!("wants {}", needs.text),
        (None, Some(has)) => format!("has {}", has.text),
        (None, None) => return None,
    };
    if let Some(margin) = &point.margin {
        text.push_str(&format!(
            "; margin {} {}",
            rounded(margin.value, if margin.value.abs() < 1.0 { 2 } else { 1 }),
            margin.unit
        ));
        if let Some(percent) = margin.percent {
            text.push_str(&format!(" ({} % of the limit)", rounded(percent, 1)));
        }
    }
    Some(text)
}

/// Whose a value is: the sheet and key, and how far it can be trusted.
fn whose(side: &Side) -> String {
    match side.mark {
        None => side.whose.clone(),
        Some(SourceMark::Chosen) if side.source.is_none() => format!("{}: chosen", side.whose),
        Some(mark) => format!(
            "{}: {}",
            side.whose,
            figure_of(side.source.as_deref(), mark)
        ),
    }
}
