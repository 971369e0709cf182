//! An abrasive material meets a soft nozzle.

use super::figures::tools_used;
use super::held::limit;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Extent, Finding};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "nozzle-soft",
    class: Class::Major,
    page: include_str!("nozzle_soft.md"),
    wants: Wants::END,
    silences: &[],
    make,
};

struct NozzleSoft;

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.says("nozzle.abrasive", |material| {
        material.nozzle.abrasive.as_ref()
    })?;
    let machine = held.machine()?;
    if machine
        .tools
        .iter()
        .all(|tool| tool.nozzle_material.is_none())
    {
        return Err("the machine sheet does not say tools.nozzle_material".to_owned());
    }
    Ok(Box::new(NozzleSoft))
}

impl Inspection for NozzleSoft {
    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        for number in tools_used(end.state) {
            let (Some(material), Some(tool)) = (end.held.material(number), end.held.tool(number))
            else {
                continue;
            };
            let (Some(abrasive), Some(nozzle)) = (&material.nozzle.abrasive, &tool.nozzle_material)
            else {
                continue;
            };
            if !abrasive.value || nozzle.value.hard() {
                continue;
            }
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Major,
                message: format!(
                    "tool {number} has a {} nozzle, and {} is abrasive",
                    nozzle.value, material.name
                ),
                help: "fit a nozzle of hardened steel, carbide or ruby; a soft bore wears wide \
                       within a few hours of print, and its filings end up in the part"
                    .to_owned(),
                limit: Some(limit(
                    &format!("material sheet {}", material.name),
                    "nozzle.abrasive",
                    abrasive,
                    1.0,
                    "",
                )),
                amount: None,
                extent: Extent::whole_job(),
                related: Vec::new(),
            });
        }
    }
}
