//! What comes first: whether to print, why, and what to change.

use super::html::{Html, sentence};
use super::shop::{call, unfit};
use super::{Traveler, prepare};
use crate::concession::Verdict;
use crate::finding::{Class, Finding};
use crate::inspection::REGISTER;
use crate::report::reworked::Reworked;
use crate::report::terminal::rework::changes;
use crate::report::terminal::{not_held_count, title as name_of};
use crate::report::{Checked, grouped, lasting, rounded};
use crate::rework::rework as rework_of;
use crate::sheet::Origin;

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

/// The sections that the page can be jumped to, by words of their headings.
const NAVIGATION: [(&str, &str); 12] = [
    ("#change", "Change"),
    ("#prepare", "Prepare"),
    ("#cautions", "Cautions"),
    ("#sign-off", "Sign-off"),
    ("#job", "Job, time, cost"),
    ("#findings", "Findings"),
    ("#rework", "Rework"),
    ("#plots", "Over time and height"),
    ("#plans", "Seen from above"),
    ("#strength", "Strength"),
    ("#not-held", "Not checked"),
    ("#values", "Values"),
];

/// Findings that are answered at the machine; all others are answered in the job.
const AT_THE_MACHINE: [&str; 7] = [
    "enclosure-missing",
    "enclosure-too-warm",
    "machine-short-of-sheet",
    "nozzle-narrow",
    "nozzle-soft",
    "spool-short",
    "tool-absent",
];

fn is_at_the_machine(finding: &Finding) -> bool {
    AT_THE_MACHINE.contains(&finding.requirement)
}

/// The head of the page.
pub fn header(traveler: &Traveler, page: &mut Html) {
    page.within("header", &[], |page| {
        page.put("p", "kind", "Traveler: goes with the job through the shop");
        let checked = traveler.checked();
        page.put("h1", "", &name_of(&checked.name));
        let mut against = format!("{} on {}", names(checked), machine(checked));
        if let Some(machine) = &checked.held.machine
            && matches!(machine.origin, Origin::Library)
        {
            against.push_str(" (the library's class of machines, not yours: check its figures)");
        }
        page.put("p", "against", &format!("{against}; {}", traveler.today));
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
            page.put("p", "next", "Next:");
            page.within("ol", &[("class", "next")], |page| {
                for step in steps(traveler) {
                    page.put("li", "", &step);
                }
            });
            if !is_to_be_sliced(traveler) {
                after(&traveler.reworked, page);
            }
            page.put("p", "", &counted(checked));
        });
        figures(checked, page);
        unfit(checked, page);
    });
}

/// The findings that hold a job.
fn holding(checked: &Checked) -> Vec<&Finding> {
    let findings = checked.inspected.findings.iter().enumerate();
    findings
        .filter(|(index, finding)| {
            finding.class >= checked.hold_from && checked.settlement.conceded(*index).is_none()
        })
        .map(|(_, finding)| finding)
        .collect()
}

/// Whether the job is to be sliced again: what holds it is in the job, and no rework puts it right.
fn is_to_be_sliced(traveler: &Traveler) -> bool {
    holding(traveler.reworked.result())
        .iter()
        .any(|finding| !is_at_the_machine(finding))
}

/// What is done next, step by step, and whose it is.
fn steps(traveler: &Traveler) -> Vec<String> {
    let checked = traveler.checked();
    let still = holding(traveler.reworked.result());
    let wants = prepare::wanted(traveler);
    let mut steps: Vec<String> = Vec::new();
    if let Some(made_for) = made_for(&still) {
        steps.push(format!(
            "Settle which is right: {made_for}. Where the job is right and this page is not, make the page \
             anew with the sheets that fit, and change nothing before."
        ));
    }
    let is_unfit = still.iter().any(|finding| is_at_the_machine(finding));
    if !wants.is_empty() || is_unfit {
        let what = match wants.as_slice() {
            [] => "what is listed below".to_owned(),
            wants => wants.join(", "),
        };
        let or = if is_unfit {
            "; or choose another machine or material first of all"
        } else {
            ""
        };
        steps.push(format!("At the machine, prepare: {what}{or}."));
    }
    if checked.settlement.verdict != Verdict::Held {
        steps.push(
            "Prepare what else is listed below, and stay with it for the first layer.".to_owned(),
        );
        return steps;
    }
    if is_to_be_sliced(traveler) {
        let mut goal = String::new();
        if checked.held.each_material().next().is_some() {
            goal.push_str(&format!(" for {}", names(checked)));
        }
        if checked.held.machine.is_some() {
            goal.push_str(&format!(" on {}", machine(checked)));
        }
        steps.push(format!(
            "Have the job sliced again{goal}, as listed below: no change of this file is enough."
        ));
    } else if traveler.reworked.is_proven() {
        steps.push("Run the rework below.".to_owned());
    }
    steps.push("Make this page anew for what comes of it: this one releases nothing.".to_owned());
    steps
}

/// What the job was plainly made for instead, in the finding's own words.
fn made_for<'a>(still: &[&'a Finding]) -> Option<&'a str> {
    [
        "material-differs",
        "filament-diameter-mismatch",
        "nozzle-differs",
        "origin-differs",
    ]
    .iter()
    .find_map(|id| still.iter().find(|finding| finding.requirement == *id))
    .map(|finding| finding.message.as_str())
}

/// Why the job is held.
fn reasons(checked: &Checked, page: &mut Html) {
    let holding = holding(checked);
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
            "; {} of {} requirements could not be checked, and that is no pass.",
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
            format!("it stays held, by {}", still.join(", "))
        }
        (verdict, _) => format!("it is {}", verdict.words()),
    };
    let text = format!("With the rework below ({}): {says}.", changes(reworked));
    page.put("p", "after", &text);
}

/// The figures one asks for first.
fn figures(checked: &Checked, page: &mut Html) {
    let survey = &checked.inspected.survey;
    let mut figures: Vec<(&str, String)> = Vec::new();
    if let Ok(time) = &survey.time {
        let is_hidden = checked
            .inspected
            .findings
            .iter()
            .any(|finding| finding.requirement == "setpoint-hidden");
        let label = if is_hidden {
            "Time, without what macros take"
        } else {
            "Time"
        };
        figures.push((label, lasting(time.seconds())));
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
    if let Some([x, y, z]) = survey.size() {
        // A path is a bead's middle: half a bead lies beyond it on either side.
        let bead = survey.bead.as_ref().map_or(0.0, |bead| bead.usual);
        let [x, y, z] = [x + bead, y + bead, z].map(|side| rounded(side, 1));
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
    let is_sliced = is_to_be_sliced(traveler);
    // A job that is sliced again begins anew: what a rework would put right is to be right then.
    let of = if is_sliced {
        traveler.checked()
    } else {
        reworked.result()
    };
    let left: Vec<&Finding> = of
        .inspected
        .findings
        .iter()
        .filter(|finding| finding.class > Class::Observation)
        .collect();
    let (machine, job): (Vec<&Finding>, Vec<&Finding>) =
        left.iter().partition(|finding| is_at_the_machine(finding));
    page.section("change", "What to change", |page| {
        if !reworked.is_proven() && left.is_empty() {
            page.put("p", "", "Nothing must be changed in the job.");
            return;
        }
        if reworked.is_proven() && !is_sliced {
            page.put("h3", "", "By this program");
            by_rework(traveler, page);
        }
        if !job.is_empty() {
            let title = if is_sliced {
                "By whoever slices it again"
            } else {
                "By whoever slices, the next time"
            };
            page.put("h3", "", title);
            todo(&job, page);
        }
        if !machine.is_empty() {
            page.put("h3", "", "At the machine");
            todo(&machine, page);
        }
    });
}

fn todo(findings: &[&Finding], page: &mut Html) {
    page.within("ul", &[("class", "todo")], |page| {
        for finding in findings.iter().take(MOST) {
            page.within("li", &[], |page| {
                badge(finding.class, page);
                page.say(" ");
                page.say(&sentence(&finding.help));
                page.say(" ");
                page.put("span", "quiet", &format!("({})", finding.requirement));
            });
        }
        more(findings.len(), "things to change", page);
    });
}

/// What the program itself puts right.
fn by_rework(traveler: &Traveler, page: &mut Html) {
    let reworked = &traveler.reworked;
    page.within("p", &[], |page| {
        page.say("It is proven that every move and every push of filament stays: ");
        page.put("code", "", &call(traveler, "rework"));
        page.say(" (name the new file with -o)");
    });
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
