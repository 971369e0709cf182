//! The table of layers: a row a layer, coarsened past a cap.

use super::layer::Layer;
use super::pace::Pace;
use super::stroke::{Deposit, Stroke};
use super::told::Flow;
use crate::machine::{Known, mm};
use crate::physics::bead;

/// The most rows kept; past it neighbours are taken together (chosen: finer than any screen).
pub const ROW_CAP: usize = 4096;

/// Shorter strokes say nothing about the width of a bead: a push that makes up for what was drawn
/// back weighs more in them than the bead itself, mm (chosen).
const BEAD_FROM: f64 = 1.0;

/// Shorter strokes are left out of the slowest speed: they never reach one, mm (chosen).
const SPEED_FROM: f64 = 2.0;

/// From the least to the greatest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reach {
    /// The least.
    pub least: f64,
    /// The greatest.
    pub most: f64,
}

impl Reach {
    pub(crate) fn widen(of: &mut Option<Self>, least: f64, most: f64) {
        match of {
            Some(reach) => {
                reach.least = reach.least.min(least);
                reach.most = reach.most.max(most);
            }
            None => *of = Some(Self { least, most }),
        }
    }

    pub(crate) fn join(of: &mut Option<Self>, other: Option<Self>) {
        if let Some(other) = other {
            Self::widen(of, other.least, other.most);
        }
    }
}

/// How wide beads are: stadiums of the volume, length and height of their strokes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bead {
    /// The narrowest.
    pub least: f64,
    /// The mean, by volume.
    pub usual: f64,
    /// The widest.
    pub most: f64,
}

/// Widths as they come, with the volume each weighs.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Widths {
    reach: Option<Reach>,
    sum: f64,
    weight: f64,
}

impl Widths {
    pub fn add(&mut self, width: f64, volume: f64) {
        Reach::widen(&mut self.reach, width, width);
        self.sum += width * volume;
        self.weight += volume;
    }

    pub fn join(&mut self, other: &Self) {
        Reach::join(&mut self.reach, other.reach);
        self.sum += other.sum;
        self.weight += other.weight;
    }

    pub fn bead(&self) -> Option<Bead> {
        let reach = self.reach.filter(|_| self.weight > 0.0)?;
        Some(Bead {
            least: reach.least,
            usual: self.sum / self.weight,
            most: reach.most,
        })
    }
}

/// The width of a stroke's bead, mm; `volume` is what it lays, mm³. None where it is too short to
/// say, or hangs in the air round and thin.
pub(super) fn width(stroke: &Stroke, volume: f64, height: f64) -> Option<f64> {
    if stroke.length < BEAD_FROM {
        return None;
    }
    bead::width(volume / stroke.length, height)
}

/// One layer of the part, or several neighbours past the cap.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// The number of its (first) layer, from 0 in the order laid.
    pub number: u64,
    /// How many layers it stands for.
    pub layers: u64,
    /// The height above the bed, mm; of several the highest.
    pub z: f64,
    /// The height of the layer itself, mm; None where it is not above what lies below.
    pub height: Option<Reach>,
    /// Seconds with the way to it and all waits; of several the sum. None where no time can be told.
    pub seconds: Option<f64>,
    /// Seconds of the quickest of its layers.
    pub quickest: Option<f64>,
    /// Filament laid, flow factors included, mm.
    pub filament: f64,
    /// The highest speed that the part's strokes really reach, from the slowest of some length to the
    /// fastest, mm/s.
    pub speed: Option<Reach>,
    /// The highest flow of the part, mm³/s.
    pub peak_flow: Option<f64>,
    /// The highest mean flow over a second of the part, mm³/s.
    pub sustained_flow: Option<f64>,
    /// The part fan, 0 to 1, mean by filament.
    pub fan: f64,
    /// The hotend's set points, °C.
    pub hotend: Option<Reach>,
    /// The bed's, °C.
    pub bed: Option<Reach>,
    /// The steepest lean of its outline, degrees from the vertical, where walls are told.
    pub overhang: Option<f64>,
    /// What of it lies over nothing and rests on less than two ends, mm³; of several layers the sum.
    pub unsupported: Option<f64>,
    pub(super) widths: Widths,
    /// Filament of the part, for means.
    part: f64,
    /// The highest speed of short strokes, mm/s.
    hasty: f64,
}

impl Row {
    pub(super) fn new(layer: &Layer) -> Self {
        let height = mm(layer.height);
        Self {
            number: layer.number,
            layers: 1,
            z: mm(layer.z),
            height: (height > 0.0).then_some(Reach {
                least: height,
                most: height,
            }),
            seconds: layer.pace.as_ref().map(Pace::seconds),
            quickest: layer.pace.as_ref().map(Pace::seconds),
            filament: 0.0,
            speed: None,
            peak_flow: None,
            sustained_flow: None,
            fan: 0.0,
            hotend: None,
            bed: None,
            overhang: None,
            unsupported: None,
            widths: Widths::default(),
            part: 0.0,
            hasty: 0.0,
        }
    }

    /// Takes a stroke of its layer; `laid` is its filament with the flow factor, mm, and `width` its
    /// bead's width, mm, with the volume it weighs.
    pub(super) fn add(
        &mut self,
        stroke: &Stroke,
        laid: f64,
        width: Option<(f64, f64)>,
        flow: Option<Flow>,
    ) {
        self.filament += laid;
        if stroke.deposit != Deposit::Part {
            return;
        }
        if let Some((width, volume)) = width {
            self.widths.add(width, volume);
        }
        let conditions = &stroke.conditions;
        self.fan += conditions.fan * laid;
        self.part += laid;
        for (setting, reach) in [
            (&conditions.hotend, &mut self.hotend),
            (&conditions.bed, &mut self.bed),
        ] {
            if let Known::Known(target) = setting.target {
                Reach::widen(reach, target, target);
            }
        }
        if let Some(flow) = flow {
            let highest = |of: &mut Option<f64>, by: f64| {
                *of = Some(of.map_or(by, |known| known.max(by)));
            };
            highest(&mut self.peak_flow, flow.peak);
            highest(&mut self.sustained_flow, flow.sustained);
        }
        if let Some(pace) = &stroke.pace {
            if stroke.length >= SPEED_FROM {
                Reach::widen(&mut self.speed, pace.speed, pace.speed);
            } else {
                self.hasty = self.hasty.max(pace.speed);
            }
        }
    }

    /// The width of its beads, mm.
    #[must_use]
    pub fn bead(&self) -> Option<Bead> {
        self.widths.bead()
    }

    /// The layer is whole: sums become means.
    pub(super) fn close(&mut self) {
        if self.part > 0.0 {
            self.fan /= self.part;
        }
        if self.hasty > 0.0 {
            let least = self.speed.map_or(self.hasty, |speed| speed.least);
            Reach::widen(&mut self.speed, least, self.hasty.max(least));
        }
    }

    /// No time can be told after all.
    fn forget_time(&mut self) {
        self.seconds = None;
        self.quickest = None;
        self.speed = None;
        self.peak_flow = None;
        self.sustained_flow = None;
    }

    /// Takes the next row into this one.
    fn join(&mut self, next: &Self) {
        let most = |one: Option<f64>, other: Option<f64>| match (one, other) {
            (Some(one), Some(other)) => Some(one.max(other)),
            (one, other) => one.or(other),
        };
        self.layers += next.layers;
        self.z = self.z.max(next.z);
        Reach::join(&mut self.height, next.height);
        self.seconds = self
            .seconds
            .zip(next.seconds)
            .map(|(one, other)| one + other);
        self.quickest = match (self.quickest, next.quickest) {
            (Some(one), Some(other)) => Some(one.min(other)),
            (one, other) => one.or(other),
        };
        self.filament += next.filament;
        Reach::join(&mut self.speed, next.speed);
        self.peak_flow = most(self.peak_flow, next.peak_flow);
        self.sustained_flow = most(self.sustained_flow, next.sustained_flow);
        let part = self.part + next.part;
        if part > 0.0 {
            self.fan = (self.fan * self.part + next.fan * next.part) / part;
        }
        self.part = part;
        Reach::join(&mut self.hotend, next.hotend);
        Reach::join(&mut self.bed, next.bed);
        self.overhang = most(self.overhang, next.overhang);
        self.unsupported = match (self.unsupported, next.unsupported) {
            (Some(one), Some(other)) => Some(one + other),
            (one, other) => one.or(other),
        };
        self.widths.join(&next.widths);
    }
}

/// The table.
#[derive(Debug, Clone, PartialEq)]
pub struct Rows {
    rows: Vec<Row>,
    open: Option<Row>,
    /// How many layers a row stands for.
    each: u64,
    cap: usize,
}

impl Default for Rows {
    fn default() -> Self {
        Self {
            rows: Vec::new(),
            open: None,
            each: 1,
            cap: ROW_CAP,
        }
    }
}

impl Rows {
    /// Every row, in the order laid.
    pub fn iter(&self) -> impl Iterator<Item = &Row> {
        self.rows.iter().chain(&self.open)
    }

    /// How many layers a row stands for: 1 up to the cap.
    #[must_use]
    pub const fn each(&self) -> u64 {
        self.each
    }

    pub(super) fn push(&mut self, row: Row) {
        let open = match &mut self.open {
            Some(open) => {
                open.join(&row);
                open
            }
            none => none.insert(row),
        };
        if open.layers < self.each {
            return;
        }
        self.rows.extend(self.open.take());
        if self.rows.len() >= self.cap {
            self.each *= 2;
            let mut coarse = Vec::with_capacity(self.cap);
            for pair in self.rows.chunks(2) {
                if let [one, other] = pair {
                    let mut joined = one.clone();
                    joined.join(other);
                    coarse.push(joined);
                } else {
                    self.open = pair.first().cloned();
                }
            }
            self.rows = coarse;
        }
    }

    pub(super) fn forget_time(&mut self) {
        self.rows
            .iter_mut()
            .chain(&mut self.open)
            .for_each(Row::forget_time);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn row(number: u64, seconds: f64, flow: f64, filament: f64) -> Row {
        let mut layer = Layer::new(0, 0);
        layer.number = number;
        layer.z = 200_000_000 * (number as i64 + 1);
        layer.height = 200_000_000;
        layer.pace = Some(Pace {
            print: seconds,
            ..Pace::default()
        });
        let mut row = Row::new(&layer);
        row.filament = filament;
        row.part = filament;
        row.fan = flow / 20.0 * filament;
        row.peak_flow = Some(flow);
        row.widths.add(0.4 + flow / 100.0, filament);
        row.close();
        row
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..Default::default() })]

        /// However coarse: no layer is lost, sums and means stay, and so does every extreme.
        #[test]
        fn coarse_rows_keep_sums_and_extremes(
            layers in prop::collection::vec((0.1_f64..60.0, 0.0_f64..20.0, 0.01_f64..50.0), 1..400),
            cap in 2_usize..40,
        ) {
            let mut rows = Rows { cap: cap * 2, ..Rows::default() };
            for (number, (seconds, flow, filament)) in layers.iter().enumerate() {
                rows.push(row(number as u64, *seconds, *flow, *filament));
                prop_assert!(rows.iter().count() <= cap * 2);
            }
            let sum = |of: &dyn Fn(&Row) -> f64| rows.iter().map(of).sum::<f64>();
            prop_assert_eq!(rows.iter().map(|row| row.layers).sum::<u64>(), layers.len() as u64);
            let seconds: f64 = layers.iter().map(|layer| layer.0).sum();
            prop_assert!((sum(&|row| row.seconds.unwrap()) - seconds).abs() < 1e-9 * seconds);
            let filament: f64 = layers.iter().map(|layer| layer.2).sum();
            prop_assert!((sum(&|row| row.filament) - filament).abs() < 1e-9 * filament);
            let fan: f64 = layers.iter().map(|layer| layer.1 / 20.0 * layer.2).sum();
            prop_assert!((sum(&|row| row.fan * row.filament) - fan).abs() < 1e-9 * (1.0 + fan));
            let least = layers.iter().map(|layer| layer.0).fold(f64::MAX, f64::min);
            prop_assert_eq!(rows.iter().filter_map(|row| row.quickest).fold(f64::MAX, f64::min), least);
            let most = layers.iter().map(|layer| layer.1).fold(0.0, f64::max);
            prop_assert_eq!(rows.iter().filter_map(|row| row.peak_flow).fold(0.0, f64::max), most);
            let wide = rows.iter().filter_map(Row::bead).map(|bead| bead.most).fold(0.0, f64::max);
            prop_assert_eq!(wide, 0.4 + most / 100.0);
            // Rows follow each other without a gap.
            let mut next = 0;
            for row in rows.iter() {
                prop_assert_eq!(row.number, next);
                next += row.layers;
            }
        }
    }
}
