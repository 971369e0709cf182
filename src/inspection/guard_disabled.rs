//! A protection of the control is off while the part is laid.

use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::command::Guard;
use crate::finding::{Class, Excerpt, Extent, Finding};
use crate::machine::{Facts, Line, Motion, State};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "guard-disabled",
    class: Class::Critical,
    page: include_str!("guard_disabled.md"),
    wants: Wants::motions(Facts::FIRST_DEPOSIT),
    silences: &[],
    make,
};

#[derive(Default)]
struct GuardDisabled {
    off: Vec<(Guard, Excerpt)>,
    deposit: Option<Excerpt>,
}

#[allow(clippy::unnecessary_wraps, reason = "the register's form")]
fn make(_: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(GuardDisabled::default()))
}

impl Inspection for GuardDisabled {
    fn motion(&mut self, _: &Motion, state: &State, line: &Line<'_>) {
        if !state.guards_off.is_empty() {
            self.off.clone_from(&state.guards_off);
            self.deposit = Some(line.all().excerpt());
        }
    }

    fn conclude(&mut self, _: &End<'_>, report: &mut Report) {
        for (guard, at) in std::mem::take(&mut self.off) {
            let (what, risk, again) = match guard {
                Guard::ColdExtrusion => (
                    "the guard against pushing cold filament",
                    "a cold or jammed hotend is not noticed and the drive grinds or the hotend bursts \
                     its joints",
                    "M302 P0, or M302 with the least temperature",
                ),
                Guard::TravelLimits => (
                    "the guard at the ends of the axes",
                    "a wrong coordinate drives the axes against the frame",
                    "M211 S1",
                ),
            };
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Critical,
                message: format!("{what} is switched off and still off when filament is laid"),
                help: format!(
                    "take the word out, or switch it on again before printing ({again}): {risk}"
                ),
                limit: None,
                amount: None,
                extent: Extent::once(at),
                related: self
                    .deposit
                    .iter()
                    .map(|at| (at.clone(), "the first deposit".to_owned()))
                    .collect(),
            });
        }
    }
}
