//! From motions to strokes to layers.
//!
//! A layer is what is laid at one height. It is closed when deposit begins at another; the first
//! layers wait for the next one, since only that tells a skirt or a purge line from the part.

use super::cover::{CELL_CAP, Cell, Cover, trace};
use super::heights::Heights;
use super::pace::{Pace, Paces};
use super::stroke::{Deposit, Outside, Shown, Spot, Stroke};
use crate::command::hint::PathKind;
use crate::finding::{EXCERPT_CAP, Mark};
use crate::machine::planner::Planned;
use crate::machine::{Facts, Line, MILLIMETRE, Motion, Span, State};
use std::collections::VecDeque;
use std::rc::Rc;

/// The most strokes kept for one layer; past it the layer says so.
const STROKE_CAP: usize = 1 << 16;

/// The most bytes of line text kept for one layer.
const TEXT_CAP: usize = 8 << 20;

/// A stroke's text is clipped to this many bytes.
const TEXT_CLIP: usize = 160;

/// From this height on, layers are not held back: skirts and purge lines lie on the first ones.
const HELD_LAYERS: u64 = 4;

/// Less than this share of a skirt's cells is covered by the next layer.
const UNCOVERED: f64 = 0.12;

/// A closed layer.
#[derive(Debug)]
pub struct Layer {
    /// Counted from 0 in the order laid; what holds no part does not count, and has the number of
    /// the part's next layer.
    pub number: u64,
    /// Height above the bed, pm.
    pub z: i64,
    /// Height of the layer itself, pm: above the layer before, or above the bed.
    pub height: i64,
    /// Whether the nozzle rises along the way, as in a spiral.
    pub is_rising: bool,
    /// Whether the part stands on the bed, and not on a raft or on supports.
    pub stands_on_bed: bool,
    /// Its deposit.
    pub strokes: Vec<Stroke>,
    /// Strokes beyond the cap: counted, not kept.
    pub left_out: u64,
    /// How long all of it takes, the way to it included; None where no time can be told.
    pub pace: Option<Pace>,
    /// Stretches that its paces come in: one for each stroke, more past the cap.
    stretches: usize,
    /// The first of the part's strokes under each setting, by index.
    runs: Vec<u32>,
    text: Vec<u8>,
    cells: Vec<Cell>,
}

impl Layer {
    fn new(z: i64, height: i64) -> Self {
        Self {
            number: 0,
            z,
            height,
            is_rising: false,
            stands_on_bed: true,
            strokes: Vec::new(),
            left_out: 0,
            pace: None,
            stretches: 0,
            runs: Vec::new(),
            text: Vec::new(),
            cells: Vec::new(),
        }
    }

    /// A line of this layer as a place to show.
    #[must_use]
    pub fn show(&self, spot: Spot) -> Shown<'_> {
        let from = spot.text_at as usize;
        let text = self
            .text
            .get(from..from + spot.text_len as usize)
            .unwrap_or_default();
        Shown { spot, text }
    }

    /// The part's own strokes.
    pub fn part(&self) -> impl Iterator<Item = &Stroke> {
        self.strokes
            .iter()
            .filter(|stroke| stroke.deposit == Deposit::Part)
    }

    /// The part's own strokes, only the first of each run under the same conditions: enough for
    /// whoever holds setpoints.
    pub fn settings(&self) -> impl Iterator<Item = &Stroke> {
        self.runs
            .iter()
            .filter_map(|index| self.strokes.get(*index as usize))
    }

    fn find_runs(&mut self) {
        self.runs.clear();
        let mut last: Option<&Rc<crate::machine::Conditions>> = None;
        for (index, stroke) in self.strokes.iter().enumerate() {
            if stroke.deposit != Deposit::Part {
                continue;
            }
            if last.is_none_or(|last| !Rc::ptr_eq(last, &stroke.conditions)) {
                self.runs.push(index as u32);
                last = Some(&stroke.conditions);
            }
        }
    }

    /// Whether any of it is the part.
    #[must_use]
    pub fn has_part(&self) -> bool {
        self.part().next().is_some()
    }

    fn spot(&mut self, line: &Line<'_>) -> Spot {
        let all = line.all();
        let place = all.place();
        let text = line
            .bytes
            .get(..line.bytes.len().min(TEXT_CLIP))
            .unwrap_or_default();
        if self.text.len() + text.len() > TEXT_CAP {
            return Spot {
                place,
                line_start: line.start,
                text_at: 0,
                text_len: 0,
            };
        }
        let text_at = self.text.len() as u32;
        self.text.extend_from_slice(text);
        Spot {
            place,
            line_start: line.start,
            text_at,
            text_len: text.len() as u32,
        }
    }
}

const _: () = assert!(
    TEXT_CLIP < EXCERPT_CAP,
    "an excerpt takes a whole clipped line"
);

/// Whoever takes closed layers.
pub trait LayerSink {
    /// A layer is closed and told apart; layers come in the order laid.
    fn layer(&mut self, layer: &Layer);
}

/// What the whole job came to.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Totals {
    /// Layers of the part by distinct height; None past the table's cap.
    pub layers: Option<u64>,
    /// Why the layers are not told, where they are not.
    pub layers_unknown: Option<&'static str>,
    /// The box of the part: X, Y and Z, pm.
    pub part: Option<[Span; 3]>,
    /// The box of all deposit.
    pub all: Option<[Span; 3]>,
    /// The first layer of the part: its height, pm.
    pub first_layer: Option<i64>,
    /// Moves that lay filament.
    pub deposits: u64,
    /// Strokes beyond the cap of one layer.
    pub left_out: u64,
    /// How long the job takes, and the highest flow in it; None where no time can be told.
    pub pace: Option<Pace>,
}

/// Builds layers from motions.
#[derive(Debug)]
pub struct Layers {
    open: Option<Stroke>,
    layer: Option<Layer>,
    held: Option<Layer>,
    /// The height of the part's last closed layer, pm.
    below: i64,
    /// The usual height of a layer, pm: of the last planar one.
    usual: i64,
    hint: PathKind,
    before_wipe: PathKind,
    tool_changed: bool,
    closed: u64,
    numbered: u64,
    heights: Heights,
    totals: Totals,
    tower: Option<(Span, Span)>,
    spare: Vec<Layer>,
    on_raft: bool,
    /// None where no time can be told.
    paces: Option<Paces>,
    /// Closed layers whose moves are not planned yet.
    waiting: VecDeque<Layer>,
}

impl Layers {
    /// Before the first motion; `timed` where moves will come back planned.
    #[must_use]
    pub fn new(timed: bool) -> Self {
        Self {
            paces: timed.then(Paces::default),
            waiting: VecDeque::new(),
            open: None,
            layer: None,
            held: None,
            below: 0,
            usual: MILLIMETRE / 5,
            hint: PathKind::Unsaid,
            before_wipe: PathKind::Unsaid,
            tool_changed: false,
            closed: 0,
            numbered: 0,
            heights: Heights::default(),
            totals: Totals::default(),
            tower: None,
            spare: Vec::new(),
            on_raft: false,
        }
    }

    /// Takes moves whose times are settled.
    pub fn planned(&mut self, planned: &Planned<'_>, sink: &mut impl LayerSink) {
        if let Some(paces) = &mut self.paces {
            paces.take(planned);
            self.hand_on(sink);
        }
    }

    /// Time passes while the printer stands still.
    pub fn pass(&mut self, seconds: f64, is_heating: bool) {
        if let Some(paces) = &mut self.paces {
            paces.pass(seconds, is_heating);
        }
    }

    /// Hands on the layers whose times are known, in order.
    fn hand_on(&mut self, sink: &mut impl LayerSink) {
        let Some(paces) = &mut self.paces else { return };
        while self
            .waiting
            .front()
            .is_some_and(|layer| layer.stretches <= paces.known())
        {
            let Some(mut layer) = self.waiting.pop_front() else {
                return;
            };
            let mut whole = Pace::default();
            for stretch in 0..layer.stretches {
                let Some(pace) = paces.next() else { break };
                whole.add(&pace);
                let last = layer.strokes.len().saturating_sub(1);
                if let Some(stroke) = layer.strokes.get_mut(stretch.min(last)) {
                    stroke.pace.get_or_insert_default().add(&pace);
                }
            }
            layer.pace = Some(whole);
            sink.layer(&layer);
            self.spare.push(layer);
        }
        // A window of one-move layers is rare: no more than a few are kept for use again.
        self.spare.truncate(4);
    }
    /// A comment names what follows. Behind a wipe what was said before it holds again.
    pub fn hint(&mut self, kind: PathKind) {
        if kind == PathKind::Wipe && self.hint != PathKind::Wipe {
            self.before_wipe = self.hint;
        }
        let kind = match (kind, self.hint) {
            (PathKind::Unsaid, PathKind::Wipe) => self.before_wipe,
            _ => kind,
        };
        self.restore(kind);
    }

    /// What the last comment named.
    #[must_use]
    pub const fn hinted(&self) -> PathKind {
        self.hint
    }

    /// Sets what comments name, as it was.
    pub fn restore(&mut self, kind: PathKind) {
        if kind != self.hint {
            self.close_stroke();
            self.hint = kind;
        }
    }

    /// A comment says that a layer begins: nobody purges or wipes a whole layer.
    pub fn layer_said(&mut self) {
        if matches!(self.hint, PathKind::Purge | PathKind::Wipe) {
            self.restore(PathKind::Unsaid);
        }
    }

    /// A tool was changed: what is laid next may be a flush.
    pub fn tool_changed(&mut self) {
        self.close_stroke();
        self.tool_changed = true;
    }

    /// Something other than a motion happened.
    pub fn interrupt(&mut self) {
        self.close_stroke();
    }

    /// Takes a motion.
    #[inline]
    pub fn motion(
        &mut self,
        motion: &Motion,
        state: &State,
        line: &Line<'_>,
        sink: &mut impl LayerSink,
    ) {
        if !motion.is_deposit() {
            // A pause for priming at one place does not end a stroke; moving away does.
            if motion.length > 0.0 || motion.filament < 0 {
                self.close_stroke();
            }
            if motion.moves() {
                self.count();
            }
            return;
        }
        let z = motion.to[2];
        let level = motion.from[2] == z;
        match &self.layer {
            Some(layer) if layer.z == z && (level || layer.is_rising) => {}
            _ => self.height_changed(z, level, sink),
        }
        match &mut self.open {
            Some(stroke) if Rc::ptr_eq(&stroke.conditions, &state.conditions) => {
                let (x, y) = motion.bounds(state);
                widen(&mut stroke.x, x);
                widen(&mut stroke.y, y);
                stroke.moves = stroke.moves.saturating_add(1);
                stroke.pushed += motion.pushed;
                stroke.length += motion.length;
                stroke.seconds += motion.seconds;
                stroke.z = stroke.z.max(z);
                if motion.feed > stroke.feed {
                    stroke.feed = motion.feed;
                    if let Some(layer) = &mut self.layer {
                        stroke.fastest = layer.spot(line);
                    }
                }
            }
            _ => self.open_stroke(motion, state, line),
        }
        if motion.facts.meets(Facts::OUTSIDE_AREA) {
            self.outside(motion, state, line);
        }
        if self.closed < HELD_LAYERS {
            self.trace(motion, state);
        }
        self.count();
    }

    #[inline]
    const fn count(&mut self) {
        if let Some(paces) = &mut self.paces {
            paces.count();
        }
    }

    #[inline(never)]
    fn outside(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        let (Some(layer), Some(stroke)) = (&mut self.layer, &mut self.open) else {
            return;
        };
        let (x, y) = if motion.is_arc {
            motion.bounds(state)
        } else {
            let [to_x, to_y, _] = motion.to;
            let point = |at: i64| Span {
                least: at,
                most: at,
            };
            (point(to_x), point(to_y))
        };
        let Some(outside) = &mut stroke.outside else {
            let at = layer.spot(line);
            let sides = [x.least, x.most, y.least, y.most].map(|end| (end, at));
            stroke.outside = Some(Box::new(Outside { at, x, y, sides }));
            return;
        };
        let [left, right, front, back] = &mut outside.sides;
        let mut at = None;
        let farther = [
            x.least < left.0,
            x.most > right.0,
            y.least < front.0,
            y.most > back.0,
        ];
        let sides = [
            (left, x.least),
            (right, x.most),
            (front, y.least),
            (back, y.most),
        ];
        for ((side, end), is_farther) in sides.into_iter().zip(farther) {
            if is_farther {
                *side = (end, *at.get_or_insert_with(|| layer.spot(line)));
            }
        }
    }

    #[inline(never)]
    fn trace(&mut self, motion: &Motion, state: &State) {
        let (Some(layer), Some(stroke)) = (&mut self.layer, &mut self.open) else {
            return;
        };
        if let Some(arc) = state.arc.as_ref().filter(|_| motion.is_arc) {
            let pieces = ((arc.length() / 0.5).ceil() as u32).clamp(1, 2048);
            let at = |piece: u32| {
                arc.point(f64::from(piece) / f64::from(pieces))
                    .map(crate::machine::pm)
            };
            for piece in 0..pieces {
                trace(at(piece), at(piece + 1), &mut layer.cells);
            }
        } else {
            let [fx, fy, _] = motion.from;
            let [tx, ty, _] = motion.to;
            trace([fx, fy], [tx, ty], &mut layer.cells);
        }
        stroke.cells.end = layer.cells.len() as u32;
    }

    #[inline(never)]
    fn open_stroke(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        self.close_stroke();
        let Some(layer) = &mut self.layer else { return };
        let spot = layer.spot(line);
        let (x, y) = motion.bounds(state);
        let cells = layer.cells.len() as u32;
        let start = state.clock - motion.seconds;
        self.open = Some(Stroke {
            start: spot,
            fastest: spot,
            hint: self.hint,
            deposit: Deposit::Part,
            conditions: Rc::clone(&state.conditions),
            hotend: state
                .hotend()
                .map(|hotend| hotend.temperature(start))
                .unwrap_or_default(),
            bed: state.bed.temperature(start),
            air: state.air,
            clock: start,
            moves: 1,
            pushed: motion.pushed,
            length: motion.length,
            seconds: motion.seconds,
            feed: motion.feed,
            x,
            y,
            z: motion.to[2],
            after_tool_change: std::mem::take(&mut self.tool_changed),
            outside: None,
            pace: None,
            cells: cells..cells,
        });
    }

    fn close_stroke(&mut self) {
        let (Some(stroke), Some(layer)) = (self.open.take(), &mut self.layer) else {
            return;
        };
        self.totals.deposits += u64::from(stroke.moves);
        layer.stretches += 1;
        if let Some(paces) = &mut self.paces {
            paces.end();
        }
        if layer.strokes.len() < STROKE_CAP {
            layer.strokes.push(stroke);
        } else {
            layer.left_out += 1;
            self.totals.left_out += 1;
            // Kept in the last stroke, so that box and filament stay whole.
            if let Some(last) = layer.strokes.last_mut() {
                widen(&mut last.x, stroke.x);
                widen(&mut last.y, stroke.y);
                last.pushed += stroke.pushed;
                last.length += stroke.length;
                last.seconds += stroke.seconds;
                last.outside = last.outside.take().or(stroke.outside);
            }
        }
    }

    #[inline(never)]
    fn height_changed(&mut self, z: i64, level: bool, sink: &mut impl LayerSink) {
        if let Some(layer) = &mut self.layer {
            // A seam that ramps up to its layer, and a spiral, rise along the way: one layer until
            // the usual height is climbed.
            let rises = !level || layer.is_rising;
            let within = z > self.below - self.usual / 100
                && z <= self.below + self.usual + self.usual / 100;
            if rises && within {
                layer.is_rising |= !level && z > layer.z;
                layer.z = layer.z.max(z);
                return;
            }
            if layer.z == z {
                return;
            }
        }
        self.close_layer(sink);
        if z <= self.below {
            // The next of several objects begins below the last one's top.
            self.below = self.heights.below(z);
        }
        let mut layer = self.spare.pop().unwrap_or_else(|| Layer::new(z, 0));
        layer.number = 0;
        layer.z = z;
        layer.height = z - self.below;
        layer.is_rising = !level;
        layer.strokes.clear();
        layer.left_out = 0;
        layer.pace = None;
        layer.stretches = 0;
        layer.text.clear();
        layer.cells.clear();
        self.layer = Some(layer);
    }

    fn close_layer(&mut self, sink: &mut impl LayerSink) {
        self.close_stroke();
        let Some(mut layer) = self.layer.take() else {
            return;
        };
        self.name(&mut layer);
        let cover = if self.held.is_some() {
            Cover::of(&layer.cells)
        } else {
            None
        };
        if let Some(held) = self.held.take() {
            self.release(held, cover.as_ref(), sink);
        }
        // What lies under the next layer: this one, unless it is nothing but a purge or a skirt.
        let is_base = layer
            .strokes
            .iter()
            .any(|stroke| stroke.deposit == Deposit::Part);
        if is_base
            || layer
                .strokes
                .iter()
                .any(|stroke| matches!(stroke.deposit, Deposit::Raft | Deposit::Support))
        {
            let height = layer.z - self.below;
            if height > 0 && !layer.is_rising {
                self.usual = height;
            }
            self.below = layer.z;
        }
        self.closed += 1;
        if self.closed <= HELD_LAYERS && layer.cells.len() < CELL_CAP {
            self.held = Some(layer);
        } else {
            self.release(layer, None, sink);
        }
    }

    /// Names the strokes by their hints, and by where flushes after a tool change lie.
    fn name(&mut self, layer: &mut Layer) {
        for stroke in &mut layer.strokes {
            if let Some(said) = Deposit::said(stroke.hint) {
                stroke.deposit = said;
                continue;
            }
            if stroke.after_tool_change {
                match &mut self.tower {
                    Some((x, y)) if meets(*x, stroke.x) && meets(*y, stroke.y) => {
                        widen(x, stroke.x);
                        widen(y, stroke.y);
                        stroke.deposit = Deposit::Tower;
                    }
                    Some(_) => {}
                    none => *none = Some((stroke.x, stroke.y)),
                }
            }
        }
    }

    /// Tells a held layer's purge line, skirt and brim from the part by the layer on it, and hands it
    /// on.
    fn release(&mut self, mut layer: Layer, above: Option<&Cover>, sink: &mut impl LayerSink) {
        if let Some(cover) = above {
            let cells = std::mem::take(&mut layer.cells);
            let uncovered: Vec<bool> = layer
                .strokes
                .iter()
                .map(|stroke| {
                    let range = stroke.cells.start as usize..stroke.cells.end as usize;
                    stroke.hint == PathKind::Unsaid
                        && cover.share(cells.get(range).unwrap_or_default()) < UNCOVERED
                })
                .collect();
            // A layer with nothing at all on it is a purge only before the part has begun; a part's
            // last layer has nothing on it either, but no next layer uncovers that.
            for (stroke, uncovered) in layer.strokes.iter_mut().zip(&uncovered) {
                if *uncovered && stroke.deposit == Deposit::Part && self.numbered == 0 {
                    stroke.deposit = if stroke.moves <= 4 {
                        Deposit::Purge
                    } else {
                        Deposit::Skirt
                    };
                }
            }
            layer.cells = cells;
        }
        if self.numbered == 0 {
            let is_below = |deposit: Deposit| match deposit {
                Deposit::Raft => true,
                Deposit::Support => !layer.has_part(),
                _ => false,
            };
            self.on_raft |= layer.strokes.iter().any(|stroke| is_below(stroke.deposit));
        }
        layer.stands_on_bed = !self.on_raft;
        layer.number = self.numbered;
        if layer.has_part() {
            if self.numbered == 0 {
                // A purge line or a skirt below the part's first layer is not what it stands on.
                if !self.on_raft {
                    layer.height = layer.z;
                }
                self.totals.first_layer = Some(layer.height);
            }
            self.numbered += 1;
            self.heights.add(layer.z);
        }
        for stroke in &layer.strokes {
            let z = Span {
                least: layer.z - layer.height.max(0),
                most: stroke.z,
            };
            grow(&mut self.totals.all, [stroke.x, stroke.y, z]);
            if stroke.deposit == Deposit::Part {
                grow(&mut self.totals.part, [stroke.x, stroke.y, z]);
            }
        }
        layer.find_runs();
        if self.paces.is_some() {
            self.waiting.push_back(layer);
            self.hand_on(sink);
        } else {
            sink.layer(&layer);
            self.spare.push(layer);
            self.spare.truncate(4);
        }
    }

    /// Closes what is open and sums up; the machine has planned all it had.
    pub fn finish(&mut self, sink: &mut impl LayerSink) -> Totals {
        self.close_layer(sink);
        if let Some(held) = self.held.take() {
            self.release(held, None, sink);
        }
        let mut totals = std::mem::take(&mut self.totals);
        if let Some(paces) = &mut self.paces {
            totals.pace = Some(paces.total());
            self.hand_on(sink);
        }
        totals.layers = self.heights.count();
        if totals.layers.is_none() {
            totals.layers_unknown = Some("more heights than the table of layers holds");
        }
        totals
    }
}

fn widen(span: &mut Span, by: Span) {
    span.least = span.least.min(by.least);
    span.most = span.most.max(by.most);
}

fn meets(a: Span, b: Span) -> bool {
    a.least <= b.most && b.least <= a.most
}

fn grow(of: &mut Option<[Span; 3]>, by: [Span; 3]) {
    match of {
        Some(spans) => {
            for (span, by) in spans.iter_mut().zip(by) {
                widen(span, by);
            }
        }
        none => *none = Some(by),
    }
}
