//! Feeds that come down: whose limits there are, what they bear on, and where a word F has to stand.
//!
//! Several reworks lower feeds, and one feed can be too fast for more than one of them; a feed holds on
//! until the next word F. So one walk along the job does it for all: it keeps the motions until their
//! layer is closed and told apart, lowers what is too fast, and of the rest keeps nothing but the
//! motion behind each, which gets its old feed back.

use super::setpoint::Number;
use super::{Mend, Proposal, Proposals, Rework};
use super::{first_layer_speed, flow_limits, layer_time, retraction_speeds};
use crate::edit::Change;
use crate::finding::{Excerpt, Finding, Limit, Mark};
use crate::grammar::{Fault, Kind, Word};
use crate::inspection::{Held, Quick, Quicks, is_flow_above, lowest_flow, retraction_speed};
use crate::machine::{Line, Motion, State, mm};
use crate::survey::{Deposit, Layer, Stroke};
use std::collections::VecDeque;
use std::ops::Range;

/// The most motions that are kept until their layer is known, and the most that are lowered: a job with
/// more is left alone.
const CAP: usize = 1_000_000;

/// The most layers that wait to be laid on.
const WAITING: usize = 64;

/// A stretch this long has its own section, mm: shorter ones are taken together, since their words are
/// rounded (chosen; a second at 20 mm/s is four of them).
const STRETCH: f64 = 5.0;

/// No feed, or no subject.
const NONE: u16 = u16::MAX;

/// One motion line, as far as its feed goes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Entry {
    /// Counted along the job.
    index: u64,
    line: u64,
    /// The first byte of the number behind its F, where it has one; else where a word can be put in,
    /// behind the last one.
    at: u64,
    /// The length of that number; 0 where there is none.
    digits: u16,
    /// The feed in force, mm/s, without the speed factor.
    feed: f64,
    /// The speed factor.
    factor: f64,
    pub length: f64,
    /// Filament pushed, mm.
    pushed: f64,
    is_deposit: bool,
    pub is_part: bool,
    /// The most it may go for what melts, mm/s with the factor, and for whom.
    melts: (f64, u16),
    /// The most it may go for any other reason.
    other: (f64, u16),
}

impl Entry {
    /// The speed it is to go at by what is known so far, mm/s.
    pub fn speed(&self) -> f64 {
        (self.feed * self.factor)
            .min(self.melts.0)
            .min(self.other.0)
    }

    const fn is_lowered(&self) -> bool {
        self.melts.1 != NONE || self.other.1 != NONE
    }

    fn is_above(&self, most: f64) -> bool {
        self.feed * self.factor > most * (1.0 + 1e-9)
    }
}

/// Whom a feed is lowered for.
#[derive(Debug)]
struct Subject {
    /// By place in [`OURS`].
    ours: usize,
    requirement: &'static str,
    tool: u32,
    limit: Limit,
    /// The worst figure so far, in the limit's unit.
    worst: f64,
    at: Excerpt,
}

/// What is waited for: whether a layer is too quick.
struct Batch {
    /// The first line of its part.
    first: u64,
    entries: Vec<Entry>,
    after: Option<Entry>,
}

pub(super) struct Feeds {
    held: Held,
    /// Which of [`OURS`] are asked for, and have their figures.
    asked: [bool; 4],
    log: VecDeque<Entry>,
    count: u64,
    kept: Vec<Entry>,
    waiting: Vec<Batch>,
    quicks: Option<Quicks>,
    subjects: Vec<Subject>,
    is_closed: bool,
    refusal: Option<&'static str>,
    /// Layers that cannot be laid slowly enough, and the tool of the first.
    too_small: (u64, u32),
}

/// A rework that lowers feeds.
#[derive(Debug)]
struct Ours {
    rework: &'static Rework,
    /// Whether a figure is worse than another.
    is_worse: fn(f64, f64) -> bool,
    /// The worst figure and the limit in words.
    said: fn(f64, f64) -> (String, String),
}

fn higher(figure: f64, than: f64) -> bool {
    figure > than
}

fn lower(figure: f64, than: f64) -> bool {
    figure < than
}

static OURS: [Ours; 4] = [
    Ours {
        rework: &first_layer_speed::REWORK,
        is_worse: higher,
        said: |worst, limit| (format!("{worst:.1} mm/s"), format!("{limit} mm/s")),
    },
    Ours {
        rework: &flow_limits::REWORK,
        is_worse: higher,
        said: |worst, limit| (format!("{worst:.1} mm³/s"), format!("{limit} mm³/s")),
    },
    Ours {
        rework: &layer_time::REWORK,
        is_worse: lower,
        said: |worst, limit| (format!("{worst:.1} s a layer"), format!("{limit} s")),
    },
    Ours {
        rework: &retraction_speeds::REWORK,
        is_worse: higher,
        said: |worst, limit| (format!("{worst:.1} mm/s"), format!("{limit} mm/s")),
    },
];

const FIRST_LAYER: usize = 0;
const FLOW: usize = 1;
const TIME: usize = 2;
const DRAWN: usize = 3;

impl Feeds {
    /// For those of the reworks that are asked for; none where none of them is.
    pub fn new(held: &Held, is_asked: impl Fn(&Rework) -> bool) -> Option<Self> {
        let is_timed = held.timed().is_ok();
        let has_figures = [
            first_layer_speed::says(held),
            is_timed,
            is_timed && layer_time::says(held),
            true,
        ];
        let mut asked = has_figures;
        for (asked, ours) in asked.iter_mut().zip(&OURS) {
            *asked &= is_asked(ours.rework);
        }
        asked.contains(&true).then(|| Self {
            held: held.clone(),
            asked,
            log: VecDeque::new(),
            count: 0,
            kept: Vec::new(),
            waiting: Vec::new(),
            quicks: asked
                .get(TIME)
                .is_some_and(|time| *time)
                .then(|| Quicks::new(held)),
            subjects: Vec::new(),
            is_closed: false,
            refusal: None,
            too_small: (0, 0),
        })
    }

    fn asks(&self, ours: usize) -> bool {
        self.asked.get(ours) == Some(&true)
    }

    fn close(&mut self, refusal: Option<&'static str>) {
        self.refusal = self.refusal.or(refusal);
        self.is_closed = true;
        self.log = VecDeque::new();
        if refusal.is_some() {
            self.kept = Vec::new();
            self.waiting = Vec::new();
        }
    }

    /// The number of a subject; its worst place is taken down.
    fn subject(
        &mut self,
        ours: usize,
        requirement: &'static str,
        tool: u32,
        limit: &Limit,
        figure: f64,
        at: impl FnOnce() -> Excerpt,
    ) -> u16 {
        let found = self.subjects.iter_mut().enumerate().find(|(_, subject)| {
            (subject.ours, subject.requirement, subject.tool) == (ours, requirement, tool)
        });
        if let Some((index, subject)) = found {
            let is_worse = OURS.get(ours).map(|ours| ours.is_worse);
            if is_worse.is_some_and(|is_worse| is_worse(figure, subject.worst)) {
                subject.worst = figure;
                subject.at = at();
            }
            return index as u16;
        }
        self.subjects.push(Subject {
            ours,
            requirement,
            tool,
            limit: limit.clone(),
            worst: figure,
            at: at(),
        });
        (self.subjects.len() - 1) as u16
    }

    /// What one stroke may go, by its own entries.
    fn hold(&mut self, layer: &Layer, stroke: &Stroke, range: Range<usize>) {
        let tool = stroke.conditions.tool;
        let at = |spot| {
            let mut at = Excerpt::default();
            layer.show(spot).write(&mut at);
            at
        };
        let is_part = stroke.deposit == Deposit::Part;
        let mut first = None;
        if self.asks(FIRST_LAYER)
            && is_part
            && layer.number == 0
            && layer.stands_on_bed
            && let Some(limit) = first_layer_speed::limit(&self.held, tool)
            && stroke.feed > limit.value * (1.0 + 1e-9)
        {
            let most = limit.value;
            let subject = self.subject(
                FIRST_LAYER,
                "first-layer-fast",
                tool,
                &limit,
                stroke.feed,
                || at(stroke.fastest),
            );
            first = Some((most, subject));
        }
        let mut melts = None;
        if self.asks(FLOW)
            && stroke.deposit != Deposit::Purge
            && let Some(pace) = &stroke.pace
            && let Some((requirement, limit)) = lowest_flow(&self.held, tool)
        {
            let area = self.held.setup().tool(tool).filament_area * stroke.conditions.flow;
            let section = section(self.log.range(range.clone())) * area;
            if section > 0.0 && is_flow_above(section * pace.speed, limit.value) {
                let subject = self.subject(
                    FLOW,
                    requirement,
                    tool,
                    &limit,
                    section * pace.speed,
                    || at(stroke.fastest),
                );
                melts = Some((limit.value / section, subject));
            }
        }
        for entry in self.log.range_mut(range).filter(|entry| entry.is_deposit) {
            entry.is_part = is_part;
            if let Some(first) = first.filter(|(most, _)| entry.is_above(*most)) {
                entry.other = first;
            }
            if let Some(melts) = melts.filter(|(most, _)| entry.is_above(*most)) {
                entry.melts = melts;
            }
        }
    }

    /// The entries of a stroke, by place in the log: from its first deposit behind its last one.
    fn entries(&self, layer: &Layer, stroke: &Stroke) -> Range<usize> {
        let (first, _) = layer.line_of(stroke);
        let from = self.log.partition_point(|entry| entry.line < first);
        let mut left = stroke.moves;
        let mut to = from;
        for entry in self.log.range(from..) {
            if left == 0 {
                break;
            }
            to += 1;
            left -= u32::from(entry.is_deposit);
        }
        from..to
    }

    /// A layer that turned out to be too quick.
    fn slow(&mut self, quick: &Quick) {
        let Some(place) = self
            .waiting
            .iter()
            .position(|batch| batch.first == quick.at.place.line)
        else {
            return;
        };
        let mut batch = self.waiting.remove(place);
        if let Some(limit) = layer_time::limit(&self.held, quick.tool) {
            let floor = layer_time::floor(&self.held, quick.tool);
            // A retraction may be made shorter meanwhile: its time does not count.
            let seconds = limit.value - (quick.seconds - quick.print - quick.drawn);
            match layer_time::share(&batch.entries, seconds, floor) {
                Some(share) => {
                    let subject = self.subject(
                        TIME,
                        "layer-too-quick",
                        quick.tool,
                        &limit,
                        quick.seconds,
                        || quick.at.clone(),
                    );
                    for entry in batch.entries.iter_mut().filter(|entry| entry.is_part) {
                        let most = layer_time::slowed(entry.speed(), share, floor);
                        if entry.is_above(most) {
                            entry.other = (most, subject);
                        }
                    }
                }
                None if self.too_small.0 == 0 => self.too_small = (1, quick.tool),
                None => self.too_small.0 += 1,
            }
        }
        self.keep(&batch.entries, batch.after);
    }

    /// Keeps what is lowered and the motion behind it.
    fn keep(&mut self, entries: &[Entry], after: Option<Entry>) {
        let next = entries.iter().skip(1).copied().map(Some).chain([after]);
        for (entry, next) in entries.iter().zip(next) {
            if entry.is_lowered() {
                self.kept.push(*entry);
                self.kept.extend(next.filter(|next| !next.is_lowered()));
            }
        }
        if self.kept.len() > CAP {
            self.close(Some(
                "more than a million motions would have to be slowed down",
            ));
        }
    }
}

/// The greatest section of filament for each millimetre of the way, over stretches of some millimetres.
fn section<'a>(entries: impl Iterator<Item = &'a Entry>) -> f64 {
    let (mut most, mut length, mut pushed) = (0.0_f64, 0.0, 0.0);
    let mut is_first = true;
    for entry in entries.filter(|entry| entry.is_deposit) {
        length += entry.length;
        pushed += entry.pushed;
        if length >= STRETCH {
            most = most.max(pushed / length);
            (length, pushed) = (0.0, 0.0);
            is_first = false;
        }
    }
    if is_first && length > 0.0 {
        most = pushed / length;
    }
    most
}

impl Mend for Feeds {
    fn follows(&self) -> bool {
        !self.is_closed
    }

    fn motion(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        if self.is_closed {
            return;
        }
        if self.log.len() >= CAP {
            self.close(Some("a layer has a million lines or more"));
            return;
        }
        if state.inches.on || state.inverse_time {
            self.refusal.get_or_insert("feeds are in inches or by time");
        }
        if self.log.back().is_some_and(|last| last.line == line.number) {
            self.refusal
                .get_or_insert("several motions stand on one line");
        }
        let is_feed = |word: &&Word| word.letter == b'F' && word.kind == Kind::Number;
        let feed_word = line.words.iter().rfind(is_feed);
        let number =
            feed_word.and_then(|word| Number::of(word, line.bytes, line.start, line.number));
        let is_taken =
            |number: &Number| (number.value() / 60.0 - state.feed).abs() <= state.feed * 1e-9;
        if feed_word.is_some() && !number.as_ref().is_some_and(is_taken) {
            self.refusal.get_or_insert("a feed cannot be read");
        }
        // A control may skip the rest of such a line: what is put in behind may never be read.
        if line.words.iter().any(|word| word.fault != Fault::None) {
            self.refusal
                .get_or_insert("a line that moves holds what cannot be read");
        }
        let (at, digits) = match &number {
            Some(number) => {
                let Range { start, end } = *number.range();
                (start, (end - start) as u16)
            }
            None => (line.all().place().end, 0),
        };
        let mut entry = Entry {
            index: self.count,
            line: line.number,
            at,
            digits,
            feed: state.feed,
            factor: state.conditions.speed,
            length: motion.length,
            pushed: mm(motion.pushed),
            is_deposit: motion.is_deposit(),
            is_part: false,
            melts: (f64::INFINITY, NONE),
            other: (f64::INFINITY, NONE),
        };
        self.count += 1;
        // Filament alone is drawn back.
        if self.asks(DRAWN)
            && motion.filament < 0
            && motion.length == 0.0
            && state.has_deposited
            && let Some(limit) = retraction_speed(&self.held, state.tool())
            && entry.is_above(limit.value)
        {
            let (speed, most) = (entry.feed * entry.factor, limit.value);
            let subject = self.subject(
                DRAWN,
                "retraction-too-fast",
                state.tool(),
                &limit,
                speed,
                || line.all().excerpt(),
            );
            entry.other = (most, subject);
        }
        self.log.push_back(entry);
    }

    fn layer(&mut self, layer: &Layer) {
        if self.is_closed {
            return;
        }
        let mut quick = Vec::new();
        if let Some(quicks) = &mut self.quicks {
            quicks.layer(layer, &mut |one| quick.push(one));
        }
        for one in quick {
            self.slow(&one);
        }
        let goes_on = [FLOW, TIME, DRAWN].iter().any(|ours| self.asks(*ours));
        if layer.number > 0 && !goes_on {
            self.close(None);
            return;
        }
        if layer.left_out > 0 {
            self.close(Some("a layer has more features than are kept"));
            return;
        }
        let mut end = 0;
        for stroke in &layer.strokes {
            let range = self.entries(layer, stroke);
            end = end.max(range.end);
            self.hold(layer, stroke, range);
        }
        let entries: Vec<Entry> = self.log.drain(..end).collect();
        let after = self.log.front().copied();
        let first = layer.part().next().map(|stroke| layer.line_of(stroke).0);
        let waits = self
            .quicks
            .as_ref()
            .is_some_and(|quicks| quicks.candidate(layer).is_some());
        if let Some(first) = first.filter(|_| waits) {
            if self.waiting.len() >= WAITING {
                let oldest = self.waiting.remove(0);
                self.keep(&oldest.entries, oldest.after);
            }
            self.waiting.push(Batch {
                first,
                entries,
                after,
            });
        } else {
            self.keep(&entries, after);
        }
    }

    fn settle(
        &mut self,
        findings: &[Finding],
        barred: Option<&'static str>,
        proposals: &mut Proposals,
    ) {
        let is_found = |requirement: &str| {
            findings
                .iter()
                .any(|finding| finding.requirement == requirement)
        };
        for batch in std::mem::take(&mut self.waiting) {
            self.keep(&batch.entries, batch.after);
        }
        // Motions behind the last layer: drawn back at the end.
        let rest: Vec<Entry> = std::mem::take(&mut self.log).into();
        if !self.is_closed {
            self.keep(&rest, None);
        }
        let (count, tool) = self.too_small;
        if count > 0 && is_found("layer-too-quick") {
            let reason = layer_time::too_small(&self.held, tool, count);
            proposals.refuse(layer_time::REWORK.id, "layer-too-quick", reason);
        }
        if let Some(reason) = self.refusal {
            for (ours, is_asked) in OURS.iter().zip(self.asked) {
                let answers = ours
                    .rework
                    .answers
                    .iter()
                    .filter(|id| is_asked && is_found(id));
                for requirement in answers {
                    proposals.refuse(ours.rework.id, requirement, reason);
                }
            }
            return;
        }
        // What holds for nobody is as if it were not there.
        let mut is_live = Vec::new();
        for subject in &self.subjects {
            let Some(Ours { rework, .. }) = OURS.get(subject.ours) else {
                continue;
            };
            let reason = barred.filter(|_| super::OF_MATERIAL.contains(&rework.id));
            let is_answered = rework.answers.iter().any(|id| is_found(id));
            if let Some(reason) = reason.filter(|_| is_answered) {
                proposals.refuse(rework.id, subject.requirement, reason);
            }
            is_live.push(is_answered && reason.is_none());
        }
        self.kept
            .sort_by_key(|entry| (entry.index, !entry.is_lowered()));
        self.kept.dedup_by_key(|entry| entry.index);
        let mut by_subject: Vec<Vec<Change>> = self.subjects.iter().map(|_| Vec::new()).collect();
        changes(&self.kept, &is_live, &mut by_subject);
        for (subject, changes) in self.subjects.drain(..).zip(by_subject) {
            if let Some(ours) = OURS.get(subject.ours).filter(|_| !changes.is_empty()) {
                let (old, new) = (ours.said)(subject.worst, subject.limit.value);
                proposals.list.push(Proposal {
                    rework: ours.rework.id,
                    requirement: subject.requirement,
                    old,
                    new,
                    limit: Some(subject.limit),
                    at: Some(subject.at),
                    changes,
                });
            }
        }
    }

    fn propose(&mut self, _: &crate::inspection::End<'_>, _: &mut Proposals) {}
}

/// A feed, mm/s, as the number of mm/min that is read as the very same, with as few digits as tell it.
fn as_written(feed: f64) -> f64 {
    let said = feed * 60.0;
    (0..=9)
        .map(|digits| {
            let unit = 10_f64.powi(digits);
            (said * unit).round() / unit
        })
        .find(|rounded| rounded / 60.0 == feed)
        .unwrap_or(said)
}

/// Walks along with the feed in force as it was and as it becomes, so that a lowered feed never
/// leaks into the lines behind it.
fn changes(kept: &[Entry], is_live: &[bool], by_subject: &mut [Vec<Change>]) {
    // The motion before, what it is laid at now, and for whom.
    let mut before: Option<(u64, f64, u16)> = None;
    for entry in kept {
        let live = |(most, subject): (f64, u16)| {
            let is_live = is_live.get(usize::from(subject)) == Some(&true);
            is_live.then_some((most, subject))
        };
        let lowest = [live(entry.melts), live(entry.other)]
            .into_iter()
            .flatten()
            .min_by(|one, other| one.0.total_cmp(&other.0));
        let was = entry.feed * 60.0;
        let wanted = match lowest {
            // Rounded down to a tenth, so that it stays below.
            Some((most, _)) => (most / entry.factor * 600.0 + 1e-6).floor() / 10.0,
            None => was,
        };
        let joins = before.filter(|(index, ..)| index + 1 == entry.index);
        let for_whom = lowest
            .map(|(_, subject)| subject)
            .or(joins.map(|(.., subject)| subject));
        let in_force = joins.map_or(was, |(_, feed, _)| feed);
        let speeds = [was, wanted].map(|feed| (feed * entry.factor / 60.0) as f32);
        let speeds = lowest.map(|_| speeds);
        let change = if entry.digits > 0 {
            lowest.map(|_| (u64::from(entry.digits), wanted.to_string()))
        } else {
            ((in_force - wanted).abs() >= 1e-6).then(|| {
                let said = lowest.map_or_else(|| as_written(entry.feed), |_| wanted);
                (0, format!(" F{said}"))
            })
        };
        if let Some(((digits, text), changes)) =
            change.zip(for_whom.and_then(|subject| by_subject.get_mut(usize::from(subject))))
        {
            changes.push(Change {
                line: entry.line,
                range: entry.at..entry.at + digits,
                text,
                speeds,
            });
        }
        before = for_whom.map(|subject| (entry.index, wanted, subject));
    }
}
