//! Which loops a point lies in: edges by rows of the plane, and how many of them lie to its right.

use super::path::{Path, apart, least, minus, most};
use super::trail::Trail;

/// The most rows (chosen).
const ROWS: usize = 1024;

/// An edge may stand in so many rows on average (chosen).
const SPREAD: f64 = 4.0;

/// Edges looked at for each point of the layer, at most: past it the layer is too tangled to be told
/// (chosen; an honest one takes a tenth of that).
const LOOKS: usize = 64;

#[derive(Debug, Clone, Copy)]
struct Edge {
    from: [f64; 2],
    to: [f64; 2],
    of: u32,
}

/// The edges of a layer's loops, by rows.
#[derive(Debug, Default)]
pub(super) struct Slabs {
    low: f64,
    /// Rows a millimetre.
    per: f64,
    rows: usize,
    /// Where a row begins in the list of places; and the places of its edges.
    starts: Vec<u32>,
    places: Vec<u32>,
    edges: Vec<Edge>,
    odd: Vec<bool>,
    touched: Vec<u32>,
    /// Edges that may still be looked at.
    looks: usize,
}

/// An edge near a point.
#[derive(Debug, Clone, Copy)]
pub(super) struct Near {
    /// mm.
    pub far: f64,
    /// The sine of the angle to it.
    pub sine: f64,
    /// The way from it to the point, mm.
    pub off: [f64; 2],
    /// Its loop.
    pub of: u32,
}

/// The edges of a closed path.
pub(super) fn edges<'a>(
    trail: &'a Trail,
    path: &Path,
) -> impl Iterator<Item = ([f64; 2], [f64; 2])> + 'a {
    let points = trail.points.get(path.points.clone()).unwrap_or_default();
    let next = points.iter().cycle().skip(1);
    points.iter().zip(next).map(|(a, b)| (a.at, b.at))
}

/// The same, one after the other: a closure is quicker than an iterator that joins two.
fn each_edge(trail: &Trail, path: &Path, mut tell: impl FnMut([f64; 2], [f64; 2])) {
    let points = trail.points.get(path.points.clone()).unwrap_or_default();
    for pair in points.windows(2) {
        if let [from, to] = pair {
            tell(from.at, to.at);
        }
    }
    if let ([first, ..], [.., last]) = (points, points) {
        tell(last.at, first.at);
    }
}

/// Edges by their places.
fn in_rows<'a>(edges: &'a [Edge], places: &'a [u32]) -> impl Iterator<Item = &'a Edge> {
    places.iter().filter_map(|at| edges.get(*at as usize))
}

impl Slabs {
    /// Holds nothing.
    pub const fn clear(&mut self) {
        self.rows = 0;
    }

    /// As much may be asked as of a layer of so many points.
    pub const fn refill(&mut self, points: usize) {
        self.looks = LOOKS * points + (1 << 16);
    }

    /// Takes the loops of a layer, each by its place in the list.
    pub fn fill<'a>(&mut self, trail: &Trail, loops: impl Iterator<Item = &'a Path> + Clone) {
        let (mut low, mut high, mut count, mut many) = (f64::MAX, f64::MIN, 0, 0);
        let mut tall = 0.0;
        for path in loops.clone() {
            let [_, _, bottom, top] = path.bounds;
            low = low.min(bottom);
            high = high.max(top);
            many += path.points.len();
            count += 1;
            each_edge(trail, path, |a, b| tall += (a[1] - b[1]).abs());
        }
        self.refill(trail.points.len());
        self.edges.clear();
        self.starts.clear();
        self.odd.clear();
        self.odd.resize(count, false);
        self.rows = 0;
        if count == 0 || high <= low {
            return;
        }
        let fits = SPREAD * many as f64 * (high - low) / tall.max(high - low);
        self.rows = (many / 8).min(fits as usize).clamp(1, ROWS);
        self.low = low;
        self.per = self.rows as f64 / (high - low);
        self.starts.resize(self.rows + 2, 0);
        let (low, per, rows) = (self.low, self.per, self.rows);
        let row = |y: f64| (((y - low) * per) as usize).min(rows - 1);
        let rows = |from: [f64; 2], to: [f64; 2]| {
            let (one, other) = (row(from[1]), row(to[1]));
            one.min(other)..one.max(other) + 1
        };
        // Counted first, then put in place: the counts of a row end up as where it begins.
        let starts = &mut self.starts;
        for path in loops.clone() {
            each_edge(trail, path, |from, to| {
                let rows = rows(from, to);
                for count in starts
                    .get_mut(rows.start + 2..rows.end + 2)
                    .unwrap_or_default()
                {
                    *count += 1;
                }
            });
        }
        let mut sum = 0;
        for start in starts.iter_mut() {
            sum += *start;
            *start = sum;
        }
        self.places.resize(sum as usize, 0);
        let (places, edges) = (&mut self.places, &mut self.edges);
        for (of, path) in loops.enumerate() {
            each_edge(trail, path, |from, to| {
                let rows = rows(from, to);
                let place = edges.len() as u32;
                for next in starts
                    .get_mut(rows.start + 1..rows.end + 1)
                    .unwrap_or_default()
                {
                    if let Some(slot) = places.get_mut(*next as usize) {
                        *slot = place;
                    }
                    *next += 1;
                }
                edges.push(Edge {
                    from,
                    to,
                    of: of as u32,
                });
            });
        }
    }

    /// The innermost loop that holds a point, `but` left out: loops are in order of falling area, so
    /// that of those that hold it the last is the innermost.
    pub fn innermost(&mut self, at: [f64; 2], but: Option<u32>) -> Option<u32> {
        let [x, y] = at;
        let row = (y - self.low) * self.per;
        if self.rows == 0 || row < 0.0 || row > self.rows as f64 {
            return None;
        }
        let row = (row as usize).min(self.rows - 1);
        let from = *self.starts.get(row)? as usize;
        let to = *self.starts.get(row + 1)? as usize;
        if self.looks < to - from {
            self.looks = 0;
            return None;
        }
        self.looks -= to - from;
        for edge in in_rows(&self.edges, self.places.get(from..to)?) {
            let ([fx, fy], [tx, ty]) = (edge.from, edge.to);
            if (fy > y) != (ty > y)
                && x < fx + (tx - fx) * (y - fy) / (ty - fy)
                && let Some(odd) = self.odd.get_mut(edge.of as usize)
            {
                *odd = !*odd;
                self.touched.push(edge.of);
            }
        }
        let mut innermost = None;
        for of in self.touched.drain(..) {
            if let Some(odd) = self.odd.get_mut(of as usize)
                && std::mem::take(odd)
                && Some(of) != but
            {
                innermost = innermost.max(Some(of));
            }
        }
        innermost
    }

    /// The nearest edge to a point, where one lies within `reach`, mm: how far, the sine of the angle
    /// between it and `along`.
    pub fn nearest(&mut self, at: [f64; 2], along: [f64; 2], reach: f64) -> Option<Near> {
        if self.rows == 0 {
            return None;
        }
        let row = |y: f64| {
            let row = ((y - self.low) * self.per).max(0.0) as usize;
            row.min(self.rows - 1)
        };
        let from = *self.starts.get(row(at[1] - reach))? as usize;
        let to = *self.starts.get(row(at[1] + reach) + 1)? as usize;
        if self.looks < to - from {
            self.looks = 0;
            return None;
        }
        self.looks -= to - from;
        let mut nearest: Option<Near> = None;
        for edge in in_rows(&self.edges, self.places.get(from..to)?) {
            let limit = nearest.map_or(reach, |near| near.far);
            let is_aside = |one: f64, other: f64, at: f64| {
                (least(one, other) > at + limit) | (most(one, other) < at - limit)
            };
            let ([fx, fy], [tx, ty]) = (edge.from, edge.to);
            if is_aside(fx, tx, at[0]) | is_aside(fy, ty, at[1]) {
                continue;
            }
            let [dx, dy] = minus(edge.to, edge.from);
            let [px, py] = minus(at, edge.from);
            let square = dx * dx + dy * dy;
            if square <= 0.0 {
                continue;
            }
            let share = ((px * dx + py * dy) / square).clamp(0.0, 1.0);
            let off = [px - dx * share, py - dy * share];
            let far = apart(off, [0.0; 2]);
            if far <= limit {
                let sine = (along[0] * dy - along[1] * dx).abs() / square.sqrt();
                nearest = Some(Near {
                    far,
                    sine,
                    off,
                    of: edge.of,
                });
            }
        }
        nearest
    }

    /// Whether so much was asked that the answers cannot be relied on.
    pub const fn is_spent(&self) -> bool {
        self.looks == 0 && self.rows > 0
    }
}
