//! The job was sliced for another bore than the machine's nozzle has.

use super::bore::BORES;
use super::held::of_machine;
use super::told::{length, told_otherwise};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::command::hint::Key;
use crate::finding::{Class, Extent, Finding};

/// Bores closer than this are the same, mm (chosen: below what a nozzle is drilled to).
const GRAIN: f64 = 0.011;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "nozzle-differs",
    class: Class::Major,
    page: include_str!("nozzle_differs.md"),
    wants: Wants::END,
    silences: &[
        "bead-too-narrow",
        "bead-too-wide",
        "first-layer-tall",
        "layer-too-tall",
        "layer-too-thin",
    ],
    make,
};

struct NozzleDiffers;

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    let machine = held.machine()?;
    if machine.tools.iter().all(|tool| tool.bore.is_none()) {
        return Err("the machine sheet does not say tools.bore".to_owned());
    }
    Ok(Box::new(NozzleDiffers))
}

/// Whether a declared bore is the tool's, or nothing is known against it.
fn fits(held: &Held, tool: u32, value: &str) -> bool {
    let bore = held.tool(tool).and_then(|tool| tool.bore.as_ref());
    match (bore, length(value, BORES)) {
        (Some(bore), Some(told)) => (bore.value.get() - told).abs() < GRAIN,
        _ => true,
    }
}

impl Inspection for NozzleDiffers {
    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        for told in told_otherwise(end, Key::NozzleDiameter, fits) {
            let (Some(machine), Some(tool)) =
                (end.held.machine.as_deref(), end.held.tool(told.tool))
            else {
                continue;
            };
            let (Some(bore), Some(value)) = (&tool.bore, length(told.value, BORES)) else {
                continue;
            };
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Major,
                message: format!(
                    "the job declares a nozzle of {value} mm, and tool {} has one of {}",
                    told.tool, bore.value
                ),
                help: format!(
                    "slice for a nozzle of {}, or fit one of {value} mm and say so in the machine \
                     sheet",
                    bore.value
                ),
                limit: Some(of_machine(machine, "tools.bore", bore, bore.value)),
                amount: Some(value),
                extent: Extent::once(told.at.clone()),
                related: Vec::new(),
            });
        }
    }
}
