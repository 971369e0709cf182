//! The part fan runs slower than the material sheet wants.

use super::fan_bands::{Bands, Edge, range};
use super::figures::tenth;
use super::held::of_material;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Finding, NotHeld};
use crate::survey::Layer;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "fan-below-sheet",
    class: Class::Observation,
    page: include_str!("fan_below_sheet.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

struct FanBelowSheet(Bands);

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.says("fan.print", |material| material.fan.print.as_ref())?;
    Ok(Box::new(FanBelowSheet(Bands::new(held, Edge::Least))))
}

impl Inspection for FanBelowSheet {
    fn layer(&mut self, layer: &Layer) {
        self.0.layer(layer);
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let groups = match self.0.conclude(end) {
            Ok(groups) => groups,
            Err(reason) => {
                report.not_held.push(NotHeld {
                    requirement: REQUIREMENT.id,
                    reason: reason.to_owned(),
                });
                return;
            }
        };
        for group in groups {
            let Some(material) = end.held.material(group.tool) else {
                continue;
            };
            let Some((key, range)) = range(material, group.bridge) else {
                continue;
            };
            let limit = range.value.least;
            let what = if group.bridge {
                "bridges"
            } else {
                "ten layers of the part"
            };
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Observation,
                message: format!(
                    "the part fan runs at {} % on average over {what}, below the {limit} \
                     that {} wants",
                    tenth(group.worst),
                    material.name
                ),
                help: format!(
                    "set the part fan to {limit} or more, so that each layer sets before the next is laid on it"
                ),
                limit: Some(of_material(material, key, range, limit)),
                amount: Some((group.worst * 10.0).round() / 10.0),
                extent: group.outside.close(),
                related: Vec::new(),
            });
        }
    }
}
