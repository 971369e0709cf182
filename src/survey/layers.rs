//! From motions to strokes to layers.
//!
//! A layer is what is laid at one height. It is closed when deposit begins at another; the first
//! layers wait for the next one, since only that tells a skirt or a purge line from the part.

use super::cover::{CELL_CAP, Cover, trace};
use super::head::{Head, Near, Reaches};
use super::heights::Heights;
use super::layer::Layer;
use super::pace::{Pace, Paces};
use super::standing::{self, Standing};
use super::stroke::{Deposit, Outside, Stroke};
use super::sweep::is_sweep;
use super::totals::{Totals, grow, meets, widen};
use super::walls::Laid;
use crate::command::hint::PathKind;
use crate::machine::planner::Planned;
use crate::machine::{Facts, Line, MILLIMETRE, Motion, Span, State, mm, pm};
use std::collections::VecDeque;
use std::rc::Rc;

/// The most strokes kept for one layer; past it the layer says so.
const STROKE_CAP: usize = 1 << 16;

/// From this height on, layers are not held back: skirts and purge lines lie on the first ones.
const HELD_LAYERS: u64 = 4;

/// Less than this share of a skirt's cells is covered by the next layer.
const UNCOVERED: f64 = 0.12;

/// Whoever takes closed layers.
pub trait LayerSink {
    /// A layer is closed and told apart; layers come in the order laid.
    fn layer(&mut self, layer: &Layer);
    /// The nozzle was driven across the whole part low above the bed and without deposit: what stood
    /// there is swept off. Layers that began before may still come.
    fn swept(&mut self, _line: u64) {}
    /// A level travel goes through what stands on the bed, so many mm below its top.
    fn through(&mut self, _line: &Line<'_>, _depth: f64) {}
    /// The tool head, or what carries it, comes nearer to what stands on the bed than it is wide.
    fn near(&mut self, _line: &Line<'_>, _near: &Near) {}
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
    /// Travel below this height may sweep the part off, pm.
    sweeps_below: i64,
    standing: Standing,
    /// Whether beads are kept for walls.
    keeps_beads: bool,
    /// The name that marks give to what is laid, for walls.
    named: u32,
    /// The head over what stands, where somebody asks for it.
    head: Option<Head>,
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
            sweeps_below: i64::MIN,
            standing: Standing::default(),
            keeps_beads: false,
            named: 0,
            head: None,
        }
    }

    /// Where it stands how high is kept from here on, and what reaches so far around the nozzle is held
    /// clear of it.
    #[must_use]
    pub fn with_head(mut self, reaches: &[Reaches]) -> Self {
        self.head = Some(Head::new(reaches));
        self
    }

    /// Whether each layer's beads are kept, for walls.
    #[must_use]
    pub const fn with_beads(mut self, kept: bool) -> Self {
        self.keeps_beads = kept;
        self
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

    /// Beads are laid under this name from here on, as [`Figures::mark`](super::Figures::mark) tells it.
    pub const fn under(&mut self, name: u32) {
        self.named = name;
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

    /// Nobody knows any more what stands on the bed.
    pub fn forget_standing(&mut self) {
        self.standing.clear();
        if let Some(head) = &mut self.head {
            head.forget();
        }
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
            if motion.to[2] < self.sweeps_below && is_sweep(motion, self.totals.part) {
                sink.swept(line.number);
                self.forget_standing();
            }
            let mut depth = None;
            if motion.to[2] < self.standing.below() {
                depth = self.standing.through(motion);
            }
            if let Some(head) = &mut self.head {
                depth = depth.or_else(|| head.through(motion));
                reach(head, motion, state, line, sink);
            }
            if let Some(depth) = depth {
                sink.through(line, depth);
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
        if let Some(head) = &mut self.head {
            reach(head, motion, state, line, sink);
        }
        if self.keeps_beads {
            self.keep(motion, state, line);
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
            let (moves, last) = (1, at);
            stroke.outside = Some(Box::new(Outside {
                moves,
                at,
                last,
                last_alone: false,
                x,
                y,
                sides,
            }));
            return;
        };
        outside.moves = outside.moves.saturating_add(1);
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
        let last_alone = at.is_none();
        outside.last = at.unwrap_or_else(|| {
            if outside.last_alone {
                layer.take_back(outside.last);
            }
            layer.spot(line)
        });
        outside.last_alone = last_alone;
    }

    #[inline(never)]
    fn trace(&mut self, motion: &Motion, state: &State) {
        let (Some(layer), Some(stroke)) = (&mut self.layer, &mut self.open) else {
            return;
        };
        let place = layer.strokes.len() as u32;
        let mut straight = |from: [i64; 2], to: [i64; 2]| {
            trace(from, to, &mut layer.cells);
            if layer.beads.len() < CELL_CAP {
                layer.beads.push(standing::Laid {
                    from,
                    to,
                    stroke: place,
                });
            }
        };
        if let Some(arc) = state.arc.as_ref().filter(|_| motion.is_arc) {
            let pieces = ((arc.length() / 0.5).ceil() as u32).clamp(1, 2048);
            let at = |piece: u32| arc.point(f64::from(piece) / f64::from(pieces)).map(pm);
            for piece in 0..pieces {
                straight(at(piece), at(piece + 1));
            }
        } else {
            let [fx, fy, _] = motion.from;
            let [tx, ty, _] = motion.to;
            straight([fx, fy], [tx, ty]);
        }
        stroke.cells.end = layer.cells.len() as u32;
    }

    #[inline(never)]
    fn keep(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        let Some(layer) = &mut self.layer else { return };
        let ([from_x, from_y, _], [to_x, to_y, _]) = (motion.from, motion.to);
        let bead = Laid {
            from: [from_x, from_y],
            to: [to_x, to_y],
            filament: mm(motion.pushed) * state.conditions.flow,
            tool: state.conditions.tool,
            line,
            said: self.hint,
            named: self.named,
        };
        match state.arc.as_ref().filter(|_| motion.is_arc) {
            // Half a millimetre's chord of any printable arc is off by less than a bead's tenth.
            Some(arc) => {
                let pieces = ((arc.length() / 0.5).ceil() as u32).clamp(1, 2048);
                layer.trail.lay_arc(&bead, pieces, |piece| {
                    arc.point(f64::from(piece) / f64::from(pieces)).map(pm)
                });
            }
            None => layer.trail.lay(&bead),
        }
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
                match (&mut last.outside, stroke.outside) {
                    (Some(kept), Some(more)) => {
                        kept.moves = kept.moves.saturating_add(more.moves);
                        (kept.last, kept.last_alone) = (more.last, false);
                    }
                    (none @ None, more) => *none = more,
                    (Some(_), None) => {}
                }
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
                layer.height = layer.z - self.below;
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
        layer.beads.clear();
        layer.trail.clear();
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
                // A push below half its height tips a part over; higher up a travel may be a mistake.
                let [.., height] = self.totals.part.unwrap_or([z; 3]);
                self.sweeps_below = height.most / 2;
            }
        }
        self.standing.build(&layer);
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

#[inline(never)]
fn reach(
    head: &mut Head,
    motion: &Motion,
    state: &State,
    line: &Line<'_>,
    sink: &mut impl LayerSink,
) {
    for near in head.motion(motion, state).iter().flatten() {
        sink.near(line, near);
    }
}
