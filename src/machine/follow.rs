//! From a motion to the planner: what it needs to know of it, and where everything stands still.

#![allow(
    clippy::indexing_slicing,
    reason = "an axis from 0 to 2 into arrays of three"
)]

use super::motion::{self, Facts, Motion};
use super::planner::{Entry, Kind};
use super::state::State;
use super::{Line, MILLIMETRE, Machine, Observer};
use crate::command::{Command, MotionWord, Wait};

impl Machine {
    /// Carries out the motion that the axes hold.
    #[inline(always)]
    pub(super) fn motion(
        &mut self,
        word: Option<MotionWord>,
        line: &Line<'_>,
        observer: &mut impl Observer,
    ) {
        let Self {
            state,
            setup,
            axes,
            motion,
            ..
        } = self;
        motion::carry_out(state, setup, word, axes, motion);
        observer.motion(motion, state, line);
        if motion.moves() && self.planner.is_some() {
            self.plan(observer);
        }
    }

    /// Hands the motion to the planner.
    #[inline(always)]
    pub(super) fn plan(&mut self, observer: &mut impl Observer) {
        let Self {
            planner: Some(planner),
            motion,
            state,
            ..
        } = self
        else {
            return;
        };
        let rates = planner.rates();
        let mut entry = Entry {
            way: [0, 1, 2].map(|axis| near_mm(motion.to[axis] - motion.from[axis])),
            filament: near_mm(motion.filament),
            length: motion.length,
            speed: motion.feed,
            acceleration: rates.travel,
            kind: Kind::Travel,
            volume: near_mm(motion.pushed) * self.melt,
            leaves: None,
        };
        if motion.length == 0.0 {
            entry.kind = Kind::Retract;
            entry.length = entry.filament.abs();
            entry.acceleration = rates.retract;
        } else if motion.filament != 0 {
            entry.acceleration = rates.print;
            if motion.pushed > 0 {
                entry.kind = Kind::Print;
            }
        }
        if motion.feed <= 0.0 || state.inverse_time || motion.facts.meets(Facts::ARC) {
            self.unfed += u64::from(unusual(&mut entry, motion, state));
        }
        if planner.push(&entry) {
            planner.plan(false);
            observer.planned(&planner.settled());
            planner.let_go();
        }
    }

    /// The printer comes to a standstill: every move so far is settled.
    #[inline(never)]
    pub(super) fn stop(&mut self, observer: &mut impl Observer) {
        if let Some(planner) = &mut self.planner {
            planner.plan(true);
            observer.planned(&planner.settled());
            planner.let_go();
        }
    }
}

/// Picometres as millimetres, to a bit: a product takes a fifth of a quotient's time.
#[inline(always)]
fn near_mm(picometres: i64) -> f64 {
    picometres as f64 * (1.0 / MILLIMETRE as f64)
}

/// What a motion in an unusual way needs: an arc its directions, a feed by the time it takes, none at
/// all the axes' own. True where no line has set a feed.
#[inline(never)]
fn unusual(entry: &mut Entry, motion: &Motion, state: &State) -> bool {
    let fed = if state.inverse_time && motion.seconds > 0.0 {
        entry.speed = motion.length.max(entry.filament.abs()) / motion.seconds;
        true
    } else {
        motion.feed > 0.0
    };
    if !fed {
        entry.speed = FASTEST;
    }
    if !motion.facts.meets(Facts::ARC) || motion.length == 0.0 {
        return !fed;
    }
    match state.arc.as_ref().filter(|_| motion.is_arc) {
        Some(arc) => {
            let [from, to] = [0.0, 1.0].map(|fraction| arc.direction(fraction));
            let rise = entry.way[2] / motion.length;
            let level = (1.0 - rise * rise).max(0.0).sqrt();
            entry.way[0] = from[0] * level * motion.length;
            entry.way[1] = from[1] * level * motion.length;
            entry.leaves = Some([to[0] * level, to[1] * level, rise]);
            // On a circle of this radius the acceleration itself bends the path: v² = a·r.
            entry.speed = entry.speed.min((entry.acceleration * arc.radius).sqrt());
        }
        None => {
            // In another plane, or no arc at all: its length, in the direction of its end.
            let straight = entry.way.iter().map(|way| way * way).sum::<f64>().sqrt();
            if straight > 0.0 {
                entry.way = entry.way.map(|way| way * motion.length / straight);
            } else {
                entry.way[0] = motion.length;
            }
        }
    }
    !fed
}

/// Faster than any printer: the axes' own limits hold, mm/s.
const FASTEST: f64 = 10_000.0;

/// Whether everything comes to a standstill before a command is carried out (common practice, no
/// source: waiting, homing and what a person or a macro does).
pub(super) const fn stands_still(command: Command) -> bool {
    match command {
        Command::Hotend { wait, .. }
        | Command::Bed { wait, .. }
        | Command::Chamber { wait, .. } => !matches!(wait, Wait::No),
        Command::Dwell(_)
        | Command::Retract(_)
        | Command::Home
        | Command::Probe
        | Command::WaitForHeat
        | Command::Tool(_)
        | Command::ChangeTool
        | Command::Stop(_)
        | Command::MotorsOff
        | Command::EmergencyStop
        | Command::Power(_)
        | Command::End(true)
        | Command::Macro => true,
        _ => false,
    }
}
