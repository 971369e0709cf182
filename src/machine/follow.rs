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
    ///
    /// The entry is never lent out on the common way, so that it stays in registers.
    #[inline(always)]
    pub(super) fn plan(&mut self, observer: &mut impl Observer) {
        let Self {
            planner: Some(planner),
            motion,
            state,
            melt,
            ..
        } = self
        else {
            return;
        };
        let rates = planner.rates();
        let filament = near_mm(motion.filament);
        let (kind, acceleration, length) = if motion.length == 0.0 {
            (Kind::Retract, rates.retract, filament.abs())
        } else if motion.filament == 0 {
            (Kind::Travel, rates.travel, motion.length)
        } else if motion.pushed > 0 {
            (Kind::Print, rates.print, motion.length)
        } else {
            (Kind::Travel, rates.print, motion.length)
        };
        let entry = Entry {
            way: [0, 1, 2].map(|axis| near_mm(motion.to[axis] - motion.from[axis])),
            filament,
            length,
            speed: motion.feed,
            acceleration,
            kind,
            volume: near_mm(motion.pushed) * *melt,
            leaves: None,
        };
        let is_full = if motion.feed <= 0.0 || state.inverse_time || motion.facts.meets(Facts::ARC)
        {
            let (entry, fed) = unusual(entry, motion, state);
            self.unfed += u64::from(!fed);
            planner.push(&entry)
        } else {
            planner.push(&entry)
        };
        if is_full {
            self.settle(false, observer);
        }
    }

    /// Plans what the window holds and hands on what is settled.
    #[inline(never)]
    fn settle(&mut self, stops: bool, observer: &mut impl Observer) {
        if let Some(planner) = &mut self.planner {
            planner.plan(stops);
            observer.planned(&planner.settled());
            planner.let_go();
        }
    }

    /// The printer comes to a standstill: every move so far is settled.
    pub(super) fn stop(&mut self, observer: &mut impl Observer) {
        self.settle(true, observer);
    }
}

/// Picometres as millimetres, to a bit: a product takes a fifth of a quotient's time.
#[inline(always)]
fn near_mm(picometres: i64) -> f64 {
    picometres as f64 * (1.0 / MILLIMETRE as f64)
}

/// What a motion in an unusual way needs: an arc its directions, a feed by the time it takes, none at
/// all the axes' own. False where no line has set a feed.
#[inline(never)]
fn unusual(mut entry: Entry, motion: &Motion, state: &State) -> (Entry, bool) {
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
        return (entry, fed);
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
    (entry, fed)
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
