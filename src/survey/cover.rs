//! Which cells of the plane a layer covers: to tell a skirt or a purge line, on which nothing is ever
//! laid, from the part.

use crate::machine::MILLIMETRE;
use std::collections::HashSet;

/// The edge of a cell, pm: about two beads.
const CELL: i64 = MILLIMETRE;

/// The most cells kept for one layer; past it nothing is told apart.
pub(super) const CELL_CAP: usize = 1 << 20;

/// A cell.
pub(super) type Cell = (i32, i32);

fn cell(point: [i64; 2]) -> Cell {
    (
        point[0].div_euclid(CELL) as i32,
        point[1].div_euclid(CELL) as i32,
    )
}

/// Adds the cells that a straight stretch passes to `cells`, at most once in a row each.
pub(super) fn trace(from: [i64; 2], to: [i64; 2], cells: &mut Vec<Cell>) {
    let [dx, dy] = [to[0] - from[0], to[1] - from[1]];
    let steps = (dx.abs().max(dy.abs()) / (CELL / 2) + 1).min(4096);
    for step in 0..=steps {
        if cells.len() >= CELL_CAP {
            return;
        }
        let at = |start: i64, way: i64| {
            start + (i128::from(way) * i128::from(step) / i128::from(steps)) as i64
        };
        let next = cell([at(from[0], dx), at(from[1], dy)]);
        if cells.last() != Some(&next) {
            cells.push(next);
        }
    }
}

/// The cells a layer covers.
#[derive(Debug, Default)]
pub(super) struct Cover(HashSet<Cell>);

impl Cover {
    pub(super) fn of(cells: &[Cell]) -> Self {
        Self(cells.iter().copied().collect())
    }

    /// The share of `cells` that this layer covers, 0 to 1; a cell's neighbours count, since a wall
    /// may step by a bead from layer to layer.
    pub(super) fn share(&self, cells: &[Cell]) -> f64 {
        if cells.is_empty() {
            return 1.0;
        }
        let covered = cells.iter().filter(|(x, y)| {
            (-1..=1).any(|dx| (-1..=1).any(|dy| self.0.contains(&(x + dx, y + dy))))
        });
        covered.count() as f64 / cells.len() as f64
    }
}
