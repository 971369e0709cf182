//! Which cells of the plane a layer covers: to tell a skirt or a purge line, on which nothing is ever
//! laid, from the part.

use crate::machine::MILLIMETRE;

/// The edge of a cell, pm: about two beads.
const CELL: i64 = MILLIMETRE;

/// The most cells kept for one layer; past it nothing is told apart.
pub(super) const CELL_CAP: usize = 1 << 20;

/// The widest plane that is mapped, in cells: a bed of two metres by two.
const MAP_CAP: i64 = 1 << 22;

/// A cell's column and row.
pub(super) type Cell = (i32, i32);

fn cell(point: [i64; 2]) -> Cell {
    let index = |at: i64| at.div_euclid(CELL).clamp(-1_000_000, 1_000_000) as i32;
    (index(point[0]), index(point[1]))
}

/// Adds the cells that a straight stretch passes to `cells`, at most once in a row each.
pub(super) fn trace(from: [i64; 2], to: [i64; 2], cells: &mut Vec<Cell>) {
    let [dx, dy] = [to[0] - from[0], to[1] - from[1]];
    let steps = (dx.abs().max(dy.abs()) / (CELL / 2) + 1).min(4096);
    for step in 0..=steps {
        if cells.len() >= CELL_CAP {
            return;
        }
        // Divided first: a job's coordinates may be absurd, and a cell is coarse enough.
        let next = cell([from[0] + dx / steps * step, from[1] + dy / steps * step]);
        if cells.last() != Some(&next) {
            cells.push(next);
        }
    }
}

/// The cells a layer covers, and their neighbours: a wall may step by a bead from layer to layer.
#[derive(Debug)]
pub(super) struct Cover {
    left: i64,
    low: i64,
    width: i64,
    covered: Vec<bool>,
}

impl Cover {
    /// None where nothing is laid, or the cells lie too far apart to be mapped.
    pub(super) fn of(cells: &[Cell]) -> Option<Self> {
        let mut columns = cells.iter().map(|(x, _)| i64::from(*x));
        let first = columns.next()?;
        let (left, right) = columns.fold((first, first), |(a, b), x| (a.min(x), b.max(x)));
        let rows = cells.iter().map(|(_, y)| i64::from(*y));
        let (low, high) = rows.fold((i64::MAX, i64::MIN), |(a, b), y| (a.min(y), b.max(y)));
        let (left, low) = (left - 1, low - 1);
        let (width, height) = (right - left + 2, high - low + 2);
        if width.saturating_mul(height) > MAP_CAP {
            return None;
        }
        let mut cover = Self {
            left,
            low,
            width,
            covered: vec![false; (width * height) as usize],
        };
        for (x, y) in cells {
            for dy in -1..=1 {
                for dx in -1..=1 {
                    if let Some(cell) = cover.index(x + dx, y + dy)
                        && let Some(covered) = cover.covered.get_mut(cell)
                    {
                        *covered = true;
                    }
                }
            }
        }
        Some(cover)
    }

    fn index(&self, x: i32, y: i32) -> Option<usize> {
        let (column, row) = (i64::from(x) - self.left, i64::from(y) - self.low);
        (column >= 0 && column < self.width && row >= 0)
            .then(|| (row * self.width + column) as usize)
    }

    /// The share of `cells` that this layer covers, 0 to 1.
    pub(super) fn share(&self, cells: &[Cell]) -> f64 {
        if cells.is_empty() {
            return 1.0;
        }
        let covered = cells
            .iter()
            .filter(|(x, y)| {
                self.index(*x, *y)
                    .and_then(|cell| self.covered.get(cell))
                    .is_some_and(|c| *c)
            })
            .count();
        covered as f64 / cells.len() as f64
    }
}
