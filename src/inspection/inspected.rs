//! What is known of a job after the round: what was found, and what it builds, sets and declares.

use crate::command::hint::Key;
use crate::command::{Command, Wait};
use crate::finding::{Excerpt, Finding, NotHeld};
use crate::machine::{Line, State, Step};
use crate::survey::Survey;
use std::collections::{BTreeMap, BTreeSet};

/// What a job's comments declare: the first of each, with its place.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Declared {
    settings: BTreeMap<Key, (String, Excerpt)>,
    /// Settings that the job declares twice, and differently: what holds is not known.
    unsure: BTreeSet<Key>,
}

impl Declared {
    /// A declared setting as written, and where.
    #[must_use]
    pub fn get(&self, key: Key) -> Option<(&str, &Excerpt)> {
        self.settings
            .get(&key)
            .map(|(value, at)| (value.as_str(), at))
    }

    /// A declared setting that is declared only once, or alike each time.
    #[must_use]
    pub fn sure(&self, key: Key) -> Option<(&str, &Excerpt)> {
        self.get(key).filter(|_| !self.unsure.contains(&key))
    }

    /// A declared setting as a number.
    #[must_use]
    pub fn number(&self, key: Key) -> Option<(f64, &Excerpt)> {
        let (value, at) = self.get(key)?;
        // Several tools are listed with commas; the first speaks for one tool.
        let first = value.split([',', ';']).next()?.trim();
        first
            .parse()
            .ok()
            .filter(|number: &f64| number.is_finite())
            .map(|number| (number, at))
    }

    pub(super) fn add(&mut self, key: Key, value: String, at: Excerpt) {
        match self.settings.get(&key) {
            None => {
                self.settings.insert(key, (value, at));
            }
            Some((known, _)) if alike(known, &value) => {}
            Some(_) => {
                self.unsure.insert(key);
            }
        }
    }
}

/// Whether two spellings are one value.
fn alike(one: &str, other: &str) -> bool {
    match (one.parse::<f64>(), other.parse::<f64>()) {
        (Ok(one), Ok(other)) => (one - other).abs() <= 0.01 * one.abs().max(other.abs()),
        _ => one == other,
    }
}

/// A setpoint that a job sets, and how often.
#[derive(Debug, Clone, PartialEq)]
pub struct Setpoint {
    /// °C.
    pub target: f64,
    /// How often it is set.
    pub count: u64,
    /// The first line that sets it.
    pub line: u64,
    /// Whether the job waits for it, at that line.
    pub waits: bool,
}

/// What a job sets and uses, for a reader to see at a glance. Lists are cut at sixteen entries.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Uses {
    /// Hotend setpoints by tool.
    pub hotend: Vec<(u32, Setpoint)>,
    /// Bed setpoints.
    pub bed: Vec<Setpoint>,
    /// Chamber setpoints.
    pub chamber: Vec<Setpoint>,
    /// Tools that lay filament.
    pub tools: Vec<u32>,
    /// The part fan while the part is laid, weighted by filament, first layer left out, 0 to 1.
    pub fan_mean: Option<f64>,
    /// The highest commanded feed while filament is laid, mm/s.
    pub feed_most: f64,
    /// Macros, each with its first line.
    pub macros: Vec<(String, u64)>,
}

/// A job after the round.
#[derive(Debug, Clone, PartialEq)]
pub struct Inspected {
    /// Lines.
    pub lines: u64,
    /// Unpacked bytes.
    pub bytes: u64,
    /// The line on which the program ends, where the control ends it at a word.
    pub ends_on: Option<u64>,
    /// Lines behind it that hold more than a comment: they were not read as job.
    pub unread: u64,
    /// What was found: by class, then by requirement and place.
    pub findings: Vec<Finding>,
    /// What was not held, and why; sorted.
    pub not_held: Vec<NotHeld>,
    /// What of it was held against limits that may be moved, past them or not: the extreme in each
    /// case, in the limit's unit, or none where there was nothing to hold. Only of a job that pushes
    /// its first tool's filament alone.
    pub values: BTreeMap<&'static str, Option<f64>>,
    /// What the job builds.
    pub survey: Survey,
    /// What it sets and uses.
    pub uses: Uses,
    /// What its comments declare.
    pub declared: Declared,
    /// Why the bytes are no job, where they are none: nothing was held then.
    pub no_job: Option<&'static str>,
}

/// The most entries of one list.
const LIST_CAP: usize = 16;

fn add(number: u64, list: &mut Vec<Setpoint>, target: f64, waits: bool) {
    if let Some(known) = list.iter_mut().find(|known| known.target == target) {
        known.count += 1;
        known.waits |= waits;
    } else if list.len() < LIST_CAP {
        list.push(Setpoint {
            target,
            count: 1,
            line: number,
            waits,
        });
    }
}

impl Uses {
    pub(super) fn note(&mut self, step: &Step<'_>, state: &State, line: &Line<'_>) {
        let number = line.number;
        match step.command {
            Command::Hotend {
                target: Some(target),
                tool,
                wait,
            } => {
                let tool = tool.unwrap_or(state.tool());
                let known = self
                    .hotend
                    .iter_mut()
                    .find(|(of, known)| *of == tool && known.target == target);
                let waits = wait != Wait::No;
                if let Some((_, known)) = known {
                    known.count += 1;
                    known.waits |= waits;
                } else if self.hotend.len() < LIST_CAP {
                    self.hotend.push((
                        tool,
                        Setpoint {
                            target,
                            count: 1,
                            line: number,
                            waits,
                        },
                    ));
                }
            }
            Command::Bed {
                target: Some(target),
                wait,
            } => {
                add(number, &mut self.bed, target, wait != Wait::No);
            }
            Command::Chamber {
                target: Some(target),
                wait,
            } => {
                add(number, &mut self.chamber, target, wait != Wait::No);
            }
            Command::Macro => {
                if let Some(effects) = step.effects {
                    let waits = effects.is_defined && effects.waits;
                    if let Some((target, _)) = effects.hotend {
                        let setpoint = Setpoint {
                            target,
                            count: 1,
                            line: number,
                            waits,
                        };
                        self.hotend.push((state.tool(), setpoint));
                    }
                    if let Some((target, _)) = effects.bed {
                        add(number, &mut self.bed, target, waits);
                    }
                    if let Some((target, _)) = effects.chamber {
                        add(number, &mut self.chamber, target, waits);
                    }
                }
                let name = line
                    .words
                    .get(step.word)
                    .map(|word| String::from_utf8_lossy(word.bytes(line.bytes)).into_owned());
                if let Some(name) = name {
                    let is_new = !self.macros.iter().any(|(known, _)| *known == name);
                    if is_new && self.macros.len() < LIST_CAP {
                        self.macros.push((name, number));
                    }
                }
            }
            _ => {}
        }
    }
}
