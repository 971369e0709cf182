//! The nozzle is sent where the axes do not reach.

use super::area::{Past, moved, past};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, NotHeld, Tally};
use crate::machine::{Facts, Line, Motion, Setup, Span, State};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "travel-outside-reach",
    class: Class::Major,
    page: include_str!("travel_outside_reach.md"),
    wants: Wants::motions(Facts::OUT_OF_REACH),
    silences: &[],
    make,
};

/// Moves out of reach, and the farthest.
type Seen = (Tally, Option<Past>);

/// Moves out of reach while hot, and once the heat is off.
#[derive(Default)]
struct Out {
    hot: Seen,
    cold: Seen,
}

struct TravelOutsideReach {
    setup: Setup,
    /// As the job has it; and as it would be with its origin half the bed further up, or down: what
    /// `origin-differs` explains is then within reach.
    out: [Out; 3],
    shifts: [[i64; 2]; 3],
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.machine()?;
    let setup = held.setup();
    if setup.reach.is_none() {
        return Err("the machine sheet does not say reach_from and reach_to".to_owned());
    }
    let half = setup
        .area
        .map_or([0; 2], |area| area.size().map(|size| size / 2));
    Ok(Box::new(TravelOutsideReach {
        setup,
        out: Default::default(),
        shifts: [[0; 2], half, half.map(|half| -half)],
    }))
}

/// Whether the job has switched its hotends off, or a macro may have.
fn is_off(state: &State) -> bool {
    let mut said = false;
    let off = state.hotends.iter().all(|hotend| {
        let target = hotend.setting.target.get();
        said |= target.is_some() || hotend.setting.target.is_claimed();
        target.is_none_or(|target| target == 0.0) && !hotend.setting.target.is_claimed()
    });
    (said && off) || state.claims.end.is_some()
}

impl TravelOutsideReach {
    /// The axis that is sent farthest, among those that move and whose place is known.
    fn past(&self, motion: &Motion, state: &State, [by_x, by_y]: [i64; 2]) -> Option<Past> {
        let reach = self.setup.reach?;
        let offset = self
            .setup
            .tools
            .get(state.tool() as usize)
            .map_or([0; 3], |tool| tool.offset);
        let (x, y) = motion.bounds(state);
        let shift = [by_x, by_y, 0];
        let mut of = reach;
        for (axis, span) in of.iter_mut().enumerate() {
            let pick = |point: &[i64; 3]| point.get(axis).copied().unwrap_or(0);
            let (from, to) = (pick(&motion.from), pick(&motion.to));
            let by = pick(&offset).saturating_add(pick(&shift));
            let is_known = state.placed.get(axis).copied().unwrap_or(false);
            if motion.is_arc && axis < 2 {
                *span = moved(if axis == 0 { x } else { y }, pick(&shift));
            } else if from != to && is_known {
                let at = to.saturating_add(by);
                *span = Span {
                    least: at,
                    most: at,
                };
            }
        }
        past(reach, of)
    }
}

impl Inspection for TravelOutsideReach {
    fn motion(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        // What is laid out of reach is stated as deposit outside the area.
        if motion.is_deposit() {
            return;
        }
        let is_off = is_off(state);
        for (index, shift) in self.shifts.into_iter().enumerate() {
            let Some(past) = self.past(motion, state, shift) else {
                continue;
            };
            let Some(out) = self.out.get_mut(index) else {
                continue;
            };
            let (tally, worst) = if is_off { &mut out.cold } else { &mut out.hot };
            let at = match past.axis {
                Some(axis) if !motion.is_arc => line.letter(axis as u8),
                _ => line.all(),
            };
            tally.note(past.over, past.at, &at);
            if worst.is_none_or(|worst| past.over > worst.over) {
                *worst = Some(past);
            }
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let Some(machine) = end.held.machine.as_deref() else {
            return;
        };
        let [plain, up, down] = std::mem::take(&mut self.out);
        // Requirements conclude in the order of their names: both have spoken, if they have to.
        let spoke = |id: &str| {
            let mut of = report
                .findings
                .iter()
                .filter(|found| found.requirement == id);
            of.any(|found| found.class > Class::Observation)
        };
        let explained = |by: &str| NotHeld {
            requirement: REQUIREMENT.id,
            reason: format!("the finding {by} explains what it would say"),
        };
        let was_out = !plain.hot.0.is_empty() || !plain.cold.0.is_empty();
        let shift = self
            .setup
            .area
            .zip(end.totals.part)
            .and_then(|(area, [x, y, _])| {
                let [by, _] = super::origin_differs::shift(&area, [x, y])?;
                spoke("origin-differs").then_some(by)
            });
        let Out { hot, cold } = match shift {
            Some(by) if by > 0 => up,
            Some(_) => down,
            None if spoke("deposit-outside-area") => Out::default(),
            None => plain,
        };
        let is_shifted = shift.is_some();
        let (class, when, (tally, worst)) = if hot.0.is_empty() {
            (Class::Observation, "after the heat is off, ", cold)
        } else {
            (Class::Major, "", hot)
        };
        let Some(past) = worst else {
            if was_out {
                report.not_held.push(explained(if is_shifted {
                    "origin-differs"
                } else {
                    "deposit-outside-area"
                }));
            }
            return;
        };
        let when = if is_shifted {
            format!("{when}with its origin moved as origin-differs has it, ")
        } else {
            when.to_owned()
        };
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class,
            message: format!(
                "{when}the nozzle is sent to {}, {} mm farther than the axis goes",
                past.place(),
                super::figures::tidy(past.over)
            ),
            help: "keep every move within the machine's reach: a control stops the job there, or \
                   drives the axis against its end"
                .to_owned(),
            limit: past.of_reach(machine),
            amount: Some(super::figures::tidy(past.at)),
            extent: tally.close(Counts::Moves),
            related: Vec::new(),
        });
    }
}
