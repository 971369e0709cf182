//! The nozzle is driven through what stands on the bed.

use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Tally};
use crate::machine::Line;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "travel-through-part",
    class: Class::Critical,
    page: include_str!("travel_through_part.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

#[derive(Default)]
struct TravelThroughPart {
    through: Tally,
}

fn make(_: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(TravelThroughPart::default()))
}

impl Inspection for TravelThroughPart {
    fn through(&mut self, line: &Line<'_>, depth: f64) {
        self.through
            .note(depth, super::figures::tidy(depth), &line.all());
    }

    fn conclude(&mut self, _: &End<'_>, report: &mut Report) {
        let Some(depth) = self.through.worst() else {
            return;
        };
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Critical,
            message: format!("travel goes through the part, {depth} mm below what stands there"),
            help: "lift the nozzle over what is printed before it travels; where parts are printed one after \
                   another, set the height of the lift above the tallest"
                .to_owned(),
            limit: None,
            amount: Some(depth),
            extent: std::mem::take(&mut self.through).close(Counts::Moves),
            related: Vec::new(),
        });
    }
}
