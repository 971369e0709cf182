//! Waits that a job lacks are put in before its first push of filament.

use super::bed_setpoints;
use super::hotend_setpoints::too_hot;
use super::{Characteristic, Mend, Proposal, Proposals, Rework};
use crate::edit::Change;
use crate::finding::Excerpt;
use crate::inspection::{End, Held};
use crate::machine::{Element, Known, Line, Motion, State};

pub(super) static REWORK: Rework = Rework {
    id: "wait-for-heat",
    page: include_str!("wait_for_heat.md"),
    answers: &["hotend-not-awaited", "bed-not-awaited", "cold-deposit"],
    alters: &[Characteristic::Heat],
    is_repair: false,
    make: Some(make),
};

/// Where the setpoint that is waited for is put right too, the wait is for the new one; where one that
/// needed no wait is raised, it needs one.
pub(super) fn follow(proposals: &mut Proposals) {
    let list = &mut proposals.list;
    for index in 0..list.len() {
        let Some(wait) = list.get(index).filter(|one| one.rework == REWORK.id) else {
            continue;
        };
        if let (Some(now), Some(wait)) = (put_right(list, wait), list.get_mut(index)) {
            wait_for(wait, &now);
        }
    }
    for mut wait in std::mem::take(&mut proposals.if_raised) {
        if let Some(now) = put_right(list, &wait) {
            wait.old = format!("{now} °C would not be awaited");
            wait_for(&mut wait, &now);
            list.push(wait);
        }
    }
}

/// What the setpoint becomes that is in force where a wait goes in: the last one before it.
fn put_right(list: &[Proposal], wait: &Proposal) -> Option<String> {
    let setpoints = if wait.new.starts_with("M109") {
        "hotend-setpoints"
    } else {
        "bed-setpoints"
    };
    let old = wait.old.trim_end_matches(" is not awaited");
    let place = |one: &Proposal| one.at.as_ref().map(|at| at.place.start);
    list.iter()
        .filter(|one| one.rework == setpoints && one.old == old && place(one) < place(wait))
        .max_by_key(|one| place(one))
        .map(|one| one.new.trim_end_matches(" °C").to_owned())
}

fn wait_for(wait: &mut Proposal, now: &str) {
    if let Some((head, _)) = wait.new.rsplit_once('S') {
        wait.new = format!("{head}S{now}");
    }
    for change in &mut wait.changes {
        change.text = format!("{}\n", wait.new);
    }
}

#[derive(Default)]
struct Mending {
    has_pushed: bool,
    /// What nobody waits for: the word, the target, the requirement, and whether it is reached all the
    /// same.
    lacking: Vec<(String, f64, &'static str, bool)>,
    at: Option<(u64, u64, Excerpt)>,
    tool: u32,
}

fn make(_: &Held) -> Box<dyn Mend> {
    Box::new(Mending::default())
}

/// The target that nobody waited for, and whether it is reached by then.
fn lacks(element: &Element, clock: f64) -> Option<(f64, bool)> {
    let target = element
        .setting
        .target
        .get()
        .filter(|target| *target > 0.0)?;
    match element.setting.awaited {
        Known::Known(false) => Some((target, element.is_settled(clock))),
        // Awaited by an earlier word, and said again by one that does not wait.
        Known::Known(true) if !element.setting.by.as_ref().is_some_and(waits) => {
            Some((target, true))
        }
        _ => None,
    }
}

/// Whether a word that sets a temperature waits for it too.
fn waits(by: &Excerpt) -> bool {
    let word = by.text.get(by.span()).unwrap_or_default();
    ["M109", "M190"].iter().any(|waiting| {
        word.get(..waiting.len())
            .is_some_and(|word| word.eq_ignore_ascii_case(waiting.as_bytes()))
    })
}

impl Mend for Mending {
    fn follows(&self) -> bool {
        !self.has_pushed
    }

    fn motion(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        if self.has_pushed || motion.pushed <= 0 {
            return;
        }
        self.has_pushed = true;
        let many = state.hotends.len() > 1;
        let clock = state.clock - motion.seconds;
        if let Some((target, reached)) = lacks(&state.bed, clock) {
            self.lacking.push((
                format!("M190 S{target}"),
                target,
                "bed-not-awaited",
                reached,
            ));
        }
        if let Some((target, reached)) = state.hotend().and_then(|hotend| lacks(hotend, clock)) {
            let word = if many {
                format!("M109 T{} S{target}", state.tool())
            } else {
                format!("M109 S{target}")
            };
            self.lacking
                .push((word, target, "hotend-not-awaited", reached));
        }
        self.at = Some((line.number, line.start, line.all().excerpt()));
        self.tool = state.tool();
    }

    fn propose(&mut self, end: &End<'_>, proposals: &mut Proposals) {
        let Some((line, start, at)) = &self.at else {
            return;
        };
        for (word, target, requirement, reached) in &self.lacking {
            let wait = Proposal {
                rework: REWORK.id,
                requirement,
                old: format!("{target} °C is not awaited"),
                new: word.clone(),
                limit: None,
                at: Some(at.clone()),
                changes: vec![Change::new(*line, *start..*start, format!("{word}\n"))],
            };
            let too_hot = if *requirement == "hotend-not-awaited" {
                too_hot(end, self.tool, *target)
            } else {
                bed_setpoints::too_hot(end, *target)
            };
            if *reached {
                proposals.if_raised.push(wait);
            } else if let Some(reason) =
                too_hot.filter(|_| put_right(&proposals.list, &wait).is_none())
            {
                proposals.refuse(REWORK.id, requirement, reason);
            } else {
                proposals.list.push(wait);
            }
        }
    }
}
