//! Strokes outside of all walls in the layers just below, such as a support's: what may carry others.

use super::plan::Plan;
use super::trail::Trail;
use std::collections::{HashSet, VecDeque};

/// So many layers below still carry: supports end a layer or two below what they are for (chosen).
const DEPTH: usize = 3;

/// The edge of a cell, mm: a stroke carries what lies in its cell or beside it (chosen: strands of supports
/// lie two to three millimetres apart in common practice).
const CELL: f64 = 1.5;

/// The most beads kept of a layer, and the most cells that all of them are laid over.
const BEADS: usize = 1 << 15;
const CELLS: f64 = 262_144.0;

/// Beads by layer, and the cells they cover, once somebody asks.
#[derive(Debug, Default)]
pub(super) struct Ground {
    layers: VecDeque<Vec<[[f64; 2]; 2]>>,
    cells: HashSet<(i32, i32)>,
    is_mapped: bool,
}

fn cell(at: [f64; 2]) -> (i32, i32) {
    let [x, y] = at.map(|at| (at / CELL).floor() as i32);
    (x, y)
}

impl Ground {
    /// Another object begins.
    pub fn clear(&mut self) {
        self.layers.clear();
        self.cells.clear();
        self.is_mapped = false;
    }

    /// Whether there is no such stroke.
    pub fn is_empty(&self) -> bool {
        self.layers.iter().all(Vec::is_empty)
    }

    /// A layer is covered by the next.
    pub fn lay(&mut self, trail: &Trail, plan: &Plan) {
        let mut beads = if self.layers.len() < DEPTH {
            Vec::new()
        } else {
            self.layers.pop_front().unwrap_or_default()
        };
        beads.clear();
        for stroke in plan.strokes.iter().filter(|one| one.within.is_none()) {
            let points = trail.points.get(stroke.path.points.clone());
            for pair in points.unwrap_or_default().windows(2) {
                if let [from, to] = pair
                    && beads.len() < BEADS
                {
                    beads.push([from.at, to.at]);
                }
            }
        }
        self.layers.push_back(beads);
        self.is_mapped = false;
    }

    /// Whether one of them lies below a point, or beside that.
    pub fn carries(&mut self, at: [f64; 2]) -> bool {
        if !self.is_mapped {
            self.map();
        }
        if self.cells.is_empty() {
            return false;
        }
        let (x, y) = cell(at);
        let near = |at: i32| at.saturating_sub(1)..=at.saturating_add(1);
        near(x).any(|x| near(y).any(|y| self.cells.contains(&(x, y))))
    }

    fn map(&mut self) {
        self.is_mapped = true;
        self.cells.clear();
        let mut left = CELLS;
        for [from, to] in self.layers.iter().flatten() {
            let way = [to[0] - from[0], to[1] - from[1]];
            let steps = (way[0].abs().max(way[1].abs()) / CELL)
                .ceil()
                .clamp(1.0, left.max(1.0));
            left -= steps;
            for step in 0..=steps as u32 {
                let share = f64::from(step) / steps;
                let at = [from[0] + way[0] * share, from[1] + way[1] * share];
                self.cells.insert(cell(at));
            }
        }
    }
}
