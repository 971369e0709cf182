//! The air around the part while it is laid: the machine brings its model up to the clock only at
//! heating words and dwells, layers bring it further.

use crate::machine::Setup;
use crate::survey::Stroke;

/// Why no air is told.
pub(super) const UNTOLD: &str =
    "the machine sheet does not say chamber.wall_conductance and chamber.contents";

/// What the model says from stroke to stroke.
#[derive(Debug, Default)]
pub(super) struct Air {
    /// What the machine last said, what it is now, °C, and since when, s.
    known: Option<(f64, f64, f64)>,
}

impl Air {
    /// The air as a stroke begins, °C: warmed by the bed, and where its own heater is on, at the
    /// heater's target. None where the sheet does not say enough for a model.
    pub fn at(&mut self, stroke: &Stroke, setup: &Setup) -> Option<f64> {
        let said = stroke.air?;
        let mut chamber = setup.chamber?;
        chamber.heater_power = 0.0;
        let now = match self.known {
            // No heating word since: the bed went on warming it.
            Some((last, air, since)) if last == said => {
                let bed = stroke.bed.get().or(stroke.conditions.bed.target.get());
                chamber.at(bed.unwrap_or(setup.ambient), air, stroke.clock - since)
            }
            _ => said,
        };
        self.known = Some((said, now, stroke.clock));
        let target = stroke.conditions.chamber.target.get();
        let heater = target.filter(|_| setup.chamber_heater.is_some());
        Some(heater.map_or(now, |target| now.max(target)))
    }
}
