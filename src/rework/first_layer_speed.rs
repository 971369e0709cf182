//! The part's first layer is laid no faster than the material sheet allows.

use super::{Characteristic, Mend, Proposal, Proposals, Rework};
use crate::edit::Change;
use crate::finding::{Excerpt, Mark};
use crate::grammar::{Fault, Kind};
use crate::inspection::{End, Held, of_material};
use crate::machine::{Line, Motion, State};
use crate::survey::Layer;
use std::ops::Range;

pub(super) const REWORK: Rework = Rework {
    id: "first-layer-speed",
    page: include_str!("first_layer_speed.md"),
    answers: &["first-layer-fast"],
    alters: &[Characteristic::Feed],
    make,
};

const ID: &str = "first-layer-fast";

/// The most motions that are kept until the first layer is known.
const CAP: usize = 1_000_000;

/// One motion line, as far as its feed goes.
#[derive(Debug)]
struct Entry {
    line: u64,
    /// The number behind its F, in bytes of the job, where it has one.
    feed_at: Option<Range<u64>>,
    /// Where a word can be put in: behind the last one.
    end: u64,
    /// The feed in force, mm/s, without the speed factor.
    feed: f64,
    /// The speed factor.
    factor: f64,
    is_deposit: bool,
    /// The most it may go, mm/s, where that is less than it goes.
    most: Option<f64>,
}

struct Mending {
    held: Held,
    log: Vec<Entry>,
    is_closed: bool,
    refusal: Option<&'static str>,
    tool: u32,
    fastest: f64,
    at: Option<Excerpt>,
}

fn make(held: &Held) -> Box<dyn Mend> {
    let says = held.says("first_layer.speed_most", |material| {
        material.first_layer.speed_most.as_ref()
    });
    Box::new(Mending {
        held: held.clone(),
        log: Vec::new(),
        is_closed: says.is_err(),
        refusal: None,
        tool: 0,
        fastest: 0.0,
        at: None,
    })
}

impl Mend for Mending {
    fn follows(&self) -> bool {
        !self.is_closed
    }

    fn motion(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        if self.is_closed {
            return;
        }
        if self.log.len() >= CAP {
            self.refusal = Some("the first layer has a million lines or more");
            self.is_closed = true;
            self.log = Vec::new();
            return;
        }
        if state.inches.on || state.inverse_time {
            self.refusal = Some("feeds are in inches or by time");
        }
        let feed_word = line
            .words
            .iter()
            .rfind(|word| word.letter == b'F' && word.kind == Kind::Number);
        let feed_at = feed_word
            .filter(|word| word.fault == Fault::None)
            .and_then(|word| {
                let text = word.bytes(line.bytes);
                let from = text
                    .iter()
                    .position(|byte| !matches!(byte, b'F' | b'f' | b' ' | b'\t'))?;
                let start = line.start + u64::from(word.at);
                Some(start + from as u64..start + text.len() as u64)
            });
        self.log.push(Entry {
            line: line.number,
            feed_at,
            end: line.all().place().end,
            feed: state.feed,
            factor: state.conditions.speed,
            is_deposit: motion.is_deposit(),
            most: None,
        });
    }

    fn layer(&mut self, layer: &Layer) {
        if self.is_closed {
            return;
        }
        if layer.number > 0 {
            self.is_closed = true;
            return;
        }
        if !layer.stands_on_bed {
            return;
        }
        for stroke in layer.part() {
            let tool = stroke.conditions.tool;
            let limit = self
                .held
                .material(tool)
                .and_then(|material| material.first_layer.speed_most.as_ref());
            let Some(most) = limit.map(|limit| limit.value.get()) else {
                continue;
            };
            if stroke.feed <= most * (1.0 + 1e-9) {
                continue;
            }
            if stroke.feed > self.fastest {
                self.fastest = stroke.feed;
                self.tool = tool;
                let mut at = Excerpt::default();
                layer.show(stroke.fastest).write(&mut at);
                self.at = Some(at);
            }
            let (first, _) = layer.line_of(stroke);
            let from = self.log.partition_point(|entry| entry.line < first);
            let deposits = self
                .log
                .iter_mut()
                .skip(from)
                .filter(|entry| entry.is_deposit)
                .take(stroke.moves as usize);
            for entry in deposits {
                if entry.feed * entry.factor > most * (1.0 + 1e-9) {
                    entry.most = Some(most);
                }
            }
        }
    }

    fn propose(&mut self, _: &End<'_>, proposals: &mut Proposals) {
        if self.at.is_none() && self.refusal.is_none() {
            return;
        }
        if let Some(reason) = self.refusal {
            proposals.refuse(REWORK.id, ID, reason);
            return;
        }
        let Some(material) = self.held.material(self.tool) else {
            return;
        };
        let Some(limit) = &material.first_layer.speed_most else {
            return;
        };
        proposals.list.push(Proposal {
            rework: REWORK.id,
            requirement: ID,
            old: format!("{:.1} mm/s", self.fastest),
            new: limit.value.to_string(),
            limit: Some(of_material(
                material,
                "first_layer.speed_most",
                limit,
                limit.value,
            )),
            at: self.at.take(),
            changes: changes(&self.log),
        });
    }
}

/// The feed that a motion is to have, mm/min: rounded down to a tenth, so that it stays below.
fn wanted(entry: &Entry) -> f64 {
    match entry.most {
        Some(most) => (most / entry.factor * 600.0 + 1e-6).floor() / 10.0,
        None => entry.feed * 60.0,
    }
}

/// Walks along with the feed in force as it was and as it becomes, so that a lowered feed never
/// leaks into the lines behind it.
fn changes(log: &[Entry]) -> Vec<Change> {
    let mut changes = Vec::new();
    let mut now: Option<f64> = None;
    for entry in log {
        let wanted = wanted(entry);
        let is_slower = entry.most.is_some();
        match &entry.feed_at {
            Some(range) => {
                if is_slower {
                    changes.push(Change {
                        line: entry.line,
                        range: range.clone(),
                        text: wanted.to_string(),
                    });
                }
            }
            // Nothing was changed so far, or what is in force is right.
            None if now.is_none_or(|now| (now - wanted).abs() < 1e-6) && !is_slower => {}
            None if now.is_some_and(|now| (now - wanted).abs() < 1e-6) => {}
            None => changes.push(Change {
                line: entry.line,
                range: entry.end..entry.end,
                text: format!(" F{}", (wanted * 1000.0).round() / 1000.0),
            }),
        }
        now = Some(wanted);
    }
    changes
}
