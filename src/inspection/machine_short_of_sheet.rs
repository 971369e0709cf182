//! The machine does not reach what the material needs.

use super::figures::{tenth, tools_used};
use super::held::{SENSOR_SPREAD, of_material};
use super::hotend_above_liner::liner;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Extent, Finding, Limit};
use crate::quantity::Celsius;
use crate::sheet::{ChamberKind, Machine, Material, Tool};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "machine-short-of-sheet",
    class: Class::Major,
    page: include_str!("machine_short_of_sheet.md"),
    wants: Wants::END,
    silences: &[],
    make,
};

struct MachineShortOfSheet;

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.machine()?;
    if held.each_material().next().is_none() {
        return Err("no material is named".to_owned());
    }
    Ok(Box::new(MachineShortOfSheet))
}

impl Inspection for MachineShortOfSheet {
    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let Some(machine) = end.held.machine.as_deref() else {
            return;
        };
        for tool in tools_used(end.state) {
            let Some(material) = end.held.material(tool) else {
                continue;
            };
            for finding in shorts(end.held.tool(tool), machine, material) {
                // Two tools with one material lack the same.
                if !report.findings.contains(&finding) {
                    report.findings.push(finding);
                }
            }
        }
    }
}

fn shorts(tool: Option<&Tool>, machine: &Machine, material: &Material) -> Vec<Finding> {
    let shorts = [
        tool.and_then(|of| hotend(of, material)),
        bed(machine, material),
        chamber(machine, material),
    ];
    shorts.into_iter().flatten().collect()
}

/// The class of its findings on the first tool: the job itself does not matter.
pub(super) fn anew(held: &Held) -> Option<Option<Class>> {
    let Some(machine) = held.machine.as_deref() else {
        return Some(None);
    };
    let findings = shorts(held.tool(0), machine, held.material(0)?);
    Some(findings.iter().map(|finding| finding.class).max())
}

/// Short by more than sensors wander: at the machine's limit the material would count as too cold.
fn is_short(reach: Celsius, least: Celsius) -> bool {
    reach.get() < least.get() - SENSOR_SPREAD
}

fn hotend(tool: &Tool, material: &Material) -> Option<Finding> {
    let range = material.hotend.print.as_ref()?;
    let least = range.value.least;
    let limit = tool.limit.as_ref().map(|limit| ("hotend", limit.value));
    let liner = liner(tool).map(|limit| ("hotend's liner", limit.value));
    let (what, reach) = match (limit, liner) {
        (Some(limit), Some(liner)) if liner.1 < limit.1 => liner,
        (limit, liner) => limit.or(liner)?,
    };
    is_short(reach, least).then(|| {
        let limit = of_material(material, "hotend.print", range, least);
        falls_short(what, reach, least, material, limit)
    })
}

fn bed(machine: &Machine, material: &Material) -> Option<Finding> {
    let range = material.bed.print.as_ref()?;
    let least = range.value.least;
    let reach = machine.bed.limit.as_ref()?.value;
    is_short(reach, least).then(|| {
        let limit = of_material(material, "bed.print", range, least);
        falls_short("bed", reach, least, material, limit)
    })
}

fn chamber(machine: &Machine, material: &Material) -> Option<Finding> {
    material.chamber.required.as_ref().filter(|yes| yes.value)?;
    let range = material.chamber.print.as_ref()?;
    let least = range.value.least;
    let limit = of_material(material, "chamber.print", range, least);
    if machine.chamber.kind.as_ref()?.value == ChamberKind::None {
        let message = format!(
            "the machine has no chamber, and {} needs one at {least} or more",
            material.name
        );
        return Some(finding(message, None, material, limit));
    }
    let reach = machine.chamber.limit.as_ref()?.value;
    is_short(reach, least).then(|| falls_short("chamber", reach, least, material, limit))
}

fn falls_short(
    what: &str,
    reach: Celsius,
    least: Celsius,
    material: &Material,
    limit: Limit,
) -> Finding {
    let message = format!(
        "the machine's {what} goes to {reach}, {} K short of the {least} that {} needs",
        tenth(least.get() - reach.get()),
        material.name
    );
    finding(message, Some(reach.get()), material, limit)
}

fn finding(message: String, amount: Option<f64>, material: &Material, limit: Limit) -> Finding {
    Finding {
        requirement: REQUIREMENT.id,
        class: Class::Major,
        message,
        help: format!(
            "choose another machine or another material; {} does not come out well on this one",
            material.name
        ),
        limit: Some(limit),
        amount,
        extent: Extent::whole_job(),
        related: Vec::new(),
    }
}
