//! A layer has gone cold before the next is laid on it.

use super::air::Air;
use super::figures::tenth;
use super::held::{SENSOR_SPREAD, of_material};
use super::lapse::Lapses;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, NotHeld, Tally};
use crate::machine::Setup;
use crate::sheet::ChamberKind;
use crate::survey::Layer;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "layer-too-slow",
    class: Class::Minor,
    page: include_str!("layer_too_slow.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

struct LayerTooSlow {
    held: Held,
    setup: Setup,
    has_chamber: bool,
    air: Air,
    lapses: Lapses<(u32, f64)>,
    slow: Vec<(u32, Tally)>,
    unknown: Option<&'static str>,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.says("layer.time_most", |material| {
        material.layer.time_most.as_ref()
    })?;
    held.timed()?;
    let kind = held.machine()?.chamber.kind.as_ref();
    let kind = kind.ok_or("the machine sheet does not say chamber.kind")?;
    Ok(Box::new(LayerTooSlow {
        held: held.clone(),
        setup: held.setup(),
        has_chamber: kind.value != ChamberKind::None,
        air: Air::default(),
        lapses: Lapses::default(),
        slow: Vec::new(),
        unknown: None,
    }))
}

/// The material with the shortest patience in a layer: its tool, and the seconds. The first layer has
/// none: the bed keeps it warm.
fn most(held: &Held, layer: &Layer) -> Option<(u32, f64)> {
    if layer.number == 0 || layer.height >= layer.z {
        return None;
    }
    layer
        .settings()
        .filter_map(|stroke| {
            let tool = held.alike(stroke.conditions.tool);
            let limit = held.material(tool)?.layer.time_most.as_ref()?;
            Some((tool, limit.value.get()))
        })
        .min_by(|(_, one), (_, other)| one.total_cmp(other))
}

impl LayerTooSlow {
    /// Whether the air keeps the layer below warm enough to bond; or why nobody can tell.
    fn is_warm(&mut self, layer: &Layer, tool: u32) -> Result<bool, &'static str> {
        if !self.has_chamber {
            return Ok(false);
        }
        let Some(stroke) = layer.settings().next() else {
            return Ok(false);
        };
        let air = self.air.at(stroke, &self.setup);
        if stroke.conditions.chamber.target.is_claimed() {
            return Err("a macro may have warmed the chamber");
        }
        let range = self
            .held
            .material(tool)
            .and_then(|m| m.chamber.print.as_ref());
        let range = range.ok_or("the material sheet does not say chamber.print")?;
        let air = air.ok_or(super::air::UNTOLD)?;
        Ok(air >= range.value.least.get() - SENSOR_SPREAD)
    }
}

impl Inspection for LayerTooSlow {
    fn layer(&mut self, layer: &Layer) {
        let what = most(&self.held, layer);
        let mut late: Option<(u32, f64, f64)> = None;
        self.lapses.take(layer, what, |(tool, limit), seconds| {
            if seconds > limit && late.is_none_or(|(.., most)| seconds > most) {
                late = Some((tool, limit, seconds));
            }
        });
        // The model's air goes on from layer to layer, late or not.
        let tool = late.map_or(0, |(tool, ..)| tool);
        let warm = self.is_warm(layer, tool);
        let Some((tool, limit, seconds)) = late else {
            return;
        };
        match warm {
            Ok(true) => {}
            Err(reason) => self.unknown = Some(reason),
            Ok(false) => {
                if let Some(stroke) = layer.part().next() {
                    super::by_tool(&mut self.slow, tool).note(
                        seconds - limit,
                        seconds.round(),
                        &layer.show(stroke.start),
                    );
                }
            }
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        if super::is_untimed(REQUIREMENT.id, end, report) {
            return;
        }
        if let Some(reason) = self.unknown {
            report.not_held.push(NotHeld {
                requirement: REQUIREMENT.id,
                reason: reason.to_owned(),
            });
        }
        for (tool, tally) in std::mem::take(&mut self.slow) {
            let Some(material) = end.held.material(tool) else {
                continue;
            };
            let Some(limit) = &material.layer.time_most else {
                continue;
            };
            let seconds = tally.worst().unwrap_or_default();
            let by = tenth(seconds / limit.value.get());
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Minor,
                message: format!(
                    "{seconds} s pass before the next layer is laid here, {by} times the {} within \
                     which layers of {} bond well",
                    limit.value, material.name
                ),
                help: "print fewer parts at a time, or faster, or in a warm chamber, so that the layer \
                       below is still warm"
                    .to_owned(),
                limit: Some(of_material(material, "layer.time_most", limit, limit.value)),
                amount: Some(seconds),
                extent: tally.close(Counts::Layers),
                related: Vec::new(),
            });
        }
    }
}
