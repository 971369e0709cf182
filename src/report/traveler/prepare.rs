//! What to prepare, as a checklist: from qualify's points, the survey and the sheets' cautions.

use super::html::{Html, sentence};
use super::{Prepared, Traveler};
use crate::qualify::{Point, Standing};
use crate::report::rounded;
use crate::report::terminal::survey::spool;

/// Points that something is prepared for, in the order of the work; whether they are listed where they fit.
const POINTS: [(&str, &str, bool); 16] = [
    ("drying", "Filament, dry", true),
    ("exposure", "Spool, open", true),
    ("exposure-in-room", "Spool, open", true),
    ("filament-diameter", "Filament diameter", false),
    ("nozzle-hardness", "Nozzle", true),
    ("nozzle-bore", "Nozzle bore", true),
    ("hotend", "Hotend", false),
    ("liner", "Hotend liner", false),
    ("surface", "Bed surface", true),
    ("bed", "Bed", false),
    ("chamber", "Chamber, warmed up", true),
    ("enclosure", "Enclosure", true),
    ("warm-box", "Filament box", false),
    ("build-volume", "Room on the bed", false),
    ("fan", "Part fan", true),
    ("spool-size", "Spool size", false),
];

/// What the checklist says of ventilation where no sheet has a word on it.
const VENTILATE: &str = "ventilate or extract: hot plastic gives off vapours and fine particles; local rules \
                         come first";

/// The checklist.
pub fn section(traveler: &Traveler, page: &mut Html) {
    page.section("prepare", "What to prepare", |page| {
        if traveler.prepared.is_empty() {
            let text = "No material sheet was held against this job: drying, nozzle, surface and chamber are \
                        unknown. Name one with --material.";
            page.put("p", "", text);
        }
        let many = traveler.prepared.len() > 1;
        for prepared in &traveler.prepared {
            if many {
                let heading = format!("Tool {}: {}", prepared.tool, prepared.material);
                page.put("h3", "", &heading);
            }
            page.within("ul", &[("class", "checklist")], |page| {
                points(prepared, page);
                mass(traveler, prepared, page);
                ventilation(prepared, page);
            });
        }
        if traveler.prepared.is_empty() {
            page.within("ul", &[("class", "checklist")], |page| {
                item("Ventilation", None, &sentence(VENTILATE), "", page);
            });
        }
    });
}

fn points(prepared: &Prepared, page: &mut Html) {
    for (id, lead, always) in POINTS {
        let Some(point) = prepared.answer.point(id) else {
            continue;
        };
        let fits = matches!(point.standing, Standing::Fits | Standing::Told);
        if fits && !always {
            continue;
        }
        let (first, then) = match &point.action {
            Some(action) => (sentence(action), sentence(&point.says)),
            None => (sentence(&point.says), String::new()),
        };
        let then = format!("{then} {}", values(point));
        item(lead, Some(point.standing), &first, then.trim(), page);
    }
}

/// The two values and whose they are.
fn values(point: &Point) -> String {
    let side = |side: &Option<crate::qualify::Side>| {
        side.as_ref()
            .map(|side| format!("{} ({})", side.text, side.whose))
    };
    match (side(&point.needs), side(&point.has)) {
        (Some(needs), Some(has)) => format!("Wanted: {needs}; there: {has}."),
        (Some(needs), None) => format!("Wanted: {needs}."),
        (None, Some(has)) => format!("There: {has}."),
        (None, None) => String::new(),
    }
}

/// What must be on the spool.
fn mass(traveler: &Traveler, prepared: &Prepared, page: &mut Html) {
    let checked = traveler.checked();
    let survey = &checked.inspected.survey;
    for tool in &survey.tools {
        if tool.material.as_ref() != Some(&prepared.material) {
            continue;
        }
        let length = format!("{} m", rounded(tool.factored / 1000.0, 2));
        let (first, then) = match (&tool.mass, &tool.spool_left) {
            (Ok(mass), Ok(left)) => (
                format!("{} g ({length}) are needed.", rounded(*mass, 1)),
                sentence(&spool(*left, *mass)),
            ),
            (Ok(mass), Err(_)) => (
                format!(
                    "See that {} g ({length}) and some to spare are on it.",
                    rounded(*mass, 1)
                ),
                "The sheet does not say what is left on the spool.".to_owned(),
            ),
            (Err(why), _) => (format!("See that {length} are on it."), sentence(why)),
        };
        let short = matches!((&tool.mass, &tool.spool_left), (Ok(mass), Ok(left)) if left < mass);
        let standing = short.then_some(Standing::Change);
        item("Filament on the spool", standing, &first, &then, page);
    }
}

/// Ventilation: the sheets' own words.
fn ventilation(prepared: &Prepared, page: &mut Html) {
    let said: Vec<&str> = prepared
        .answer
        .cautions
        .iter()
        .map(String::as_str)
        .filter(|caution| {
            let caution = caution.to_lowercase();
            caution.contains("ventilat") || caution.contains("extract")
        })
        .collect();
    let text = match said.as_slice() {
        [] => sentence(VENTILATE),
        said => said.join(" "),
    };
    item("Ventilation", None, &text, "", page);
}

/// A box to tick, what it is about, and what to do.
fn item(lead: &str, standing: Option<Standing>, first: &str, then: &str, page: &mut Html) {
    let (class, word) = match standing {
        Some(Standing::Stops) => ("badge critical", "does not suit"),
        Some(Standing::Change) => ("badge major", "needed"),
        Some(Standing::Trial) => ("badge minor", "try first"),
        Some(Standing::Unknown) => ("badge observation", "find out"),
        _ => ("", ""),
    };
    page.within("li", &[], |page| {
        page.within("label", &[], |page| {
            page.void("input", &[("type", "checkbox")]);
            page.say(" ");
            page.put("strong", "", lead);
        });
        page.say(" ");
        if !word.is_empty() {
            page.put("span", class, word);
            page.say(" ");
        }
        page.say(first);
        if !then.is_empty() {
            page.say(" ");
            page.put("span", "quiet", then);
        }
    });
}
