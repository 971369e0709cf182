//! Islands begin with nothing below them.

use super::{End, Held, Inspection, Report, Requirement, Wants, walls_of};
use crate::finding::{Class, Counts, Finding, Tally};
use crate::machine::mm;
use crate::survey::{Layer, Stroke};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "deposit-in-air",
    class: Class::Major,
    page: include_str!("deposit_in_air.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

#[derive(Default)]
struct DepositInAir {
    islands: Tally,
}

fn make(_: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(DepositInAir::default()))
}

impl Inspection for DepositInAir {
    fn in_air(&mut self, layer: &Layer, stroke: &Stroke) {
        let z = super::figures::tidy(mm(layer.z));
        // The lowest is named: what stands on it fails with it.
        self.islands.note(-z, z, &layer.show(stroke.start));
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let Some(walls) = walls_of(REQUIREMENT.id, end, report) else {
            return;
        };
        let Some(z) = self.islands.worst().filter(|_| walls.walls.is_ok()) else {
            return;
        };
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Major,
            message: format!("an island begins with nothing below it, at Z {z} mm"),
            help: "turn the part, or slice it again with supports".to_owned(),
            limit: None,
            amount: Some(z),
            extent: std::mem::take(&mut self.islands).close(Counts::Strokes),
            related: Vec::new(),
        });
    }
}
