//! What else the shop wants to know: job and sheets, filament and cost, strength, concessions, what was not
//! held, cautions, who signs, and how the page came to be.

use super::Traveler;
use super::html::{Html, sentence};
use crate::concession::Verdict;
use crate::inspection::REGISTER;
use crate::report::terminal::finding::granted;
use crate::report::terminal::{
    NO_CERTIFICATE, by_reason, head, not_held_count, summary, survey as told, title, walls,
};
use crate::report::{Checked, grouped, rounded};
use crate::text::Name;

/// Concessions beyond these are counted (chosen).
const CONCESSIONS: usize = 40;

/// The job, its sheets, and what it uses.
pub fn job(traveler: &Traveler, page: &mut Html) {
    let checked = traveler.checked();
    let survey = &checked.inspected.survey;
    page.section("job", "Job, filament, time and cost", |page| {
        unfit(checked, page);
        let mut entries = vec![
            ("job", head::job(checked)),
            ("material", head::material(checked)),
            ("machine", head::machine(checked)),
        ];
        entries.extend(summary::entries(survey, true));
        let mut labelled: Vec<(String, String)> = Vec::new();
        for tool in &survey.tools {
            labelled.push((told::goes_label(survey, tool), told::goes_into(tool)));
        }
        entries.push(("bead", told::bead(survey)));
        entries.push(("retracted", told::drawn(survey)));
        entries.push(("idle", told::idle(survey)));
        let labelled = labelled
            .iter()
            .map(|(label, text)| (label.as_str(), text.clone()));
        page.entries(entries.into_iter().chain(labelled));
        cost(checked, page);
    });
}

/// Filament, mass and cost by tool.
fn cost(checked: &Checked, page: &mut Html) {
    let survey = &checked.inspected.survey;
    if survey.tools.is_empty() {
        return;
    }
    let unknown = |why: &str| format!("unknown: {why}");
    let around = [
        ("class", "scrolls"),
        ("tabindex", "0"),
        ("role", "region"),
        ("aria-label", "Filament by tool"),
    ];
    page.within("div", &around, |page| {
        page.within("table", &[], |page| {
            page.put("caption", "", "Filament by tool");
            page.within("thead", &[], |page| {
                page.within("tr", &[], |page| {
                    for name in ["tool", "material", "length", "mass", "cost"] {
                        page.within("th", &[("scope", "col")], |page| page.say(name));
                    }
                });
            });
            page.within("tbody", &[], |page| {
                for tool in &survey.tools {
                    page.within("tr", &[], |page| {
                        let number = format!("T{}", tool.tool);
                        page.within("th", &[("scope", "row")], |page| page.say(&number));
                        page.put("td", "", tool.material.as_deref().unwrap_or("none named"));
                        page.put("td", "", &format!("{} mm", rounded(tool.factored, 1)));
                        let mass = match &tool.mass {
                            Ok(mass) => format!("{} g", rounded(*mass, 2)),
                            Err(why) => unknown(why),
                        };
                        page.put("td", "", &mass);
                        let cost = match &tool.cost {
                            Ok(cost) => format!("{:.2} {}", cost.amount, cost.currency),
                            Err(why) => unknown(why),
                        };
                        page.put("td", "", &cost);
                    });
                }
            });
        });
    });
}

/// Walls, infill, and what carries loads, where they were surveyed.
pub fn strength(traveler: &Traveler, page: &mut Html) {
    let figures = &traveler.checked().inspected.survey.walls;
    page.section("strength", "Walls, infill, strength", |page| {
        let Some(figures) = figures else {
            let text = "Not surveyed: --walls tells walls and infill, --section what carries loads and what one \
                        more wall would add.";
            page.put("p", "", text);
            return;
        };
        unfit(traveler.checked(), page);
        page.entries(walls::entries(figures));
        if figures.carried.is_none() {
            let text = "What carries loads was not surveyed: --section tells it.";
            page.put("p", "", text);
        }
        let loads = walls::loads(figures, &[0, 1, 2]);
        if !loads.is_empty() {
            let loads = loads.iter().map(|(label, text)| (label.as_str(), text.clone()));
            page.entries(loads);
        }
    });
}

/// What was permitted, and remarks on it.
pub fn concessions(traveler: &Traveler, page: &mut Html) {
    let checked = traveler.checked();
    page.section("concessions", "Concessions", |page| {
        if checked.concessions.is_empty() {
            page.put("p", "", "None are declared.");
            return;
        }
        page.within("ul", &[], |page| {
            for (index, concession) in checked.concessions.iter().take(CONCESSIONS).enumerate() {
                let used = checked
                    .settlement
                    .conceded
                    .iter()
                    .any(|(_, by)| *by == index);
                let mut text = format!("{}: {}", concession.requirement, granted(concession));
                if used {
                    text.push_str(". Used by this job");
                }
                for remarked in &checked.settlement.remarks {
                    if remarked.concession == index {
                        text.push_str(&format!(". {}", sentence(&remarked.remark.to_string())));
                    }
                }
                page.put("li", "", &sentence(&text));
            }
            if let Some(more @ 1..) = checked.concessions.len().checked_sub(CONCESSIONS) {
                page.put("li", "", &format!("and {} more", grouped(more as u64)));
            }
        });
    });
}

/// What could not be checked, and why.
pub fn not_held(traveler: &Traveler, page: &mut Html) {
    let checked = traveler.checked();
    page.section("not-held", "Not checked, and why", |page| {
        let count = not_held_count(checked);
        if count == 0 {
            page.put("p", "", "Every requirement was checked.");
            return;
        }
        let text = format!(
            "{} of {} requirements were not checked; nobody may take that for a pass.",
            grouped(count),
            REGISTER.len()
        );
        page.put("p", "", &text);
        page.within("ul", &[], |page| {
            for (reason, of_reason) in by_reason(checked) {
                page.put(
                    "li",
                    "",
                    &format!(
                        "{}: {}",
                        sentence(reason).trim_end_matches('.'),
                        of_reason.join(", ")
                    ),
                );
            }
        });
    });
}

/// Cautions on every page, whatever the sheets say.
const CAUTIONS: [&str; 2] = [
    "A verdict is about a file: stay with a new job at its first print, and keep hands and flammables off what \
     is hot.",
    "Parts that carry load, hold pressure, touch food or protect people want the judgement of somebody \
     licensed for that.",
];

/// What can hurt somebody.
pub fn cautions(traveler: &Traveler, page: &mut Html) {
    page.section("cautions", "Cautions", |page| {
        let mut said: Vec<String> = Vec::new();
        let of_sheets = traveler
            .prepared
            .iter()
            .flat_map(|prepared| &prepared.answer.cautions);
        let of_machine = traveler
            .checked()
            .held
            .machine
            .iter()
            .flat_map(|machine| &machine.cautions);
        let own = CAUTIONS.iter().map(|caution| (*caution).to_owned());
        let last = sentence(NO_CERTIFICATE);
        for caution in of_sheets
            .chain(of_machine)
            .cloned()
            .chain(own)
            .chain([last])
        {
            if !said.contains(&caution) {
                said.push(caution);
            }
        }
        page.within("ul", &[("class", "cautions")], |page| {
            for caution in &said {
                page.put("li", "", &sentence(caution));
            }
        });
    });
}

/// What a shop enters by hand, in the order of its work; whether only where the job is held.
const SIGNED: [(&str, bool); 8] = [
    ("File printed, if it is another than this one", false),
    ("Hold lifted, and why", true),
    ("Machine, by its own name", false),
    ("Spool; dried from, to", false),
    ("Prepared", false),
    ("Released for printing", false),
    ("First layer watched", false),
    ("Part inspected", false),
];

/// Lines to sign.
pub fn sign_off(traveler: &Traveler, page: &mut Html) {
    let is_held = traveler.checked().settlement.verdict == Verdict::Held;
    page.section("sign-off", "Sign-off", |page| {
        let around = [
            ("class", "scrolls"),
            ("tabindex", "0"),
            ("role", "region"),
            ("aria-label", "Lines to sign"),
        ];
        page.within("div", &around, |page| {
            page.within("table", &[("class", "sign")], |page| {
                page.within("thead", &[], |page| {
                    page.within("tr", &[], |page| {
                        for name in ["step", "entry", "name and date", "signature"] {
                            page.within("th", &[("scope", "col")], |page| page.say(name));
                        }
                    });
                });
                page.within("tbody", &[], |page| {
                    for (step, _) in SIGNED.iter().filter(|(_, of_held)| is_held || !of_held) {
                        page.within("tr", &[], |page| {
                            page.within("th", &[("scope", "row")], |page| page.say(step));
                            for _ in 0..3 {
                                page.put("td", "", " ");
                            }
                        });
                    }
                });
            });
        });
    });
}

/// Words that mean one thing on this page, and might mean another elsewhere.
const WORDS: [(&str, &str); 6] = [
    (
        "held",
        "the job may not be printed as it is, until what holds it is put right or permitted",
    ),
    (
        "material sheet, machine sheet",
        "the data that the job was compared with; whose a figure is stands beside it",
    ),
    (
        "critical, major, minor",
        "may hurt a person or the machine; the part will likely fail; a flaw",
    ),
    (
        "rework, repair",
        "a change of the file that leaves the part as it is; one that alters the part or the print",
    ),
    (
        "concession",
        "a written permission to print in spite of a finding",
    ),
    (
        "modelled, planned",
        "worked out from the file and the machine sheet; nothing was measured at a machine",
    ),
];

/// What the page's words mean.
pub fn words(_traveler: &Traveler, page: &mut Html) {
    page.section("words", "Words on this page", |page| {
        page.entries(WORDS.map(|(word, means)| (word, sentence(means))));
    });
}

/// A job for another filament lays another amount than was meant: what rests on it says little.
pub fn unfit(checked: &Checked, page: &mut Html) {
    let findings = &checked.inspected.findings;
    if findings
        .iter()
        .any(|finding| finding.requirement == "filament-diameter-mismatch")
    {
        let text = "The job was sliced for filament of another diameter: what follows is what this file would \
                    lay with the filament named here, not the part that was meant.";
        page.put("p", "unfit", text);
    }
}

/// Version, digests, and how to make the page again.
pub fn footer(traveler: &Traveler, page: &mut Html) {
    let checked = traveler.checked();
    let says = |digest: &Option<String>| digest.clone().unwrap_or_else(|| "none".to_owned());
    page.within("footer", &[], |page| {
        page.put("h2", "", "How this page came to be");
        let mut entries = vec![
            (
                "program",
                format!("meltgauge {}", env!("CARGO_PKG_VERSION")),
            ),
            ("date", traveler.today.to_string()),
            (
                "call",
                format!("{} -o FILE.html", call(traveler, "traveler")),
            ),
            ("job, BLAKE3", says(&checked.stored.digest_hex)),
        ];
        for material in checked.held.each_material() {
            let text = format!("{}: {}", material.name, says(&material.digest));
            if !entries.contains(&("material sheet", text.clone())) {
                entries.push(("material sheet", text));
            }
        }
        if let Some(machine) = &checked.held.machine {
            entries.push((
                "machine sheet",
                format!("{}: {}", machine.name, says(&machine.digest)),
            ));
        }
        page.entries(entries);
    });
}

/// A call of the program on this job.
pub fn call(traveler: &Traveler, command: &str) -> String {
    let job = match &traveler.checked().name {
        Name::StandardInput => "-".to_owned(),
        name => quoted(&title(name)),
    };
    let [shared, own] = &traveler.options;
    let own = if command == "traveler" {
        own.as_str()
    } else {
        ""
    };
    format!("meltgauge {command} {job}{shared}{own}")
}

/// A word as a shell reads it.
#[must_use]
pub fn quoted(word: &str) -> String {
    let is_plain = |letter: char| letter.is_ascii_alphanumeric() || "_./=,:@%+-".contains(letter);
    if !word.is_empty() && word.chars().all(is_plain) && !word.starts_with('-') {
        word.to_owned()
    } else {
        format!("'{}'", word.replace('\'', "'\\''"))
    }
}
