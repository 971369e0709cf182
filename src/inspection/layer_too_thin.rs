//! Layers thinner than the nozzle lays evenly.

use super::bins::{Bins, of_tool};
use super::bore::{self, Bore, Share, bore};
use super::figures::{tidy, tools_used};
use super::heights::PartHeights;
use super::layer_too_tall::GRAIN;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, NotHeld, SourceMark};
use crate::machine::mm;
use crate::survey::Layer;

/// The thinnest where the material sheet does not say, % of the bore: a step below the 25 % of common
/// practice, since fine work at a fifth of the bore does print (chosen).
const LEAST: (f64, SourceMark) = (20.0, SourceMark::Chosen);

/// A thin last layer or a few thin ones on a slope are honest: more than this share must be too thin, and
/// more than two (chosen).
const SHARE: f64 = 0.2;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "layer-too-thin",
    class: Class::Minor,
    page: include_str!("layer_too_thin.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

/// One tool's layers.
#[derive(Default)]
struct Layers {
    /// Where it laid last, pm.
    below: i64,
    bins: Bins,
}

#[derive(Default)]
struct LayerTooThin {
    heights: PartHeights,
    layers: Vec<(u32, Layers)>,
}

fn make(_: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(LayerTooThin::default()))
}

fn finding(end: &End<'_>, tool: u32, layers: &Bins, bore: &Bore) -> Option<Finding> {
    let share = Share::of(
        end.held.material(tool),
        "layer.height_least_share",
        |material| material.layer.height_least_share.as_ref(),
        LEAST,
    );
    let limit = share.of_bore(bore);
    let thin = layers.below(0.0, limit, GRAIN);
    if thin.count <= 2 || thin.weight <= SHARE * layers.all().weight {
        return None;
    }
    let worst = tidy(thin.worst());
    Some(Finding {
        requirement: REQUIREMENT.id,
        class: Class::Minor,
        message: format!(
            "tool {tool} lays {} layers thinner than {limit} mm, down to {worst} mm, through a bore of \
             {} mm",
            thin.count, bore.mm
        ),
        help: format!("slice with layers of {limit} mm or more, or for a finer nozzle"),
        limit: Some(share.limit(bore)),
        amount: Some(worst),
        extent: thin.extent(Counts::Layers),
        related: Vec::new(),
    })
}

impl Inspection for LayerTooThin {
    fn layer(&mut self, layer: &Layer) {
        let Some(height) = self.heights.next(layer) else {
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
            let layers = of_tool(&mut self.layers, tool);
            // A tool that lays on every second layer lays two at once.
            let own = height.own.max(layer.z - layers.below);
            layers.below = layer.z;
            // Along a path that rises no layer has a height of its own.
            if !height.is_first && !layer.is_rising {
                layers
                    .bins
                    .note(mm(own), GRAIN, (1.0, 0.0), &layer.show(stroke.start));
            }
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        for tool in tools_used(end.state) {
            let Some((_, layers)) = self.layers.iter().find(|(of, _)| *of == tool) else {
                continue;
            };
            match bore(end, tool) {
                Some(bore) => report
                    .findings
                    .extend(finding(end, tool, &layers.bins, &bore)),
                None => report.not_held.push(NotHeld {
                    requirement: REQUIREMENT.id,
                    reason: bore::UNKNOWN.to_owned(),
                }),
            }
        }
    }
}
