//! The gate: one job is let through, corrected or held, and answered in one line.
//!
//! Absent here: arguments, and the reading of a configuration. Nothing is ever read from the job's
//! folder but the job, and a stamp where stamps are asked for.

mod key;
mod stamp;
mod watch;

pub use key::{Private, Public};
pub use stamp::{Stamping, verify};
pub use watch::Watch;

use crate::concession::Date;
use crate::inspection::requirement;
use crate::job::{Choice, Rules, Source, To, Wish, guarded, inspect_source, rework};
use crate::report::gated::{Answer, Gated};
use crate::report::record::{self, ReworkRecord, rework_line};
use crate::report::reworked::{Output, Reworked};
use crate::report::{Checked, Failed, Outcome};
use crate::rework::Wanted;
use crate::text::{Name, Threads};
use std::path::Path;
use std::time::Instant;

/// The requirement whose findings hold a job where nobody attends.
const STOPS: &str = "stops-for-person";

/// A gate, ready to be asked.
pub struct Gate {
    /// Which jobs get which sheets.
    pub rules: Rules,
    /// Whether nobody attends the machine.
    pub unattended: bool,
    /// Which reworks are done; none where the job is only let through or held.
    pub rework: Option<Wanted>,
    /// What stamps are trusted and made; none where none are.
    pub stamping: Option<Stamping>,
}

/// A job before the gate.
pub struct Asked<'a> {
    pub source: &'a Source,
    pub name: &'a Name,
    /// Where it lies, or lay when it arrived; none for the standard input.
    pub place: Option<&'a Path>,
    /// Where a reworked job goes that passes.
    pub to: To,
}

/// What became of a job before the gate, for its record.
pub enum Became {
    Checked(Box<Checked>),
    Reworked(Box<Reworked>),
    Failed(Failed),
    /// A stamp said all that is known.
    Stamped,
}

impl Became {
    /// Whether a file was written.
    fn is_written(&self) -> bool {
        matches!(self, Self::Reworked(reworked) if matches!(reworked.output, Output::File { .. }))
    }

    /// Its record as a line of JSON; none where a stamp said all that is known.
    pub fn record(self) -> Option<String> {
        match self {
            Self::Checked(checked) => record::line(&Outcome::Checked(checked)).ok(),
            Self::Failed(failed) => record::line(&Outcome::Failed(failed)).ok(),
            Self::Reworked(reworked) => rework_line(&ReworkRecord::of(&reworked)).ok(),
            Self::Stamped => None,
        }
    }
}

impl Gate {
    /// From now on this day is today, by which concessions end.
    fn today(&mut self, today: Date) {
        for rule in &mut self.rules.list {
            rule.settings.today = today;
        }
    }

    /// Answers a job. Whatever happens, there is an answer, and it is a pass only where the job was
    /// inspected and released, or has a stamp that says so.
    pub fn answer(&self, asked: &Asked<'_>) -> (Gated, Became) {
        let begin = Instant::now();
        let (mut gated, became) = guarded(|| self.attempt(asked)).unwrap_or_else(|panic| {
            let name = asked.name.clone();
            let message = format!("{name} has no answer: a fault in this program at {panic}");
            let help = "do not print it on this program's word; report the fault".to_owned();
            failed(Failed {
                name,
                message,
                help,
            })
        });
        gated.took = begin.elapsed();
        (gated, became)
    }

    fn attempt(&self, asked: &Asked<'_>) -> (Gated, Became) {
        if let Some(stamping) = &self.stamping
            && let Some(gated) = stamping.ask(self, asked)
        {
            return (gated, Became::Stamped);
        }
        let (mut gated, became) = match self.inspect(asked) {
            Ok(answered) => answered,
            Err(fault) => return failed(fault),
        };
        if let Some(stamping) = &self.stamping
            && let Err(fault) = stamping.put(self, asked, &gated)
        {
            gated.remark(&format!("no stamp could be made: {fault}"));
        }
        (gated, became)
    }

    fn inspect(&self, asked: &Asked<'_>) -> Result<(Gated, Became), Failed> {
        let Asked {
            source,
            name,
            place,
            to,
        } = asked;
        let (index, rule) = match self.rules.choose(source, name, *place, Threads::Two)? {
            Choice::Fits(index, rule) => (index, rule),
            Choice::None(reason) => {
                let record = record::no_record(name, &reason);
                let gated = Gated::refused((*name).clone(), Answer::Hold, reason);
                return Ok((gated, Became::Failed(record)));
            }
        };
        let accept = |checked: &Checked| self.holding(checked).is_empty();
        let (reasons, became) = match &self.rework {
            None => {
                let checked = inspect_source(source, name, &rule.settings, Threads::Two)?;
                (self.holding(&checked), Became::Checked(checked))
            }
            Some(wanted) => {
                let wish = Wish {
                    to: to.clone(),
                    wanted,
                    accept: &accept,
                    brief: false,
                    meanwhile: None,
                };
                let reworked = Box::new(rework(source, name, &wish, &rule.settings)?);
                let mut reasons = self.holding(reworked.result());
                if let Some(Err(unproven)) = reworked.change.as_ref().map(|change| &change.proof) {
                    reasons.push(format!("the rework is not proven: {}", unproven.0));
                }
                (reasons, Became::Reworked(reworked))
            }
        };
        let (checked, changes) = match &became {
            Became::Reworked(reworked) if reworked.is_proven() && reasons.is_empty() => {
                (reworked.result(), reworked.proposals.list.len())
            }
            Became::Reworked(reworked) => (reworked.before.as_ref(), 0),
            Became::Checked(checked) => (checked.as_ref(), 0),
            Became::Failed(_) | Became::Stamped => return Ok(failed(lost(name))),
        };
        let answer = if reasons.is_empty() {
            Answer::Pass
        } else {
            Answer::Hold
        };
        let gated = Gated {
            rule: (!self.rules.is_one_for_all()).then_some(index + 1),
            materials: checked
                .held
                .each_material()
                .map(|material| material.name.clone())
                .collect(),
            machine: checked
                .held
                .machine
                .as_ref()
                .map(|machine| machine.name.clone()),
            digest: checked.stored.digest_hex.clone(),
            changes,
            ..Gated::refused((*name).clone(), answer, reasons.join(", "))
        };
        Ok((gated, became))
    }

    /// Why a job that was inspected is held; nothing where it passes.
    fn holding(&self, checked: &Checked) -> Vec<String> {
        let mut reasons: Vec<String> = checked
            .holding()
            .into_iter()
            .map(|(id, class)| format!("{id} ({})", class.word()))
            .collect();
        let stops = checked
            .inspected
            .findings
            .iter()
            .enumerate()
            .any(|(index, finding)| {
                finding.requirement == STOPS && checked.settlement.conceded(index).is_none()
            });
        if self.unattended && stops && requirement(STOPS).is_some() {
            reasons.push(format!("{STOPS}, and nobody attends"));
        }
        reasons
    }
}

fn failed(fault: Failed) -> (Gated, Became) {
    let gated = Gated::refused(
        fault.name.clone(),
        Answer::NotInspected,
        fault.message.clone(),
    );
    (gated, Became::Failed(fault))
}

fn lost(name: &Name) -> Failed {
    record::no_record(name, "the inspection has no result")
}
