//! Islands begin with nothing below them.

use super::{End, Held, Inspection, Report, Requirement, Wants, walls_of};
use crate::finding::{Class, Counts, Finding, Tally};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "deposit-in-air",
    class: Class::Major,
    page: include_str!("deposit_in_air.md"),
    wants: Wants::END,
    silences: &[],
    make,
};

struct DepositInAir;

fn make(_: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(DepositInAir))
}

impl Inspection for DepositInAir {
    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let Some(walls) = walls_of(REQUIREMENT.id, end, report) else {
            return;
        };
        let mut islands = Tally::default();
        for island in &walls.in_air {
            let z = super::figures::tidy(island.at.z);
            // The lowest is named: what stands on it fails with it.
            islands.note(-z, z, &island.begins);
        }
        let Some(z) = islands.worst().filter(|_| walls.walls.is_ok()) else {
            return;
        };
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Major,
            message: format!("an island begins with nothing below it, at Z {z} mm"),
            help: "turn the part, or slice it again with supports".to_owned(),
            limit: None,
            amount: Some(z),
            extent: islands.close(Counts::Strokes),
            related: Vec::new(),
        });
    }
}
