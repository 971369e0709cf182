//! The nozzle's bore is smaller than the material passes.

use super::figures::tools_used;
use super::held::of_material;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Extent, Finding};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "nozzle-narrow",
    class: Class::Major,
    page: include_str!("nozzle_narrow.md"),
    wants: Wants::END,
    silences: &[],
    make,
};

struct NozzleNarrow;

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.says("nozzle.smallest", |material| {
        material.nozzle.smallest.as_ref()
    })?;
    let machine = held.machine()?;
    if machine.tools.iter().all(|tool| tool.bore.is_none()) {
        return Err("the machine sheet does not say tools.bore".to_owned());
    }
    Ok(Box::new(NozzleNarrow))
}

impl Inspection for NozzleNarrow {
    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        for number in tools_used(end.state) {
            let (Some(material), Some(tool)) = (end.held.material(number), end.held.tool(number))
            else {
                continue;
            };
            let (Some(smallest), Some(bore)) = (&material.nozzle.smallest, &tool.bore) else {
                continue;
            };
            if bore.value >= smallest.value {
                continue;
            }
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Major,
                message: format!(
                    "tool {number} has a bore of {}, below the {} that {} needs",
                    bore.value, smallest.value, material.name
                ),
                help: format!(
                    "fit a nozzle of {} or wider and slice for it; fibres bridge a narrow bore \
                     and clog it",
                    smallest.value
                ),
                limit: Some(of_material(
                    material,
                    "nozzle.smallest",
                    smallest,
                    smallest.value,
                )),
                amount: Some(bore.value.get()),
                extent: Extent::whole_job(),
                related: Vec::new(),
            });
        }
    }
}
