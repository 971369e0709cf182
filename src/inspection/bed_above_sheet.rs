//! The part is laid with the bed set hotter than the material sheet allows.

use super::again::{self, Stored};
use super::figures::tenth;
use super::held::{SENSOR_SPREAD, of_material};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Tally};
use crate::sheet::Material;
use crate::survey::Layer;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "bed-above-sheet",
    class: Class::Minor,
    page: include_str!("bed_above_sheet.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

struct BedAboveSheet {
    held: Held,
    /// By the lowest tool with the material.
    above: Vec<(u32, Tally)>,
    /// The hottest setting, °C, past the limit or not.
    hottest: Option<f64>,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.says("bed.print", |material| material.bed.print.as_ref())?;
    Ok(Box::new(BedAboveSheet {
        held: held.clone(),
        above: Vec::new(),
        hottest: None,
    }))
}

impl Inspection for BedAboveSheet {
    fn layer(&mut self, layer: &Layer) {
        for stroke in layer.settings() {
            let setting = &stroke.conditions.bed;
            let (Some(target), Some(by)) = (setting.target.get(), &setting.by) else {
                continue;
            };
            let tool = self.held.alike(stroke.conditions.tool);
            let range = self.held.material(tool).and_then(|m| m.bed.print.as_ref());
            let Some(range) = range else { continue };
            self.hottest = again::above(self.hottest, target);
            let over = target - range.value.most.get();
            if over > SENSOR_SPREAD {
                super::by_tool(&mut self.above, tool).note_once(over, target, by);
            }
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        report.values.push((TARGET, self.hottest));
        for (tool, tally) in std::mem::take(&mut self.above) {
            let Some(material) = end.held.material(tool) else {
                continue;
            };
            let Some(range) = &material.bed.print else {
                continue;
            };
            let most = range.value.most;
            let target = tally.worst().unwrap_or_default();
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Minor,
                message: format!(
                    "the part is laid with the bed set to {target} °C, {} K above the {most} that \
                     {} wants",
                    tenth(target - most.get()),
                    material.name
                ),
                help: format!(
                    "set the bed to {most} or less; hotter, the part's foot softens and spreads"
                ),
                limit: Some(of_material(material, "bed.print", range, most)),
                amount: Some(target),
                extent: tally.close(Counts::Settings),
                related: Vec::new(),
            });
        }
    }
}

/// The hottest setting of the bed under the part, °C, among the values held.
const TARGET: &str = "bed.most";

/// The class of its finding under a sheet.
pub(super) fn anew(stored: &Stored<'_>, material: &Material) -> Option<Option<Class>> {
    let most = material.bed.print.as_ref()?.value.most.get();
    let over = stored.value(TARGET)?.map(|target| target - most);
    Some(
        over.filter(|over| *over > SENSOR_SPREAD)
            .map(|_| Class::Minor),
    )
}
