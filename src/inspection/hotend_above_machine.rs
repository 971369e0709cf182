//! The hotend is set hotter than the machine allows.

use super::figures::tenth;
use super::heat::hotend_told;
use super::held::of_machine;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Tally};
use crate::machine::{Line, State, Step};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "hotend-above-machine",
    class: Class::Critical,
    page: include_str!("hotend_above_machine.md"),
    wants: Wants::HEAT,
    silences: &["hotend-above-liner", "hotend-above-sheet"],
    make,
};

struct HotendAboveMachine {
    held: Held,
    above: Vec<(u32, Tally)>,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    let machine = held.machine()?;
    if machine.tools.iter().all(|tool| tool.limit.is_none()) {
        return Err("the machine sheet does not say tools.limit".to_owned());
    }
    Ok(Box::new(HotendAboveMachine {
        held: held.clone(),
        above: Vec::new(),
    }))
}

impl Inspection for HotendAboveMachine {
    fn step(&mut self, step: &Step<'_>, state: &State, line: &Line<'_>) {
        let Some((tool, target, word)) = hotend_told(step, state) else {
            return;
        };
        let Some(limit) = self.held.tool(tool).and_then(|tool| tool.limit.as_ref()) else {
            return;
        };
        let over = target - limit.value.get();
        if over > 0.0 {
            super::by_tool(&mut self.above, tool).note(over, target, &line.word(word));
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let Some(machine) = end.held.machine.as_deref() else {
            return;
        };
        for (tool, tally) in std::mem::take(&mut self.above) {
            let Some(limit) = machine
                .tools
                .get(tool as usize)
                .and_then(|tool| tool.limit.as_ref())
            else {
                continue;
            };
            let worst = tally.worst().unwrap_or_default();
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Critical,
                message: format!(
                    "the hotend is set to {worst} °C, {} K above the {} the machine allows",
                    tenth(worst - limit.value.get()),
                    limit.value,
                ),
                help: "choose a machine whose hotend reaches this temperature; never raise a \
                       limit in the control to print a job"
                    .to_owned(),
                limit: Some(of_machine(machine, "tools.limit", limit, limit.value)),
                amount: Some(worst),
                extent: tally.close(Counts::Settings),
                related: Vec::new(),
            });
        }
    }
}
