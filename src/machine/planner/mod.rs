//! The motion planner: what speeds a control really reaches, and how long each move takes.
//!
//! Constant acceleration along the path, with look-ahead: a corner is taken as fast as the cornering
//! rule lets, each move speeds up and slows down between its corners (references beside
//! [`crate::physics::ramp`] and [`crate::physics::corner`]). Real controls differ in details: jerk
//! limits, steps of the motors, how many moves they look ahead. A model of constant acceleration
//! lands within some per cent of them.
//!
//! One pass, bounded memory: a window of moves in a struct of arrays. Moves leave it once nothing
//! that may still come can change them; a window full of moves too short to ever come to rest within
//! it is cut in its middle, as a control with a bounded queue does.

#![allow(
    clippy::indexing_slicing,
    reason = "indices below the window's fixed length; checks cost a third of the planner"
)]

mod pass;
mod rates;

pub use rates::{Corner, Rates};

/// The most moves in the window. All rows together stay within a first-level cache, and no two of
/// them lie a multiple of 4096 bytes apart, where they would drive each other out of it.
const CAP: usize = 248;

/// What a move is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[repr(u8)]
pub enum Kind {
    /// Filament is laid along the way.
    Print,
    /// The nozzle moves and lays nothing.
    #[default]
    Travel,
    /// Filament alone moves.
    Retract,
}

/// A move on its way into the window.
#[derive(Debug, Clone, Copy)]
pub(super) struct Entry {
    /// X, Y, Z, mm; for an arc its length in the direction it sets out in.
    pub way: [f64; 3],
    /// Filament, mm.
    pub filament: f64,
    /// The path's length, mm; of filament alone its own.
    pub length: f64,
    /// Commanded speed along the path, above 0, mm/s.
    pub speed: f64,
    /// Acceleration along the path, mm/s².
    pub acceleration: f64,
    /// What it is for.
    pub kind: Kind,
    /// Plastic laid, mm³.
    pub volume: f64,
    /// For an arc the direction it ends in, a unit vector.
    pub leaves: Option<[f64; 3]>,
}

/// Moves whose speeds are settled, in the order of the job.
#[derive(Debug, Clone, Copy)]
pub struct Planned<'a> {
    /// How many moves came before.
    pub first: u64,
    /// What each is for.
    pub kind: &'a [Kind],
    /// Seconds each takes.
    pub seconds: &'a [f64],
    /// The highest speed each reaches, mm/s.
    pub peak: &'a [f64],
    /// The highest flow each reaches, mm³/s.
    pub flow: &'a [f64],
    /// The mean flow of each, mm³/s.
    pub rate: &'a [f64],
}

/// One number for each move in the window, and one behind the last.
type Row = [f64; CAP + 1];

/// The window, a struct of arrays: the loops over it stay within the first-level cache, and the
/// compiler makes them wide.
#[derive(Debug, Clone)]
struct Window {
    /// The way as pushed, mm; once staged the direction.
    x: Row,
    y: Row,
    z: Row,
    e: Row,
    /// Commanded speed, later the speed within the axes' limits, later its square.
    speed: Row,
    acceleration: Row,
    /// Plastic laid as pushed, mm³; once staged over the length, mm².
    section: Row,
    length: Row,
    kind: [Kind; CAP + 1],
    // Staged.
    /// The square of the highest speed at the corner before each move.
    corner: Row,
    // Planned.
    /// The square of the speed each move begins with.
    entry: Row,
    seconds: Row,
    peak: Row,
    flow: Row,
    rate: Row,
}

/// What the corner before the next staged move needs to know of the last one.
#[derive(Debug, Clone, Copy)]
struct Before {
    direction: [f64; 4],
    speed: f64,
    acceleration: f64,
    is_solo: bool,
}

/// Plans moves within the limits in force.
#[derive(Debug, Clone)]
pub struct Planner {
    rates: Rates,
    window: Box<Window>,
    /// Moves in the window, and how many of them are staged.
    count: usize,
    staged: usize,
    /// Arcs in the part of the window that is not staged: index, and the direction each ends in.
    arcs: Vec<(usize, [f64; 3])>,
    before: Option<Before>,
    /// The square of the speed that the first move in the window begins with.
    start: f64,
    /// How many moves the last plan settled.
    ready: usize,
    /// Moves that have left the window since the start of the job.
    settled: u64,
}

impl Planner {
    pub(super) fn new(rates: Rates) -> Self {
        let row = [0.0; CAP + 1];
        Self {
            rates,
            window: Box::new(Window {
                x: row,
                y: row,
                z: row,
                e: row,
                speed: row,
                acceleration: row,
                section: row,
                kind: [Kind::Travel; CAP + 1],
                length: row,
                corner: row,
                entry: row,
                seconds: row,
                peak: row,
                flow: row,
                rate: row,
            }),
            count: 0,
            staged: 0,
            arcs: Vec::new(),
            before: None,
            start: 0.0,
            ready: 0,
            settled: 0,
        }
    }

    /// The limits in force.
    #[must_use]
    pub const fn rates(&self) -> &Rates {
        &self.rates
    }

    /// New limits hold from the next move on.
    pub(super) fn set_rates(&mut self, rates: Rates) {
        if rates != self.rates {
            self.stage();
            self.rates = rates;
        }
    }

    /// Takes a move; true where the window is full and [`Planner::plan`] must follow.
    #[inline(always)]
    pub(super) fn push(&mut self, entry: &Entry) -> bool {
        let (at, window) = (self.count.min(CAP - 1), &mut *self.window);
        let [x, y, z] = entry.way;
        window.x[at] = x;
        window.y[at] = y;
        window.z[at] = z;
        window.e[at] = entry.filament;
        window.length[at] = entry.length;
        window.speed[at] = entry.speed;
        window.acceleration[at] = entry.acceleration;
        window.section[at] = entry.volume;
        window.kind[at] = entry.kind;
        if let Some(leaves) = entry.leaves {
            self.arcs.push((at, leaves));
        }
        self.count = at + 1;
        self.count == CAP
    }

    /// Plans what is in the window, up to a standstill where the printer `stops` here. Then
    /// [`Planner::settled`] gives what nothing can change any more, and [`Planner::let_go`] forgets
    /// it.
    pub(super) fn plan(&mut self, stops: bool) {
        self.stage();
        self.ready = self.window.settle(self.count, self.start, stops);
        self.window.times(self.ready);
        if stops {
            self.before = None;
        }
        self.start = self.window.entry[self.ready];
    }

    /// What the last [`Planner::plan`] settled.
    pub(super) fn settled(&self) -> Planned<'_> {
        let (window, ready) = (&*self.window, self.ready);
        Planned {
            first: self.settled,
            kind: &window.kind[..ready],
            seconds: &window.seconds[..ready],
            peak: &window.peak[..ready],
            flow: &window.flow[..ready],
            rate: &window.rate[..ready],
        }
    }

    /// Forgets what is settled.
    pub(super) fn let_go(&mut self) {
        self.window.shift(self.ready, self.count);
        self.settled += self.ready as u64;
        self.count -= self.ready;
        self.staged = self.count;
        self.ready = 0;
    }

    fn stage(&mut self) {
        let (from, to) = (self.staged, self.count);
        if from < to {
            self.window.directions(from, to, &self.rates);
            self.window
                .corners(from, to, &self.rates, self.before, &self.arcs);
            self.before = Some(self.window.last(to - 1, &self.arcs));
            self.arcs.clear();
            self.staged = to;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::ramp::ramp;

    /// One move alone, from rest to rest, against the ramp of the physics room: lengths and speeds over
    /// the range of a printer.
    #[test]
    fn one_move_is_one_ramp() {
        let free = f64::INFINITY;
        for length in [0.01, 0.5, 5.0, 100.0, 250.0] {
            for speed in [5.0, 60.0, 300.0] {
                for acceleration in [100.0, 1000.0, 5000.0] {
                    let mut planner = Planner::new(Rates {
                        speed: [free; 4],
                        axis: [free; 4],
                        print: acceleration,
                        travel: acceleration,
                        retract: acceleration,
                        corner: Corner::Vector(8.0),
                    });
                    planner.push(&Entry {
                        way: [length, 0.0, 0.0],
                        filament: 0.0,
                        length,
                        speed,
                        acceleration,
                        kind: Kind::Travel,
                        volume: 0.0,
                        leaves: None,
                    });
                    planner.plan(true);
                    let settled = planner.settled();
                    let expected = ramp(length, 0.0, 0.0, speed, acceleration).unwrap();
                    let case = format!("{length} mm at {speed} mm/s, {acceleration} mm/s²");
                    assert!(
                        (settled.seconds[0] - expected.seconds).abs() <= 1e-12 * expected.seconds,
                        "{case}"
                    );
                    assert!(
                        (settled.peak[0] - expected.peak).abs() <= 1e-12 * expected.peak,
                        "{case}"
                    );
                }
            }
        }
    }
}
