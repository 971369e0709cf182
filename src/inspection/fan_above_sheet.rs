//! The part fan runs harder than the material sheet allows.

use super::fan_bands::{Bands, Edge};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::Class;
use crate::survey::Layer;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "fan-above-sheet",
    class: Class::Minor,
    page: include_str!("fan_above_sheet.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

struct FanAboveSheet(Bands);

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.says("fan.print", |material| material.fan.print.as_ref())?;
    Ok(Box::new(FanAboveSheet(Bands::new(held, Edge::Most))))
}

impl Inspection for FanAboveSheet {
    fn layer(&mut self, layer: &Layer) {
        self.0.layer(layer);
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        self.0.state(&REQUIREMENT, end, report);
    }
}
