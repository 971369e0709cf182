//! A tool is used that the machine does not have.

use super::{End, Held, Inspection, Report, Requirement, Wants, by_tool};
use crate::command::Command;
use crate::finding::{Class, Counts, Excerpt, Finding, Limit, SourceMark, Tally};
use crate::machine::{Line, State, Step};
use crate::survey::Layer;

/// The most absent tools told apart.
const CAP: usize = 64;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "tool-absent",
    class: Class::Major,
    page: include_str!("tool_absent.md"),
    wants: Wants::STEPS.and(Wants::LAYERS),
    silences: &[],
    make,
};

struct ToolAbsent {
    tools: u32,
    /// The word that first chose each absent tool, and whether it was noted.
    chosen: Vec<(u32, Excerpt, bool)>,
    used: Vec<(u32, Tally)>,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    let machine = held.machine()?;
    if machine.tools.is_empty() {
        return Err("the machine sheet does not say tools".to_owned());
    }
    Ok(Box::new(ToolAbsent {
        tools: u32::try_from(machine.tools.len()).unwrap_or(u32::MAX),
        chosen: Vec::new(),
        used: Vec::new(),
    }))
}

impl Inspection for ToolAbsent {
    fn step(&mut self, step: &Step<'_>, state: &State, line: &Line<'_>) {
        match step.command {
            Command::Tool(Some(tool)) if tool >= self.tools => {
                let is_known = self.chosen.iter().any(|(known, ..)| *known == tool);
                if !is_known && self.chosen.len() < CAP {
                    self.chosen
                        .push((tool, line.word(step.word).excerpt(), false));
                }
            }
            // Switching a tool off that is not there does no harm: end sequences do it for all.
            Command::Hotend {
                target: Some(target),
                tool,
                ..
            } if target > 0.0 => {
                let tool = tool.unwrap_or(state.tool());
                if tool >= self.tools {
                    by_tool(&mut self.used, tool).mark(&line.all());
                }
            }
            _ => {}
        }
    }

    fn layer(&mut self, layer: &Layer) {
        for stroke in &layer.strokes {
            let tool = stroke.conditions.tool;
            if tool < self.tools {
                continue;
            }
            let chosen = self.chosen.iter_mut().find(|(known, ..)| *known == tool);
            if let Some((_, at, noted)) = chosen.filter(|(.., noted)| !noted) {
                by_tool(&mut self.used, tool).mark(at);
                *noted = true;
            }
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let Some(machine) = end.held.machine.as_deref() else {
            return;
        };
        for (tool, tally) in std::mem::take(&mut self.used) {
            let has = match self.tools {
                1 => "one, T0".to_owned(),
                many => format!("{many}, up to T{}", many - 1),
            };
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Major,
                message: format!("the job uses tool T{tool}, and {} has {has}", machine.name),
                help: "slice for the tools the machine has, or add the missing one to the machine \
                       sheet's tools"
                    .to_owned(),
                limit: Some(Limit {
                    value: f64::from(self.tools),
                    unit: "",
                    whose: format!("machine sheet {}, tools", machine.name),
                    source: machine.source.clone(),
                    mark: machine.mark.unwrap_or(SourceMark::Chosen),
                }),
                amount: None,
                extent: tally.close(Counts::Words),
                related: Vec::new(),
            });
        }
    }
}
