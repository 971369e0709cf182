//! What a part stands on: the narrowest rectangle around its contact with the bed, its brim left out.

use super::path::minus;

/// The most corners kept of a hull.
const CORNERS: usize = 512;

/// The convex hull of a contact's outermost beads.
#[derive(Debug, Clone, Default)]
pub(super) struct Base {
    /// Counterclockwise.
    hull: Vec<[f64; 2]>,
    /// The widest bead, mm.
    bead: f64,
}

impl Base {
    /// A bead so wide stands on the bed, mm.
    pub fn stand(&mut self, points: impl Iterator<Item = [f64; 2]>, bead: f64) {
        self.hull
            .extend(points.filter(|point| point.iter().all(|at| at.is_finite())));
        self.bead = self.bead.max(bead);
        self.close();
    }

    pub fn join(&mut self, other: &Self) {
        self.stand(other.hull.iter().copied(), other.bead);
    }

    /// Andrew's monotone chain: the lower side from left to right, and the upper one back.
    fn close(&mut self) {
        let mut points = std::mem::take(&mut self.hull);
        points.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
        points.dedup();
        let side = |points: &mut dyn Iterator<Item = &[f64; 2]>| {
            let mut side: Vec<[f64; 2]> = Vec::new();
            for point in points {
                while let [.., a, b] = side.as_slice()
                    && cross(minus(*b, *a), minus(*point, *b)) <= 0.0
                {
                    side.pop();
                }
                side.push(*point);
            }
            side
        };
        let mut hull = side(&mut points.iter());
        let upper = side(&mut points.iter().rev());
        hull.pop();
        hull.extend(upper);
        if hull.len() > 1 {
            hull.pop();
        }
        // Of so fine a curve every other corner is enough.
        while hull.len() > CORNERS {
            let mut is_kept = false;
            hull.retain(|_| {
                is_kept = !is_kept;
                is_kept
            });
        }
        self.hull = hull;
    }

    /// The sides of the narrowest rectangle around it, mm: one of its sides lies along the hull's
    /// (rotating calipers, after Toussaint 1983). None where nothing stands.
    pub fn sides(&self) -> Option<[f64; 2]> {
        let next = self.hull.iter().cycle().skip(1);
        let mut least: Option<[f64; 2]> = None;
        for (from, to) in self.hull.iter().zip(next) {
            let way = minus(*to, *from);
            let length = (way[0] * way[0] + way[1] * way[1]).sqrt();
            if length <= 0.0 {
                continue;
            }
            let way = way.map(|way| way / length);
            let mut reach = [f64::MAX, f64::MIN, f64::MIN];
            for point in &self.hull {
                let off = minus(*point, *from);
                let far = off[0] * way[0] + off[1] * way[1];
                reach = [
                    reach[0].min(far),
                    reach[1].max(far),
                    reach[2].max(cross(way, off).abs()),
                ];
            }
            let sides = [reach[2] + self.bead, reach[1] - reach[0] + self.bead];
            if least.is_none_or(|[narrow, _]| sides[0] < narrow) {
                least = Some(sides);
            }
        }
        least.map(|[one, other]| [one.min(other), one.max(other)])
    }
}

fn cross(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A rectangle of 40 by 3 turned by any angle keeps its sides; a disk's are its diameter.
    #[test]
    fn a_turned_rectangle_keeps_its_sides() {
        for degrees in [0.0_f64, 7.0, 45.0, 81.3] {
            let (sin, cos) = degrees.to_radians().sin_cos();
            let corners = [
                [0.0, 0.0],
                [40.0, 0.0],
                [40.0, 3.0],
                [20.0, 1.0],
                [0.0, 3.0],
            ];
            let turned = corners.map(|[x, y]| [x * cos - y * sin, x * sin + y * cos]);
            let mut base = Base::default();
            base.stand(turned.into_iter(), 0.0);
            let [short, long] = base.sides().unwrap();
            assert!((short - 3.0).abs() < 1e-9 && (long - 40.0).abs() < 1e-9);
        }
        let mut disk = Base::default();
        let at = |turn: f64| [5.0 * turn.cos(), 5.0 * turn.sin()];
        disk.stand((0..2000).map(|step| at(f64::from(step) / 318.31)), 0.45);
        let [short, long] = disk.sides().unwrap();
        assert!(
            (short - 10.45).abs() < 0.01 && (long - 10.45).abs() < 0.01,
            "{short} {long}"
        );
    }
}
