//! Names that marks give to objects, against the objects that motion shows, for a terminal.

use crate::report::paint::cut;
use crate::report::{grouped, rounded};
use crate::survey::{NameFigures, ObjectFigures, WallFigures};
use crate::text::clean;

/// Letters of a name that are shown (chosen).
const LETTERS: usize = 40;

/// Objects of one name, names of one object, and differences that are told, at most (chosen).
const LISTED: usize = 4;

/// So much of an object without a name is what seams and corners come to (chosen).
const UNNAMED_FROM: f64 = 0.02;

/// A name as it is shown.
fn shown(name: &NameFigures) -> String {
    format!("“{}”", cut(&clean(&name.name), LETTERS))
}

/// `1, 2 and 3`, and how many more.
fn listed(words: &[String]) -> String {
    let (told, left) = words.split_at(words.len().min(LISTED));
    match (told, left.len()) {
        ([], _) => String::new(),
        ([one], 0) => one.clone(),
        ([first @ .., last], 0) => format!("{} and {last}", first.join(", ")),
        (_, left) => format!("{} and {} more", told.join(", "), grouped(left as u64)),
    }
}

/// The names of one object, to stand behind what else is told of it.
pub(super) fn of_object(object: &ObjectFigures, figures: &WallFigures) -> Option<String> {
    let names = figures.names.as_ref().ok()?;
    let own = object.names.iter().filter_map(|(at, _)| names.get(*at));
    let own: Vec<String> = own.map(shown).collect();
    (!own.is_empty()).then(|| format!("named {}", listed(&own)))
}

/// How names and objects compare; none where no mark names an object.
pub(super) fn entry(figures: &WallFigures) -> Option<String> {
    let names = figures.names.as_ref().ok()?;
    let count = |count: usize, word: &str| {
        let plural = if count == 1 { "" } else { "s" };
        format!("{} {word}{plural}", grouped(count as u64))
    };
    let marked = |name: &NameFigures| {
        let [first, last] = name.lines.map(grouped);
        format!("{} (lines\u{a0}{first} to {last})", shown(name))
    };
    let mut text = format!(
        "{} for {} by motion: {}",
        count(names.len(), "name"),
        count(figures.objects.len(), "object"),
        listed(&names.iter().map(marked).collect::<Vec<_>>())
    );
    let differences = differences(names, &figures.objects);
    if differences.is_empty() && names.len() > 1 {
        text += "; each names one of them";
    }
    for difference in differences.iter().take(LISTED) {
        text += "; ";
        text += difference;
    }
    if differences.len() > LISTED {
        text += "; the record has the rest";
    }
    Some(text)
}

/// Where names and objects are not one to one. None of it is a fault by itself.
fn differences(names: &[NameFigures], objects: &[ObjectFigures]) -> Vec<String> {
    let number = |index: &usize| (index + 1).to_string();
    let mut told = Vec::new();
    for (index, object) in objects.iter().enumerate() {
        let own = object.names.iter().filter_map(|(at, _)| names.get(*at));
        let own: Vec<String> = own.map(shown).collect();
        if own.len() > 1 {
            told.push(format!(
                "object {} is one body with {} names, {}",
                index + 1,
                own.len(),
                listed(&own)
            ));
        }
        let named: f64 = object.names.iter().map(|(_, volume)| volume).sum();
        let unnamed = 1.0 - named / object.volume;
        if own.is_empty() {
            told.push(format!("object {} has no name", index + 1));
        } else if unnamed >= UNNAMED_FROM {
            let share = rounded(unnamed * 100.0, 0);
            told.push(format!("{share} % of object {} has no name", index + 1));
        }
    }
    for name in names {
        if name.objects.len() > 1 {
            let objects: Vec<String> = name.objects.iter().map(number).collect();
            told.push(format!(
                "{} names objects {}, which do not touch each other",
                shown(name),
                listed(&objects)
            ));
        } else if name.objects.is_empty() {
            told.push(format!("nothing of the part is laid for {}", shown(name)));
        }
    }
    told
}
