//! A short answer in sentences, to be pasted to the person who asked.
//!
//! It says what the points say and no more; every figure comes from them.

use super::figure_of;
use super::qualified::Qualified;
use super::terminal::NO_CERTIFICATE;
use crate::qualify::{Point, Side, Standing, Verdict};
use crate::text::clean;

/// What is only told belongs into a reply where it was asked.
const ASKED: &[&str] = &[
    "batch",
    "spool",
    "changeover",
    "finishing",
    "exposure-in-room",
    "melt-rate",
    "strength",
    "water-in-use",
];

/// The reply: paragraphs, each on one line, with blank lines between.
#[must_use]
pub fn reply(qualified: &Qualified<'_>) -> String {
    let answer = qualified.answer;
    let mut paragraphs = vec![opening(qualified)];
    for (standing, begin) in [
        (Standing::Change, "What has to change"),
        (Standing::Trial, "What to try first"),
    ] {
        let said: Vec<String> = answer.standing(standing).map(sentences).collect();
        if !said.is_empty() {
            paragraphs.push(format!("{begin}: {}", said.join(" ")));
        }
    }
    let told: Vec<String> = answer
        .standing(Standing::Told)
        .filter(|point| ASKED.contains(&point.id))
        .map(sentences)
        .collect();
    if !told.is_empty() {
        paragraphs.push(format!("To know: {}", told.join(" ")));
    }
    let fits: Vec<String> = answer
        .standing(Standing::Fits)
        .filter_map(fitting)
        .collect();
    if !fits.is_empty() {
        paragraphs.push(format!("What fits: {}.", fits.join("; ")));
    }
    let unsaid: Vec<String> = answer
        .standing(Standing::Unknown)
        .map(|point| capital(&point.says))
        .collect();
    if !unsaid.is_empty() {
        paragraphs.push(format!("Not known: {}.", unsaid.join(". ")));
    }
    let sources = sources(qualified);
    if !sources.is_empty() {
        paragraphs.push(format!("Whose figures: {sources}."));
    }
    paragraphs.push(format!(
        "Take care: {} {NO_CERTIFICATE}",
        answer.cautions.join(" ")
    ));
    let text = paragraphs.join("\n\n");
    let mut cleaned: Vec<String> = text
        .split('\n')
        .map(|line| clean(line.as_bytes()).into_owned())
        .collect();
    cleaned.push(String::new());
    cleaned.join("\n")
}

fn opening(qualified: &Qualified<'_>) -> String {
    let (question, answer) = (&qualified.question, qualified.answer);
    let name = &question.material.name;
    let what = match question.machine {
        Some(machine) if machine.name == crate::qualify::AS_ASKED => {
            format!("{name} on that machine")
        }
        Some(machine) => format!("{name} on {}", machine.name),
        None => name.clone(),
    };
    let stops: Vec<String> = answer.standing(Standing::Stops).map(sentences).collect();
    match answer.verdict {
        Verdict::Suits => format!("Yes, as far as the sheets say: {what} suits."),
        Verdict::SuitsWithChanges => format!("Yes, with changes: {what}."),
        Verdict::NothingHeld => {
            format!("What the sheet says of {name}, held against no machine and no use:")
        }
        Verdict::Open => {
            format!("That cannot be told yet: {what}, for a sheet does not say what decides it.")
        }
        Verdict::DoesNotSuit => format!("No: {what} does not suit. {}", stops.join(" ")),
    }
}

/// What a point says and asks to be done, as sentences, the two values before them.
fn sentences(point: &Point) -> String {
    let mut text = match (&point.needs, &point.has) {
        (Some(needs), Some(has)) if point.standing != Standing::Told => {
            format!(
                "{} wants {}, has {}: {}.",
                named(point.id),
                needs.text,
                has.text,
                point.says
            )
        }
        _ => format!("{}.", capital(&point.says)),
    };
    if let Some(action) = &point.action {
        text.push_str(&format!(" {}.", capital(action)));
    }
    text
}

fn fitting(point: &Point) -> Option<String> {
    let (needs, has) = (point.needs.as_ref()?, point.has.as_ref()?);
    Some(format!(
        "{} (wants {}, has {})",
        named(point.id).to_lowercase(),
        needs.text,
        has.text
    ))
}

fn named(id: &str) -> String {
    capital(&id.replace('-', " "))
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// The sheets, each with how far its figures can be trusted, once.
fn sources(qualified: &Qualified<'_>) -> String {
    let mut said: Vec<String> = Vec::new();
    let sides = qualified
        .answer
        .points
        .iter()
        .filter(|point| point.standing != Standing::Told || ASKED.contains(&point.id))
        .flat_map(|point| [&point.needs, &point.has])
        .flatten();
    for side in sides {
        if let Some(source) = source(side)
            && !said.contains(&source)
        {
            said.push(source);
        }
    }
    said.join("; ")
}

fn source(side: &Side) -> Option<String> {
    let mark = side.mark?;
    let sheet = side.whose.split(',').next().unwrap_or_default();
    Some(format!(
        "{sheet}: {}",
        figure_of(side.source.as_deref(), mark)
    ))
}
