//! The coordinates are shifted in the middle of the part.

use super::figures::tidy;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::command::Command;
use crate::finding::{Class, Counts, Excerpt, Finding, Limit, Mark, SourceMark, Tally};
use crate::machine::{Line, MILLIMETRE, State, Step, mm};
use crate::quantity::Millimetres;
use crate::survey::Layer;

/// A position said again with fewer digits is no shift, pm (chosen).
const GRAIN: i64 = MILLIMETRE / 100;
/// The most shifts told apart.
const CAP: usize = 1024;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "origin-shifted",
    class: Class::Major,
    page: include_str!("origin_shifted.md"),
    wants: Wants::STEPS.and(Wants::LAYERS),
    silences: &[],
    make,
};

#[derive(Default)]
struct OriginShifted {
    before: [i64; 3],
    shifts: Vec<(Excerpt, char, i64)>,
    /// The first and the last line on which a stroke of the part begins.
    part: Option<(u64, u64)>,
}

#[expect(clippy::unnecessary_wraps, reason = "the register's form")]
fn make(_: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(OriginShifted::default()))
}

impl Inspection for OriginShifted {
    fn step(&mut self, step: &Step<'_>, state: &State, line: &Line<'_>) {
        let [x, y, z, _] = state.shift;
        let before = std::mem::replace(&mut self.before, [x, y, z]);
        // Another system is chosen on purpose and has no other use; an origin moved is no such thing.
        let sets = matches!(
            step.command,
            Command::SetPosition | Command::Offsets(_) | Command::SetCoordinates
        );
        if !sets || !state.has_deposited || self.shifts.len() >= CAP {
            return;
        }
        let worst = before
            .into_iter()
            .zip([x, y, z])
            .zip(['X', 'Y', 'Z'])
            .map(|((before, now), axis)| (axis, now.saturating_sub(before)))
            .max_by_key(|(_, by)| by.saturating_abs());
        if let Some((axis, by)) = worst.filter(|(_, by)| by.saturating_abs() > GRAIN) {
            self.shifts.push((line.all().excerpt(), axis, by));
        }
    }

    fn layer(&mut self, layer: &Layer) {
        for stroke in layer.part() {
            let line = layer.show(stroke.start).place().line;
            let (first, last) = self.part.unwrap_or((line, line));
            self.part = Some((first.min(line), last.max(line)));
        }
    }

    fn conclude(&mut self, _: &End<'_>, report: &mut Report) {
        let Some((first, last)) = self.part else {
            return;
        };
        let mut tally = Tally::default();
        let mut worst: Option<(char, i64)> = None;
        for (at, axis, by) in std::mem::take(&mut self.shifts) {
            if (first..=last).contains(&at.place.line) {
                let far = mm(by.saturating_abs());
                tally.note(far, far, &at);
                if worst.is_none_or(|(_, worst)| by.saturating_abs() > worst.saturating_abs()) {
                    worst = Some((axis, by));
                }
            }
        }
        let Some((axis, by)) = worst else { return };
        let far = tidy(mm(by.saturating_abs()));
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Major,
            message: format!(
                "the origin is shifted by {far} mm along {axis} while the part is being laid"
            ),
            help: "take the word out: what follows is laid beside what was laid before; to reset \
                   the filament alone write `G92 E0`"
                .to_owned(),
            limit: Some(Limit {
                value: mm(GRAIN),
                unit: Millimetres::UNIT,
                whose: "this requirement: a position said again with fewer digits".to_owned(),
                source: None,
                mark: SourceMark::Chosen,
            }),
            amount: Some(far),
            extent: tally.close(Counts::Words),
            related: Vec::new(),
        });
    }
}
