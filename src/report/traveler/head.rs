//! What comes first: whether to print, why, and what to change.

use super::Traveler;
use super::html::{Html, sentence};
use super::shop::call;
use crate::concession::Verdict;
use crate::finding::{Class, Finding};
use crate::inspection::REGISTER;
use crate::report::reworked::Reworked;
use crate::report::terminal::rework::changes;
use crate::report::terminal::{not_held_count, title as name_of};
use crate::report::{Checked, grouped, lasting, rounded};
use crate::rework::rework as rework_of;

/// The most entries of one list at the head of the page; the rest is counted, and stands below.
const MOST: usize = 12;

/// The title of the page.
pub fn title(traveler: &Traveler) -> String {
    let checked = traveler.checked();
    format!(
        "{}: {} (traveler)",
        name_of(&checked.name),
        checked.settlement.verdict.words()
    )
}

/// The sections that the page can be jumped to.
const NAVIGATION: [(&str, &str); 9] = [
    ("#change", "Change"),
    ("#prepare", "Prepare"),
    ("#job", "Job"),
    ("#plots", "Plots"),
    ("#plans", "In plan"),
    ("#findings", "Findings"),
    ("#rework", "Rework"),
    ("#cautions", "Cautions"),
    ("#sign-off", "Sign-off"),
];

/// The head of the page.
pub fn header(traveler: &Traveler, page: &mut Html) {
    page.within("header", &[], |page| {
        page.put("p", "kind", "Traveler: goes with the job through the shop");
        page.put("h1", "", &name_of(&traveler.checked().name));
        page.within("nav", &[("aria-label", "Sections")], |page| {
            page.within("ul", &[], |page| {
                for (target, word) in NAVIGATION {
                    page.within("li", &[], |page| {
                        page.within("a", &[("href", target)], |page| page.say(word));
                    });
                }
            });
        });
    });
}

/// The verdict and its reason.
pub fn verdict(traveler: &Traveler, page: &mut Html) {
    let checked = traveler.checked();
    let (class, mark, word, says) = match checked.settlement.verdict {
        Verdict::Held => (
            "held",
            "✕",
            "Held",
            "Do not print this job as it is.".to_owned(),
        ),
        Verdict::Released => (
            "released",
            "✓",
            "Released",
            "Nothing was found that holds it.".to_owned(),
        ),
        Verdict::ReleasedByConcession => (
            "conceded",
            "!",
            "Released by concession",
            "What would hold it is permitted by a concession below.".to_owned(),
        ),
    };
    page.section("verdict", "May it be printed?", |page| {
        page.within("div", &[("class", &format!("verdict {class}"))], |page| {
            page.within("p", &[("class", "word")], |page| {
                page.within("span", &[("aria-hidden", "true")], |page| page.say(mark));
                page.say(" ");
                page.put("strong", "", word);
                page.say(" ");
                page.say(&says);
            });
            reasons(checked, page);
            page.put("p", "", &counted(checked));
            after(&traveler.reworked, page);
        });
        figures(checked, page);
    });
}

/// The findings that hold the job.
fn reasons(checked: &Checked, page: &mut Html) {
    let holding: Vec<&Finding> = checked
        .inspected
        .findings
        .iter()
        .enumerate()
        .filter(|(index, finding)| {
            finding.class >= checked.hold_from && checked.settlement.conceded(*index).is_none()
        })
        .map(|(_, finding)| finding)
        .collect();
    if holding.is_empty() {
        return;
    }
    page.within("ul", &[("class", "reasons")], |page| {
        for finding in holding.iter().take(MOST) {
            page.within("li", &[], |page| {
                badge(finding.class, page);
                page.say(" ");
                page.say(&sentence(&finding.message));
            });
        }
        more(holding.len(), "findings", page);
    });
}

/// How many entries of a list are left out.
fn more(of: usize, what: &str, page: &mut Html) {
    if of > MOST {
        let text = format!(
            "and {} more {what}, told below",
            grouped((of - MOST) as u64)
        );
        page.put("li", "", &text);
    }
}

/// A class as a word with a mark of its own, not by colour alone.
pub fn badge(class: Class, page: &mut Html) {
    page.put("span", &format!("badge {}", class.word()), class.word());
}

/// How many findings of which class, and how much was not held.
fn counted(checked: &Checked) -> String {
    let mut text = match checked.counts_in_words() {
        None => "No findings".to_owned(),
        Some(counts) => format!("Findings: {counts}"),
    };
    match not_held_count(checked) {
        0 => text.push('.'),
        count => text.push_str(&format!(
            "; {} of {} requirements could not be held, and that is no pass.",
            grouped(count),
            REGISTER.len()
        )),
    }
    text
}

/// What a rework would make of it.
fn after(reworked: &Reworked, page: &mut Html) {
    if !reworked.is_proven() {
        return;
    }
    let result = reworked.result();
    let says = match (result.settlement.verdict, reworked.holding()) {
        (Verdict::Held, holding) => {
            let still: Vec<String> = holding
                .iter()
                .map(|(id, class)| format!("{id} ({})", class.word()))
                .collect();
            format!("held still, by {}", still.join(", "))
        }
        (verdict, _) => verdict.words().to_owned(),
    };
    let text = format!("With the rework below ({}): {says}.", changes(reworked));
    page.put("p", "after", &text);
}

/// The figures one asks for first.
fn figures(checked: &Checked, page: &mut Html) {
    let survey = &checked.inspected.survey;
    let mut figures: Vec<(&str, String)> = Vec::new();
    if let Ok(time) = &survey.time {
        figures.push(("Time", lasting(time.seconds())));
    }
    if let Ok(mass) = &survey.mass_g {
        figures.push(("Filament", format!("{} g", rounded(*mass, 1))));
    }
    if let Ok(cost) = &survey.cost {
        let cost = format!("{:.2} {}", cost.amount, cost.currency);
        figures.push(("Cost", cost));
    }
    if let Ok(layers) = &survey.layers {
        figures.push(("Layers", grouped(*layers)));
    }
    if let Some(size) = survey.size() {
        let [x, y, z] = size.map(|side| rounded(side, 1));
        figures.push(("Size", format!("{x} × {y} × {z} mm")));
    }
    for (label, materials) in [("Material", names(checked)), ("Machine", machine(checked))] {
        figures.push((label, materials));
    }
    page.within("div", &[("class", "figures")], |page| page.entries(figures));
}

fn names(checked: &Checked) -> String {
    let mut names: Vec<&str> = Vec::new();
    for material in checked.held.each_material() {
        if !names.contains(&material.name.as_str()) {
            names.push(&material.name);
        }
    }
    match names.as_slice() {
        [] => "none named".to_owned(),
        names => names.join(", "),
    }
}

fn machine(checked: &Checked) -> String {
    checked
        .held
        .machine
        .as_ref()
        .map_or_else(|| "none named".to_owned(), |machine| machine.name.clone())
}

/// What to change.
pub fn change(traveler: &Traveler, page: &mut Html) {
    let reworked = &traveler.reworked;
    let left: Vec<&Finding> = reworked
        .result()
        .inspected
        .findings
        .iter()
        .filter(|finding| finding.class > Class::Observation)
        .collect();
    page.section("change", "What to change", |page| {
        if !reworked.is_proven() && left.is_empty() {
            page.put("p", "", "Nothing must be changed in the job.");
            return;
        }
        page.within("ul", &[("class", "todo")], |page| {
            if reworked.is_proven() {
                page.within("li", &[], |page| by_rework(traveler, page));
            }
            for finding in left.iter().take(MOST) {
                page.within("li", &[], |page| {
                    badge(finding.class, page);
                    page.say(" ");
                    page.say(&sentence(&finding.help));
                    page.say(" ");
                    page.put("span", "quiet", &format!("({})", finding.requirement));
                });
            }
            more(left.len(), "things to change", page);
        });
    });
}

/// What the program itself puts right.
fn by_rework(traveler: &Traveler, page: &mut Html) {
    let reworked = &traveler.reworked;
    page.say("Let the program put right what it can; it is proven that path and deposit stay: ");
    let call = call(traveler, "rework");
    page.put("code", "", &call);
    let mut said: Vec<(&str, String, usize)> = Vec::new();
    for proposal in &reworked.proposals.list {
        let change = format!("{} → {}", proposal.old, proposal.new);
        match said
            .iter_mut()
            .find(|(rework, ..)| *rework == proposal.rework)
        {
            Some((_, _, count)) => *count += 1,
            None => said.push((proposal.rework, change, 1)),
        }
    }
    if reworked.proposals.restate {
        said.push(("checksums", "stated anew".to_owned(), 1));
    }
    page.within("ul", &[("class", "changes")], |page| {
        for (rework, change, count) in said {
            let mut text = format!("{rework}: {change}");
            if count > 1 {
                text.push_str(&format!(", and {} more", grouped(count as u64 - 1)));
            }
            if rework_of(rework).is_some_and(|rework| rework.is_repair) {
                text.push_str(" (a repair: the print is altered)");
            }
            page.put("li", "", &text);
        }
    });
}
