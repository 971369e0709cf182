//! Filament is drawn back faster than the drive wants.

use super::drawn::{Drawn, FEWEST, Retractions, by_word, fastest, limit};
use super::figures::tidy;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Limit, NotHeld, Tally};
use crate::machine::{Facts, Line, Motion, State, Step};
use crate::sheet::Drive;

/// The fastest by the drive, mm/s (common practice, no source: 25 to 45 mm/s at the hotend, 40 to 60 mm/s
/// through a tube).
const fn usual(drive: Drive) -> (f64, &'static str) {
    match drive {
        Drive::Direct => (45.0, "what is usual with a drive at the hotend"),
        Drive::Remote => (60.0, "what is usual with a drive through a tube"),
    }
}

/// A feed of `F2700` is 45 mm/s but for rounding, mm/s.
const GRAIN: f64 = 1e-6;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "retraction-too-fast",
    class: Class::Observation,
    page: include_str!("retraction_too_fast.md"),
    wants: Wants::motions(Facts::DRAWN_BACK).and(Wants::CHANGES),
    silences: &[],
    make,
};

struct RetractionTooFast {
    held: Held,
    retractions: Retractions,
    fast: Vec<(u32, Tally)>,
    /// By tool, worked out once.
    limits: Vec<Option<Limit>>,
    /// Drawn back and not held, since nothing says by what.
    unheld: bool,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(RetractionTooFast {
        held: held.clone(),
        retractions: Retractions::default(),
        fast: Vec::new(),
        limits: Vec::new(),
        unheld: false,
    }))
}

fn limit_of(held: &Held, tool: u32) -> Option<Limit> {
    limit(
        held,
        tool,
        |tool| tool.retraction_speed_most.as_ref(),
        |material| material.retraction.speed_most.as_ref(),
        ["tools.retraction_speed_most", "retraction.speed_most"],
        usual,
    )
}

impl RetractionTooFast {
    fn note(&mut self, drawn: Option<Drawn>) {
        let Some(drawn) = drawn else { return };
        let limit = self
            .limits
            .get(drawn.tool as usize)
            .and_then(Option::as_ref);
        self.unheld |= limit.is_none();
        if let Some(at) = &drawn.at {
            super::by_tool(&mut self.fast, drawn.tool).note(drawn.speed, drawn.speed, at);
        }
    }
}

impl Inspection for RetractionTooFast {
    fn motion(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        while self.limits.len() <= (state.tool() as usize).min(63) {
            let limit = limit_of(&self.held, self.limits.len() as u32);
            self.limits.push(limit);
        }
        let limits = &self.limits;
        let is_fast = |drawn: &Drawn| {
            let limit = limits.get(drawn.tool as usize).and_then(Option::as_ref);
            limit.is_some_and(|limit| drawn.speed > limit.value + GRAIN)
        };
        let machine = self.held.machine.as_deref();
        let drawn = self.retractions.motion(
            motion,
            state,
            line,
            |length| fastest(machine, length),
            is_fast,
        );
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
            "neither the machine sheet says tools.drive nor the material sheet retraction.speed_most"
                .to_owned()
        });
        let reasons = [by_word(end, &self.retractions), no_drive];
        report
            .not_held
            .extend(reasons.into_iter().flatten().map(|reason| NotHeld {
                requirement: REQUIREMENT.id,
                reason,
            }));
        for (tool, tally) in std::mem::take(&mut self.fast) {
            let Some(limit) = limit_of(end.held, tool) else {
                continue;
            };
            if tally.count() < FEWEST {
                continue;
            }
            let speed = tidy(tally.worst().unwrap_or_default());
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Observation,
                message: format!(
                    "tool {tool} draws filament back at up to {speed} mm/s, above {} mm/s",
                    limit.value
                ),
                help: format!("draw back at {} mm/s or less", limit.value),
                limit: Some(limit),
                amount: Some(speed),
                extent: tally.close(Counts::Moves),
                related: Vec::new(),
            });
        }
    }
}
