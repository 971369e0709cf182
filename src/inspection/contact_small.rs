//! A tall part stands on little.

use super::{End, Held, Inspection, Report, Requirement, Wants, walls_of};
use crate::finding::{Class, Extent, Finding};
use crate::survey::RegionFigures;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "contact-small",
    class: Class::Minor,
    page: include_str!("contact_small.md"),
    wants: Wants::END,
    silences: &[],
    make,
};

/// A part may be so many times as tall as the side of a square of its contact (chosen: pencils are not
/// printed upright without a brim, in common practice).
const SLENDER: f64 = 10.0;

struct ContactSmall;

fn make(_: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(ContactSmall))
}

fn slenderness(region: &RegionFigures) -> Option<f64> {
    let [.., [low, high]] = region.bounds;
    (region.contact > 0.0).then(|| (high - low) / region.contact.sqrt())
}

impl Inspection for ContactSmall {
    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let Some(walls) = walls_of(REQUIREMENT.id, end, report) else {
            return;
        };
        // Where a brim holds it down, nobody here judges how well.
        if walls.has_brim() || walls.walls.is_err() {
            return;
        }
        let worst = walls
            .regions
            .iter()
            .filter_map(|region| Some((slenderness(region)?, region)))
            .max_by(|one, other| one.0.total_cmp(&other.0));
        let Some((ratio, region)) = worst.filter(|(ratio, _)| *ratio > SLENDER) else {
            return;
        };
        let [.., [low, high]] = region.bounds;
        let (height, contact) = ((high - low).round(), (region.contact * 10.0).round() / 10.0);
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Minor,
            message: format!("a part {height} mm tall stands on {contact} mm² of the bed"),
            help: "add a brim or a raft, or lay the part down".to_owned(),
            limit: None,
            amount: Some(ratio.round()),
            extent: Extent::whole_job(),
            related: Vec::new(),
        });
    }
}
