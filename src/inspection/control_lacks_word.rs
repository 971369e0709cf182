//! The job uses a word that the machine's control does not have.

use super::named::{Named, times};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::command::Command;
use crate::finding::{Class, Counts, Finding, NotHeld, Tally};
use crate::grammar::Kind;
use crate::machine::{Facts, Line, Motion, State, Step};
use crate::sheet::{ChamberKind, Control};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "control-lacks-word",
    class: Class::Major,
    page: include_str!("control_lacks_word.md"),
    wants: Wants::STEPS.and(Wants::motions(Facts::ARC)),
    silences: &[],
    make,
};

/// Words that a sheet names together.
struct Group {
    key: &'static str,
    what: &'static str,
    says: fn(&Control) -> Option<bool>,
}

const CHAMBER: usize = 0;
const ARCS: usize = 1;
const RETRACT: usize = 2;
const PROBING: usize = 3;

const GROUPS: [Group; 4] = [
    Group {
        key: "control.has_chamber_words",
        what: "chamber words",
        says: |control| control.has_chamber_words,
    },
    Group {
        key: "control.has_arcs",
        what: "arcs",
        says: |control| control.has_arcs,
    },
    Group {
        key: "control.has_retract_words",
        what: "retraction words",
        says: |control| control.has_retract_words,
    },
    Group {
        key: "control.has_probing_words",
        what: "probing words",
        says: |control| control.has_probing_words,
    },
];

const fn group_of(command: &Command) -> Option<usize> {
    match command {
        Command::Chamber { .. } => Some(CHAMBER),
        Command::Retract(_) => Some(RETRACT),
        Command::Probe => Some(PROBING),
        _ => None,
    }
}

struct ControlLacksWord {
    /// The machine has no chamber, and the sheet does not speak of chamber words: setting one is
    /// what it lacks.
    no_chamber: bool,
    says: [Option<bool>; 4],
    known: Vec<Named>,
    lacks: Vec<Named>,
    /// Groups that the job uses and the sheet does not speak of.
    unsaid: [bool; 4],
    /// By word: which group it belongs to, if the sheet does not list it by name.
    used: Vec<(Named, Option<usize>, Tally)>,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    let machine = held.machine()?;
    let control = &machine.control;
    let kind = machine.chamber.kind.as_ref();
    let names = |list: &[String]| list.iter().map(|name| Named::parse(name)).collect();
    Ok(Box::new(ControlLacksWord {
        no_chamber: control.has_chamber_words.is_none()
            && kind.is_some_and(|kind| kind.value == ChamberKind::None),
        says: GROUPS.each_ref().map(|group| (group.says)(control)),
        known: names(&control.known_words),
        lacks: names(&control.lacks_words),
        unsaid: [false; 4],
        used: Vec::new(),
    }))
}

impl ControlLacksWord {
    fn uses(&mut self, group: Option<usize>, index: usize, line: &Line<'_>) {
        let Some(word) = line.words.get(index) else {
            return;
        };
        let group = if self.lacks.iter().any(|name| name.is(word, line)) {
            None
        } else {
            let Some(of) = group else { return };
            let Some(mut says) = self.says.get(of).copied() else {
                return;
            };
            if of == CHAMBER && self.no_chamber {
                says = Some(false);
            }
            if says == Some(true) || self.known.iter().any(|name| name.is(word, line)) {
                return;
            }
            if says.is_none() {
                if let Some(unsaid) = self.unsaid.get_mut(of) {
                    *unsaid = true;
                }
                return;
            }
            group
        };
        // One chamber, one cause, whether it is set or awaited.
        let known = self.used.iter().position(|(name, of, _)| {
            name.is(word, line) || (group == Some(CHAMBER) && *of == group)
        });
        let at = known.unwrap_or(self.used.len());
        if known.is_none() {
            self.used
                .push((Named::of(word, line.bytes), group, Tally::default()));
        }
        if let Some((.., tally)) = self.used.get_mut(at) {
            tally.mark(&line.word(index));
        }
    }
}

impl Inspection for ControlLacksWord {
    fn motion(&mut self, _: &Motion, _: &State, line: &Line<'_>) {
        if self.says.get(ARCS) == Some(&Some(true)) && self.lacks.is_empty() {
            return;
        }
        // A modal arc has no word of its own; the one before it was noted.
        let index = line.words.iter().position(|word| {
            word.letter == b'G' && word.kind == Kind::Number && matches!(word.whole(), Some(2 | 3))
        });
        if let Some(index) = index {
            self.uses(Some(ARCS), index, line);
        }
    }

    fn step(&mut self, step: &Step<'_>, _: &State, line: &Line<'_>) {
        // To switch off what is not there does no harm: many an end of a job does.
        let is_off = matches!(
            step.command,
            Command::Chamber {
                target: Some(0.0),
                ..
            }
        );
        let group = group_of(&step.command).filter(|_| !(is_off && self.no_chamber));
        if group.is_some() || !self.lacks.is_empty() {
            self.uses(group, step.word, line);
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let Some(machine) = end.held.machine.as_deref() else {
            return;
        };
        for (group, _) in GROUPS.iter().zip(self.unsaid).filter(|(_, unsaid)| *unsaid) {
            report.not_held.push(NotHeld {
                requirement: REQUIREMENT.id,
                reason: format!("the machine sheet does not say {}", group.key),
            });
        }
        for (name, group, tally) in std::mem::take(&mut self.used) {
            let is_chamber = group == Some(CHAMBER);
            let group = group.and_then(|group| GROUPS.get(group));
            let (what, key) = group.map_or(("this word", "control.lacks_words"), |group| {
                (group.what, group.key)
            });
            let used = times(tally.count());
            let used = if is_chamber {
                format!("a chamber is set or awaited {used}")
            } else {
                format!("{name} is used {used}")
            };
            let message = if is_chamber && self.no_chamber {
                format!("{used}, but {} has none (chamber.kind)", machine.name)
            } else {
                format!(
                    "{used}, but the control of {} has no {what} ({key})",
                    machine.name
                )
            };
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Major,
                message,
                help: "slice for this control, or put words it has in place of these".to_owned(),
                limit: None,
                amount: None,
                extent: tally.close(Counts::Words),
                related: Vec::new(),
            });
        }
    }
}
