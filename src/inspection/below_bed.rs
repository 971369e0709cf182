//! The nozzle is sent below the bed.

use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Limit, SourceMark, Tally};
use crate::machine::{BED_TOLERANCE, Facts, Line, Motion, Setup, Span, State, mm};
use crate::quantity::Millimetres;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "below-bed",
    class: Class::Critical,
    page: include_str!("below_bed.md"),
    wants: Wants::motions(Facts::BELOW_BED),
    silences: &[],
    make,
};

struct BelowBed {
    setup: Setup,
    below: Tally,
}

#[expect(clippy::unnecessary_wraps, reason = "the register's form")]
fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(BelowBed {
        setup: held.setup(),
        below: Tally::default(),
    }))
}

impl BelowBed {
    /// Beside the bed there may be a brush or a bin: only over it is the bed in the way.
    fn is_beside(&self, motion: &Motion, state: &State) -> bool {
        let [x, y, _] = motion.to.map(|at| Span {
            least: at,
            most: at,
        });
        let is_known = state.placed.iter().take(2).all(|placed| *placed);
        is_known && self.setup.area.is_some_and(|area| area.outside(x, y) > 0)
    }
}

impl Inspection for BelowBed {
    fn motion(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        let [.., z] = motion.to;
        if !self.is_beside(motion, state) {
            self.below.note(-mm(z), mm(z), &line.letter(b'Z'));
        }
    }

    fn conclude(&mut self, _: &End<'_>, report: &mut Report) {
        let tally = std::mem::take(&mut self.below);
        let Some(z) = tally.worst().map(super::figures::tidy) else {
            return;
        };
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Critical,
            message: format!("the nozzle is sent to Z {z} mm, {} mm into the bed", -z),
            help: "take the line out, or correct the height it is to go to; a nozzle in the bed \
                   ruins both"
                .to_owned(),
            limit: Some(Limit {
                value: -mm(BED_TOLERANCE),
                unit: Millimetres::UNIT,
                whose: "this requirement: a first layer may be trimmed so far".to_owned(),
                source: None,
                mark: SourceMark::Chosen,
            }),
            amount: Some(z),
            extent: tally.close(Counts::Moves),
            related: Vec::new(),
        });
    }
}
