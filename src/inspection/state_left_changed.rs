//! The job ends and leaves modes behind that the next job does not expect.

use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::command::Command;
use crate::finding::{Class, Excerpt, Extent, Finding, Mark, NotHeld};
use crate::machine::{Known, Line, State, Step};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "state-left-changed",
    class: Class::Minor,
    page: include_str!("state_left_changed.md"),
    wants: Wants::CHANGES,
    silences: &[],
    make,
};

/// What a word changed: the value, and the word; off again where there is none.
#[derive(Default)]
struct Change {
    value: Option<f64>,
    at: Excerpt,
    /// A macro that ends the job came after it and may have put it back.
    is_claimed: bool,
}

impl Change {
    fn set(&mut self, value: Option<f64>, mark: &impl Mark) {
        self.value = value;
        self.is_claimed = false;
        if value.is_some() {
            mark.write(&mut self.at);
        }
    }
}

#[derive(Default)]
struct StateLeftChanged {
    speed: Change,
    /// By tool.
    flow: Vec<(u32, Change)>,
    inches: Change,
    relative: Change,
    volumetric: Change,
    offset: Change,
}

#[allow(clippy::unnecessary_wraps, reason = "the register's form")]
fn make(_: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(StateLeftChanged::default()))
}

/// The value of a mode that is on.
const SET: f64 = f64::NEG_INFINITY;

/// The most tools whose flow factor is followed.
const TOOLS: usize = 16;

impl StateLeftChanged {
    fn changes(&mut self) -> impl Iterator<Item = &mut Change> {
        [
            &mut self.speed,
            &mut self.inches,
            &mut self.relative,
            &mut self.volumetric,
            &mut self.offset,
        ]
        .into_iter()
        .chain(self.flow.iter_mut().map(|(_, change)| change))
    }

    fn flow_set(&mut self, tool: u32, percent: f64, mark: &impl Mark) {
        let value = (percent != 100.0).then_some(percent);
        if let Some((_, change)) = self.flow.iter_mut().find(|(of, _)| *of == tool) {
            change.set(value, mark);
        } else if value.is_some() && self.flow.len() < TOOLS {
            let mut change = Change::default();
            change.set(value, mark);
            self.flow.push((tool, change));
        }
    }
}

impl Inspection for StateLeftChanged {
    fn step(&mut self, step: &Step<'_>, state: &State, line: &Line<'_>) {
        let mark = line.word(step.word);
        let when = |on: bool| on.then_some(SET);
        match step.command {
            Command::SpeedFactor(Some(percent)) => {
                self.speed.set((percent != 100.0).then_some(percent), &mark);
            }
            // `M220 R` calls back what was kept before.
            Command::SpeedFactor(None) if step.axes.named(b'R') => self.speed.set(None, &mark),
            Command::FlowFactor {
                percent: Some(percent),
                tool,
            } => {
                if tool.is_none() && percent == 100.0 {
                    // Where a control has one factor for all tools.
                    self.flow.clear();
                }
                self.flow_set(tool.unwrap_or(state.tool()), percent, &mark);
            }
            Command::Inches(on) => self.inches.set(when(on), &mark),
            Command::Absolute(on) => self.relative.set(when(!on), &mark),
            Command::Volumetric(diameter) => self.volumetric.set(diameter, &mark),
            Command::SetPosition | Command::Offsets(_) | Command::Home => {
                // A coordinate system is stored on purpose; what G92 adds to it is left over.
                let renamed = state.renamed();
                let farthest = (0..3)
                    .filter(|axis| state.is_homed(*axis))
                    .filter_map(|axis| renamed.get(axis))
                    .map(|shift| crate::machine::mm(*shift))
                    .fold(0.0, |most: f64, shift| {
                        if shift.abs() > most.abs() {
                            shift
                        } else {
                            most
                        }
                    });
                let is_new = self.offset.value != Some(farthest);
                if is_new {
                    self.offset
                        .set((farthest != 0.0).then_some(farthest), &mark);
                }
            }
            Command::End(true) => {
                // NISTIR 6556, 3.6.1: the end of a program puts these back.
                self.relative.set(None, &mark);
                self.offset.set(None, &mark);
            }
            Command::Macro => {
                let ends = step
                    .effects
                    .is_some_and(|effects| effects.role == crate::machine::Role::End);
                if ends {
                    self.changes().for_each(|change| change.is_claimed = true);
                }
            }
            _ => {}
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        if self
            .changes()
            .any(|change| change.is_claimed && change.value.is_some())
        {
            report.not_held.push(NotHeld {
                requirement: REQUIREMENT.id,
                reason: "the macro that ends the job may put modes and factors back".to_owned(),
            });
        }
        let mut state = |change: &mut Change, message: &dyn Fn(f64) -> String, help: &str| {
            let Some(value) = change.value.filter(|_| !change.is_claimed) else {
                return;
            };
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Minor,
                message: message(value),
                help: format!("{help} before the job ends"),
                limit: None,
                amount: Some(value).filter(|value| *value != SET),
                extent: Extent::once(std::mem::take(&mut change.at)),
                related: Vec::new(),
            });
        };
        state(
            &mut self.speed,
            &|percent| format!("the speed factor is left at {percent} %"),
            "put it back with M220 S100",
        );
        let many = self.flow.len() > 1;
        for (tool, change) in &mut self.flow {
            let tool = *tool;
            state(
                change,
                &|percent| match many || tool > 0 {
                    true => format!("the flow factor of tool {tool} is left at {percent} %"),
                    false => format!("the flow factor is left at {percent} %"),
                },
                "put it back with M221 S100",
            );
        }
        state(
            &mut self.inches,
            &|_| "the units are left at inches".to_owned(),
            "put millimetres back with G21",
        );
        state(
            &mut self.relative,
            &|_| "the axes are left counting from where they stand (G91)".to_owned(),
            "put absolute numbers back with G90",
        );
        state(
            &mut self.volumetric,
            &|diameter| format!("E is left as a volume, for filament of {diameter} mm"),
            "put lengths back with M200 D0",
        );
        if end.state.homed != [Known::Unknown; 3] {
            state(
                &mut self.offset,
                &|shift| format!("the coordinates are left shifted by {shift} mm"),
                "home, or cancel the shift with G92.1,",
            );
        }
    }
}
