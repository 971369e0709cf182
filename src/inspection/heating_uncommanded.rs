//! The job lays filament, and nothing in it heats.

use super::heat::is_strange_macro;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Excerpt, Extent, Finding};
use crate::machine::{Facts, Line, Motion, State, Step};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "heating-uncommanded",
    class: Class::Major,
    page: include_str!("heating_uncommanded.md"),
    wants: Wants::motions(Facts::FIRST_DEPOSIT).and(Wants::HEAT),
    silences: &[
        "bed-below-sheet",
        "bed-not-awaited",
        "chamber-not-warmed",
        "cold-deposit",
        "hotend-below-sheet",
        "hotend-not-awaited",
        "probed-cold",
    ],
    make,
};

#[derive(Default)]
struct HeatingUncommanded {
    deposit: Option<Excerpt>,
    has_macro: bool,
}

fn make(_: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(HeatingUncommanded::default()))
}

impl Inspection for HeatingUncommanded {
    fn motion(&mut self, _: &Motion, _: &State, line: &Line<'_>) {
        self.deposit = Some(line.all().excerpt());
    }

    fn step(&mut self, step: &Step<'_>, _: &State, _: &Line<'_>) {
        self.has_macro |= is_strange_macro(step);
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let Some(deposit) = self.deposit.take() else {
            return;
        };
        if self.has_macro || !end.state.heat_said.is_unknown() {
            return;
        }
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Major,
            message: "filament is laid, and no word and no macro in the whole job heats anything"
                .to_owned(),
            help:
                "add the heating words that the start is missing (`M140`, `M104`, `M190`, `M109`); \
                   sent as it is, the job prints only on a machine that somebody has heated by hand"
                    .to_owned(),
            limit: None,
            amount: None,
            extent: Extent::once(deposit),
            related: Vec::new(),
        });
    }
}
