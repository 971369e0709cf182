//! The beads of one layer as the nozzle laid them: flat arrays, filled at every move.

use crate::command::hint::PathKind;
use crate::machine::Line;
use crate::survey::stroke::{Shown, Spot};

/// The most points kept for one layer: some twelve megabytes.
const POINT_CAP: usize = 1 << 19;

/// Where a bead ends, and what was laid along it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Point {
    /// X and Y, mm.
    pub at: [f64; 2],
    /// Filament laid along the bead that ends here, the flow factor included, mm; 0 where a run begins.
    pub laid: f64,
}

/// Beads without a break, under one tool and one comment.
#[derive(Debug, Clone, Copy)]
pub(super) struct Run {
    /// Its first point: where it begins.
    pub first: u32,
    /// Whether it begins where the last run ended: the same path under another comment.
    pub goes_on: bool,
    /// The tool.
    pub tool: u32,
    /// Its first line.
    pub start: Spot,
    /// What a comment says it is.
    pub said: PathKind,
    /// The name in force: its place in the list of names, or 0.
    pub named: u32,
    /// The section of its tool's filament, mm²; known when the layer is closed.
    pub section: f64,
}

/// The beads of a layer.
#[derive(Debug, Default)]
pub struct Trail {
    pub(super) points: Vec<Point>,
    pub(super) runs: Vec<Run>,
    pub(super) is_full: bool,
    /// The runs' first lines.
    text: Vec<u8>,
    last: [i64; 2],
}

/// One bead, as a motion lays it.
#[derive(Debug, Clone, Copy)]
pub struct Laid<'a> {
    /// From, X and Y, pm.
    pub from: [i64; 2],
    /// To.
    pub to: [i64; 2],
    /// Filament, the flow factor included, mm.
    pub filament: f64,
    /// The tool.
    pub tool: u32,
    /// The line.
    pub line: &'a Line<'a>,
    /// What a comment says it is.
    pub said: PathKind,
    /// The name in force, as [`Names::mark`](super::Names::mark) tells it; 0 for none.
    pub named: u32,
}

const fn mm(at: [i64; 2]) -> [f64; 2] {
    [at[0] as f64 / 1e9, at[1] as f64 / 1e9]
}

impl Run {
    /// Its first line.
    pub const fn line(&self) -> u64 {
        self.start.line()
    }
}

impl Trail {
    /// Nothing is laid yet; the memory stays.
    pub fn clear(&mut self) {
        self.points.clear();
        self.runs.clear();
        self.text.clear();
        self.is_full = false;
    }

    /// Becomes what another is; the memory stays. `area` is a tool's filament's section, mm².
    pub fn copy(&mut self, other: &Self, area: impl Fn(u32) -> f64) {
        self.points.clone_from(&other.points);
        self.text.clone_from(&other.text);
        self.runs.clear();
        self.runs.extend(other.runs.iter().map(|run| Run {
            section: area(run.tool),
            ..*run
        }));
        (self.is_full, self.last) = (other.is_full, other.last);
    }

    /// The first line of a run, as a place to show.
    pub(super) fn show(&self, run: &Run) -> Shown<'_> {
        run.start.shown(&self.text)
    }

    /// A bead is laid.
    #[inline]
    pub fn lay(&mut self, bead: &Laid<'_>) {
        let goes_on = !self.runs.is_empty() && bead.from == self.last;
        let is_same =
            |run: &Run| run.said == bead.said && run.tool == bead.tool && run.named == bead.named;
        if !goes_on || !self.runs.last().is_some_and(is_same) {
            self.begin(bead, goes_on);
        }
        self.last = bead.to;
        if self.points.len() >= POINT_CAP {
            self.is_full = true;
            return;
        }
        self.points.push(Point {
            at: mm(bead.to),
            laid: bead.filament,
        });
    }

    /// An arc is laid: its bead in straight pieces, through `at`, each with its share.
    #[inline(never)]
    pub fn lay_arc(&mut self, bead: &Laid<'_>, pieces: u32, at: impl Fn(u32) -> [i64; 2]) {
        let mut from = bead.from;
        let share = bead.filament / f64::from(pieces.max(1));
        for piece in 1..=pieces {
            let to = if piece == pieces { bead.to } else { at(piece) };
            self.lay(&Laid {
                from,
                to,
                filament: share,
                ..*bead
            });
            from = to;
        }
    }

    #[inline(never)]
    fn begin(&mut self, bead: &Laid<'_>, goes_on: bool) {
        if self.points.len() >= POINT_CAP {
            self.is_full = true;
            return;
        }
        if !goes_on {
            self.points.push(Point {
                at: mm(bead.from),
                laid: 0.0,
            });
        }
        let start = Spot::new(bead.line, &mut self.text);
        self.runs.push(Run {
            first: self.points.len() as u32 - 1,
            goes_on,
            tool: bead.tool,
            start,
            said: bead.said,
            named: bead.named,
            section: 0.0,
        });
    }
}
