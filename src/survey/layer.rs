//! A closed layer: what is laid at one height.

use super::cover::Cell;
use super::pace::Pace;
use super::standing::Laid;
use super::stroke::{Deposit, Shown, Spot, Stroke};
use super::walls::Trail;
use crate::machine::Line;
use std::rc::Rc;

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
    pub(super) stretches: usize,
    /// The first of the part's strokes under each setting, by index.
    pub(super) runs: Vec<u32>,
    pub(super) text: Vec<u8>,
    pub(super) cells: Vec<Cell>,
    /// Its straight beads, while it is one of the first.
    pub(super) beads: Vec<Laid>,
    /// Its beads, where walls are asked for.
    pub(super) trail: Trail,
}

impl Layer {
    pub(super) fn new(z: i64, height: i64) -> Self {
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
            beads: Vec::new(),
            trail: Trail::default(),
        }
    }

    /// A line of this layer as a place to show.
    #[must_use]
    pub fn show(&self, spot: Spot) -> Shown<'_> {
        spot.shown(&self.text)
    }

    /// The first line of one of its strokes: its number, and its first byte in the job.
    #[must_use]
    pub const fn line_of(&self, stroke: &Stroke) -> (u64, u64) {
        (stroke.start.place.line, stroke.start.line_start)
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

    pub(super) fn find_runs(&mut self) {
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

    /// Frees the text of a spot that is wanted no more, where no other was taken since.
    pub(super) fn take_back(&mut self, spot: Spot) {
        let stored = spot.stored();
        if !stored.is_empty() && stored.end == self.text.len() {
            self.text.truncate(stored.start);
        }
    }

    pub(super) fn spot(&mut self, line: &Line<'_>) -> Spot {
        Spot::new(line, &mut self.text)
    }
}
