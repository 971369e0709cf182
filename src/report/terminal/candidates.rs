//! Several materials for one machine and use: beside each other, or ranked.

use super::qualify::NO_CERTIFICATE;
use super::{COLUMN, qualify};
use crate::qualify::{Answer, Candidate, Standing};
use crate::report::paint::{Look, Tone};
use crate::report::rounded;
use crate::text::clean;

/// The column in which the first material begins.
const FIRST: usize = 22;

/// The narrowest column of a material.
const NARROW: usize = 16;

/// Materials beside each other, a column each; the first is the reference.
#[must_use]
pub fn compare(candidates: &[Candidate<'_>], look: &Look) -> String {
    let room = look.width.saturating_sub(FIRST);
    let across = (room / NARROW).max(1);
    let wide = (room / candidates.len().clamp(1, across)).max(NARROW);
    let mut text = String::new();
    for group in candidates.chunks(across) {
        if !text.is_empty() {
            text.push('\n');
        }
        let mut row = |label: &str, of: &dyn Fn(&Candidate<'_>) -> String| {
            let cells: Vec<Vec<String>> = group
                .iter()
                .map(|one| {
                    crate::report::paint::wrap(&clean(of(one).as_bytes()), wide.saturating_sub(2))
                })
                .collect();
            let lines = cells.iter().map(Vec::len).max().unwrap_or_default();
            for line in 0..lines {
                let mut said = format!(
                    "{:FIRST$}",
                    if line == 0 {
                        format!("  {label}")
                    } else {
                        String::new()
                    }
                );
                for cell in &cells {
                    said.push_str(&format!(
                        "{:wide$}",
                        cell.get(line).map_or("", String::as_str)
                    ));
                }
                text.push_str(said.trim_end());
                text.push('\n');
            }
        };
        row("", &|one| one.material.name.clone());
        row("verdict", &|one| {
            one.answer.verdict.word().replace('-', " ")
        });
        for (label, standing) in [
            ("stops", Standing::Stops),
            ("to be changed", Standing::Change),
            ("to be tried", Standing::Trial),
            ("not said", Standing::Unknown),
        ] {
            row(label, &|one| ids(&one.answer, standing));
        }
        for id in ["hotend", "bed", "chamber", "service", "service-peak"] {
            if group.iter().any(|one| one.answer.point(id).is_some()) {
                row(&format!("{} margin", id.replace('-', " ")), &|one| {
                    margin(&one.answer, id)
                });
            }
        }
        row("density", &|one| {
            let density = one.material.density.as_ref();
            density.map_or_else(silent, |density| density.value.to_string())
        });
        row("mass of a part", &|one| {
            one.lighter
                .map_or_else(silent, |lighter| match rounded(lighter.abs(), 1) {
                    same if same == "0" => "as the first".to_owned(),
                    by if lighter > 0.0 => format!("{by} % lighter"),
                    by => format!("{by} % heavier"),
                })
        });
        row("parts from a kg", &|one| {
            one.more_parts
                .map_or_else(silent, |more| match rounded(more.abs(), 1) {
                    same if same == "0" => "as the first".to_owned(),
                    by if more > 0.0 => format!("{by} % more"),
                    by => format!("{by} % fewer"),
                })
        });
        row("cost of a part", &|one| {
            let cost = one.cost.as_ref();
            cost.map_or_else(silent, |(amount, currency)| {
                format!("{} {currency}", rounded(*amount, 2))
            })
        });
    }
    text.push('\n');
    look.entry(&mut text, (Tone::Doubt, "caution"), COLUMN, CAUTION);
    look.entry(&mut text, (Tone::Doubt, "caution"), COLUMN, NO_CERTIFICATE);
    text
}

/// Materials from best to worst, with what stands in the way of each.
#[must_use]
pub fn find(candidates: &[Candidate<'_>], look: &Look) -> String {
    let mut text = String::new();
    let wide = candidates
        .iter()
        .map(|one| one.material.name.chars().count())
        .max()
        .unwrap_or_default()
        .clamp(8, 24);
    for one in candidates {
        let (tone, verdict) = qualify::verdict(one.answer.verdict);
        let mut parts = vec![verdict.to_owned()];
        for (word, standing) in [
            ("stops", Standing::Stops),
            ("change", Standing::Change),
            ("try first", Standing::Trial),
            ("not said", Standing::Unknown),
        ] {
            let ids = ids(&one.answer, standing);
            if ids != "-" {
                parts.push(format!("{word}: {ids}"));
            }
        }
        let name = format!("{:wide$}", clean(one.material.name.as_bytes()));
        look.entry(&mut text, (tone, &name), wide + 4, &parts.join("; "));
    }
    text.push('\n');
    look.entry(&mut text, (Tone::Doubt, "caution"), COLUMN, CAUTION);
    look.entry(&mut text, (Tone::Doubt, "caution"), COLUMN, NO_CERTIFICATE);
    text
}

/// Each material has cautions of its own, and a table no room for them.
const CAUTION: &str = "Each material has cautions of its own: `meltgauge qualify --material NAME` shows them with every \
     reason. Hot plastic gives off fumes; heat burns; ventilate, and follow local rules.";

fn ids(answer: &Answer, standing: Standing) -> String {
    let mut ids: Vec<String> = Vec::new();
    for point in answer.standing(standing) {
        // Of what it is exposed to, the thing itself says more.
        let said = match (&point.needs, point.id) {
            (Some(needs), "exposed") => needs.text.replace("to stand ", ""),
            _ => point.id.to_owned(),
        };
        if !ids.contains(&said) {
            ids.push(said);
        }
    }
    if ids.is_empty() {
        "-".to_owned()
    } else {
        ids.join(", ")
    }
}

fn margin(answer: &Answer, id: &str) -> String {
    answer
        .point(id)
        .and_then(|point| point.margin)
        .map_or_else(silent, |margin| {
            format!("{} {}", rounded(margin.value, 1), margin.unit)
        })
}

fn silent() -> String {
    "not said".to_owned()
}
