//! A hot nozzle stands and pushes nothing.

use super::again::{self, Stored};
use super::figures::tenth;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::command::Command;
use crate::finding::{Class, Counts, Finding, Limit, SourceMark, Tally};
use crate::machine::{Element, Known, Line, State, Step};

/// The longest wait, s (chosen: ten minutes at printing temperature cook what stands in the nozzle and
/// let it ooze; materials differ, and no figure is published).
const LONGEST: f64 = 600.0;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "hot-idle",
    class: Class::Minor,
    page: include_str!("hot_idle.md"),
    wants: Wants::STEPS,
    silences: &[],
    make,
};

struct HotIdle {
    held: Held,
    /// The clock until which the nozzle was not hot, or may not have been idle, s.
    cool_until: f64,
    /// When the wait that was noted last began, s.
    noted: Option<f64>,
    idle: Tally,
    /// The longest in which nothing was pushed, hot or not, s.
    longest: Option<f64>,
    /// The temperature in the worst one, °C.
    hottest: f64,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.machine()?;
    held.says("hotend.print", |material| material.hotend.print.as_ref())?;
    Ok(Box::new(HotIdle {
        held: held.clone(),
        cool_until: 0.0,
        noted: None,
        idle: Tally::default(),
        longest: None,
        hottest: 0.0,
    }))
}

/// When within this time the hotend comes to this temperature.
fn crossing(hotend: &Element, least: f64, from: f64, to: f64) -> f64 {
    let (mut cool, mut hot) = (from, to);
    for _ in 0..32 {
        let middle = f64::midpoint(cool, hot);
        match hotend.temperature(middle) {
            Known::Known(now) if now >= least => hot = middle,
            _ => cool = middle,
        }
    }
    hot
}

impl Inspection for HotIdle {
    fn step(&mut self, step: &Step<'_>, state: &State, line: &Line<'_>) {
        self.longest = again::above(self.longest, state.clock - state.pushed_at);
        match step.command {
            // A person, a macro or a tool change may take any time, and may push.
            Command::Stop(_) | Command::Macro | Command::Tool(_) | Command::ChangeTool => {
                self.cool_until = state.clock;
                return;
            }
            _ if step.seconds <= 0.0 => return,
            _ => {}
        }
        let before = state.clock - step.seconds;
        let print = self
            .held
            .material(state.tool())
            .and_then(|material| material.hotend.print.as_ref());
        let (Some(print), Some(hotend)) = (print, state.hotend()) else {
            self.cool_until = state.clock;
            return;
        };
        // A model of heating comes near, no more.
        let least = print.value.least.get() - 1.0;
        match (hotend.temperature(before), hotend.temperature(state.clock)) {
            (Known::Known(_), Known::Known(after)) if after < least => {
                self.cool_until = state.clock
            }
            (Known::Known(first), Known::Known(_)) if first < least => {
                self.cool_until = crossing(hotend, least, before, state.clock);
            }
            (Known::Known(_), Known::Known(_)) => {}
            _ => self.cool_until = state.clock,
        }
        let since = self.cool_until.max(state.pushed_at);
        let idle = state.clock - since;
        if idle <= LONGEST {
            return;
        }
        if self.idle.worst().is_none_or(|worst| idle > worst) {
            self.hottest = hotend.temperature(state.clock).get().unwrap_or_default();
        }
        let at = line.word(step.word);
        if self.noted == Some(since) {
            self.idle.go_on(idle, idle, &at);
        } else {
            self.idle.note(idle, idle, &at);
        }
        self.noted = Some(since);
    }

    fn conclude(&mut self, _: &End<'_>, report: &mut Report) {
        report.values.push((WAIT, self.longest));
        let Some(idle) = self.idle.worst() else {
            return;
        };
        let idle = tenth(idle);
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Minor,
            message: format!(
                "the nozzle stands {idle} s at {} °C and pushes nothing, longer than {LONGEST} s",
                tenth(self.hottest)
            ),
            help: "heat the nozzle last, or hold it below printing temperature while the job waits; and \
                   do not leave it unwatched"
                .to_owned(),
            limit: Some(Limit {
                value: LONGEST,
                unit: "s",
                whose: "chosen for a nozzle at printing temperature".to_owned(),
                source: None,
                mark: SourceMark::Chosen,
            }),
            amount: Some(idle),
            extent: std::mem::take(&mut self.idle).close(Counts::Places),
            related: Vec::new(),
        });
    }
}

/// The longest wait without a push, hot or not, s, among the values held.
const WAIT: &str = "idle.longest";

/// Under any sheet a job without a long wait fulfils it; of another the store cannot tell.
pub(super) fn anew(stored: &Stored<'_>) -> Option<Option<Class>> {
    let longest = stored.value(WAIT)?;
    longest.is_none_or(|wait| wait <= LONGEST).then_some(None)
}
