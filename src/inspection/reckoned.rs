//! How much filament a job lays, by every honest way to count it.

use super::End;
use super::bins::of_tool;
use super::bore::filament_area;
use super::stated::numbers;
use crate::command::hint::Key;
use crate::machine::mm;
use crate::physics::bead;
use crate::survey::{Deposit, Layer};

/// What a macro may purge, mm of filament (chosen).
const PURGE: f64 = 200.0;
/// Densities of filaments, g/cm³ (common practice, no source: from polypropylene to filled polymers).
const DENSITIES: [f64; 2] = [0.85, 1.6];
/// The diameters that are sold, mm (common practice, no source).
const DIAMETERS: [f64; 2] = [1.75, 2.85];

/// Filament of one tool, mm: of the part and of all deposit, each without and with the flow factor.
#[derive(Default)]
struct Laid {
    part: [f64; 2],
    all: [f64; 2],
}

/// Filament by tool.
#[derive(Default)]
pub(super) struct Filament {
    laid: Vec<(u32, Laid)>,
}

impl Filament {
    /// Takes a closed layer.
    pub fn take(&mut self, layer: &Layer) {
        for stroke in &layer.strokes {
            let pushed = mm(stroke.pushed);
            let factored = pushed * stroke.conditions.flow;
            let laid = of_tool(&mut self.laid, stroke.conditions.tool);
            let is_part = stroke.deposit == Deposit::Part;
            for list in [Some(&mut laid.all), is_part.then_some(&mut laid.part)]
                .into_iter()
                .flatten()
            {
                let [plain, with_flow] = list;
                *plain += pushed;
                *with_flow += factored;
            }
        }
    }

    /// The least and the most filament, mm, that an honest count of these tools' may give.
    pub fn lengths(&self, end: &End<'_>, tools: &[u32]) -> [f64; 2] {
        let (mut least, mut most) = (f64::INFINITY, 0.0_f64);
        let mut sums = [0.0; 6];
        for tool in tools {
            let reel = end.state.filament.get(*tool as usize);
            let total = mm(reel.map_or(0, |reel| reel.most));
            let laid = self.laid.iter().find(|(of, _)| of == tool);
            let Laid { part, all } = laid.map_or(
                &Laid {
                    part: [0.0; 2],
                    all: [0.0; 2],
                },
                |(_, laid)| laid,
            );
            let [plain, factored] = *all;
            let readings = [
                part[0],
                part[1],
                plain,
                factored,
                total,
                total - plain + factored,
            ];
            for (sum, reading) in sums.iter_mut().zip(readings) {
                *sum += reading;
            }
        }
        for sum in sums {
            least = least.min(sum);
            most = most.max(sum);
        }
        let may_purge = end.state.claims.start.is_some()
            || end.setup.macros.iter().any(|meaning| meaning.primes);
        if may_purge {
            most += PURGE;
        }
        [least, most]
    }

    /// As [`Self::lengths`] in grams: by every density and diameter that is stated, by the job or by a
    /// sheet, and by all there are where the job states none.
    pub fn masses(&self, end: &End<'_>, tools: &[u32]) -> [f64; 2] {
        let mut densities: Vec<f64> = tools
            .iter()
            .filter_map(|tool| Some(end.held.material(*tool)?.density.as_ref()?.value.get()))
            .collect();
        match end.declared.get(Key::FilamentDensity) {
            Some((list, _)) => densities.extend(numbers(list).0),
            None => densities.extend(DENSITIES),
        }
        let mut areas: Vec<f64> = tools
            .iter()
            .filter_map(|tool| filament_area(end.held, *tool))
            .collect();
        match end.declared.get(Key::FilamentDiameter) {
            Some((list, _)) => areas.extend(numbers(list).0.into_iter().map(bead::filament_area)),
            None => areas.extend(DIAMETERS.map(bead::filament_area)),
        }
        let [least, most] = self.lengths(end, tools);
        let low = |list: &[f64]| list.iter().copied().fold(f64::INFINITY, f64::min);
        let high = |list: &[f64]| list.iter().copied().fold(0.0, f64::max);
        [
            bead::mass(least * low(&areas), low(&densities)),
            bead::mass(most * high(&areas), high(&densities)),
        ]
    }
}
