//! Layers in plan: the path of each stroke with what it is held against.

use crate::inspection::{Held, Tap};
use crate::machine::{Line, Motion, Setup, State, mm};
use crate::physics::bead;
use crate::survey::{Deposit, Layer, Stroke};
use std::collections::VecDeque;

/// The most pieces of path held at a time; of a layer with more, the rest is counted (chosen: 20 MiB).
pub const PATH_CAP: usize = 1 << 20;

/// Pieces that an arc is drawn in, for each mm of it, and at most (chosen: finer than a line is wide).
const ARC_PIECES: (f64, f64) = (2.0, 64.0);

/// What a stroke is held against.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Measure {
    /// Melt flow over any second, mm³/s.
    Flow,
    /// The commanded feed, mm/s.
    Feed,
    /// The bead's width, mm.
    Width,
    /// The part fan, %.
    Fan,
    /// The layer's time, s.
    Time,
    /// The layer's own height, mm.
    Height,
    /// Nothing but where it is.
    Place,
}

/// Which way a limit lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// Values may not be above it.
    Most,
    /// Values may not be below it.
    Least,
}

/// What findings of a requirement lie at, where that is at some height: what to look at there, and which
/// way the limit lies.
#[must_use]
pub fn measure_of(requirement: &str) -> Option<(Measure, Way)> {
    Some(match requirement {
        "flow-above-hotend" | "flow-above-sheet" => (Measure::Flow, Way::Most),
        "first-layer-fast" => (Measure::Feed, Way::Most),
        "bead-too-wide" => (Measure::Width, Way::Most),
        "bead-too-narrow" => (Measure::Width, Way::Least),
        "fan-above-sheet" | "fan-on-first-layers" => (Measure::Fan, Way::Most),
        "fan-below-sheet" => (Measure::Fan, Way::Least),
        "layer-too-quick" => (Measure::Time, Way::Least),
        "layer-too-slow" => (Measure::Time, Way::Most),
        "layer-too-tall" | "first-layer-tall" => (Measure::Height, Way::Most),
        "layer-too-thin" => (Measure::Height, Way::Least),
        "contact-small"
        | "deposit-in-air"
        | "deposit-outside-area"
        | "origin-differs"
        | "object-clearance"
        | "travel-through-part"
        | "below-bed"
        | "home-over-part"
        | "moves-too-dense" => (Measure::Place, Way::Most),
        _ => return None,
    })
}

/// A stroke in plan.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanStroke {
    /// Its corners, mm, X and Y.
    pub points: Vec<[f32; 2]>,
    /// What it is.
    pub deposit: Deposit,
    /// Its first line.
    pub line: u64,
    /// Its length, mm.
    pub length: f64,
    /// Melt flow over any second, mm³/s.
    pub flow: Option<f64>,
    /// The highest commanded feed, mm/s.
    pub feed: f64,
    /// Its bead's width, mm; None where it is too short to tell.
    pub width: Option<f64>,
    /// The part fan, 0 to 1.
    pub fan: f64,
}

/// A layer in plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Its number, from 0 in the order laid.
    pub number: u64,
    /// The height above the bed, mm.
    pub z: f64,
    /// Its own height, mm.
    pub height: f64,
    /// Seconds it takes; None where no time can be told.
    pub seconds: Option<f64>,
    /// Its lines, from the one behind the layer before.
    pub lines: [u64; 2],
    /// Its strokes.
    pub strokes: Vec<PlanStroke>,
    /// Moves of it that are not among them.
    pub left_out: u64,
}

impl Plan {
    /// Whether a line belongs to it.
    #[must_use]
    pub fn has(&self, line: u64) -> bool {
        let [from, to] = self.lines;
        (from..=to).contains(&line)
    }
}

/// A piece of path.
struct Piece {
    line: u64,
    /// Whether it begins a move; an arc is several pieces.
    begins: bool,
    from: [f32; 2],
    to: [f32; 2],
}

/// Collects the first layer of the part and those that lines lie in.
pub struct Plans {
    setup: Setup,
    /// The lines, in order.
    wanted: VecDeque<u64>,
    pieces: VecDeque<Piece>,
    /// The first line and the last of each run of moves that were not kept.
    gaps: VecDeque<[u64; 2]>,
    /// Whether the last move was not kept.
    is_beyond: bool,
    last_line: u64,
    plans: Vec<Plan>,
    /// Whether the part's first layer is among them.
    has_first: bool,
}

impl Plans {
    /// Before the first motion: the first layer is wanted, and those in which these lines lie.
    #[must_use]
    pub fn new(held: &Held, lines: &[u64]) -> Self {
        let mut wanted: Vec<u64> = lines.to_vec();
        wanted.sort_unstable();
        wanted.dedup();
        Self {
            setup: held.setup(),
            wanted: wanted.into(),
            pieces: VecDeque::new(),
            gaps: VecDeque::new(),
            is_beyond: false,
            last_line: 0,
            plans: Vec::new(),
            has_first: false,
        }
    }

    /// Whether all that is wanted is there, so that the rest of the job need not be read.
    #[must_use]
    pub fn is_done(&self) -> bool {
        self.has_first && self.wanted.is_empty()
    }

    /// The layers, from the lowest up.
    #[must_use]
    pub fn plans(self) -> Vec<Plan> {
        self.plans
    }

    /// The next stroke, and how many of its moves were not kept.
    fn take(
        &mut self,
        layer: &Layer,
        stroke: &Stroke,
        is_wanted: bool,
        left_out: &mut u64,
    ) -> Option<PlanStroke> {
        let (first, _) = layer.line_of(stroke);
        while self.pieces.front().is_some_and(|piece| piece.line < first) {
            self.pieces.pop_front();
        }
        while self.gaps.front().is_some_and(|[_, to]| *to < first) {
            self.gaps.pop_front();
        }
        let end = self.gaps.front().map_or(u64::MAX, |[from, _]| *from);
        self.last_line = self.last_line.max(first);
        let mut points: Vec<[f32; 2]> = Vec::new();
        let mut moves = 0;
        while let Some(piece) = self.pieces.front().filter(|piece| piece.line < end) {
            if piece.begins {
                if moves == stroke.moves {
                    break;
                }
                moves += 1;
            }
            if is_wanted {
                if points.is_empty() {
                    points.push(piece.from);
                }
                points.push(piece.to);
            }
            self.last_line = piece.line;
            self.pieces.pop_front();
        }
        if end != u64::MAX {
            *left_out += u64::from(stroke.moves.saturating_sub(moves));
        }
        if points.len() < 2 {
            return None;
        }
        let area = self.setup.tool(stroke.conditions.tool).filament_area;
        let width = bead::width(stroke.volume(area) / stroke.length, mm(layer.height));
        Some(PlanStroke {
            points,
            deposit: stroke.deposit,
            line: first,
            length: stroke.length,
            flow: stroke.pace.as_ref().map(|pace| pace.sustained_flow),
            feed: stroke.feed,
            width: width.filter(|_| stroke.length >= 1.0),
            fan: stroke.conditions.fan,
        })
    }

    /// Whether a wanted line lies up to `last`; those are then no longer waited for.
    fn claims(&mut self, last: u64) -> bool {
        let mut any = false;
        while self.wanted.front().is_some_and(|line| *line <= last) {
            self.wanted.pop_front();
            any = true;
        }
        any
    }
}

impl Tap for Plans {
    fn motion(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        if !motion.is_deposit() || self.is_done() {
            return;
        }
        if self.pieces.len() >= PATH_CAP {
            match self.gaps.back_mut().filter(|_| self.is_beyond) {
                Some([_, to]) => *to = line.number,
                None => self.gaps.push_back([line.number; 2]),
            }
            self.is_beyond = true;
            return;
        }
        self.is_beyond = false;
        let place = |at: [i64; 3]| [mm(at[0]) as f32, mm(at[1]) as f32];
        let (start, end) = (place(motion.from), place(motion.to));
        let (mut from, mut begins) = (start, true);
        if let Some(arc) = state.arc.as_ref().filter(|_| motion.is_arc) {
            let pieces = (arc.length() * ARC_PIECES.0)
                .clamp(2.0, ARC_PIECES.1)
                .ceil();
            for piece in 1..pieces as u32 {
                let [x, y] = arc.point(f64::from(piece) / pieces);
                let to = [x as f32, y as f32];
                self.pieces.push_back(Piece {
                    line: line.number,
                    begins,
                    from,
                    to,
                });
                (from, begins) = (to, false);
            }
        }
        self.pieces.push_back(Piece {
            line: line.number,
            begins,
            from,
            to: end,
        });
    }

    fn layer(&mut self, layer: &Layer) {
        if self.is_done() {
            return;
        }
        let from = self.last_line + 1;
        // Where its last piece lies is known once its strokes are taken; which they are is known before.
        let is_first = !self.has_first && layer.has_part();
        self.has_first |= is_first;
        let may_be_wanted = is_first || !self.wanted.is_empty();
        let mut left_out = layer.left_out;
        let taken: Vec<PlanStroke> = layer
            .strokes
            .iter()
            .filter_map(|stroke| self.take(layer, stroke, may_be_wanted, &mut left_out))
            .collect();
        let is_claimed = self.claims(self.last_line);
        if !is_first && !is_claimed {
            return;
        }
        self.plans.push(Plan {
            number: layer.number,
            z: mm(layer.z),
            height: mm(layer.height),
            seconds: layer.pace.as_ref().map(crate::survey::Pace::seconds),
            lines: [from, self.last_line],
            strokes: taken,
            left_out,
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inspection::Round;
    use crate::sheet::library;
    use std::fmt::Write as _;
    use std::sync::Arc;

    /// Squares upon each other, the last side of each an arc; line by line as the comment counts.
    fn job(layers: u32) -> String {
        let mut job = "G21\nG90\nM83\nM109 S210\nG28\n".to_owned();
        for layer in 1..=layers {
            let z = f64::from(layer) * 0.2;
            let _ = write!(
                job,
                "G1 X10 Y10 Z{z:.1} F6000\nG1 X60 E2 F1800\nG1 Y60 E2\nG1 X10 E2\nG3 X10 Y10 I0 J-25 E4\n"
            );
        }
        job + "M104 S0\nM140 S0\n"
    }

    fn plans_of(job: &str, lines: &[u64]) -> Vec<Plan> {
        let held = Held {
            machine: Some(Arc::new(library::machine("closed-hardened").unwrap())),
            ..Held::default()
        };
        let mut round = Round::unheld(held.clone(), Plans::new(&held, lines));
        round.take(job.as_bytes());
        round.finish_tapped().1.plans()
    }

    #[test]
    fn the_first_layer_and_those_that_are_asked_for() {
        // The fourth layer begins on line 21.
        let plans = plans_of(&job(9), &[23]);
        let numbers: Vec<u64> = plans.iter().map(|plan| plan.number).collect();
        assert_eq!(numbers, [0, 3]);
        assert!(
            plans[1].has(23) && !plans[1].has(20) && !plans[1].has(26),
            "{:?}",
            plans[1].lines
        );
        for plan in &plans {
            let points: Vec<[f32; 2]> = plan
                .strokes
                .iter()
                .flat_map(|stroke| stroke.points.clone())
                .collect();
            assert_eq!(points.first(), Some(&[10.0, 10.0]));
            assert_eq!(points.last(), Some(&[10.0, 10.0]));
            assert!(points.contains(&[60.0, 60.0]));
            // The arc bulges 25 mm to the left.
            let least = points.iter().map(|point| point[0]).fold(f32::MAX, f32::min);
            assert!((least + 15.0).abs() < 0.5, "{least}");
            let length: f64 = plan.strokes.iter().map(|stroke| stroke.length).sum();
            assert!(
                (length - (150.0 + 25.0 * std::f64::consts::PI)).abs() < 0.1,
                "{length}"
            );
        }
    }

    #[test]
    fn what_is_beyond_the_cap_is_counted_and_costs_no_other_layer() {
        // Arcs of 64 pieces each; a layer of them is past the cap, one of sides is far below it.
        let arcs = PATH_CAP as u64 / 64 + 500;
        let sides = 3000;
        let mut job = "G21\nG90\nM83\nM109 S210\nG28\n".to_owned();
        let mut lines = Vec::new();
        let mut line = 5;
        for (layer, moves) in [sides, sides, arcs, sides, sides, arcs, sides, sides]
            .into_iter()
            .enumerate()
        {
            let z = 0.2 * (layer + 1) as f64;
            let _ = writeln!(job, "G1 X10 Y10 Z{z:.1} F6000");
            for number in 0..moves {
                let [near, far] = [(10, 60), (60, 10)][number as usize % 2].into();
                let _ = match moves == arcs {
                    true => writeln!(job, "G2 X{far} Y10 I{} J0 E4 F1800", (far - near) / 2),
                    false => writeln!(job, "G1 X{far} Y{} E2 F1800", 10 + number % 7),
                };
                let _ = near;
            }
            lines.push(line + 2);
            line += moves + 1;
        }
        let plans = plans_of(&job, &lines);
        let told: Vec<(u64, u64, bool)> = plans
            .iter()
            .map(|plan| (plan.number, plan.left_out, plan.strokes.is_empty()))
            .collect();
        assert_eq!(plans.len(), 8, "{told:?}");
        for (plan, begins) in plans.iter().zip(&lines) {
            assert!(plan.has(*begins), "{told:?}");
            let points: usize = plan.strokes.iter().map(|stroke| stroke.points.len()).sum();
            match plan.number {
                2 | 5 => {
                    assert!(plan.left_out >= 500 && plan.left_out < arcs, "{told:?}");
                    assert!(
                        points > PATH_CAP - 64 * 500 && points <= PATH_CAP + 1,
                        "{points}"
                    );
                }
                // What came while the layer below was held counts as left out.
                3 | 6 => {
                    let drawn = points.saturating_sub(1) as u64;
                    assert_eq!(drawn + plan.left_out, sides, "{told:?}");
                }
                _ => {
                    assert_eq!(plan.left_out, 0, "{told:?}");
                    assert_eq!(points as u64, sides + 1, "{told:?}");
                }
            }
        }
    }

    #[test]
    fn reading_may_end_early() {
        let held = Held::default();
        let mut round = Round::unheld(held.clone(), Plans::new(&held, &[]));
        round.take(job(40).as_bytes());
        assert!(round.tap().is_done());
    }
}
