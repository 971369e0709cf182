//! Paths: beads without a break, closed to a loop where their ends meet.

use super::class::Shown;
use super::region::Where;
use super::trail::Trail;
use crate::command::hint::PathKind;

/// Ends that lie this many beads apart are one: a seam (chosen).
const SEAM: f64 = 1.1;

/// So many beads apart they are one where the path goes on straight across the gap (chosen).
const GAP: f64 = 4.0;

/// A loop encloses at least this share of its own bead's area: less is a line that comes back (chosen).
const ENCLOSES: f64 = 0.25;

/// A stretch of a path under one comment.
#[derive(Debug, Clone, Copy)]
pub(super) struct Said {
    /// Which of the layer's paths it is of, in the order laid.
    pub order: usize,
    /// What the comment says.
    pub kind: PathKind,
    /// mm³.
    pub volume: f64,
    /// Its first line.
    pub line: u64,
}

impl Said {
    /// What is shown of it, so high above the bed, mm.
    pub const fn shown(&self, z: f64) -> Shown {
        Shown {
            volume: self.volume,
            first: Where { z, line: self.line },
        }
    }
}

/// A path of a layer: points of its trail.
#[derive(Debug, Clone)]
pub(super) struct Path {
    /// Its points.
    pub points: std::ops::Range<usize>,
    /// The run it begins with.
    pub run: usize,
    /// Which of the layer's paths it is, in the order laid.
    pub order: usize,
    /// mm.
    pub length: f64,
    /// mm³.
    pub volume: f64,
    /// Least and most X, least and most Y, mm.
    pub bounds: [f64; 4],
    /// Signed area within, its ends joined, mm²: positive counterclockwise.
    pub area: f64,
    /// The point that ends its longest bead.
    pub longest: usize,
    /// Whether its ends meet.
    pub is_closed: bool,
    /// Whether it comes back to where it began, and encloses next to nothing.
    pub returns: bool,
}

impl Path {
    /// The distance from neighbour to neighbour of such beads laid side by side, mm: their volume over
    /// their length and height.
    pub fn spacing(&self, height: f64) -> f64 {
        self.volume / (self.length * height)
    }
}

/// Groups a layer's beads into paths.
pub(super) fn group(trail: &Trail, height: f64, into: &mut Vec<Path>, said: &mut Vec<Said>) {
    into.clear();
    said.clear();
    for (index, run) in trail.runs.iter().enumerate() {
        let first = run.first as usize;
        let end = match trail.runs.get(index + 1) {
            Some(next) if next.goes_on => next.first as usize + 1,
            Some(next) => next.first as usize,
            None => trail.points.len(),
        };
        let section = run.section;
        match into.last_mut() {
            Some(path) if run.goes_on => {
                let before = path.volume;
                path.go_on(trail, end, section);
                said.push(Said {
                    order: path.order,
                    kind: run.said,
                    volume: path.volume - before,
                    line: run.line(),
                });
            }
            _ => {
                let mut path = Path {
                    points: first..first + 1,
                    run: index,
                    order: into.len(),
                    length: 0.0,
                    volume: 0.0,
                    bounds: [f64::MAX, f64::MIN, f64::MAX, f64::MIN],
                    area: 0.0,
                    longest: first + 1,
                    is_closed: false,
                    returns: false,
                };
                path.go_on(trail, end, section);
                said.push(Said {
                    order: path.order,
                    kind: run.said,
                    volume: path.volume,
                    line: run.line(),
                });
                into.push(path);
            }
        }
    }
    into.retain(|path| path.length > 0.0 && path.volume > 0.0);
    for path in into.iter_mut() {
        path.is_closed = path.closes(trail, height);
        path.returns = !path.is_closed && path.comes_back(trail, height);
    }
}

impl Path {
    fn go_on(&mut self, trail: &Trail, end: usize, section: f64) {
        let Some(points) = trail.points.get(self.points.start..end) else {
            return;
        };
        let done = self.points.end - self.points.start;
        let Some([x0, y0]) = points.first().map(|point| point.at) else {
            return;
        };
        let mut longest = 0.0;
        if let Some([one, other]) = trail
            .points
            .get(self.longest.saturating_sub(1)..=self.longest)
            .filter(|_| self.points.contains(&self.longest))
        {
            longest = apart(one.at, other.at);
        }
        let [mut left, mut right, mut low, mut high] = self.bounds;
        for (index, pair) in points.windows(2).enumerate().skip(done - 1) {
            let [from, to] = pair else { break };
            let ([fx, fy], [tx, ty]) = (from.at, to.at);
            let length = apart(from.at, to.at);
            self.length += length;
            self.volume += to.laid * section;
            self.area += ((fx - x0) * (ty - y0) - (tx - x0) * (fy - y0)) / 2.0;
            left = least(left, least(fx, tx));
            right = most(right, most(fx, tx));
            low = least(low, least(fy, ty));
            high = most(high, most(fy, ty));
            if length > longest {
                longest = length;
                self.longest = self.points.start + index + 1;
            }
        }
        self.bounds = [left, right, low, high];
        self.points.end = end;
    }

    fn comes_back(&self, trail: &Trail, height: f64) -> bool {
        let points = trail.points.get(self.points.clone()).unwrap_or_default();
        let ([first, ..], [.., last]) = (points, points) else {
            return false;
        };
        points.len() >= 4 && apart(first.at, last.at) <= SEAM * self.spacing(height)
    }

    fn closes(&self, trail: &Trail, height: f64) -> bool {
        let points = trail.points.get(self.points.clone()).unwrap_or_default();
        let ([first, second, ..], [.., before, last]) = (points, points) else {
            return false;
        };
        let bead = self.spacing(height);
        let gap = apart(first.at, last.at);
        if points.len() < 4 || self.area.abs() < ENCLOSES * self.length * bead {
            return false;
        }
        if gap <= SEAM * bead {
            return true;
        }
        let along = |from: [f64; 2], to: [f64; 2], across: [[f64; 2]; 2]| {
            let [a, b] = across;
            let (one, other) = (minus(to, from), minus(b, a));
            one[0] * other[0] + one[1] * other[1] > 0.7 * apart(from, to) * apart(a, b)
        };
        let across = [last.at, first.at];
        gap <= GAP * bead
            && gap * 10.0 < self.length
            && along(before.at, last.at, across)
            && along(first.at, second.at, across)
    }
}

/// The lesser and the greater of two numbers: an instruction each, where the library's have an eye on what is
/// no number.
pub(super) fn least(one: f64, other: f64) -> f64 {
    if one < other { one } else { other }
}

pub(super) fn most(one: f64, other: f64) -> f64 {
    if one > other { one } else { other }
}

pub(super) fn minus(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0] - b[0], a[1] - b[1]]
}

pub(super) fn apart(a: [f64; 2], b: [f64; 2]) -> f64 {
    let [x, y] = minus(a, b);
    (x * x + y * y).sqrt()
}
