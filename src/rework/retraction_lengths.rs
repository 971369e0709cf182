//! Filament is drawn back no farther than the drive wants, and pushed again by the same.

use super::setpoint::Number;
use super::{Characteristic, Mend, Proposal, Proposals, Rework};
use crate::command::Command;
use crate::edit::Change;
use crate::finding::{Excerpt, Limit};
use crate::grammar::{Fault, Kind};
use crate::inspection::{End, Held, retraction_length};
use crate::machine::{Line, Motion, State, Step, mm};

pub(super) static REWORK: Rework = Rework {
    id: "retraction-lengths",
    page: include_str!("retraction_lengths.md"),
    answers: &["retraction-too-long"],
    alters: &[Characteristic::Retraction],
    is_repair: true,
    make: Some(make),
};

const ID: &str = "retraction-too-long";

/// The most retractions that are changed.
const CAP: usize = 500_000;

/// Lengths are differences of numbers as written, mm.
const GRAIN: f64 = 1e-6;

/// Filament drawn back, and not pushed again yet.
struct Open {
    tool: u32,
    /// mm.
    length: f64,
    /// The word that drew it.
    back: Number,
    at: Excerpt,
    /// E stands for a place and not for a way, as the word for that says.
    absolute: bool,
    /// Where the place of E was set anew since: it moves along, so that all places behind it stay.
    reset: Option<Number>,
}

/// What one tool draws too far.
struct Subject {
    tool: u32,
    limit: Limit,
    longest: f64,
    at: Excerpt,
    changes: Vec<Change>,
}

struct Mending {
    held: Held,
    open: Option<Open>,
    subjects: Vec<Subject>,
    count: usize,
    /// Retractions left alone, and why the first was.
    left: Option<(u64, &'static str)>,
}

fn make(held: &Held) -> Box<dyn Mend> {
    Box::new(Mending {
        held: held.clone(),
        open: None,
        subjects: Vec::new(),
        count: 0,
        left: None,
    })
}

/// The number behind the line's E, with its value.
fn number(line: &Line<'_>) -> Option<Number> {
    let mut words = line
        .words
        .iter()
        .filter(|word| word.letter == b'E' && word.kind == Kind::Number);
    let word = words.next().filter(|word| word.fault == Fault::None)?;
    if words.next().is_some() {
        return None;
    }
    Number::of(word, line.bytes, line.start, line.number)
}

impl Mending {
    fn leave(&mut self, reason: &'static str) {
        match &mut self.left {
            Some((count, _)) => *count += 1,
            None => self.left = Some((1, reason)),
        }
    }

    /// What was drawn too far and cannot be made shorter.
    fn give_up(&mut self, reason: &'static str) {
        let Some(open) = self.open.take() else { return };
        if retraction_length(&self.held, open.tool)
            .is_some_and(|limit| open.length > limit.value + GRAIN)
        {
            self.leave(reason);
        }
    }

    fn draw(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        if self.open.is_some() {
            // Together they may be too long.
            if let Some(open) = &mut self.open {
                open.length += mm(-motion.filament);
            }
            self.give_up("filament is drawn back in several steps, or along a wipe");
            return;
        }
        if !state.has_deposited {
            return;
        }
        let length = mm(-motion.filament);
        let is_told = state.absolute_e.declared.get().is_some();
        if motion.length > 0.0 || state.inches.on || state.volumetric.is_some() || !is_told {
            let is_long = retraction_length(&self.held, state.tool())
                .is_some_and(|limit| length > limit.value + GRAIN);
            if is_long {
                self.leave(if motion.length > 0.0 {
                    "filament is drawn back in several steps, or along a wipe"
                } else if is_told {
                    "E is in inches, or stands for a volume"
                } else {
                    "the job does not say whether E stands for places (M82) or for ways (M83)"
                });
            }
            return;
        }
        if let Some(back) = number(line) {
            self.open = Some(Open {
                tool: state.tool(),
                length,
                back,
                at: line.all().excerpt(),
                absolute: state.absolute_e.on,
                reset: None,
            });
        }
    }

    fn push(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        let Some(open) = &self.open else { return };
        let Some(limit) = retraction_length(&self.held, open.tool) else {
            self.open = None;
            return;
        };
        if open.length <= limit.value + GRAIN {
            self.open = None;
            return;
        }
        if motion.length > 0.0 {
            self.give_up("filament is pushed again on the way");
            return;
        }
        // Pushed again at once, perhaps with a little more for what oozed.
        if mm(motion.filament) + GRAIN < open.length {
            self.give_up("filament is pushed again in several steps");
            return;
        }
        if state.tool() != open.tool {
            self.open = None;
            return;
        }
        let Some(forth) = number(line) else {
            self.give_up("the length does not stand where it can be changed");
            return;
        };
        if self.count >= CAP {
            self.give_up("there are half a million of them or more");
            return;
        }
        let Some(open) = self.open.take() else { return };
        self.count += 1;
        let less = open.length - limit.value;
        // Whole digits of the job's own, and never longer than the limit.
        let places = [Some(&open.back), Some(&forth), open.reset.as_ref()];
        let digits = places.into_iter().flatten().map(Number::decimals).max();
        let digits = digits.unwrap_or_default().min(9);
        let unit = 10_f64.powi(digits as i32);
        let less = (less * unit - 1e-6).ceil() / unit;
        let mut changes = vec![open.back.rounded_to(open.back.value() + less, digits)];
        if !open.absolute {
            changes.push(forth.rounded_to(forth.value() - less, digits));
        } else if let Some(reset) = &open.reset {
            changes.push(reset.rounded_to(reset.value() + less, digits));
        }
        match self.subjects.iter_mut().find(|one| one.tool == open.tool) {
            Some(subject) => {
                subject.changes.extend(changes);
                if open.length > subject.longest {
                    subject.longest = open.length;
                    subject.at = open.at;
                }
            }
            None => self.subjects.push(Subject {
                tool: open.tool,
                limit,
                longest: open.length,
                at: open.at,
                changes,
            }),
        }
    }
}

impl Mend for Mending {
    fn follows(&self) -> bool {
        true
    }

    fn motion(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        match motion.filament {
            0 if self.open.is_none() => {}
            // A place of E that is said again would be another.
            0 => {
                let absolute = self.open.as_ref().is_some_and(|open| open.absolute);
                let says_e = |line: &Line<'_>| line.words.iter().any(|word| word.letter == b'E');
                if absolute && says_e(line) {
                    self.give_up("E is said in between without moving anything");
                }
            }
            ..0 => self.draw(motion, state, line),
            _ => self.push(motion, state, line),
        }
    }

    fn step(&mut self, step: &Step<'_>, _: &State, line: &Line<'_>) {
        let Some(open) = &mut self.open else { return };
        match step.command {
            Command::SetPosition => {
                let words = || line.words.iter().filter(|word| word.letter != b'N');
                let says = |letters: &[u8]| words().any(|word| letters.contains(&word.letter));
                if says(b"E") && open.absolute && open.reset.is_none() {
                    open.reset = number(line);
                    if open.reset.is_none() {
                        self.give_up("the place of E is set anew in between");
                    }
                } else if says(b"E") && open.absolute || !says(b"EXYZABC") {
                    self.give_up("the place of E is set anew in between");
                }
            }
            Command::AbsoluteExtrusion(_) | Command::Absolute(_) => {
                self.give_up("the way that E is told changes in between");
            }
            Command::Tool(_)
            | Command::ChangeTool
            | Command::Stop(_)
            | Command::Macro
            | Command::Retract(_)
            | Command::FlowFactor { .. }
            | Command::Offsets(_)
            | Command::Volumetric(_)
            | Command::Inches(_) => {
                // No retraction in printing, or none whose length is known.
                self.open = None;
            }
            _ => {}
        }
    }

    fn propose(&mut self, _: &End<'_>, proposals: &mut Proposals) {
        if let Some((count, reason)) = self.left {
            let retractions = match count {
                1 => "1 retraction stays as it is".to_owned(),
                count => format!("{count} retractions stay as they are"),
            };
            proposals.refuse(REWORK.id, ID, format!("{retractions}: {reason}"));
        }
        for subject in self.subjects.drain(..) {
            proposals.list.push(Proposal {
                rework: REWORK.id,
                requirement: ID,
                old: format!("{:.2} mm", subject.longest),
                new: format!("{} mm", subject.limit.value),
                limit: Some(subject.limit),
                at: Some(subject.at),
                changes: subject.changes,
            });
        }
    }
}
