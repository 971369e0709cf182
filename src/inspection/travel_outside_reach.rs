//! The nozzle is sent where the axes do not reach.

use super::area::{Past, past};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Finding, Tally};
use crate::machine::{Facts, Line, Motion, Setup, Span, State};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "travel-outside-reach",
    class: Class::Major,
    page: include_str!("travel_outside_reach.md"),
    wants: Wants::motions(Facts::OUT_OF_REACH),
    silences: &[],
    make,
};

struct TravelOutsideReach {
    setup: Setup,
    hot: (Tally, Option<Past>),
    cold: (Tally, Option<Past>),
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.machine()?;
    let setup = held.setup();
    if setup.reach.is_none() {
        return Err("the machine sheet does not say reach_from and reach_to".to_owned());
    }
    Ok(Box::new(TravelOutsideReach {
        setup,
        hot: (Tally::default(), None),
        cold: (Tally::default(), None),
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
    fn past(&self, motion: &Motion, state: &State) -> Option<Past> {
        let reach = self.setup.reach?;
        let offset = self
            .setup
            .tools
            .get(state.tool() as usize)
            .map_or([0; 3], |tool| tool.offset);
        let (x, y) = motion.bounds(state);
        let mut of = reach;
        for (axis, span) in of.iter_mut().enumerate() {
            let pick = |point: &[i64; 3]| point.get(axis).copied().unwrap_or(0);
            let (from, to, by) = (pick(&motion.from), pick(&motion.to), pick(&offset));
            let is_known = state.placed.get(axis).copied().unwrap_or(false);
            if motion.is_arc && axis < 2 {
                *span = if axis == 0 { x } else { y };
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
        let Some(past) = self.past(motion, state) else {
            return;
        };
        let (tally, worst) = if is_off(state) {
            &mut self.cold
        } else {
            &mut self.hot
        };
        let at = match past.axis {
            Some(axis) if !motion.is_arc => line.letter(axis as u8),
            _ => line.all(),
        };
        tally.note(past.over, past.at, &at);
        if worst.is_none_or(|worst| past.over > worst.over) {
            *worst = Some(past);
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let Some(machine) = end.held.machine.as_deref() else {
            return;
        };
        let hot = std::mem::take(&mut self.hot);
        let cold = std::mem::take(&mut self.cold);
        let (class, when, (tally, worst)) = if hot.0.is_empty() {
            (Class::Observation, "after the heat is off, ", cold)
        } else {
            (Class::Major, "", hot)
        };
        let Some(past) = worst else { return };
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
            extent: tally.close(),
            related: Vec::new(),
        });
    }
}
