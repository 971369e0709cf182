//! Layers follow one another faster than they cool.

use super::fan_bands::GRAIN;
use super::figures::tenth;
use super::held::of_material;
use super::quicks::{Quick, Quicks};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Tally};
use crate::sheet::Material;
use crate::survey::Layer;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "layer-too-quick",
    class: Class::Major,
    page: include_str!("layer_too_quick.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

/// A job that keeps a floor of speed is within this share of it (chosen).
const AT_FLOOR: f64 = 0.1;

struct ByTool {
    tool: u32,
    tally: Tally,
    quickest: Quick,
    /// Some of them could be laid slower or cooled more.
    could_do_more: bool,
}

struct LayerTooQuick {
    held: Held,
    quicks: Quicks,
    found: Vec<ByTool>,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.says("layer.time_least", |material| {
        material.layer.time_least.as_ref()
    })?;
    held.timed()?;
    Ok(Box::new(LayerTooQuick {
        held: held.clone(),
        quicks: Quicks::new(held),
        found: Vec::new(),
    }))
}

/// Whether a layer is laid faster than the sheet's floor, or its fan could blow harder.
fn could_do_more(material: &Material, quick: &Quick) -> bool {
    let floor = material.layer.speed_floor.as_ref();
    let is_slow = floor.is_some_and(|floor| quick.speed <= floor.value.get() * (1.0 + AT_FLOOR));
    !is_slow || more_fan(material, quick).is_some()
}

/// The sheet's strongest fan, where a layer has less.
fn more_fan(material: &Material, quick: &Quick) -> Option<f64> {
    let most = material.fan.print.as_ref()?.value.most.get();
    (quick.fan * 100.0 < most - GRAIN).then_some(most)
}

impl LayerTooQuick {
    fn count(&mut self, quick: Quick) {
        let Some(material) = self.held.material(quick.tool) else {
            return;
        };
        let more = could_do_more(material, &quick);
        let place = self.found.iter().position(|of| of.tool == quick.tool);
        let place = place.unwrap_or_else(|| {
            self.found.push(ByTool {
                tool: quick.tool,
                tally: Tally::default(),
                quickest: quick.clone(),
                could_do_more: false,
            });
            self.found.len() - 1
        });
        let Some(of) = self.found.get_mut(place) else {
            return;
        };
        of.tally
            .note(-quick.seconds, tenth(quick.seconds), &quick.at);
        of.could_do_more |= more;
        if quick.seconds < of.quickest.seconds {
            of.quickest = quick;
        }
    }
}

/// What would help the quickest layer.
fn help(material: &Material, quick: &Quick, least: f64) -> String {
    let floor = material
        .layer
        .speed_floor
        .as_ref()
        .map(|floor| floor.value.get());
    let others = quick.seconds - quick.print;
    let within = quick.speed * quick.print / (least - others);
    let within = (within * 10.0).floor() / 10.0;
    let fan = more_fan(material, quick)
        .map(|most| format!(", and cool with the fan at {most} %"))
        .unwrap_or_default();
    let two = "print two of them at a time, so that one cools while the other is laid";
    match floor {
        _ if quick.speed.is_nan() => format!("{two}{fan}"),
        Some(floor) if within < floor && quick.speed <= floor * (1.0 + AT_FLOOR) => {
            format!("{two}{fan}")
        }
        Some(floor) if within < floor => format!(
            "slow them down to {floor} mm/s ({} mm/s are set), which gives {} s, and {two}{fan}",
            tenth(quick.speed),
            tenth(others + quick.print * quick.speed / floor)
        ),
        _ => format!(
            "slow them down to {within} mm/s ({} mm/s are set), or {two}{fan}",
            tenth(quick.speed)
        ),
    }
}

impl Inspection for LayerTooQuick {
    fn layer(&mut self, layer: &Layer) {
        let mut counted = Vec::new();
        self.quicks.layer(layer, &mut |quick| counted.push(quick));
        for quick in counted {
            self.count(quick);
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        if super::is_untimed(REQUIREMENT.id, end, report) {
            return;
        }
        for of in std::mem::take(&mut self.found) {
            let Some(material) = end.held.material(of.tool) else {
                continue;
            };
            let Some(limit) = &material.layer.time_least else {
                continue;
            };
            let quick = &of.quickest;
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: if of.could_do_more {
                    Class::Major
                } else {
                    Class::Minor
                },
                message: format!(
                    "layers of {} follow one another within less than {}, the quickest after {} s at \
                     Z {} mm: the next is laid on it while it is still soft",
                    material.name,
                    limit.value,
                    tenth(quick.seconds),
                    super::figures::tidy(quick.z)
                ),
                help: help(material, quick, limit.value.get()),
                limit: Some(of_material(material, "layer.time_least", limit, limit.value)),
                amount: Some(tenth(quick.seconds)),
                extent: of.tally.close(Counts::Layers),
                related: Vec::new(),
            });
        }
    }
}
