//! More is laid than the hotend melts of an easy material.

use super::figures::tenth;
use super::held::of_machine;
use super::melt::{Flows, Whose};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding};
use crate::survey::Layer;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "flow-above-hotend",
    class: Class::Major,
    page: include_str!("flow_above_hotend.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

struct FlowAboveHotend {
    flows: Flows,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    let tools = &held.machine()?.tools;
    if !tools.iter().any(|tool| tool.melt_rate.is_some()) {
        return Err("the machine sheet does not say tools.melt_rate".to_owned());
    }
    held.timed()?;
    Ok(Box::new(FlowAboveHotend {
        flows: Flows::new(held, Whose::Hotend),
    }))
}

impl Inspection for FlowAboveHotend {
    fn layer(&mut self, layer: &Layer) {
        self.flows.layer(layer);
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        if super::is_untimed(REQUIREMENT.id, end, report) {
            return;
        }
        let Some(machine) = end.held.machine.as_deref() else {
            return;
        };
        for above in self.flows.conclude(end.held, end.state, report) {
            let Some(limit) = end
                .held
                .tool(above.tool)
                .and_then(|of| of.melt_rate.as_ref())
            else {
                continue;
            };
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Major,
                message: format!(
                    "{} mm³/s flow for a second or longer, above the {} that the hotend melts",
                    tenth(above.flow),
                    limit.value
                ),
                help: above.help("use a hotend that melts more"),
                limit: Some(of_machine(
                    machine,
                    &format!("tools[{}].melt_rate", above.tool),
                    limit,
                    limit.value,
                )),
                amount: Some(tenth(above.flow)),
                extent: above.tally.close(Counts::Strokes),
                related: Vec::new(),
            });
        }
    }
}
