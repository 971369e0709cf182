//! The job stops until somebody comes.

use super::named::times;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::command::{Command, Stop};
use crate::finding::{Class, Counts, Finding, Tally};
use crate::machine::{Line, State, Step};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "stops-for-person",
    class: Class::Observation,
    page: include_str!("stops_for_person.md"),
    wants: Wants::CHANGES,
    silences: &[],
    make,
};

#[derive(Default)]
struct StopsForPerson {
    pauses: Tally,
    changes: Tally,
}

#[allow(clippy::unnecessary_wraps, reason = "the register's form")]
fn make(_: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(StopsForPerson::default()))
}

impl Inspection for StopsForPerson {
    fn step(&mut self, step: &Step<'_>, _: &State, line: &Line<'_>) {
        match step.command {
            Command::Stop(Stop::Pause) => self.pauses.mark(&line.word(step.word)),
            Command::Stop(Stop::FilamentChange) => self.changes.mark(&line.word(step.word)),
            _ => {}
        }
    }

    fn conclude(&mut self, _: &End<'_>, report: &mut Report) {
        for (tally, what, help) in [
            (
                &mut self.pauses,
                "until somebody lets it go on",
                "see that somebody is there, or take the stop out",
            ),
            (
                &mut self.changes,
                "for a change of filament by hand",
                "have the filament dry and at hand, and mind the hot nozzle",
            ),
        ] {
            let tally = std::mem::take(tally);
            if tally.is_empty() {
                continue;
            }
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Observation,
                message: format!("the job stops {} {what}", times(tally.count())),
                help: help.to_owned(),
                limit: None,
                amount: None,
                extent: tally.close(Counts::Words),
                related: Vec::new(),
            });
        }
    }
}
