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
use crate::sheet::Machine;
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
        if let Some(machine) = &checked.held.machine {
            entries.push(("as its sheet has it", figures(machine)));
        }
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

/// What a machine sheet says that somebody can look up at the machine.
fn figures(machine: &Machine) -> String {
    let mut said: Vec<String> = Vec::new();
    let bed = &machine.bed;
    if let (Some(from), Some(to)) = (&bed.printable_from, &bed.printable_to) {
        let [x, y] = from.value;
        let [to_x, to_y] = to.value;
        said.push(format!(
            "prints at X {} to {to_x}, Y {} to {to_y}",
            x.get(),
            y.get()
        ));
    } else if let Some(diameter) = &bed.diameter {
        said.push(format!("prints on a disk of {}", diameter.value));
    }
    if let Some(height) = &machine.height {
        said.push(format!("up to {} high", height.value));
    }
    for (number, tool) in machine.tools.iter().enumerate() {
        let mut of: Vec<String> = Vec::new();
        if let Some(limit) = &tool.limit {
            of.push(format!("hotend up to {}", limit.value));
        }
        if let Some(limit) = tool.liner_limit() {
            of.push(format!("lined, the liner up to {limit}"));
        }
        if let Some(bore) = &tool.bore {
            let material = tool.nozzle_material.as_ref();
            let material = material.map(|material| format!(" of {}", material.value));
            of.push(format!(
                "nozzle {}{}",
                bore.value,
                material.unwrap_or_default()
            ));
        }
        if let Some(diameter) = &tool.filament_diameter {
            of.push(format!("filament {}", diameter.value));
        }
        let of = of.join(", ");
        said.push(match machine.tools.len() {
            1 => of,
            _ => format!("T{number} {of}"),
        });
    }
    said.join("; ")
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
        if is_unfit(traveler.checked()) {
            let text = "Not told: the job was sliced for filament of another diameter, so that beads, walls and \
                        infill of this file are not those of the part that was meant.";
            page.put("p", "unfit", text);
            return;
        }
        // What comments call what is for whoever slices, and `meltgauge survey --walls` tells it.
        let entries = walls::entries(figures).into_iter();
        page.entries(entries.filter(|(label, _)| *label != "comments"));
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
    ("Machine, by its own name", false),
    ("Spool; dried from, to", false),
    ("Prepared", false),
    ("Hold lifted, and why", true),
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
const WORDS: [(&str, &str); 11] = [
    (
        "held",
        "the job may not be printed as it is; held against a sheet is compared with it",
    ),
    (
        "material sheet, machine sheet",
        "the data that the job was compared with; beside each figure stands whose it is",
    ),
    ("critical", "may hurt a person or the machine"),
    ("major", "the part will likely fail"),
    ("minor", "a flaw that the part may bear"),
    ("observation", "worth a look; it holds no job"),
    (
        "temperatures",
        "nothing within 5 K of a sheet's limit is a finding, since sensors wander so far",
    ),
    (
        "rework",
        "a change of the file that leaves every move and every push as it is",
    ),
    (
        "concession",
        "a written permission to print in spite of a finding",
    ),
    (
        "stroke",
        "a stretch of deposit laid without a break in its conditions",
    ),
    (
        "modelled",
        "worked out from the file and the machine sheet; nothing was measured at a machine",
    ),
];

/// What the page's words mean.
pub fn words(_traveler: &Traveler, page: &mut Html) {
    page.section("words", "Words on this page", |page| {
        page.entries(WORDS.map(|(word, means)| (word, sentence(means))));
    });
}

/// Whether the job is for filament of another diameter.
pub fn is_unfit(checked: &Checked) -> bool {
    let findings = &checked.inspected.findings;
    let mut ids = findings.iter().map(|finding| finding.requirement);
    ids.any(|id| id == "filament-diameter-mismatch")
}

/// A job for another filament lays another amount than was meant: what rests on it says little.
pub fn unfit(checked: &Checked, page: &mut Html) {
    if is_unfit(checked) {
        let text = "The job was sliced for filament of another diameter: amounts here are what this file \
                    would lay with the filament named, not what the part that was meant needs.";
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
