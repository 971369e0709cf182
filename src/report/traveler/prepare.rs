//! What to prepare, as a checklist: from qualify's points, the survey and the sheets' cautions.

use super::html::{Html, sentence};
use super::shop::is_unfit;
use super::{Prepared, Traveler};
use crate::qualify::{HARD, Point, Standing};
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
    ("fan", "Part fan", false),
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
                macros(traveler, page);
                mass(traveler, prepared, page);
                ventilation(prepared, page);
            });
            fitting(prepared, page);
        }
        if traveler.prepared.is_empty() {
            page.within("ul", &[("class", "checklist")], |page| {
                item("Ventilation", None, &sentence(VENTILATE), "", page);
            });
        }
    });
}

/// The one point whose figure somebody changes between two jobs: where it matters, a look is due.
const LOOKED_AT: &str = "nozzle-hardness";

/// Whether something is done about a point.
fn is_done(id: &str, point: &Point) -> bool {
    let wants = point.needs.as_ref().map(|needs| needs.text.as_str());
    (id == LOOKED_AT && wants == Some(HARD))
        || point.action.is_some()
        || !matches!(point.standing, Standing::Fits | Standing::Told)
}

/// How soon a point is looked at.
const fn rank(standing: Standing) -> u8 {
    match standing {
        Standing::Stops => 0,
        Standing::Change => 1,
        Standing::Trial => 2,
        Standing::Unknown => 3,
        Standing::Told | Standing::Fits => 4,
    }
}

/// What is done, the most pressing first.
fn points(prepared: &Prepared, page: &mut Html) {
    let mut points: Vec<(&str, &Point)> = POINTS
        .iter()
        .filter_map(|(id, lead, always)| {
            let point = prepared.answer.point(id)?;
            let fits = matches!(point.standing, Standing::Fits | Standing::Told);
            (is_done(id, point) && (*always || !fits)).then_some((*lead, point))
        })
        .collect();
    points.sort_by_key(|(_, point)| rank(point.standing));
    for (lead, point) in points {
        let (first, then) = match &point.action {
            Some(action) => (sentence(action), sentence(&point.says)),
            None if point.standing == Standing::Fits => (
                "See that the nozzle on it is the one that its sheet names.".to_owned(),
                sentence(&point.says),
            ),
            None => (sentence(&point.says), String::new()),
        };
        let then = format!("{then} {}", values(point));
        item(lead, Some(point.standing), &first, then.trim(), page);
    }
}

/// What fits as it is: said, with no box to tick.
fn fitting(prepared: &Prepared, page: &mut Html) {
    let said: Vec<String> = POINTS
        .iter()
        .filter(|(_, _, always)| *always)
        .filter_map(|(id, lead, _)| {
            let point = prepared
                .answer
                .point(id)
                .filter(|point| !is_done(id, point))?;
            Some(format!("{lead}: {}", sentence(&point.says)))
        })
        .collect();
    if !said.is_empty() {
        page.put("p", "quiet", &format!("Nothing to do: {}", said.join(" ")));
    }
}

/// The points of the checklist that stop the job or want a change, by their leads.
pub fn wanted(traveler: &Traveler) -> Vec<String> {
    let mut wanted: Vec<String> = Vec::new();
    for prepared in &traveler.prepared {
        for (id, lead, _) in POINTS {
            let point = prepared.answer.point(id);
            let Some(point) = point.filter(|point| rank(point.standing) < 2) else {
                continue;
            };
            let mut text = lead.to_lowercase();
            // It takes longest of all.
            if let ("drying", Some(needs)) = (id, &point.needs) {
                text.push_str(&format!(" ({})", needs.text));
            }
            if !wanted.contains(&text) {
                wanted.push(text);
            }
        }
    }
    wanted
}

/// What only a macro may do is looked up at the machine.
fn macros(traveler: &Traveler, page: &mut Html) {
    let findings = &traveler.checked().inspected.findings;
    let Some(hidden) = findings
        .iter()
        .find(|finding| finding.requirement == "setpoint-hidden")
    else {
        return;
    };
    let macros: Vec<String> = [&hidden.extent.first, &hidden.extent.last]
        .into_iter()
        .flatten()
        .map(|at| String::from_utf8_lossy(at.text.get(at.span()).unwrap_or_default()).into_owned())
        .fold(Vec::new(), |mut names, name| {
            if !names.contains(&name) {
                names.push(name);
            }
            names
        });
    let first = format!(
        "See that the machine has {}, and what {}: nothing else in the job does that.",
        macros.join(" and "),
        if macros.len() == 1 {
            "it does"
        } else {
            "they do"
        }
    );
    item(
        "Macros",
        Some(Standing::Unknown),
        &first,
        &sentence(&hidden.message),
        page,
    );
}

/// The two values and whose they are.
fn values(point: &Point) -> String {
    let side = |side: &Option<crate::qualify::Side>| {
        side.as_ref()
            .map(|side| format!("{} ({})", side.text, without_keys(&side.whose)))
    };
    match (side(&point.needs), side(&point.has)) {
        (Some(needs), Some(has)) => format!("Asked for: {needs}; found: {has}."),
        (Some(needs), None) => format!("Asked for: {needs}."),
        (None, Some(has)) => format!("Found: {has}."),
        (None, None) => String::new(),
    }
}

/// Whose a value is, without the names that sheets have for their keys: they stand with the findings.
fn without_keys(whose: &str) -> String {
    let is_key = |piece: &str| {
        let mut letters = piece.chars();
        piece.contains(['.', '_', '['])
            && letters.all(|letter| letter.is_ascii_alphanumeric() || "._[]-".contains(letter))
    };
    let kept: Vec<&str> = whose.split(", ").filter(|piece| !is_key(piece)).collect();
    kept.join(", ")
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
        let then = if is_unfit(checked) {
            format!("{then} That is what this file lays with the wrong filament.")
        } else {
            then
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
