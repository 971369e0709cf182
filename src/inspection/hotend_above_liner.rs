//! The hotend is set hotter than its polymer liner stands.

use super::figures::tenth;
use super::heat::hotend_told;
use super::held::of_machine;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, SourceMark, Tally};
use crate::machine::{Line, State, Step};
use crate::quantity::Celsius;
use crate::sheet::{Cited, Tool};

/// From this far above the liner's limit it is critical, K (the issue's own figure; chosen).
const CRITICAL_FROM: f64 = 10.0;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "hotend-above-liner",
    class: Class::Critical,
    page: include_str!("hotend_above_liner.md"),
    wants: Wants::HEAT,
    silences: &[],
    make,
};

struct HotendAboveLiner {
    held: Held,
    above: Vec<(u32, Tally)>,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    let machine = held.machine()?;
    if machine.tools.iter().all(|tool| tool.lined.is_none()) {
        return Err("the machine sheet does not say tools.lined".to_owned());
    }
    Ok(Box::new(HotendAboveLiner {
        held: held.clone(),
        above: Vec::new(),
    }))
}

/// The liner's limit; the usual one where the sheet only says that there is a liner.
pub(super) fn liner(tool: &Tool) -> Option<Cited<Celsius>> {
    let limit = tool.liner_limit()?;
    Some(tool.liner_limit.clone().unwrap_or_else(|| {
        let source = "the usual limit of a polymer liner".to_owned();
        Cited::new(limit, Some(source), SourceMark::Practice)
    }))
}

impl Inspection for HotendAboveLiner {
    fn step(&mut self, step: &Step<'_>, state: &State, line: &Line<'_>) {
        let Some((tool, target, word)) = hotend_told(step, state) else {
            return;
        };
        let Some(limit) = self.held.tool(tool).and_then(Tool::liner_limit) else {
            return;
        };
        let over = target - limit.get();
        if over > 0.0 {
            super::by_tool(&mut self.above, tool).note(over, target, &line.word(word));
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let Some(machine) = end.held.machine.as_deref() else {
            return;
        };
        for (tool, tally) in std::mem::take(&mut self.above) {
            let Some(limit) = end.held.tool(tool).and_then(liner) else {
                continue;
            };
            let worst = tally.worst().unwrap_or_default();
            let over = tenth(worst - limit.value.get());
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: if over > CRITICAL_FROM {
                    Class::Critical
                } else {
                    Class::Minor
                },
                message: format!(
                    "the hotend is set to {worst} °C, {over} K above the {} its liner stands",
                    limit.value
                ),
                help: format!(
                    "set the hotend to {} or less, or print on an all-metal hotend; an overheated \
                     liner gives off harmful fumes: ventilate, and follow local rules",
                    limit.value
                ),
                limit: Some(of_machine(
                    machine,
                    "tools.liner_limit",
                    &limit,
                    limit.value,
                )),
                amount: Some(worst),
                extent: tally.close(Counts::Settings),
                related: Vec::new(),
            });
        }
    }
}
