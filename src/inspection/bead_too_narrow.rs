//! Beads narrower than the nozzle can press to their neighbours.

use super::bead_too_wide::{GRAIN, SHORTEST};
use super::bins::{Bins, of_tool};
use super::bore::{self, Bore, Share, bore, filament_area, says_filament};
use super::figures::{tidy, tools_used};
use super::heights::PartHeights;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::command::hint::PathKind;
use crate::finding::{Class, Counts, Finding, NotHeld, SourceMark};
use crate::machine::mm;
use crate::physics::bead::{filament_diameter, width};
use crate::survey::Layer;

/// The narrowest where the material sheet does not say, % of the bore: well below the 100 % of common
/// practice, since thin walls are drawn narrower on purpose (chosen).
const LEAST: (f64, SourceMark) = (60.0, SourceMark::Chosen);

/// The share of the length that must be too narrow; more without comments, where gaps and bridges
/// cannot be told from walls (chosen).
const SHARE: f64 = 0.1;
const SHARE_UNSAID: f64 = 0.25;

/// Below this share of the bore it is a trickle, as when a surface is ironed, and no bead, where nearly
/// all plastic is laid otherwise (chosen).
const TRICKLE: f64 = 0.3;
const NEARLY_ALL: f64 = 0.9;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "bead-too-narrow",
    class: Class::Minor,
    page: include_str!("bead_too_narrow.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

#[derive(Default)]
struct Widths {
    bins: Bins,
    is_named: bool,
}

struct BeadTooNarrow {
    held: Held,
    heights: PartHeights,
    widths: Vec<(u32, Widths)>,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    says_filament(held)?;
    Ok(Box::new(BeadTooNarrow {
        held: held.clone(),
        heights: PartHeights::default(),
        widths: Vec::new(),
    }))
}

impl Widths {
    fn finding(&self, end: &End<'_>, tool: u32, bore: &Bore) -> Option<Finding> {
        let share = Share::of(
            end.held.material(tool),
            "bead.width_least_share",
            |material| material.bead.width_least_share.as_ref(),
            LEAST,
        );
        let limit = share.of_bore(bore);
        let all = self.bins.all();
        let trickle = self.bins.below(0.0, TRICKLE * bore.mm, GRAIN);
        let is_ironed = trickle.volume < (1.0 - NEARLY_ALL) * all.volume;
        let (from, whole) = if is_ironed {
            (TRICKLE * bore.mm, all.weight - trickle.weight)
        } else {
            (0.0, all.weight)
        };
        let narrow = self.bins.below(from, limit, GRAIN);
        let part = narrow.weight / whole.max(f64::MIN_POSITIVE);
        let enough = if self.is_named { SHARE } else { SHARE_UNSAID };
        if part <= enough {
            return None;
        }
        let worst = tidy((narrow.worst() / GRAIN).round() * GRAIN);
        Some(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Minor,
            message: format!(
                "{} % of what tool {tool} lays is narrower than {limit} mm, down to {worst} mm, through \
                 a bore of {} mm",
                (part * 100.0).round(),
                bore.mm
            ),
            help: "slice with wider lines or for a finer nozzle, and see to the flow factor"
                .to_owned(),
            limit: Some(share.limit(bore)),
            amount: Some(worst),
            extent: narrow.extent(Counts::Strokes),
            related: Vec::new(),
        })
    }
}

impl Inspection for BeadTooNarrow {
    fn layer(&mut self, layer: &Layer) {
        let Some(height) = self.heights.next(layer) else {
            return;
        };
        // Where the nozzle rises along the way the bead grows with it.
        if layer.is_rising {
            return;
        }
        let tall = mm(height.least);
        for stroke in layer.part() {
            let tool = stroke.conditions.tool;
            let Some(area) = filament_area(&self.held, tool) else {
                continue;
            };
            let widths = of_tool(&mut self.widths, tool);
            widths.is_named |= stroke.hint != PathKind::Unsaid;
            let is_apart = matches!(stroke.hint, PathKind::Bridge | PathKind::Gap);
            if is_apart || stroke.length < SHORTEST {
                continue;
            }
            let volume = stroke.volume(area);
            let section = volume / stroke.length;
            // What does not fill the height hangs as a round strand.
            let wide = width(section, tall).or_else(|| filament_diameter(section));
            widths.bins.note(
                wide.unwrap_or(0.0),
                GRAIN,
                (stroke.length, volume),
                &layer.show(stroke.start),
            );
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        for tool in tools_used(end.state) {
            let Some((_, widths)) = self.widths.iter().find(|(of, _)| *of == tool) else {
                continue;
            };
            match bore(end, tool) {
                Some(bore) => report.findings.extend(widths.finding(end, tool, &bore)),
                None => report.not_held.push(NotHeld {
                    requirement: REQUIREMENT.id,
                    reason: bore::UNKNOWN.to_owned(),
                }),
            }
        }
    }
}
