//! What a job sets and uses, and the cautions of its materials.

use super::{COLUMN, summary};
use crate::inspection::Setpoint;
use crate::report::paint::{Look, Tone, cut};
use crate::report::{Checked, grouped, tidy};
use crate::text::clean;

pub(super) fn write(checked: &Checked, look: &Look, into: &mut String) {
    let (uses, survey) = (&checked.inspected.uses, &checked.inspected.survey);
    into.push_str(&format!(
        "\n{}\n",
        look.paint(Tone::Bold, "the job sets and uses")
    ));
    let mut add = |label: &str, text: String| look.entry(into, (Tone::Dim, label), COLUMN, &text);

    let many = uses.hotend.iter().any(|(tool, _)| *tool > 0) || uses.tools.len() > 1;
    let hotend: Vec<String> = uses
        .hotend
        .iter()
        .map(|(tool, setpoint)| {
            if many {
                format!("T{tool} {}", self::setpoint(setpoint))
            } else {
                self::setpoint(setpoint)
            }
        })
        .collect();
    add("hotend", or_not_set(hotend));
    add("bed", or_not_set(uses.bed.iter().map(setpoint).collect()));
    if !uses.chamber.is_empty() {
        add(
            "chamber",
            or_not_set(uses.chamber.iter().map(setpoint).collect()),
        );
    }
    if let Some(mean) = uses.fan_mean {
        add(
            "fan",
            format!(
                "{} % on average after the first layer, by filament laid",
                tidy((mean * 100.0).round())
            ),
        );
    }
    for (label, text) in summary::entries(survey, false) {
        add(label, text);
    }
    if uses.feed_most > 0.0 {
        add(
            "fastest",
            format!(
                "{} mm/s asked for while laying the part",
                tidy(uses.feed_most)
            ),
        );
    }
    if !uses.macros.is_empty() {
        let macros: Vec<String> = uses
            .macros
            .iter()
            .map(|(name, line)| {
                format!(
                    "{} on line {}",
                    cut(&clean(name.as_bytes()), 40),
                    grouped(*line)
                )
            })
            .collect();
        add("macros", macros.join(", "));
    }
}

fn or_not_set(list: Vec<String>) -> String {
    if list.is_empty() {
        "not set".to_owned()
    } else {
        list.join(", ")
    }
}

/// `215 °C on line 5, awaited`; off is said in a word.
fn setpoint(setpoint: &Setpoint) -> String {
    let mut text = if setpoint.target == 0.0 {
        "off".to_owned()
    } else {
        format!("{} °C", tidy(setpoint.target))
    };
    if setpoint.waits {
        text.push_str(" awaited");
    }
    text.push_str(&format!(" (line {}", grouped(setpoint.line)));
    if setpoint.count > 1 {
        text.push_str(&format!(", {} times", grouped(setpoint.count)));
    }
    text.push(')');
    text
}

/// The heads of the materials' cautions, on one entry.
pub(super) fn cautions(checked: &Checked, look: &Look, into: &mut String) {
    let mut names: Vec<&str> = Vec::new();
    let mut heads: Vec<String> = Vec::new();
    for material in checked.held.each_material() {
        if material.cautions.is_empty() || names.contains(&material.name.as_str()) {
            continue;
        }
        names.push(&material.name);
        for caution in &material.cautions {
            let head = caution
                .split([':', ';'])
                .next()
                .unwrap_or_default()
                .trim()
                .trim_end_matches('.');
            let mut letters = head.chars();
            let head = match letters.next() {
                Some(first) => first.to_lowercase().chain(letters).collect(),
                None => continue,
            };
            if !heads.contains(&head) {
                heads.push(head);
            }
        }
    }
    if heads.is_empty() {
        return;
    }
    let text = format!(
        "{}: {}. Local rules and the supplier's safety data sheet come first; in full: meltgauge sheet show {}",
        names.join(" and "),
        heads.join("; "),
        if let [name] = names[..] { name } else { "NAME" },
    );
    into.push('\n');
    look.entry(
        into,
        (Tone::Doubt, "caution"),
        COLUMN,
        &clean(text.as_bytes()),
    );
}
