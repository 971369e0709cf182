//! More is laid than melts of the material.

use super::figures::tenth;
use super::held::of_material;
use super::melt::{Flows, Whose};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding};
use crate::survey::Layer;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "flow-above-sheet",
    class: Class::Major,
    page: include_str!("flow_above_sheet.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

struct FlowAboveSheet {
    flows: Flows,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.says("flow.most", |material| material.flow.most.as_ref())?;
    held.timed()?;
    Ok(Box::new(FlowAboveSheet {
        flows: Flows::new(held, Whose::Sheet),
    }))
}

impl Inspection for FlowAboveSheet {
    fn layer(&mut self, layer: &Layer) {
        self.flows.layer(layer);
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        if super::is_untimed(REQUIREMENT.id, end, report) {
            return;
        }
        for above in self.flows.conclude(end.held, end.state, report) {
            let Some(material) = end.held.material(above.tool) else {
                continue;
            };
            let Some(limit) = &material.flow.most else {
                continue;
            };
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Major,
                message: format!(
                    "{} mm³/s flow for a second or longer, above the {} of {} that melts{}",
                    tenth(above.flow),
                    limit.value,
                    material.name,
                    above.heat(material.flow.at.map(|at| at.get()))
                ),
                help: above.help(
                    "print hotter within the sheet's range, or write what your hotend melts of it \
                     into the sheet",
                ),
                limit: Some(of_material(material, "flow.most", limit, limit.value)),
                amount: Some(tenth(above.flow)),
                extent: above.tally.close(Counts::Strokes),
                related: Vec::new(),
            });
        }
    }
}
