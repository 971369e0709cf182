//! The part fan runs slower than the material sheet wants.

use super::fan_bands::{Bands, Edge};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::Class;
use crate::survey::Layer;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "fan-below-sheet",
    class: Class::Observation,
    page: include_str!("fan_below_sheet.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

struct FanBelowSheet(Bands);

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.says("fan.print", |material| material.fan.print.as_ref())?;
    Ok(Box::new(FanBelowSheet(Bands::new(held, Edge::Least))))
}

impl Inspection for FanBelowSheet {
    fn layer(&mut self, layer: &Layer) {
        self.0.layer(layer);
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        self.0.state(&REQUIREMENT, end, report);
    }
}
