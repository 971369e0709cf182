//! Layers taller than the nozzle presses onto the one below.

use super::bins::{Bins, of_tool};
use super::bore::{self, Bore, Share, bore};
use super::figures::{tidy, tools_used};
use super::heights::PartHeights;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, NotHeld, SourceMark};
use crate::machine::mm;
use crate::survey::Layer;

/// The tallest where the material sheet does not say, % of the bore (common practice, no source: a bead
/// taller than about four fifths of the bore is not pressed down).
const MOST: (f64, SourceMark) = (80.0, SourceMark::Practice);

/// One layer may lie over a gap above its support: more than this share of the layers must be too tall,
/// and more than one (chosen).
const SHARE: f64 = 0.05;

/// Heights are held to this, mm.
pub(super) const GRAIN: f64 = 0.001;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "layer-too-tall",
    class: Class::Major,
    page: include_str!("layer_too_tall.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

#[derive(Default)]
struct LayerTooTall {
    heights: PartHeights,
    /// By tool: layers above the first by height.
    layers: Vec<(u32, Bins)>,
}

fn make(_: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(LayerTooTall::default()))
}

fn finding(end: &End<'_>, tool: u32, layers: &Bins, bore: &Bore) -> Option<Finding> {
    let share = Share::of(
        end.held.material(tool),
        "layer.height_most_share",
        |material| material.layer.height_most_share.as_ref(),
        MOST,
    );
    let limit = share.of_bore(bore);
    let tall = layers.above(limit, GRAIN);
    if tall.count < 2 || tall.weight <= SHARE * layers.all().weight {
        return None;
    }
    let worst = tidy(tall.worst());
    Some(Finding {
        requirement: REQUIREMENT.id,
        class: Class::Major,
        message: format!(
            "tool {tool} lays layers up to {worst} mm tall, above the {limit} mm that a bore of {} mm \
             presses down",
            bore.mm
        ),
        help: format!("slice with layers of {limit} mm or less, or for a wider nozzle"),
        limit: Some(share.limit(bore)),
        amount: Some(worst),
        extent: tall.extent(Counts::Layers),
        related: Vec::new(),
    })
}

impl Inspection for LayerTooTall {
    fn layer(&mut self, layer: &Layer) {
        let Some(height) = self.heights.next(layer).filter(|height| !height.is_first) else {
            return;
        };
        let mut seen: u64 = 0;
        for stroke in layer.settings() {
            let tool = stroke.conditions.tool;
            let bit = 1 << (tool & 63);
            if seen & bit != 0 {
                continue;
            }
            seen |= bit;
            of_tool(&mut self.layers, tool).note(
                mm(height.least),
                GRAIN,
                (1.0, 0.0),
                &layer.show(stroke.start),
            );
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        for tool in tools_used(end.state) {
            let Some((_, layers)) = self.layers.iter().find(|(of, _)| *of == tool) else {
                continue;
            };
            match bore(end, tool) {
                Some(bore) => report.findings.extend(finding(end, tool, layers, &bore)),
                None => report.not_held.push(NotHeld {
                    requirement: REQUIREMENT.id,
                    reason: bore::UNKNOWN.to_owned(),
                }),
            }
        }
    }
}
