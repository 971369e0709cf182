//! The part is laid with the chamber set hotter than the material stands.

use super::figures::tenth;
use super::held::{SENSOR_SPREAD, of_material};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Limit, Tally};
use crate::quantity::Celsius;
use crate::sheet::Material;
use crate::survey::Layer;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "chamber-above-sheet",
    class: Class::Major,
    page: include_str!("chamber_above_sheet.md"),
    wants: Wants::LAYERS,
    silences: &["enclosure-too-warm"],
    make,
};

struct ChamberAboveSheet {
    held: Held,
    /// By the lowest tool with the material.
    above: Vec<(u32, Tally)>,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.says("chamber.print, softening or jams_above", |material| {
        lowest(material).map(|_| material)
    })?;
    Ok(Box::new(ChamberAboveSheet {
        held: held.clone(),
        above: Vec::new(),
    }))
}

/// The lowest of what the sheet says against hot air, and its key.
fn lowest(material: &Material) -> Option<(&'static str, Celsius)> {
    let chamber = &material.chamber;
    [
        chamber
            .print
            .as_ref()
            .map(|range| ("chamber.print", range.value.most)),
        chamber
            .jams_above
            .as_ref()
            .map(|limit| ("chamber.jams_above", limit.value)),
        chamber
            .softening
            .as_ref()
            .map(|limit| ("chamber.softening", limit.value)),
    ]
    .into_iter()
    .flatten()
    .min_by(|(_, one), (_, other)| one.get().total_cmp(&other.get()))
}

fn limit(material: &Material, key: &'static str, most: Celsius) -> Option<Limit> {
    let chamber = &material.chamber;
    Some(match key {
        "chamber.print" => of_material(material, key, chamber.print.as_ref()?, most),
        "chamber.jams_above" => of_material(material, key, chamber.jams_above.as_ref()?, most),
        _ => of_material(material, key, chamber.softening.as_ref()?, most),
    })
}

impl Inspection for ChamberAboveSheet {
    fn layer(&mut self, layer: &Layer) {
        for stroke in layer.settings() {
            let setting = &stroke.conditions.chamber;
            let (Some(target), Some(by)) = (setting.target.get(), &setting.by) else {
                continue;
            };
            let tool = self.held.alike(stroke.conditions.tool);
            let Some((_, most)) = self.held.material(tool).and_then(lowest) else {
                continue;
            };
            let over = target - most.get();
            if over > SENSOR_SPREAD {
                super::by_tool(&mut self.above, tool).note_once(over, target, by);
            }
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        for (tool, tally) in std::mem::take(&mut self.above) {
            let Some(material) = end.held.material(tool) else {
                continue;
            };
            let Some((key, most)) = lowest(material) else {
                continue;
            };
            let target = tally.worst().unwrap_or_default();
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Major,
                message: format!(
                    "the part is laid with the chamber set to {target} °C, {} K above the {most} \
                     that {} stands",
                    tenth(target - most.get()),
                    material.name
                ),
                help: format!(
                    "set the chamber to {most} or less; hotter, the filament softens before the \
                     hotend and jams, or the part sags",
                ),
                limit: limit(material, key, most),
                amount: Some(target),
                extent: tally.close(Counts::Settings),
                related: Vec::new(),
            });
        }
    }
}
