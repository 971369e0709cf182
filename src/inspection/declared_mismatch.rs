//! What the job's own comments state is not what its motion does.

use super::bins::Bins;
use super::figures::{tidy, tools_used};
use super::heights::PartHeights;
use super::reckoned::Filament;
use super::stated::{Off, numbers};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::command::hint::Key;
use crate::finding::{Class, Counts, Finding, Tally};
use crate::machine::mm;
use crate::survey::Layer;

/// How far a statement may lie off under the reading nearest to it (chosen).
const SPREAD: f64 = 0.05;
/// Heights closer than this are the same, mm (chosen).
const CLOSE: f64 = 0.005;
/// A first layer may be trimmed by this much against what was sliced, mm (chosen).
const TRIM: f64 = 0.1;
/// Heights of fewer layers than this share are exceptions (chosen).
const RARE: f64 = 0.05;
/// Walls are held where so much of the outline has the usual count (chosen).
const USUAL: f64 = 0.7;
/// Infill may differ by so many points, and by this share of what is stated (chosen).
const DENSER: f64 = 5.0;
const DENSER_SHARE: f64 = 0.2;
/// Heights are told apart by this, mm.
const GRAIN: f64 = 0.001;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "declared-mismatch",
    class: Class::Observation,
    page: include_str!("declared_mismatch.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

#[derive(Default)]
struct DeclaredMismatch {
    heights: PartHeights,
    rest: Bins,
    layers: u64,
    rising: u64,
    on_raft: bool,
    laid: Filament,
}

fn make(_: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(DeclaredMismatch::default()))
}

impl DeclaredMismatch {
    /// Filament by length or mass: the sum of all tools, or each for itself.
    fn filament<'a>(
        &self,
        end: &End<'a>,
        key: Key,
        read: impl Fn(&Filament, &End<'_>, &[u32]) -> [f64; 2],
    ) -> Option<Off<'a>> {
        let (list, at) = end.declared.sure(key)?;
        let (values, rounding) = numbers(list);
        let used = tools_used(end.state);
        let says: f64 = values.iter().sum();
        let [mut least, mut most] = read(&self.laid, end, &used);
        if used.len() > 1 {
            // One number may be one tool's, and a flush may be the control's own.
            most = f64::INFINITY;
            if values.len() == 1 {
                least = used
                    .iter()
                    .map(|tool| read(&self.laid, end, &[*tool])[0])
                    .fold(least, f64::min);
            }
        }
        let is_off =
            says < least * (1.0 - SPREAD) - rounding || says > most * (1.0 + SPREAD) + rounding;
        (is_off && most > 0.0).then_some(Off {
            key,
            says: tidy(says),
            does: if most.is_finite() {
                [least, most]
            } else {
                [least, least]
            },
            at,
        })
    }

    fn height<'a>(&self, end: &End<'a>) -> Option<Off<'a>> {
        let (list, at) = end.declared.sure(Key::LayerHeight)?;
        // A job of a single layer has none of the usual height.
        let bins = &self.rest;
        let size = |grains: u32| f64::from(grains) * GRAIN;
        let usual = size(bins.usual()?);
        let (least, most) = bins
            .sizes(RARE)
            .map(size)
            .fold((usual, usual), |(least, most), at| {
                (least.min(at), most.max(at))
            });
        let (values, _) = numbers(list);
        let fits = |says: &f64| {
            *says >= least * (1.0 - SPREAD) - CLOSE && *says <= most * (1.0 + SPREAD) + CLOSE
        };
        let says = *values.first()?;
        (!values.iter().any(fits)).then_some(Off {
            key: Key::LayerHeight,
            says,
            does: [least, most],
            at,
        })
    }

    fn first_height<'a>(&self, end: &End<'a>) -> Option<Off<'a>> {
        let (list, at) = end.declared.sure(Key::FirstLayerHeight)?;
        let first = mm(end.totals.first_layer?);
        let (values, _) = numbers(list);
        let says = *values.first()?;
        let is_off = values
            .iter()
            .all(|says| (says - first).abs() > (SPREAD * first).max(TRIM) + GRAIN);
        (is_off && !self.on_raft).then_some(Off {
            key: Key::FirstLayerHeight,
            says,
            does: [first; 2],
            at,
        })
    }

    fn count<'a>(&self, end: &End<'a>) -> Option<Off<'a>> {
        let (list, at) = end.declared.sure(Key::Layers)?;
        // By distinct height, or all that were laid: of several objects, of a raft, of supports.
        let (least, most) = (end.totals.layers? as f64, self.layers as f64);
        let (values, _) = numbers(list);
        let says: f64 = values.first().copied()?;
        // Some count from 0, and some the last one's top.
        let is_off = says < (least * (1.0 - SPREAD)).min(least - 1.0)
            || says > (most * (1.0 + SPREAD)).max(most + 1.0);
        is_off.then_some(Off {
            key: Key::Layers,
            says,
            does: [least, most],
            at,
        })
    }
}

/// Walls, where they were asked for: stated are those of the outside; a few may differ anywhere.
fn walls<'a>(end: &End<'a>) -> Option<Off<'a>> {
    let told = end.walls?.walls.as_ref().ok()?;
    let (list, at) = end.declared.sure(Key::Walls)?;
    let (values, _) = numbers(list);
    let fits = |says: &f64| (f64::from(told.usual) - says).abs() < 0.5;
    (told.share > USUAL && !values.iter().any(fits)).then_some(Off {
        key: Key::Walls,
        says: *values.first()?,
        does: [f64::from(told.usual); 2],
        at,
    })
}

/// Infill, where walls were asked for: programs count strands differently.
fn infill<'a>(end: &End<'a>) -> Option<Off<'a>> {
    let told = end.walls?.infill.as_ref().ok()? * 100.0;
    let (list, at) = end.declared.sure(Key::InfillPercent)?;
    let (values, _) = numbers(list);
    let fits = |says: &f64| (told - says).abs() <= DENSER + says * DENSER_SHARE;
    (!values.iter().any(fits)).then_some(Off {
        key: Key::InfillPercent,
        says: *values.first()?,
        does: [told; 2],
        at,
    })
}

impl Inspection for DeclaredMismatch {
    fn layer(&mut self, layer: &Layer) {
        self.layers += 1;
        self.rising += u64::from(layer.is_rising);
        self.laid.take(layer);
        self.on_raft |= !layer.stands_on_bed;
        if let Some(height) = self.heights.next(layer).filter(|height| !height.is_first)
            && let Some(stroke) = layer.part().next()
        {
            let at = layer.show(stroke.start);
            self.rest.note(mm(height.own), GRAIN, (1.0, 0.0), &at);
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        // Along a spiral a layer is what is laid in a turn, more or less.
        let has_layers = self.rising * 5 <= self.layers;
        let off = [
            self.height(end).filter(|_| has_layers),
            self.first_height(end),
            self.count(end).filter(|_| has_layers),
            self.filament(end, Key::FilamentLengthMm, Filament::lengths),
            self.filament(end, Key::FilamentMassG, Filament::masses),
            walls(end),
            infill(end),
        ];
        let off: Vec<Off<'_>> = off.into_iter().flatten().collect();
        if off.is_empty() {
            return;
        }
        let mut places = Tally::default();
        for off in &off {
            places.mark(off.at);
        }
        let list: Vec<String> = off.iter().map(Off::show).collect();
        let mut extent = places.close(Counts::Places);
        extent.worst = None;
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Observation,
            message: format!("the job's comments state {}", list.join(", and ")),
            help:
                "find out whether the job was changed after it was sliced, or is not the one its \
                   comments speak of"
                    .to_owned(),
            limit: None,
            amount: None,
            extent,
            related: Vec::new(),
        });
    }
}
