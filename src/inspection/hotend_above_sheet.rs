//! The part is laid with the hotend set hotter than the material sheet allows.

use super::again::{self, Stored};
use super::figures::tenth;
use super::heat::hotend_range;
use super::held::{SENSOR_SPREAD, of_material};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Tally};
use crate::sheet::Material;
use crate::survey::Layer;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "hotend-above-sheet",
    class: Class::Major,
    page: include_str!("hotend_above_sheet.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

struct HotendAboveSheet {
    held: Held,
    /// By tool, apart for a first layer with a range of its own.
    above: [Vec<(u32, Tally)>; 2],
    /// The hottest setting of the first layer and of the others, °C, past the limit or not.
    hottest: [Option<f64>; 2],
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.says("hotend.print", |material| material.hotend.print.as_ref())?;
    Ok(Box::new(HotendAboveSheet {
        held: held.clone(),
        above: [Vec::new(), Vec::new()],
        hottest: [None, None],
    }))
}

impl Inspection for HotendAboveSheet {
    fn layer(&mut self, layer: &Layer) {
        let [first, others] = &mut self.above;
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
            let [of_first, of_others] = &mut self.hottest;
            let hottest = if layer.number == 0 {
                of_first
            } else {
                of_others
            };
            *hottest = again::above(*hottest, target);
            let over = target - range.value.most.get();
            if over > SENSOR_SPREAD {
                let is_first = key == "hotend.first_layer";
                let list = if is_first { &mut *first } else { &mut *others };
                super::by_tool(list, tool).note_once(over, target, by);
            }
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        report.values.extend(TARGETS.into_iter().zip(self.hottest));
        let [first, others] = std::mem::take(&mut self.above);
        let apart = first.into_iter().map(|entry| (true, entry));
        let all = apart.chain(others.into_iter().map(|entry| (false, entry)));
        for (is_first, (tool, tally)) in all {
            let Some(material) = end.held.material(tool) else {
                continue;
            };
            let Some((key, range)) = hotend_range(material, is_first) else {
                continue;
            };
            let most = range.value.most;
            let target = tally.worst().unwrap_or_default();
            let place = if is_first {
                "the first layer"
            } else {
                "the part"
            };
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Major,
                message: format!(
                    "{place} is laid with the hotend set to {target} °C, {} K above the {most} \
                     that {} stands",
                    tenth(target - most.get()),
                    material.name
                ),
                help: format!(
                    "set the hotend to {most} or less; hotter, {} strings, sags and breaks down, \
                     and fumes: ventilate",
                    material.name
                ),
                limit: Some(of_material(material, key, range, most)),
                amount: Some(target),
                extent: tally.close(Counts::Settings),
                related: Vec::new(),
            });
        }
    }
}

/// The hottest settings of the first layer and of the others, °C, among the values held.
const TARGETS: [&str; 2] = ["hotend.first_most", "hotend.most"];

/// The class of its findings under a sheet.
pub(super) fn anew(stored: &Stored<'_>, material: &Material) -> Option<Option<Class>> {
    let mut found = None;
    for (name, is_first) in TARGETS.into_iter().zip([true, false]) {
        let (_, range) = hotend_range(material, is_first)?;
        let over = stored
            .value(name)?
            .map(|target| target - range.value.most.get());
        found = found.max(
            over.filter(|over| *over > SENSOR_SPREAD)
                .map(|_| Class::Major),
        );
    }
    Some(found)
}
