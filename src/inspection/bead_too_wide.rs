//! Beads wider than the nozzle's face presses flat.

use super::bins::{Bins, of_tool};
use super::bore::{self, Bore, Share, bore, filament_area, says_filament};
use super::figures::{tidy, tools_used};
use super::heights::PartHeights;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::command::hint::PathKind;
use crate::finding::{Class, Counts, Finding, NotHeld, SourceMark};
use crate::machine::mm;
use crate::physics::bead::width;
use crate::survey::Layer;

/// The widest where the material sheet does not say, % of the bore: beyond the 150 % of common
/// practice, since wide walls through a good nozzle do print (chosen).
const MOST: (f64, SourceMark) = (200.0, SourceMark::Chosen);

/// The same on the first layer: beyond the 200 % of common practice (chosen).
const FIRST_MOST: (f64, SourceMark) = (250.0, SourceMark::Chosen);

/// Bores beyond which no nozzle spreads a bead: its face is two to three bores across (common practice,
/// no source), and what does not fit under it wells up around it (the figure is chosen).
const FACE: f64 = 5.0;

/// The share of the length that must be too wide; without comments infill of several layers' height
/// cannot be told from walls (chosen).
const SHARE: f64 = 0.1;
const SHARE_UNSAID: f64 = 0.25;

/// The share beyond [`FACE`] that makes the part fail (chosen: most of it).
const MOST_OF_IT: f64 = 0.5;

/// Widths are held to this, mm.
pub(super) const GRAIN: f64 = 0.01;

/// The shortest stroke that is taken, mm: rounded numbers say nothing of shorter ones.
pub(super) const SHORTEST: f64 = 0.5;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "bead-too-wide",
    class: Class::Major,
    page: include_str!("bead_too_wide.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

/// What one tool lays, by width.
#[derive(Default)]
struct Widths {
    first: Bins,
    rest: Bins,
    is_named: bool,
}

struct BeadTooWide {
    held: Held,
    heights: PartHeights,
    widths: Vec<(u32, Widths)>,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    says_filament(held)?;
    Ok(Box::new(BeadTooWide {
        held: held.clone(),
        heights: PartHeights::default(),
        widths: Vec::new(),
    }))
}

impl Widths {
    fn finding(&self, end: &End<'_>, tool: u32, bore: &Bore) -> Option<Finding> {
        let material = end.held.material(tool);
        let first = Share::of(
            material,
            "first_layer.width_most_share",
            |material| material.first_layer.width_most_share.as_ref(),
            FIRST_MOST,
        );
        let rest = Share::of(
            material,
            "bead.width_most_share",
            |material| material.bead.width_most_share.as_ref(),
            MOST,
        );
        let enough = if self.is_named { SHARE } else { SHARE_UNSAID };
        let all = self.first.all().weight + self.rest.all().weight;
        let face = FACE * bore.mm;
        let welling = [&self.first, &self.rest]
            .into_iter()
            .map(|bins| bins.above(face, GRAIN).weight)
            .sum::<f64>();
        let is_major = welling > MOST_OF_IT * all;
        [
            (&self.rest, &rest, "lays"),
            (&self.first, &first, "lays on the first layer"),
        ]
        .into_iter()
        .find_map(|(bins, share, lays)| {
            let limit = share.of_bore(bore);
            let wide = bins.above(limit, GRAIN);
            let part = wide.weight / bins.all().weight.max(f64::MIN_POSITIVE);
            if part <= enough {
                return None;
            }
            let worst = tidy((wide.worst() / GRAIN).round() * GRAIN);
            let percent = (part * 100.0).round();
            let (class, message) = if is_major {
                (
                    Class::Major,
                    format!(
                        "{percent} % of what tool {tool} {lays} is wider than {limit} mm, up to \
                             {worst} mm, and most of it far beyond what a bore of {} mm spreads",
                        bore.mm
                    ),
                )
            } else {
                (
                    Class::Minor,
                    format!(
                        "{percent} % of what tool {tool} {lays} is wider than {limit} mm, up to \
                             {worst} mm, through a bore of {} mm",
                        bore.mm
                    ),
                )
            };
            let help = if is_major {
                "see to how the job counts E, absolute or relative, and to its flow factor and \
                     filament diameter"
            } else {
                "slice with narrower lines or for a wider nozzle, and see to the flow factor"
            };
            Some(Finding {
                requirement: REQUIREMENT.id,
                class,
                message,
                help: help.to_owned(),
                limit: Some(share.limit(bore)),
                amount: Some(worst),
                extent: wide.extent(Counts::Strokes),
                related: Vec::new(),
            })
        })
    }
}

impl Inspection for BeadTooWide {
    fn layer(&mut self, layer: &Layer) {
        let Some(height) = self.heights.next(layer) else {
            return;
        };
        // Along a spiral the height is that of a turn, which is known within a factor of two.
        let turns = if layer.is_rising { 2.0 } else { 1.0 };
        let tall = mm(height.greatest) * turns;
        for stroke in layer.part() {
            let tool = stroke.conditions.tool;
            let Some(area) = filament_area(&self.held, tool) else {
                continue;
            };
            let widths = of_tool(&mut self.widths, tool);
            widths.is_named |= stroke.hint != PathKind::Unsaid;
            // A strand over air has no width, a gap is as wide as it is, and infill may be laid once for
            // several layers.
            let is_apart = matches!(
                stroke.hint,
                PathKind::Bridge | PathKind::Gap | PathKind::Infill
            );
            if is_apart || stroke.length < SHORTEST {
                continue;
            }
            let volume = stroke.volume(area);
            let wide = width(volume / stroke.length, tall).unwrap_or(0.0);
            let bins = if height.is_first {
                &mut widths.first
            } else {
                &mut widths.rest
            };
            bins.note(
                wide,
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
