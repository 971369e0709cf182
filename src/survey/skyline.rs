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

/// Nothing is laid farther out than this, µm: two hundred metres; nor does one bead pass so many cells.
const FARTHEST: i64 = 200_000_000;
const FARTHEST_CELLS: i32 = 1 << 14;

/// What stands in a cell: its top, and the box of the beads laid at that height, in pieces whose middle lies in
/// it, µm.
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

impl Tile {
    /// How far what lies in it may reach: the middle of each piece lies within, and no piece is longer than a
    /// cell.
    fn bounds(&self) -> [i32; 4] {
        let [left, low] = self.at.map(|at| at.saturating_mul(SIDE * CELL));
        let over = CELL / 2 + 1;
        let far = SIDE * CELL + over;
        [left - over, left + far, low - over, low + far]
    }
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

/// A straight way piece by piece, at whole parts of a µm: along its longer side from one border of cells to the
/// next. So no piece is longer than a cell, and each begins where the one before ended.
#[derive(Debug)]
struct Walk {
    /// The piece at hand, what there is from one border to the next, and the end of all.
    from: [i64; 2],
    to: [i64; 2],
    by: [i64; 2],
    end: [i64; 2],
    left: i32,
}

/// Bits of a part of a µm.
const FINE: u32 = 32;

impl Walk {
    /// From one place to another, µm; none where nothing is so long.
    fn new(from: [i32; 2], to: [i32; 2]) -> Option<Self> {
        let [dx, dy] = [to[0] - from[0], to[1] - from[1]];
        let is_steep = dy.abs() > dx.abs();
        let (long, short, begin) = if is_steep {
            (dy, dx, from[1])
        } else {
            (dx, dy, from[0])
        };
        // What goes down leaves a border on its lower side.
        let down = i32::from(long < 0);
        let cell = (begin - down) >> CELL_BITS;
        let left = (((begin + long - down) >> CELL_BITS) - cell).abs();
        let border = (cell + 1 - down) << CELL_BITS;
        let slope = (i64::from(short) << FINE) / i64::from(long.abs().max(1));
        let first = border - begin;
        let way = |long: i32| {
            let (long, short) = (i64::from(long) << FINE, slope * i64::from(long.abs()));
            if is_steep {
                [short, long]
            } else {
                [long, short]
            }
        };
        let ([first_x, first_y], by) = (way(first), way(CELL * (1 - 2 * down)));
        let fine = |at: i32| (i64::from(at) << FINE) + (1 << (FINE - 1));
        let (from, end) = (from.map(fine), to.map(fine));
        (left < FARTHEST_CELLS).then_some(Self {
            from,
            to: if left > 0 {
                [from[0] + first_x, from[1] + first_y]
            } else {
                end
            },
            by,
            end,
            left,
        })
    }

    /// The cell in which the middle of the piece at hand lies.
    fn cell(&self) -> [i32; 2] {
        let ([fx, fy], [tx, ty]) = (self.from, self.to);
        [fx + tx, fy + ty].map(|twice| (twice >> (FINE + CELL_BITS + 1)) as i32)
    }

    /// Its box: least and most X, least and most Y, µm.
    fn bounds(&self) -> [i32; 4] {
        let [[fx, fy], [tx, ty]] = [self.from, self.to].map(|at| at.map(|at| (at >> FINE) as i32));
        [fx.min(tx), fx.max(tx), fy.min(ty), fy.max(ty)]
    }

    /// Goes on to the next piece, if there is one.
    fn step(&mut self) -> bool {
        let goes_on = self.left > 0;
        if goes_on {
            self.left -= 1;
            self.from = self.to;
            self.to = if self.left > 0 {
                [self.to[0] + self.by[0], self.to[1] + self.by[1]]
            } else {
                self.end
            };
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
        let Some(mut walk) = Walk::new(from, to) else {
            return;
        };
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
            let own = walk.bounds();
            let [left, right, low, high] = if rise > 0 { own } else { cell.bounds };
            *cell = Cell {
                top: z,
                bounds: [
                    left.min(own[0]),
                    right.max(own[1]),
                    low.min(own[2]),
                    high.max(own[3]),
                ],
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
        let Some(tile) = self.tiles.get_mut(index as usize) else {
            return;
        };
        if let Some(cell) = tile.cells.get_mut(slot(walk.cell())) {
            *cell = Cell {
                top: z,
                bounds: walk.bounds(),
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
            let bounds = tile.bounds();
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
            if !meets(from, to, tile.bounds()) {
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
        /// Against samples of the beads, one by one, a tenth of a millimetre apart; a cell's box may be nearer by
        /// its diagonal.
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
            prop_assert!(found < nearest + 0.002 && found > nearest - 1.5, "{} {}", found, nearest);
        }

        /// Whatever crosses a wall of one bead meets it.
        #[test]
        fn nothing_slips_through_a_wall_of_one_bead(
            from in (-40_000..40_000_i64, -40_000..40_000_i64),
            way in (-9000..9000_i64, -9000..9000_i64),
            part in 0.01..0.99_f64,
            across in (-9000..9000_i64, -9000..9000_i64),
        ) {
            let pm = |at: (i64, i64)| [at.0 * MICRO, at.1 * MICRO];
            let to = (from.0 + way.0, from.1 + way.1);
            let mut map = Skyline::default();
            map.lay(pm(from), pm(to), MM);
            let at = (
                from.0 as f64 + part * way.0 as f64,
                from.1 as f64 + part * way.1 as f64,
            );
            let ends = [-1.0, 1.0].map(|side| {
                let end = (at.0 + side * across.0 as f64, at.1 + side * across.1 as f64);
                [end.0, end.1].map(|end| (end * MICRO as f64) as i64)
            });
            // As far as micrometres tell it.
            prop_assume!((way.0 * across.1 - way.1 * across.0).abs() > 1000);
            prop_assert_eq!(map.across(ends[0], ends[1], 0).0, Some(1000));
        }
    }
}
