//! The part is laid with the hotend set colder than the material sheet allows.

use super::again::{Stored, below};
use super::figures::tenth;
use super::heat::hotend_range;
use super::held::{SENSOR_SPREAD, of_material};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Tally};
use crate::sheet::Material;
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
    /// By tool, apart for a first layer with a range of its own.
    below: [Vec<(u32, Tally)>; 2],
    /// The coldest setting of the first layer and of the others, °C, past the limit or not.
    coldest: [Option<f64>; 2],
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.says("hotend.print", |material| material.hotend.print.as_ref())?;
    Ok(Box::new(HotendBelowSheet {
        held: held.clone(),
        below: [Vec::new(), Vec::new()],
        coldest: [None, None],
    }))
}

impl Inspection for HotendBelowSheet {
    fn layer(&mut self, layer: &Layer) {
        let [first, others] = &mut self.below;
        for stroke in layer.settings() {
            let tool = stroke.conditions.tool;
            let setting = &stroke.conditions.hotend;
            let (Some(target), Some(by)) = (setting.target.get(), &setting.by) else {
                continue;
            };
            let Some(material) = self.held.material(tool) else {
                continue;
            };
            let Some((key, range)) = hotend_range(material, layer.number == 0) else {
                continue;
            };
            let floor = material.hotend.extrusion_floor.as_ref();
            if floor.is_some_and(|floor| floor.value.get() - target > SENSOR_SPREAD) {
                // So cold that nothing flows: `cold-deposit` states it.
                continue;
            }
            let under = range.value.least.get() - target;
            // Off is another fault: deposit while cold.
            if target <= 0.0 {
                continue;
            }
            let [of_first, of_others] = &mut self.coldest;
            let coldest = if layer.number == 0 {
                of_first
            } else {
                of_others
            };
            *coldest = below(*coldest, target);
            if under > SENSOR_SPREAD {
                let is_first = key == "hotend.first_layer";
                let list = if is_first { &mut *first } else { &mut *others };
                super::by_tool(list, tool).note_once(under, target, by);
            }
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        report.values.extend(TARGETS.into_iter().zip(self.coldest));
        let [first, others] = std::mem::take(&mut self.below);
        let apart = first.into_iter().map(|entry| (true, entry));
        let all = apart.chain(others.into_iter().map(|entry| (false, entry)));
        for (is_first, (tool, tally)) in all {
            let Some(material) = end.held.material(tool) else {
                continue;
            };
            let Some((key, range)) = hotend_range(material, is_first) else {
                continue;
            };
            let least = range.value.least;
            let target = tally.worst().unwrap_or_default();
            let under = tenth(least.get() - target);
            let place = if is_first {
                "the first layer"
            } else {
                "the part"
            };
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: class(under),
                message: format!(
                    "{place} is laid with the hotend set to {target} °C, {under} K below the \
                     {least} that {} wants",
                    material.name
                ),
                help: format!(
                    "set the hotend to {}; colder, {} flows badly and its layers bond badly",
                    end.held.hotend_within(tool, &range.value),
                    material.name
                ),
                limit: Some(of_material(material, key, range, least)),
                amount: Some(target),
                extent: tally.close(Counts::Settings),
                related: Vec::new(),
            });
        }
    }
}

fn class(under: f64) -> Class {
    if under > MAJOR_FROM {
        Class::Major
    } else {
        Class::Minor
    }
}

/// The coldest settings of the first layer and of the others, °C, among the values held.
const TARGETS: [&str; 2] = ["hotend.first_least", "hotend.least"];

/// The class of its worst finding under a sheet.
pub(super) fn anew(stored: &Stored<'_>, material: &Material) -> Option<Option<Class>> {
    let mut worst = None;
    for (name, is_first) in TARGETS.into_iter().zip([true, false]) {
        let (_, range) = hotend_range(material, is_first)?;
        let under = stored
            .value(name)?
            .map(|target| range.value.least.get() - target);
        worst = worst.max(
            under
                .filter(|under| *under > SENSOR_SPREAD)
                .map(|under| class(tenth(under))),
        );
    }
    Some(worst)
}
