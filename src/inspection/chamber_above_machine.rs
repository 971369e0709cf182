//! The chamber is set hotter than the machine allows.

use super::figures::tenth;
use super::heat::chamber_told;
use super::held::of_machine;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Tally};
use crate::machine::{Line, State, Step};
use crate::sheet::ChamberKind;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "chamber-above-machine",
    class: Class::Critical,
    page: include_str!("chamber_above_machine.md"),
    wants: Wants::HEAT,
    silences: &["chamber-above-sheet"],
    make,
};

struct ChamberAboveMachine {
    limit: f64,
    above: Tally,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    let chamber = &held.machine()?.chamber;
    if chamber.kind.as_ref().map(|kind| kind.value) == Some(ChamberKind::None) {
        return Err("the machine has no chamber".to_owned());
    }
    let Some(limit) = &chamber.limit else {
        return Err("the machine sheet does not say chamber.limit".to_owned());
    };
    Ok(Box::new(ChamberAboveMachine {
        limit: limit.value.get(),
        above: Tally::default(),
    }))
}

impl Inspection for ChamberAboveMachine {
    fn step(&mut self, step: &Step<'_>, _: &State, line: &Line<'_>) {
        if let Some((target, word)) = chamber_told(step)
            && target > self.limit
        {
            self.above.note(target, target, &line.word(word));
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let tally = std::mem::take(&mut self.above);
        let (Some(worst), Some(machine)) = (tally.worst(), end.held.machine.as_deref()) else {
            return;
        };
        let Some(limit) = &machine.chamber.limit else {
            return;
        };
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Critical,
            message: format!(
                "the chamber is set to {worst} °C, {} K above the {} the machine allows",
                tenth(worst - limit.value.get()),
                limit.value,
            ),
            help: "set the chamber no hotter than the machine allows; its drives, wiring and belts share \
                       its air"
                .to_owned(),
            limit: Some(of_machine(machine, "chamber.limit", limit, limit.value)),
            amount: Some(worst),
            extent: tally.close(Counts::Settings),
            related: Vec::new(),
        });
    }
}
