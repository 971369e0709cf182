//! The part fan runs on the part's first layers.

use super::again::{self, Stored};
use super::fan_bands::{GRAIN, Levels, first_layers};
use super::figures::tenth;
use super::held::of_material;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Tally};
use crate::sheet::Material;
use crate::survey::Layer;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "fan-on-first-layers",
    class: Class::Minor,
    page: include_str!("fan_on_first_layers.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

struct FanOnFirstLayers {
    held: Held,
    levels: Levels,
    /// By tool: filament times fan, filament, and the words that set the fan too high.
    tools: Vec<(u32, f64, f64, Tally)>,
    /// The hardest that a word sets it, per cent, past the limit or not.
    hardest: Option<f64>,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.says("fan.first_layers_most", |material| {
        material.fan.first_layers_most.as_ref()
    })?;
    Ok(Box::new(FanOnFirstLayers {
        held: held.clone(),
        levels: Levels::default(),
        tools: Vec::new(),
        hardest: None,
    }))
}

impl Inspection for FanOnFirstLayers {
    fn layer(&mut self, layer: &Layer) {
        // A part on a raft has no bed to hold to.
        if !layer.stands_on_bed || !layer.has_part() {
            return;
        }
        let level = self.levels.of(layer);
        for stroke in layer.part() {
            let conditions = &stroke.conditions;
            let Some(material) = self.held.material(conditions.tool) else {
                continue;
            };
            let Some(most) = &material.fan.first_layers_most else {
                continue;
            };
            if level >= first_layers(material) {
                continue;
            }
            let known = self
                .tools
                .iter()
                .position(|(tool, ..)| *tool == conditions.tool);
            let index = known.unwrap_or(self.tools.len());
            if known.is_none() {
                self.tools
                    .push((conditions.tool, 0.0, 0.0, Tally::default()));
            }
            let Some((_, sum, weight, tally)) = self.tools.get_mut(index) else {
                continue;
            };
            let share = conditions.fan * 100.0;
            *sum += share * stroke.pushed as f64;
            *weight += stroke.pushed as f64;
            if conditions.fan_by.is_some() {
                self.hardest = again::above(self.hardest, share);
            }
            if let (true, Some(by)) = (share > most.value.get() + GRAIN, &conditions.fan_by) {
                tally.note_once(share, share, by);
            }
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let means = self.tools.iter().filter(|(_, _, weight, _)| *weight > 0.0);
        let mean = means.map(|(_, sum, weight, _)| sum / weight).next();
        report
            .values
            .extend([(MEAN, mean), (HARDEST, self.hardest)]);
        for (tool, sum, weight, tally) in std::mem::take(&mut self.tools) {
            let Some(material) = end.held.material(tool) else {
                continue;
            };
            let Some(most) = &material.fan.first_layers_most else {
                continue;
            };
            let mean = sum / weight;
            if weight <= 0.0 || mean <= most.value.get() + GRAIN || tally.is_empty() {
                continue;
            }
            let layers = match first_layers(material) {
                1 => "first layer".to_owned(),
                many => format!("first {many} layers"),
            };
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Minor,
                message: format!(
                    "the part fan runs at {} % on average over the part's {layers}, above \
                     the {} that {} wants",
                    tenth(mean),
                    most.value,
                    material.name
                ),
                help: format!(
                    "keep the part fan at {} or below through the {layers}, so that the part \
                     holds to the bed",
                    most.value
                ),
                limit: Some(of_material(
                    material,
                    "fan.first_layers_most",
                    most,
                    most.value,
                )),
                amount: Some(tenth(mean)),
                extent: tally.close(Counts::Settings),
                related: Vec::new(),
            });
        }
    }
}

/// The fan's mean on the first layers, and the hardest that a word sets it there, per cent, among the
/// values held.
const MEAN: &str = "fan.first_layers_mean";
const HARDEST: &str = "fan.first_layers_most";

/// The class of its finding under a sheet.
pub(super) fn anew(stored: &Stored<'_>, material: &Material) -> Option<Option<Class>> {
    let most = material.fan.first_layers_most.as_ref()?.value.get() + GRAIN;
    let is_above = |share: Option<f64>| share.is_some_and(|share| share > most);
    let is_found = is_above(stored.value(MEAN)?) && is_above(stored.value(HARDEST)?);
    Some(is_found.then_some(Class::Minor))
}
