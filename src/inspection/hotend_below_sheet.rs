//! The part is laid with the hotend set colder than the material sheet allows.

use super::held::{SENSOR_SPREAD, of_material};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Finding, Tally};
use crate::survey::Layer;

/// From this far below the sheet's range it is major, K (the issue's own figure; chosen).
const MAJOR_FROM: f64 = 10.0;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "hotend-below-sheet",
    class: Class::Major,
    page: include_str!("hotend_below_sheet.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

struct HotendBelowSheet {
    held: Held,
    /// By tool: how far below, at which setpoint.
    below: Vec<(u32, bool, Tally)>,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.says("hotend.print", |material| material.hotend.print.as_ref())?;
    Ok(Box::new(HotendBelowSheet {
        held: held.clone(),
        below: Vec::new(),
    }))
}

impl Inspection for HotendBelowSheet {
    fn layer(&mut self, layer: &Layer) {
        let is_first = layer.number == 0;
        for stroke in layer.settings() {
            let tool = stroke.conditions.tool;
            let setting = &stroke.conditions.hotend;
            let (Some(target), Some(by)) = (setting.target.get(), &setting.by) else {
                continue;
            };
            let Some(material) = self.held.material(tool) else {
                continue;
            };
            let first = material.hotend.first_layer.as_ref().filter(|_| is_first);
            let Some(range) = first.or(material.hotend.print.as_ref()) else {
                continue;
            };
            let under = range.value.least.get() - target;
            // Off is another fault: deposit while cold.
            if target > 0.0 && under > SENSOR_SPREAD {
                let known = self
                    .below
                    .iter()
                    .position(|(of, at_first, _)| *of == tool && *at_first == is_first);
                let index = known.unwrap_or(self.below.len());
                if known.is_none() {
                    self.below.push((tool, is_first, Tally::default()));
                }
                if let Some((_, _, tally)) = self.below.get_mut(index) {
                    tally.note_once(under, target, by);
                }
            }
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        for (tool, is_first, tally) in std::mem::take(&mut self.below) {
            let Some(material) = end.held.material(tool) else {
                continue;
            };
            let first = material.hotend.first_layer.as_ref().filter(|_| is_first);
            let (key, range) = match (first, &material.hotend.print) {
                (Some(first), _) => ("hotend.first_layer", first),
                (None, Some(print)) => ("hotend.print", print),
                (None, None) => continue,
            };
            let least = range.value.least;
            let target = tally.worst().unwrap_or_default();
            let under = super::common::tenth(least.get() - target);
            let place = if is_first {
                "the first layer"
            } else {
                "the part"
            };
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: if under > MAJOR_FROM {
                    Class::Major
                } else {
                    Class::Minor
                },
                message: format!(
                    "{place} is laid with the hotend set to {target} °C, {under} K below the \
                     {least} that {} wants",
                    material.name
                ),
                help: format!(
                    "set the hotend to {least} or more; colder, {} flows badly and its layers \
                     bond badly",
                    material.name
                ),
                limit: Some(of_material(material, key, range, least)),
                amount: Some(target),
                extent: tally.close(),
                related: Vec::new(),
            });
        }
    }
}
