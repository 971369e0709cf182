//! The head of a report: verdict, job, sheets.

use super::COLUMN;
use crate::concession::Verdict;
use crate::finding::Class;
use crate::report::paint::{Look, Tone, cut_front};
use crate::report::{Checked, NamedBy, grouped};
use crate::sheet::Material;
use crate::text::{Bytes, Name, Packing, clean};

pub(super) fn write(checked: &Checked, requirements: usize, look: &Look, into: &mut String) {
    let pieces = pieces(checked, requirements, look);
    let verdict = checked.settlement.verdict.words();
    // Too long for one line, the counts have their own.
    let room = look.width.saturating_sub(verdict.chars().count() + 3);
    let name = cut_front(&title(&checked.name), room.max(12));
    let counts: usize = pieces
        .iter()
        .map(|(plain, _)| plain.chars().count() + 1)
        .sum();
    into.push_str(&opening(checked, &name, look));
    if name.chars().count() + counts > room {
        into.push('\n');
        into.push_str(&filled(&pieces, look.width));
    } else {
        for (_, painted) in &pieces {
            into.push(' ');
            into.push_str(painted);
        }
        into.push('\n');
    }
    into.push('\n');
    entries(checked, look, into);
}

/// The job and the sheets it is held against.
pub(super) fn entries(checked: &Checked, look: &Look, into: &mut String) {
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
    let mut text = opening(checked, &title(&checked.name), look);
    for (_, painted) in pieces(checked, requirements, look) {
        text.push(' ');
        text.push_str(&painted);
    }
    text.push('\n');
    text
}

/// The verdict and the job.
fn opening(checked: &Checked, name: &str, look: &Look) -> String {
    let verdict = checked.settlement.verdict;
    let tone = match verdict {
        Verdict::Released => Tone::Good,
        Verdict::ReleasedByConcession => Tone::Doubt,
        Verdict::Held => Tone::Alarm,
    };
    format!(
        "{}  {}:",
        look.paint(tone, verdict.words()),
        look.paint(Tone::Bold, name)
    )
}

/// How many findings of which class, and how much was not held: each as it is, and painted.
fn pieces(checked: &Checked, requirements: usize, look: &Look) -> Vec<(String, String)> {
    let counts = checked.counts();
    let mut pieces: Vec<(String, Tone)> = counts
        .iter()
        .map(|(class, count)| {
            let plural = if *class == Class::Observation && *count != 1 {
                "s"
            } else {
                ""
            };
            (
                format!("{count} {}{plural}", class.word()),
                Tone::of(*class),
            )
        })
        .collect();
    if pieces.is_empty() {
        pieces.push(("no findings".to_owned(), Tone::Plain));
    }
    let left_out = match super::not_held_count(checked) {
        0 => None,
        count => Some(format!(
            "{} of {requirements} requirements not held",
            grouped(count)
        )),
    };
    let last = pieces.len() - 1;
    let mut pieces: Vec<(String, String)> = pieces
        .into_iter()
        .enumerate()
        .map(|(index, (text, tone))| {
            let mark = match (index == last, left_out.is_some()) {
                (false, _) => ",",
                (true, true) => ";",
                (true, false) => "",
            };
            (
                format!("{text}{mark}"),
                format!("{}{mark}", look.paint(tone, &text)),
            )
        })
        .collect();
    pieces.extend(left_out.map(|text| (text.clone(), text)));
    pieces
}

/// Pieces on lines of their own, none cut in two.
fn filled(pieces: &[(String, String)], width: usize) -> String {
    let mut text = String::new();
    let mut length = 0;
    for (plain, painted) in pieces {
        let wide = plain.chars().count();
        if length > 0 && length + 1 + wide <= width {
            text.push(' ');
            length += 1;
        } else {
            if length > 0 {
                text.push('\n');
            }
            text.push_str("  ");
            length = 2;
        }
        text.push_str(painted);
        length += wide;
    }
    text.push('\n');
    text
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

pub(in crate::report) fn job(checked: &Checked) -> String {
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
    if let (Some(line), unread @ 1..) = (checked.inspected.ends_on, checked.inspected.unread) {
        text.push_str(&format!(
            "; the program ends on line {}, {} line{} after it {} not read as job",
            grouped(line),
            grouped(unread),
            if unread == 1 { "" } else { "s" },
            if unread == 1 { "was" } else { "were" },
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

pub(in crate::report) fn material(checked: &Checked) -> String {
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

pub(in crate::report) fn machine(checked: &Checked) -> String {
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
