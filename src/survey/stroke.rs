//! Strokes: stretches of deposit without a break, laid under unchanging conditions.

use super::pace::Pace;
use crate::command::hint::PathKind;
use crate::finding::{EXCERPT_CAP, Excerpt, Mark, Place};
use crate::machine::{Conditions, Known, Line, Span};
use std::rc::Rc;

/// The most bytes of line text kept for one layer.
const TEXT_CAP: usize = 8 << 20;

/// A line's text is clipped to this many bytes.
const TEXT_CLIP: usize = 160;

const _: () = assert!(
    TEXT_CLIP < EXCERPT_CAP,
    "an excerpt takes a whole clipped line"
);

/// What a stretch of deposit turned out to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Deposit {
    /// The part, as far as motion and hints tell.
    #[default]
    Part,
    /// A line or blob that fills the nozzle before the part begins.
    Purge,
    /// A skirt: laid on the first layers around the part, with nothing on it.
    Skirt,
    /// A brim: joined to the part, with nothing on it.
    Brim,
    /// A raft under the part.
    Raft,
    /// A support.
    Support,
    /// A tower for priming and wiping, or a flush after a tool change.
    Tower,
}

impl Deposit {
    /// What a hint says of it; None where a hint says nothing on that.
    pub(super) const fn said(kind: PathKind) -> Option<Self> {
        match kind {
            PathKind::Purge | PathKind::Wipe => Some(Self::Purge),
            PathKind::Skirt => Some(Self::Skirt),
            PathKind::Brim => Some(Self::Brim),
            PathKind::Raft => Some(Self::Raft),
            PathKind::Support => Some(Self::Support),
            PathKind::Tower => Some(Self::Tower),
            PathKind::OuterWall
            | PathKind::InnerWall
            | PathKind::Wall
            | PathKind::Infill
            | PathKind::SolidInfill
            | PathKind::Bridge
            | PathKind::Gap => Some(Self::Part),
            PathKind::Unsaid => None,
        }
    }
}

/// A line of the layer at hand; its text lies in a store of the layer's own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Spot {
    pub(super) place: Place,
    pub(super) line_start: u64,
    text_at: u32,
    text_len: u32,
}

impl Spot {
    /// A line as a place to show; its text is appended to a store.
    pub(super) fn new(line: &Line<'_>, store: &mut Vec<u8>) -> Self {
        let text = line.bytes.get(..line.bytes.len().min(TEXT_CLIP));
        let mut text = text.unwrap_or_default();
        let text_at = store.len() as u32;
        if store.len() + text.len() > TEXT_CAP {
            text = &[];
        }
        store.extend_from_slice(text);
        Self {
            place: line.all().place(),
            line_start: line.start,
            text_at,
            text_len: text.len() as u32,
        }
    }

    /// Its line.
    pub(super) const fn line(&self) -> u64 {
        self.place.line
    }

    /// Where in a store its text lies.
    pub(super) const fn stored(&self) -> std::ops::Range<usize> {
        let from = self.text_at as usize;
        from..from + self.text_len as usize
    }

    /// The spot with its text.
    pub(super) fn shown(self, store: &[u8]) -> Shown<'_> {
        let text = store.get(self.stored()).unwrap_or_default();
        Shown { spot: self, text }
    }
}

/// A spot together with the layer's store: a place to show.
#[derive(Debug, Clone, Copy)]
pub struct Shown<'a> {
    spot: Spot,
    text: &'a [u8],
}

impl Mark for Shown<'_> {
    fn place(&self) -> Place {
        self.spot.place
    }

    fn write(&self, into: &mut Excerpt) {
        let from = (self.spot.place.start - self.spot.line_start) as usize;
        let to = (self.spot.place.end - self.spot.line_start) as usize;
        into.set(
            self.spot.place.line,
            self.spot.line_start,
            self.text,
            from..to,
        );
    }
}

/// Moves of a stroke that end outside the printable area.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Outside {
    /// How many.
    pub moves: u32,
    /// The line of the first.
    pub at: Spot,
    /// The line of the last.
    pub last: Spot,
    /// Whether that line's text is kept for nothing else.
    pub(super) last_alone: bool,
    /// Where the first ends; an arc's whole box, X, pm.
    pub x: Span,
    /// Along Y.
    pub y: Span,
    /// The farthest it goes to each side, pm, and the lines: least X, most X, least Y, most Y.
    pub sides: [(i64, Spot); 4],
}

/// A stretch of deposit.
#[derive(Debug, Clone)]
pub struct Stroke {
    /// Its first line.
    pub start: Spot,
    /// The line of its fastest deposit.
    pub fastest: Spot,
    /// What a comment says it is.
    pub hint: PathKind,
    /// What it turned out to be.
    pub deposit: Deposit,
    /// What held while it was laid.
    pub conditions: Rc<Conditions>,
    /// The hotend's temperature by the model when it began, °C.
    pub hotend: Known<f64>,
    /// The bed's.
    pub bed: Known<f64>,
    /// The chamber air's, °C, where the sheet says enough for that.
    pub air: Option<f64>,
    /// Seconds into the job.
    pub clock: f64,
    /// How many moves it has.
    pub moves: u32,
    /// Filament pushed, pm, before flow factors.
    pub pushed: i64,
    /// Length of the path, mm.
    pub length: f64,
    /// Seconds at the commanded feed.
    pub seconds: f64,
    /// The highest commanded feed, mm/s, with the speed factor.
    pub feed: f64,
    /// Its box, X and Y, pm.
    pub x: Span,
    /// Along Y.
    pub y: Span,
    /// The height it was laid at, pm: the highest of its moves.
    pub z: i64,
    /// How long it and the way to it take, and what flows, once that is planned; None where no time
    /// can be told.
    pub pace: Option<Pace>,
    /// Whether it is the first since a tool change.
    pub after_tool_change: bool,
    /// Its moves outside the printable area, where it has some.
    pub outside: Option<Box<Outside>>,
    pub(super) cells: std::ops::Range<u32>,
}

impl Stroke {
    /// Volume laid, mm³, flow factor included.
    #[must_use]
    pub fn volume(&self, filament_area: f64) -> f64 {
        crate::machine::mm(self.pushed) * filament_area * self.conditions.flow
    }
}
