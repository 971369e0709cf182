//! Waits that a job lacks are put in before its first push of filament.

use super::{Characteristic, Mend, Proposal, Proposals, Rework};
use crate::edit::Change;
use crate::finding::Excerpt;
use crate::inspection::{End, Held};
use crate::machine::{Element, Known, Line, Motion, State};

pub(super) const REWORK: Rework = Rework {
    id: "wait-for-heat",
    page: include_str!("wait_for_heat.md"),
    answers: &["hotend-not-awaited", "bed-not-awaited", "cold-deposit"],
    alters: &[Characteristic::Heat],
    make,
};

#[derive(Default)]
struct Mending {
    has_pushed: bool,
    /// What to wait for, by word and target, the requirement and the place.
    lacking: Vec<(String, f64, &'static str)>,
    at: Option<(u64, u64, Excerpt)>,
}

fn make(_: &Held) -> Box<dyn Mend> {
    Box::new(Mending::default())
}

/// The target that nobody waited for and that is not reached yet.
fn lacks(element: &Element, clock: f64) -> Option<f64> {
    let target = element
        .setting
        .target
        .get()
        .filter(|target| *target > 0.0)?;
    let unawaited = matches!(element.setting.awaited, Known::Known(false));
    (unawaited && !element.is_settled(clock)).then_some(target)
}

impl Mend for Mending {
    fn motion(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        if self.has_pushed || motion.pushed <= 0 {
            return;
        }
        self.has_pushed = true;
        let many = state.hotends.len() > 1;
        let clock = state.clock - motion.seconds;
        if let Some(target) = lacks(&state.bed, clock) {
            self.lacking
                .push((format!("M190 S{target}"), target, "bed-not-awaited"));
        }
        if let Some(target) = state.hotend().and_then(|hotend| lacks(hotend, clock)) {
            let word = if many {
                format!("M109 T{} S{target}", state.tool())
            } else {
                format!("M109 S{target}")
            };
            self.lacking.push((word, target, "hotend-not-awaited"));
        }
        self.at = Some((line.number, line.start, line.all().excerpt()));
    }

    fn propose(&mut self, _: &End<'_>, proposals: &mut Proposals) {
        let Some((line, start, at)) = &self.at else {
            return;
        };
        for (word, target, requirement) in &self.lacking {
            proposals.list.push(Proposal {
                rework: REWORK.id,
                requirement,
                old: format!("{target} °C is not awaited"),
                new: word.clone(),
                limit: None,
                at: Some(at.clone()),
                changes: vec![Change {
                    line: *line,
                    range: *start..*start,
                    text: format!("{word}\n"),
                }],
            });
        }
    }
}
