//! How high it stands where on the bed: a map of cells that grows with the bed's covered area and not with
//! the job.

use crate::machine::MILLIMETRE;
use std::collections::HashMap;

/// Micrometres, the map's own unit.
const MICRO: i64 = MILLIMETRE / 1000;

/// The edge of a cell, µm: about a millimetre, and a power of two, by which one divides at once.
const CELL: i32 = 1 << CELL_BITS;
const CELL_BITS: u32 = 10;

/// Cells along the side of a tile.
const SIDE: i32 = 1 << SIDE_BITS;
const SIDE_BITS: u32 = 4;

/// Tiles kept at hand, a square of so many along each side: one island's walls run through several, round
/// and round.
const AT_HAND: usize = 8;

/// The most tiles: one square metre and some twenty megabytes; what lies beyond is not kept.
const TILE_CAP: usize = 4096;

/// What is laid more than this above everything under it and beside it is a purge in the air, or bridges far
/// out, and does not count as standing, µm (chosen: several layers).
const CARRIES: i32 = 2000;

/// Nothing is laid farther out than this, µm: two hundred metres.
const FARTHEST: i64 = 200_000_000;

/// What stands in a cell: its top, and the box of the beads laid at that height, µm.
#[derive(Debug, Clone, Copy)]
struct Cell {
    top: i32,
    bounds: [i32; 4],
}

const EMPTY: Cell = Cell {
    top: 0,
    bounds: [0; 4],
};

#[derive(Debug)]
struct Tile {
    /// Its column and row.
    at: [i32; 2],
    most: i32,
    cells: Box<[Cell]>,
}

/// Where something stands tall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Tall {
    /// How far it is, mm.
    pub apart: f64,
    /// Its top, µm.
    pub top: i32,
}

/// The map.
#[derive(Debug, Default)]
pub(super) struct Skyline {
    tiles: Vec<Tile>,
    index: HashMap<[i32; 2], u32>,
    /// Of the tiles whose columns and rows end alike, the one that was found last.
    at_hand: [[u32; AT_HAND]; AT_HAND],
    most: i32,
    /// Where the last bead ended, and its height: the next one begins there nearly always.
    pen: Option<([i32; 2], i32)>,
}

/// A height or a place in µm.
pub(super) fn micro(pm: i64) -> i32 {
    (pm / MICRO).clamp(-FARTHEST, FARTHEST) as i32
}

/// A place in mm.
pub(super) fn milli(micro: i32) -> f64 {
    f64::from(micro) / 1000.0
}

/// How far a figure lies outside of a span; 0 within.
fn beyond(at: f64, least: i32, most: i32) -> f64 {
    (milli(least) - at).max(at - milli(most)).max(0.0)
}

/// Steps along a bead, at whole parts of a µm.
#[derive(Debug)]
struct Walk {
    at: [i64; 2],
    by: [i64; 2],
    left: i32,
}

/// Bits of a part of a µm.
const FINE: u32 = 32;

impl Walk {
    /// `steps` of them from one place to another, µm.
    fn new(from: [i32; 2], to: [i32; 2], steps: i32) -> Self {
        let [dx, dy] = [to[0] - from[0], to[1] - from[1]];
        Self {
            at: from.map(|at| (i64::from(at) << FINE) + (1 << (FINE - 1))),
            by: [dx, dy].map(|way| (i64::from(way) << FINE) / i64::from(steps)),
            left: steps,
        }
    }

    fn point(&self) -> [i32; 2] {
        self.at.map(|at| (at >> FINE) as i32)
    }

    fn cell(&self) -> [i32; 2] {
        cell_of(self.point())
    }

    /// Goes one step on, if there is one left.
    fn step(&mut self) -> bool {
        let goes_on = self.left > 0;
        if goes_on {
            self.left -= 1;
            self.at = [self.at[0] + self.by[0], self.at[1] + self.by[1]];
        }
        goes_on
    }
}

impl Skyline {
    /// Nothing stands, or nobody knows what does.
    pub fn clear(&mut self) {
        *self = Self::default();
    }

    /// The highest top, µm.
    pub const fn most(&self) -> i32 {
        self.most
    }

    /// A straight bead is laid, its ends and height in pm.
    pub fn lay(&mut self, from: [i64; 2], to: [i64; 2], z: i64) {
        let z = micro(z);
        if z <= 0 {
            return;
        }
        let (from, to) = (from.map(micro), to.map(micro));
        let [dx, dy] = [to[0] - from[0], to[1] - from[1]];
        let steps = (dx.abs().max(dy.abs()) + CELL / 2 - 1) / (CELL / 2);
        let steps = steps.clamp(1, 4096);
        let mut walk = Walk::new(from, to, steps);
        // Where the last bead ended is laid already.
        if self.pen == Some((from, z)) {
            walk.step();
        }
        self.pen = Some((to, z));
        // A straight way whose ends lie in a tile leaves it nowhere.
        let is_within = tile_of(cell_of(from)) == tile_of(cell_of(to));
        loop {
            let goes_on = match self.find(tile_of(walk.cell())) {
                Some(index) => self.lay_in(index, &mut walk, z, is_within),
                None => walk.step(),
            };
            if !goes_on {
                return;
            }
        }
    }

    /// Raises what lies in one tile, and says whether there is more. `is_within` where all does.
    #[inline]
    fn lay_in(&mut self, index: u32, walk: &mut Walk, z: i32, is_within: bool) -> bool {
        let Some(tile) = self.tiles.get_mut(index as usize) else {
            return false;
        };
        let mut goes_on = true;
        while goes_on && (is_within || tile_of(walk.cell()) == tile.at) {
            let [x, y] = walk.point();
            let Some(cell) = tile.cells.get_mut(slot(walk.cell())) else {
                return false;
            };
            let rise = z - cell.top;
            if !(0..=CARRIES).contains(&rise) {
                self.most = self.most.max(tile.most);
                if rise > 0 && self.is_carried(walk.cell(), z) {
                    self.set(index, walk, z);
                }
                return walk.step();
            }
            // Whether it is new or stands already makes no branch: nobody could guess it.
            let [left, right, low, high] = if rise > 0 { [x, x, y, y] } else { cell.bounds };
            *cell = Cell {
                top: z,
                bounds: [left.min(x), right.max(x), low.min(y), high.max(y)],
            };
            tile.most = tile.most.max(z);
            goes_on = walk.step();
        }
        self.most = self.most.max(tile.most);
        goes_on
    }

    /// Raises one cell, and forgets what was lower in it.
    #[cold]
    fn set(&mut self, index: u32, walk: &Walk, z: i32) {
        let [x, y] = walk.point();
        let Some(tile) = self.tiles.get_mut(index as usize) else {
            return;
        };
        if let Some(cell) = tile.cells.get_mut(slot(walk.cell())) {
            *cell = Cell {
                top: z,
                bounds: [x, x, y, y],
            };
        }
        tile.most = tile.most.max(z);
        self.most = self.most.max(z);
    }

    /// Whether a cell beside this one stands high enough to carry what is laid at `z`.
    #[cold]
    fn is_carried(&self, [column, row]: [i32; 2], z: i32) -> bool {
        (-1..=1)
            .flat_map(|dx| (-1..=1).map(move |dy| [column + dx, row + dy]))
            .any(|at| {
                self.index
                    .get(&tile_of(at))
                    .and_then(|index| self.tiles.get(*index as usize))
                    .and_then(|tile| tile.cells.get(slot(at)))
                    .is_some_and(|cell| z - cell.top <= CARRIES)
            })
    }

    /// The index of a tile, which is made where it is not there yet.
    #[inline]
    fn find(&mut self, wanted: [i32; 2]) -> Option<u32> {
        let [column, row] = wanted.map(|at| at.rem_euclid(AT_HAND as i32) as usize);
        let at_hand = *self.at_hand.get(row)?.get(column)?;
        if self
            .tiles
            .get(at_hand as usize)
            .is_some_and(|tile| tile.at == wanted)
        {
            return Some(at_hand);
        }
        let index = self.look_up(wanted)?;
        *self.at_hand.get_mut(row)?.get_mut(column)? = index;
        Some(index)
    }

    #[inline(never)]
    fn look_up(&mut self, wanted: [i32; 2]) -> Option<u32> {
        if let Some(index) = self.index.get(&wanted) {
            return Some(*index);
        }
        if self.tiles.len() >= TILE_CAP {
            return None;
        }
        let new = self.tiles.len() as u32;
        self.tiles.push(Tile {
            at: wanted,
            most: 0,
            cells: vec![EMPTY; (SIDE * SIDE) as usize].into(),
        });
        self.index.insert(wanted, new);
        Some(new)
    }

    /// The nearest thing that stands higher than `than`, µm, within `within` of a point, mm: in any
    /// direction, or along one axis alone. Also how many cells were looked at.
    pub fn nearest(
        &self,
        at: [f64; 2],
        axis: Option<usize>,
        than: i32,
        within: f64,
    ) -> (Option<Tall>, usize) {
        let far = |[left, right, low, high]: [i32; 4]| {
            let (x, y) = (beyond(at[0], left, right), beyond(at[1], low, high));
            match axis {
                Some(0) => x,
                Some(_) => y,
                None => (x * x + y * y).sqrt(),
            }
        };
        let mut nearest: Option<Tall> = None;
        let mut looks = self.tiles.len() / 16;
        for tile in self.tiles.iter().filter(|tile| tile.most > than) {
            let [left, low] = tile.at.map(|at| at.saturating_mul(SIDE * CELL));
            let bounds = [left, left + SIDE * CELL, low, low + SIDE * CELL];
            let limit = |nearest: Option<Tall>| nearest.map_or(within, |tall| tall.apart);
            if far(bounds) >= limit(nearest) {
                continue;
            }
            looks += tile.cells.len();
            for cell in tile.cells.iter().filter(|cell| cell.top > than) {
                let apart = far(cell.bounds);
                if apart < limit(nearest) {
                    nearest = Some(Tall {
                        apart,
                        top: cell.top,
                    });
                }
            }
        }
        (nearest, looks)
    }

    /// The highest top above `than`, µm, that a straight way meets, its ends in pm. Also how
    /// many cells were looked at.
    pub fn across(&self, from: [i64; 2], to: [i64; 2], than: i32) -> (Option<i32>, usize) {
        let (from, to) = (from.map(micro).map(milli), to.map(micro).map(milli));
        let mut highest = None;
        let mut looks = self.tiles.len() / 16;
        for tile in self.tiles.iter().filter(|tile| tile.most > than) {
            let [left, low] = tile.at.map(|at| at.saturating_mul(SIDE * CELL));
            if !meets(from, to, [left, left + SIDE * CELL, low, low + SIDE * CELL]) {
                continue;
            }
            looks += tile.cells.len();
            for cell in tile.cells.iter().filter(|cell| cell.top > than) {
                if meets(from, to, cell.bounds) {
                    highest = highest.max(Some(cell.top));
                }
            }
        }
        (highest, looks)
    }
}

/// Whether a straight way meets a box, its edge included.
fn meets([fx, fy]: [f64; 2], [tx, ty]: [f64; 2], [left, right, low, high]: [i32; 4]) -> bool {
    let (mut begin, mut end) = (0.0_f64, 1.0_f64);
    for (from, to, least, most) in [(fx, tx, left, right), (fy, ty, low, high)] {
        let (least, most) = (milli(least), milli(most));
        if from == to {
            if from < least || from > most {
                return false;
            }
            continue;
        }
        let (one, other) = ((least - from) / (to - from), (most - from) / (to - from));
        begin = begin.max(one.min(other));
        end = end.min(one.max(other));
    }
    begin <= end
}

/// The column and row of the cell that a place lies in.
fn cell_of(at: [i32; 2]) -> [i32; 2] {
    at.map(|at| at >> CELL_BITS)
}

/// The column and row of the tile that a cell lies in.
fn tile_of(cell: [i32; 2]) -> [i32; 2] {
    cell.map(|at| at >> SIDE_BITS)
}

/// A cell's place in its tile.
const fn slot([column, row]: [i32; 2]) -> usize {
    ((row & (SIDE - 1)) * SIDE + (column & (SIDE - 1))) as usize
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const MM: i64 = MILLIMETRE;

    fn wall(map: &mut Skyline, x: i64, height: i64) {
        for z in 1..=height {
            map.lay([x * MM, 0], [x * MM, 30 * MM], z * MM);
        }
    }

    #[test]
    fn what_stands_is_found_as_far_as_it_is() {
        let mut map = Skyline::default();
        wall(&mut map, 50, 20);
        let found = |at, axis, than, within| map.nearest(at, axis, than, within).0;
        let tall = Tall {
            apart: 30.0,
            top: 20_000,
        };
        assert_eq!(found([20.0, 10.0], None, 19_999, 31.0), Some(tall));
        assert_eq!(found([20.0, 10.0], None, 20_000, 31.0), None);
        assert_eq!(found([20.0, 10.0], None, 19_999, 30.0), None);
        assert_eq!(found([47.0, 34.0], None, 0, 9.0).unwrap().apart, 5.0);
        assert_eq!(found([47.0, 34.0], Some(1), 0, 9.0).unwrap().apart, 4.0);
        assert_eq!(found([47.0, 34.0], Some(0), 0, 9.0).unwrap().apart, 3.0);
    }

    #[test]
    fn what_hangs_in_the_air_does_not_stand() {
        let mut map = Skyline::default();
        map.lay([0, 0], [20 * MM, 0], 30 * MM);
        assert_eq!(map.most(), 0);
        wall(&mut map, 5, 10);
        // Out over the edge, from cell to cell.
        map.lay([5 * MM, 0], [9 * MM, 0], 11 * MM);
        assert_eq!(
            map.nearest([9.0, 0.0], None, 10_500, 1.0).0.unwrap().top,
            11_000
        );
        map.clear();
        assert_eq!((map.most(), map.tiles.len()), (0, 0));
    }

    proptest! {
        /// Against every sample of the beads, one by one; a cell's box may be nearer by its diagonal.
        #[test]
        fn nearest_as_by_looking_at_every_bead(
            beads in prop::collection::vec((-40..40_i64, -40..40_i64, -40..40_i64, -40..40_i64), 1..12),
            at in (-60.0..60.0_f64, -60.0..60.0_f64),
        ) {
            let mut map = Skyline::default();
            let mut nearest = f64::INFINITY;
            for (fx, fy, tx, ty) in beads {
                map.lay([fx * MM, fy * MM], [tx * MM, ty * MM], MM);
                for step in 0..=1000 {
                    let share = f64::from(step) / 1000.0;
                    let x = fx as f64 + (tx - fx) as f64 * share;
                    let y = fy as f64 + (ty - fy) as f64 * share;
                    nearest = nearest.min((x - at.0).hypot(y - at.1));
                }
            }
            let found = map.nearest([at.0, at.1], None, 0, 1e9).0.unwrap().apart;
            prop_assert!(found < nearest + 0.5 && found > nearest - 1.0, "{} {}", found, nearest);
        }
    }
}
