//! The part fan runs harder than the material sheet allows.

use super::fan_bands::{Bands, Edge, range};
use super::figures::tenth;
use super::held::of_material;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Finding, NotHeld};
use crate::survey::Layer;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "fan-above-sheet",
    class: Class::Minor,
    page: include_str!("fan_above_sheet.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

struct FanAboveSheet(Bands);

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.says("fan.print", |material| material.fan.print.as_ref())?;
    Ok(Box::new(FanAboveSheet(Bands::new(held, Edge::Most))))
}

impl Inspection for FanAboveSheet {
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
            let limit = range.value.most;
            let what = if group.bridge {
                "bridges"
            } else {
                "ten layers of the part"
            };
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Minor,
                message: format!(
                    "the part fan runs at {} % on average over {what}, above the {limit} \
                     that {} wants",
                    tenth(group.worst),
                    material.name
                ),
                help: format!(
                    "set the part fan to {limit} or below; cooled too hard, the layers bond badly"
                ),
                limit: Some(of_material(material, key, range, limit)),
                amount: Some((group.worst * 10.0).round() / 10.0),
                extent: group.outside.close(),
                related: Vec::new(),
            });
        }
    }
}
