//! The first layer is laid faster than the material sheet allows.

use super::again::{Stored, above};
use super::figures::tenth;
use super::held::of_material;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Tally};
use crate::sheet::Material;
use crate::survey::Layer;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "first-layer-fast",
    class: Class::Minor,
    page: include_str!("first_layer_fast.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

struct FirstLayerFast {
    held: Held,
    fast: Vec<(u32, Tally)>,
    /// The fastest, mm/s, past the limit or not.
    fastest: Option<f64>,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.says("first_layer.speed_most", |material| {
        material.first_layer.speed_most.as_ref()
    })?;
    Ok(Box::new(FirstLayerFast {
        held: held.clone(),
        fast: Vec::new(),
        fastest: None,
    }))
}

impl Inspection for FirstLayerFast {
    fn layer(&mut self, layer: &Layer) {
        if layer.number != 0 || !layer.stands_on_bed {
            return;
        }
        for stroke in layer.part() {
            let tool = stroke.conditions.tool;
            let limit = self
                .held
                .material(tool)
                .and_then(|m| m.first_layer.speed_most.as_ref());
            let Some(limit) = limit else { continue };
            self.fastest = above(self.fastest, stroke.feed);
            if is_fast(stroke.feed, limit.value.get()) {
                super::by_tool(&mut self.fast, tool).note(
                    stroke.feed,
                    stroke.feed,
                    &layer.show(stroke.fastest),
                );
            }
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        report.values.push((FEED, self.fastest));
        for (tool, tally) in std::mem::take(&mut self.fast) {
            let Some(material) = end.held.material(tool) else {
                continue;
            };
            let Some(limit) = &material.first_layer.speed_most else {
                continue;
            };
            let feed = tally.worst().unwrap_or_default();
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Minor,
                message: format!(
                    "the first layer is laid at {} mm/s, above the {} that {} wants",
                    tenth(feed),
                    limit.value,
                    material.name
                ),
                help: format!(
                    "slow the first layer to {} so that it holds to the bed",
                    limit.value
                ),
                limit: Some(of_material(
                    material,
                    "first_layer.speed_most",
                    limit,
                    limit.value,
                )),
                amount: Some(feed),
                extent: tally.close(Counts::Strokes),
                related: Vec::new(),
            });
        }
    }
}

/// The fastest deposit of the first layer, mm/s, among the values held.
const FEED: &str = "first_layer.speed";

fn is_fast(feed: f64, limit: f64) -> bool {
    feed > limit * (1.0 + ROUNDING)
}

/// The class of its finding under a sheet.
pub(super) fn anew(stored: &Stored<'_>, material: &Material) -> Option<Option<Class>> {
    let limit = material.first_layer.speed_most.as_ref()?.value.get();
    let feed = stored.value(FEED)?;
    Some(
        feed.filter(|feed| is_fast(*feed, limit))
            .map(|_| Class::Minor),
    )
}

/// A feed of `F1800` is 30 mm/s but for rounding.
const ROUNDING: f64 = 1e-9;
