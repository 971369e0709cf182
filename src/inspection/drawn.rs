//! Retractions: filament drawn back by one motion, or by several in a row as in a wipe.

use super::{End, Held};
use crate::command::Command;
use crate::finding::{Excerpt, Limit};
use crate::machine::{Line, Motion, State, Step, mm};
use crate::quantity::Quantity;
use crate::sheet::{Cited, Drive, Machine, Material, Tool};

/// Fewer retractions beyond a limit are an exception: a park, a wipe (chosen).
pub(super) const FEWEST: u64 = 3;

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
    /// `is_wanted` says whether a retraction's line is to be kept.
    pub fn motion(
        &mut self,
        motion: &Motion,
        state: &State,
        line: &Line<'_>,
        fastest: impl Fn(f64) -> f64,
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
            fastest(length).min(length / motion.seconds)
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
pub(super) fn fastest(machine: Option<&Machine>, length: f64) -> f64 {
    let speed = machine.and_then(|machine| Some(machine.speed.e.as_ref()?.value.get()));
    let reached = machine
        .and_then(|machine| machine.acceleration.e.as_ref())
        .map(|acceleration| (acceleration.value.get() * length).sqrt());
    speed
        .unwrap_or(f64::INFINITY)
        .min(reached.unwrap_or(f64::INFINITY))
}

/// Why retractions by the control's own word are not held.
pub(super) fn by_word(end: &End<'_>, retractions: &Retractions) -> Option<String> {
    (retractions.by_word && end.motions > 0)
        .then(|| "the control's own retraction word carries no length and no speed".to_owned())
}
