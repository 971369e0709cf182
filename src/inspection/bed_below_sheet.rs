//! The part is laid with the bed set colder than the material sheet allows.

use super::again::{self, Stored};
use super::figures::tenth;
use super::held::{SENSOR_SPREAD, of_material};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Extent, Finding, NotHeld, Tally};
use crate::machine::Known;
use crate::sheet::{DEFAULT_AMBIENT, Machine, Material};
use crate::survey::Layer;

/// From this far below the sheet's range it is major, K (the issue's own figure; chosen).
const MAJOR_FROM: f64 = 10.0;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "bed-below-sheet",
    class: Class::Major,
    page: include_str!("bed_below_sheet.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

struct BedBelowSheet {
    held: Held,
    ambient: f64,
    /// By the lowest tool with the material.
    below: Vec<(u32, Tally)>,
    /// The coldest, °C, past the limit or not; the air's temperature where it is set no higher.
    coldest: Option<f64>,
    /// Some of the part is laid before anything sets the bed.
    never_set: bool,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.says("bed.print", |material| material.bed.print.as_ref())?;
    let machine = held.machine.as_deref();
    Ok(Box::new(BedBelowSheet {
        held: held.clone(),
        ambient: machine.map_or(DEFAULT_AMBIENT, Machine::ambient).get(),
        below: Vec::new(),
        coldest: None,
        never_set: false,
    }))
}

impl BedBelowSheet {
    /// The job heats the hotend and never the bed.
    fn never_heated(&self, end: &End<'_>, report: &mut Report) {
        let has_bed_heater = end
            .held
            .machine
            .as_deref()
            .is_none_or(|m| m.bed.limit.is_some());
        let is_told =
            matches!(end.state.heat_said, Known::Known(())) && end.state.claims.start.is_none();
        let is_cold = has_bed_heater && is_told;
        report.values.push((NEVER, is_cold.then_some(self.ambient)));
        let first = end.held.each_material().find_map(|material| {
            let range = material.bed.print.as_ref()?;
            let under = tenth(range.value.least.get() - self.ambient);
            (under > SENSOR_SPREAD).then_some((material, range, under))
        });
        let (true, Some((material, range, under))) = (is_cold, first) else {
            report.not_held.push(NotHeld {
                requirement: REQUIREMENT.id,
                reason: "the job never sets the bed".to_owned(),
            });
            return;
        };
        let least = range.value.least;
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: class(under),
            message: format!(
                "the job heats the hotend and never the bed, and {} wants {least} or more",
                material.name
            ),
            help: format!(
                "heat the bed to {} before the part; on a cold one it comes off",
                end.held.bed_within(&range.value)
            ),
            limit: Some(of_material(material, "bed.print", range, least)),
            amount: Some(self.ambient),
            extent: Extent::whole_job(),
            related: Vec::new(),
        });
    }
}

impl Inspection for BedBelowSheet {
    fn layer(&mut self, layer: &Layer) {
        for stroke in layer.settings() {
            let setting = &stroke.conditions.bed;
            let target = match setting.target {
                Known::Known(target) => target,
                Known::Claimed => continue,
                Known::Unknown => {
                    self.never_set = true;
                    continue;
                }
            };
            // Switched off later it lets the part go; that is meant.
            if target == 0.0 && layer.number > 0 {
                continue;
            }
            let tool = self.held.alike(stroke.conditions.tool);
            let range = self.held.material(tool).and_then(|m| m.bed.print.as_ref());
            let (Some(range), Some(by)) = (range, &setting.by) else {
                continue;
            };
            self.coldest = again::below(self.coldest, target.max(self.ambient));
            let under = range.value.least.get() - target.max(self.ambient);
            if under > SENSOR_SPREAD {
                super::by_tool(&mut self.below, tool).note_once(under, target, by);
            }
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        report.values.push((COLDEST, self.coldest));
        if self.never_set && end.state.bed.setting.target.is_unknown() {
            self.never_heated(end, report);
        } else {
            report.values.push((NEVER, None));
        }
        for (tool, tally) in std::mem::take(&mut self.below) {
            let Some(material) = end.held.material(tool) else {
                continue;
            };
            let Some(range) = &material.bed.print else {
                continue;
            };
            let least = range.value.least;
            let target = tally.worst().unwrap_or_default();
            let under = tenth(least.get() - target.max(self.ambient));
            let message = if target > 0.0 {
                format!(
                    "the part is laid with the bed set to {target} °C, {under} K below the {least} \
                     that {} wants",
                    material.name
                )
            } else {
                format!(
                    "the first layer is laid with the bed off, and {} wants {least} or more",
                    material.name
                )
            };
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: class(under),
                message,
                help: format!(
                    "set the bed to {}; colder, the part warps and comes off",
                    end.held.bed_within(&range.value)
                ),
                limit: Some(of_material(material, "bed.print", range, least)),
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

/// The coldest bed under the part, °C, among the values held.
const COLDEST: &str = "bed.least";

/// The bed's temperature, °C, in a job that never sets it and heats the hotend.
const NEVER: &str = "bed.never_set";

/// The class of its worst finding under a sheet.
pub(super) fn anew(stored: &Stored<'_>, material: &Material) -> Option<Option<Class>> {
    let least = material.bed.print.as_ref()?.value.least.get();
    let set = stored.value(COLDEST)?.map(|bed| least - bed);
    let set = set.filter(|under| *under > SENSOR_SPREAD).map(tenth);
    let never = stored.value(NEVER)?.map(|bed| tenth(least - bed));
    let never = never.filter(|under| *under > SENSOR_SPREAD);
    Some(set.map(class).max(never.map(class)))
}
