//! The head of a report: verdict, job, sheets.

use super::COLUMN;
use crate::concession::Verdict;
use crate::finding::Class;
use crate::report::paint::{Look, Tone};
use crate::report::{Checked, NamedBy, grouped};
use crate::sheet::Material;
use crate::text::{Bytes, Name, Packing, clean};

pub(super) fn write(checked: &Checked, requirements: usize, look: &Look, into: &mut String) {
    let plain = Look {
        colour: false,
        ..*look
    };
    let length = verdict(checked, requirements, &plain).chars().count();
    // Too long for one line, the counts have their own.
    let apart = if length > look.width { "\n  " } else { " " };
    into.push_str(&verdict_set(checked, requirements, look, apart));
    into.push('\n');
    for (label, text) in [
        ("job", job(checked)),
        ("material", material(checked)),
        ("machine", machine(checked)),
    ] {
        look.entry(into, (Tone::Dim, label), COLUMN, &text);
    }
}

/// The verdict, the job, and how many findings of which class.
/// A verdict on little must not look like a verdict on all: it says how much was not held.
pub(super) fn verdict(checked: &Checked, requirements: usize, look: &Look) -> String {
    verdict_set(checked, requirements, look, " ")
}

/// The same, with `apart` between the job and the counts.
fn verdict_set(checked: &Checked, requirements: usize, look: &Look, apart: &str) -> String {
    let verdict = checked.settlement.verdict;
    let tone = match verdict {
        Verdict::Released => Tone::Good,
        Verdict::ReleasedByConcession => Tone::Doubt,
        Verdict::Held => Tone::Alarm,
    };
    let counts = checked.counts();
    let counts = if counts.is_empty() {
        "no findings".to_owned()
    } else {
        let of_class = |(class, count): &(_, usize)| {
            let class: Class = *class;
            let plural = if class == Class::Observation && *count != 1 {
                "s"
            } else {
                ""
            };
            look.paint(
                Tone::of(class),
                &format!("{count} {}{plural}", class.word()),
            )
        };
        counts.iter().map(of_class).collect::<Vec<_>>().join(", ")
    };
    let left_out = match super::not_held_count(checked) {
        0 => String::new(),
        count => format!(
            "; {} of {requirements} requirements not held",
            grouped(count)
        ),
    };
    format!(
        "{}  {}:{apart}{counts}{left_out}\n",
        look.paint(tone, verdict.words()),
        look.paint(Tone::Bold, &title(&checked.name))
    )
}

/// What a job is called, without quotes.
#[must_use]
pub fn title(name: &Name) -> String {
    match name {
        Name::Path(path) => clean(path.as_encoded_bytes()).into_owned(),
        Name::Given(name) => clean(name.as_bytes()).into_owned(),
        Name::StandardInput => "standard input".to_owned(),
    }
}

/// The job and its sheets, where nothing is held against them.
pub(super) fn sheets(checked: &Checked, look: &Look, into: &mut String) {
    let material = match checked.held.materials.as_slice() {
        [] => without(&checked.material_by, "mass and cost are not told"),
        _ => material(checked),
    };
    let machine = match &checked.held.machine {
        None => without(&checked.machine_by, "time, speed and flow are not told"),
        Some(_) => machine(checked),
    };
    for (label, text) in [
        ("job", job(checked)),
        ("material", material),
        ("machine", machine),
    ] {
        look.entry(into, (Tone::Dim, label), COLUMN, &text);
    }
}

fn without(named: &NamedBy, so: &str) -> String {
    match named {
        NamedBy::Nobody(why) => format!("none: {}; {so}", clean(why.as_bytes())),
        _ => format!("none; {so}"),
    }
}

fn job(checked: &Checked) -> String {
    let stored = &checked.stored;
    let lines = checked.inspected.lines;
    let mut text = format!(
        "{} line{}, {}",
        grouped(lines),
        if lines == 1 { "" } else { "s" },
        Bytes(stored.bytes_unpacked)
    );
    if stored.packing != Packing::Plain {
        text.push_str(&format!(
            " unpacked from {} of {}",
            Bytes(stored.bytes_stored),
            stored.packing
        ));
    }
    if checked.hold_from != Class::Major {
        text.push_str(&format!(
            "; held from class {} up",
            checked.hold_from.word()
        ));
    }
    text
}

fn material(checked: &Checked) -> String {
    let materials = &checked.held.materials;
    let sheet = |material: &Material| {
        format!(
            "{} ({})",
            clean(material.name.as_bytes()),
            clean(material.origin.to_string().as_bytes())
        )
    };
    let sheets = match materials.as_slice() {
        [] => return nobody("material", &checked.material_by),
        [Some(one)] => sheet(one),
        many => many
            .iter()
            .enumerate()
            .map(|(tool, material)| match material {
                Some(material) => format!("T{tool} {}", sheet(material)),
                None => format!("T{tool} none"),
            })
            .collect::<Vec<_>>()
            .join(", "),
    };
    format!("{sheets}{}", by(&checked.material_by))
}

fn machine(checked: &Checked) -> String {
    let Some(machine) = &checked.held.machine else {
        return nobody("machine", &checked.machine_by);
    };
    format!(
        "{} ({}){}",
        clean(machine.name.as_bytes()),
        clean(machine.origin.to_string().as_bytes()),
        by(&checked.machine_by)
    )
}

fn by(named: &NamedBy) -> String {
    match named {
        NamedBy::Job { line } => format!(", as the job declares on line {}", grouped(*line)),
        NamedBy::Configuration => ", from the configuration".to_owned(),
        NamedBy::CommandLine | NamedBy::Nobody(_) => String::new(),
    }
}

fn nobody(kind: &str, named: &NamedBy) -> String {
    let why = match named {
        NamedBy::Nobody(why) => clean(why.as_bytes()).into_owned(),
        _ => "not named".to_owned(),
    };
    format!("none: {why}; no figure of a {kind} sheet was held; name one with --{kind}")
}
