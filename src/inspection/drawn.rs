//! Retractions: filament drawn back by one motion, or by several in a row as in a wipe.

use super::figures::tidy;
use super::{End, Held, Inspection, Report};
use crate::command::Command;
use crate::finding::{Class, Counts, Excerpt, Finding, Limit, NotHeld, Tally};
use crate::machine::{Line, Motion, State, Step, mm};
use crate::quantity::Quantity;
use crate::sheet::{Cited, Drive, Machine, Material, Tool};

/// Fewer retractions beyond a limit are an exception: a park, a wipe (chosen).
const FEWEST: u64 = 3;

/// One retraction.
#[derive(Debug, Clone)]
pub(super) struct Drawn {
    pub tool: u32,
    /// How much is drawn back, mm.
    pub length: f64,
    /// The fastest of its motions, mm/s of filament; 0 where no feed is known.
    pub speed: f64,
    /// Its last motion, where it was wanted.
    pub at: Option<Excerpt>,
    /// The reel before anything was drawn back, and now, pm.
    most: i64,
    net: i64,
}

/// Follows a job's retractions.
#[derive(Debug, Default)]
pub(super) struct Retractions {
    open: Option<Drawn>,
    /// The control's own word for it was seen: it carries no length.
    pub by_word: bool,
}

impl Retractions {
    /// Takes a motion that draws back. Gives the retraction before, where printing went on behind it.
    /// `machine` bounds its speed; `is_wanted` says whether a retraction's line is to be kept.
    pub fn motion(
        &mut self,
        motion: &Motion,
        state: &State,
        line: &Line<'_>,
        machine: Option<&Machine>,
        is_wanted: impl Fn(&Drawn) -> bool,
    ) -> Option<Drawn> {
        // Before anything is laid it is no retraction in printing.
        if !state.has_deposited {
            return None;
        }
        let tool = state.tool();
        let reel = state.filament.get(tool as usize)?;
        let before = reel.net.saturating_sub(motion.filament);
        let length = mm(motion.filament.saturating_neg());
        let speed = if motion.seconds > 0.0 {
            fastest(machine, length).min(length / motion.seconds)
        } else {
            0.0
        };
        let goes_on =
            |open: &Drawn| open.tool == tool && open.most == reel.most && open.net == before;
        let settled = if self.open.as_ref().is_some_and(goes_on) {
            None
        } else {
            let settled = self.settle(state);
            self.open = Some(Drawn {
                tool,
                length: 0.0,
                speed: 0.0,
                at: None,
                most: reel.most,
                net: before,
            });
            settled
        };
        if let Some(open) = &mut self.open {
            open.length += length;
            open.speed = open.speed.max(speed);
            open.net = reel.net;
            if is_wanted(open) {
                open.at = Some(line.all().excerpt());
            }
        }
        settled
    }

    /// Takes a command. Behind a change of tool or filament, or whatever a macro does, it is no
    /// retraction in printing.
    pub fn step(&mut self, step: &Step<'_>, state: &State) -> Option<Drawn> {
        match step.command {
            Command::Tool(_) | Command::ChangeTool | Command::Stop(_) | Command::Macro => {
                self.settle(state)
            }
            Command::Retract(true) => {
                self.by_word = true;
                None
            }
            _ => None,
        }
    }

    /// Gives the last retraction, where printing went on behind it.
    pub fn settle(&mut self, state: &State) -> Option<Drawn> {
        let open = self.open.take()?;
        let reel = state.filament.get(open.tool as usize)?;
        (reel.most > open.most).then_some(open)
    }
}

/// The limit of a tool's retraction: the strictest that sheets say, or else common practice for its
/// drive.
pub(super) fn limit<T: Quantity>(
    held: &Held,
    tool: u32,
    of_tool: impl Fn(&Tool) -> Option<&Cited<T>>,
    of_material: impl Fn(&Material) -> Option<&Cited<T>>,
    keys: [&str; 2],
    by_drive: impl Fn(Drive) -> (f64, &'static str),
) -> Option<Limit> {
    let machine = held.machine.as_deref();
    let [tool_key, material_key] = keys;
    let said = machine
        .zip(held.tool(tool).and_then(of_tool))
        .map(|(machine, cited)| super::held::of_machine(machine, tool_key, cited, cited.value));
    let material = held.material(tool).and_then(|material| {
        let cited = of_material(material)?;
        Some(super::held::of_material(
            material,
            material_key,
            cited,
            cited.value,
        ))
    });
    let practice = || {
        let drive = held.tool(tool)?.drive.as_ref()?.value;
        let (value, whose) = by_drive(drive);
        Some(super::bore::by_practice(whose.to_owned(), value, T::UNIT))
    };
    match (said.or_else(practice), material) {
        (Some(one), Some(other)) if other.value < one.value => Some(other),
        (one, other) => one.or(other),
    }
}

/// The fastest that a motion of this length, mm, can draw filament, mm/s: the axis' limit, and what its
/// acceleration reaches from rest to rest, v² = a·s.
fn fastest(machine: Option<&Machine>, length: f64) -> f64 {
    let speed = machine.and_then(|machine| Some(machine.speed.e.as_ref()?.value.get()));
    let reached = machine
        .and_then(|machine| machine.acceleration.e.as_ref())
        .map(|acceleration| (acceleration.value.get() * length).sqrt());
    speed
        .unwrap_or(f64::INFINITY)
        .min(reached.unwrap_or(f64::INFINITY))
}

/// What of a retraction is held against a limit.
#[derive(Debug, Clone, Copy)]
pub(super) struct Measure {
    /// The requirement.
    pub id: &'static str,
    /// The figure, in the limit's unit.
    pub of: fn(&Drawn) -> f64,
    /// What is no difference.
    pub grain: f64,
    /// The limit of a tool.
    pub limit: fn(&Held, u32) -> Option<Limit>,
    /// What the sheets would have to say.
    pub unsaid: &'static str,
    /// What a retraction beyond it does, and what to do: with the tool, its figure and the limit's.
    pub stated: fn(u32, f64, f64) -> [String; 2],
}

/// Holds retractions against a limit by tool.
pub(super) struct Beyond {
    measure: Measure,
    held: Held,
    retractions: Retractions,
    beyond: Vec<(u32, Tally)>,
    /// By tool, worked out once.
    limits: Vec<Option<Limit>>,
    /// Drawn back and not held, since nothing says by what.
    unheld: bool,
}

impl Beyond {
    pub fn boxed(held: &Held, measure: Measure) -> Box<dyn Inspection> {
        Box::new(Self {
            measure,
            held: held.clone(),
            retractions: Retractions::default(),
            beyond: Vec::new(),
            limits: Vec::new(),
            unheld: false,
        })
    }

    fn note(&mut self, drawn: Option<Drawn>) {
        let Some(drawn) = drawn else { return };
        let limit = self.limits.get(drawn.tool as usize);
        self.unheld |= limit.and_then(Option::as_ref).is_none();
        if let Some(at) = &drawn.at {
            let figure = (self.measure.of)(&drawn);
            super::by_tool(&mut self.beyond, drawn.tool).note(figure, figure, at);
        }
    }
}

impl Inspection for Beyond {
    fn motion(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        while self.limits.len() <= (state.tool() as usize).min(63) {
            let limit = (self.measure.limit)(&self.held, self.limits.len() as u32);
            self.limits.push(limit);
        }
        let (limits, measure) = (&self.limits, self.measure);
        let is_beyond = |drawn: &Drawn| {
            let limit = limits.get(drawn.tool as usize).and_then(Option::as_ref);
            limit.is_some_and(|limit| (measure.of)(drawn) > limit.value + measure.grain)
        };
        let machine = self.held.machine.as_deref();
        let drawn = self
            .retractions
            .motion(motion, state, line, machine, is_beyond);
        self.note(drawn);
    }

    fn step(&mut self, step: &Step<'_>, state: &State, _: &Line<'_>) {
        let drawn = self.retractions.step(step, state);
        self.note(drawn);
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let last = self.retractions.settle(end.state);
        self.note(last);
        let by_word = (self.retractions.by_word && end.motions > 0)
            .then_some("the control's own retraction word carries no length and no speed");
        let reasons = [by_word, self.unheld.then_some(self.measure.unsaid)];
        report
            .not_held
            .extend(reasons.into_iter().flatten().map(|reason| NotHeld {
                requirement: self.measure.id,
                reason: reason.to_owned(),
            }));
        for (tool, tally) in std::mem::take(&mut self.beyond) {
            let Some(limit) = (self.measure.limit)(end.held, tool) else {
                continue;
            };
            if tally.count() < FEWEST {
                continue;
            }
            let worst = tidy(tally.worst().unwrap_or_default());
            let [message, help] = (self.measure.stated)(tool, worst, limit.value);
            report.findings.push(Finding {
                requirement: self.measure.id,
                class: Class::Observation,
                message,
                help,
                limit: Some(limit),
                amount: Some(worst),
                extent: tally.close(Counts::Moves),
                related: Vec::new(),
            });
        }
    }
}
