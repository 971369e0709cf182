//! The bed is set hotter than the machine allows.

use super::figures::tenth;
use super::heat::bed_told;
use super::held::of_machine;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Tally};
use crate::machine::{Line, State, Step};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "bed-above-machine",
    class: Class::Critical,
    page: include_str!("bed_above_machine.md"),
    wants: Wants::HEAT,
    silences: &["bed-above-sheet"],
    make,
};

struct BedAboveMachine {
    limit: f64,
    above: Tally,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    let Some(limit) = &held.machine()?.bed.limit else {
        return Err("the machine sheet does not say bed.limit".to_owned());
    };
    Ok(Box::new(BedAboveMachine {
        limit: limit.value.get(),
        above: Tally::default(),
    }))
}

impl Inspection for BedAboveMachine {
    fn step(&mut self, step: &Step<'_>, _: &State, line: &Line<'_>) {
        if let Some((target, word)) = bed_told(step)
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
        let Some(limit) = &machine.bed.limit else {
            return;
        };
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Critical,
            message: format!(
                "the bed is set to {worst} °C, {} K above the {} the machine allows",
                tenth(worst - limit.value.get()),
                limit.value,
            ),
            help: "set the bed no hotter than the machine allows, or choose a machine whose bed reaches \
                       this temperature; never raise a limit in the control to print a job"
                .to_owned(),
            limit: Some(of_machine(machine, "bed.limit", limit, limit.value)),
            amount: Some(worst),
            extent: tally.close(Counts::Settings),
            related: Vec::new(),
        });
    }
}
