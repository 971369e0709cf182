//! Filament is drawn back farther than the drive wants.

use super::drawn::{Drawn, FEWEST, Retractions, by_word, limit};
use super::figures::tidy;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Limit, NotHeld, Tally};
use crate::machine::{Facts, Line, Motion, State, Step};
use crate::sheet::Drive;

/// The longest by the drive, mm (common practice, no source: 0.4 to 2 mm at the hotend, 2 to 7 mm through
/// a tube).
const fn longest(drive: Drive) -> (f64, &'static str) {
    match drive {
        Drive::Direct => (2.0, "what is usual with a drive at the hotend"),
        Drive::Remote => (7.0, "what is usual with a drive through a tube"),
    }
}

/// Lengths are differences of numbers as written, mm: a nanometre is no difference.
const GRAIN: f64 = 1e-6;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "retraction-too-long",
    class: Class::Observation,
    page: include_str!("retraction_too_long.md"),
    wants: Wants::motions(Facts::DRAWN_BACK).and(Wants::CHANGES),
    silences: &[],
    make,
};

struct RetractionTooLong {
    held: Held,
    retractions: Retractions,
    long: Vec<(u32, Tally)>,
    /// By tool, worked out once.
    limits: Vec<Option<Limit>>,
    /// Drawn back and not held, since nothing says by what.
    unheld: bool,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(RetractionTooLong {
        held: held.clone(),
        retractions: Retractions::default(),
        long: Vec::new(),
        limits: Vec::new(),
        unheld: false,
    }))
}

fn limit_of(held: &Held, tool: u32) -> Option<Limit> {
    limit(
        held,
        tool,
        |tool| tool.retraction_most.as_ref(),
        |material| material.retraction.length_most.as_ref(),
        ["tools.retraction_most", "retraction.length_most"],
        longest,
    )
}

impl RetractionTooLong {
    fn note(&mut self, drawn: Option<Drawn>) {
        let Some(drawn) = drawn else { return };
        let limit = self
            .limits
            .get(drawn.tool as usize)
            .and_then(Option::as_ref);
        self.unheld |= limit.is_none();
        if let Some(at) = &drawn.at {
            super::by_tool(&mut self.long, drawn.tool).note(drawn.length, drawn.length, at);
        }
    }
}

impl Inspection for RetractionTooLong {
    fn motion(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        while self.limits.len() <= (state.tool() as usize).min(63) {
            let limit = limit_of(&self.held, self.limits.len() as u32);
            self.limits.push(limit);
        }
        let limits = &self.limits;
        let is_long = |drawn: &Drawn| {
            let limit = limits.get(drawn.tool as usize).and_then(Option::as_ref);
            limit.is_some_and(|limit| drawn.length > limit.value + GRAIN)
        };
        let unlimited = |_| f64::INFINITY;
        let drawn = self
            .retractions
            .motion(motion, state, line, unlimited, is_long);
        self.note(drawn);
    }

    fn step(&mut self, step: &Step<'_>, state: &State, _: &Line<'_>) {
        let drawn = self.retractions.step(step, state);
        self.note(drawn);
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let last = self.retractions.settle(end.state);
        self.note(last);
        let no_drive = self.unheld.then(|| {
            "neither the machine sheet says tools.drive nor the material sheet retraction.length_most"
                .to_owned()
        });
        let reasons = [by_word(end, &self.retractions), no_drive];
        report
            .not_held
            .extend(reasons.into_iter().flatten().map(|reason| NotHeld {
                requirement: REQUIREMENT.id,
                reason,
            }));
        for (tool, tally) in std::mem::take(&mut self.long) {
            let Some(limit) = limit_of(end.held, tool) else {
                continue;
            };
            if tally.count() < FEWEST {
                continue;
            }
            let length = tidy(tally.worst().unwrap_or_default());
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Observation,
                message: format!(
                    "tool {tool} draws filament back by up to {length} mm, above {} mm",
                    limit.value
                ),
                help: format!("draw back {} mm or less", limit.value),
                limit: Some(limit),
                amount: Some(length),
                extent: tally.close(Counts::Moves),
                related: Vec::new(),
            });
        }
    }
}
