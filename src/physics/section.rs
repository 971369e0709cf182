//! Sections: area and second moments of area, summed exactly over their pieces.
//!
//! Plane geometry: the integrals of 1, x, y, x², y² and xy over a shape. They add, and taking a hole
//! away is adding it negative; parallel axes, I = I_c + A·d², follow from the sums. Any handbook of
//! mechanics has the formulas.
//!
//! Bending stiffness is E·I and stiffness in tension E·A. Stiffness is not strength: where a part
//! breaks is decided by notches, bonds and faults of which a section knows nothing.

use std::ops::{Add, AddAssign, Sub};

/// Stiffness of what is loaded across its layers, as a share of that along them: the bonds between
/// layers give first (common practice, no source). Strength falls by more than that.
pub const ACROSS_LAYERS: f64 = 0.85;

/// The integrals over a shape, about an origin that its maker knows.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Section {
    /// Area, mm².
    pub area: f64,
    /// ∫x dA, mm³.
    pub x: f64,
    /// ∫y dA, mm³.
    pub y: f64,
    /// ∫x² dA, mm⁴.
    pub xx: f64,
    /// ∫y² dA, mm⁴.
    pub yy: f64,
    /// ∫xy dA, mm⁴.
    pub xy: f64,
}

/// Second moments of area about axes through the centroid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moments {
    /// ∫y² dA about the X axis, mm⁴: bending up and down.
    pub about_x: f64,
    /// ∫x² dA about the Y axis, mm⁴: bending from side to side.
    pub about_y: f64,
    /// ∫xy dA, mm⁴; 0 where X and Y are the principal axes.
    pub product: f64,
}

impl Section {
    /// A rectangle about the origin: `width` along X and `height` along Y, mm.
    #[must_use]
    pub fn rectangle(width: f64, height: f64) -> Self {
        Self {
            area: width * height,
            xx: height * width.powi(3) / 12.0,
            yy: width * height.powi(3) / 12.0,
            ..Self::default()
        }
    }

    /// A circle about the origin, of this diameter in mm.
    #[must_use]
    pub fn circle(diameter: f64) -> Self {
        use std::f64::consts::PI;
        let second = PI * diameter.powi(4) / 64.0;
        Self {
            area: PI * diameter * diameter / 4.0,
            xx: second,
            yy: second,
            ..Self::default()
        }
    }

    /// A bead as seen from above: a straight strip of this width between two points, its ends square.
    #[must_use]
    pub fn bead(from: [f64; 2], to: [f64; 2], width: f64) -> Self {
        let ([fx, fy], [tx, ty]) = (from, to);
        let middle = [f64::midpoint(fx, tx), f64::midpoint(fy, ty)];
        Self::strip([tx - fx, ty - fy], width).shifted(middle)
    }

    /// A straight strip of this width about the origin, so long along X and Y, mm.
    #[must_use]
    pub fn strip([dx, dy]: [f64; 2], width: f64) -> Self {
        let square = dx * dx + dy * dy;
        if square == 0.0 {
            return Self::default();
        }
        let area = square.sqrt() * width;
        let twelfth = area / 12.0;
        let across = width * width / square;
        Self {
            area,
            xx: twelfth * (dx * dx + dy * dy * across),
            yy: twelfth * (dy * dy + dx * dx * across),
            xy: twelfth * (dx * dy * (1.0 - across)),
            ..Self::default()
        }
    }

    /// A polygon; its last point joins the first. Positive where its points go counterclockwise,
    /// negative otherwise, as a hole is (Green's theorem).
    #[must_use]
    pub fn polygon(points: &[[f64; 2]]) -> Self {
        let next = points.iter().cycle().skip(1);
        let mut sum = Self::default();
        for ([ax, ay], [bx, by]) in points.iter().zip(next) {
            // The triangle to the origin.
            let twice = ax * by - bx * ay;
            sum.area += twice;
            sum.x += twice * (ax + bx);
            sum.y += twice * (ay + by);
            sum.xx += twice * (ax * ax + ax * bx + bx * bx);
            sum.yy += twice * (ay * ay + ay * by + by * by);
            sum.xy += twice * (ax * by + 2.0 * ax * ay + 2.0 * bx * by + bx * ay);
        }
        Self {
            area: sum.area / 2.0,
            x: sum.x / 6.0,
            y: sum.y / 6.0,
            xx: sum.xx / 12.0,
            yy: sum.yy / 12.0,
            xy: sum.xy / 24.0,
        }
    }

    /// The same shape moved by `by`, mm.
    #[must_use]
    pub fn shifted(self, by: [f64; 2]) -> Self {
        let [dx, dy] = by;
        Self {
            area: self.area,
            x: self.x + self.area * dx,
            y: self.y + self.area * dy,
            xx: self.xx + 2.0 * dx * self.x + self.area * dx * dx,
            yy: self.yy + 2.0 * dy * self.y + self.area * dy * dy,
            xy: self.xy + dx * self.y + dy * self.x + self.area * dx * dy,
        }
    }

    /// The same shape of a stuff that is `factor` times as stiff.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        Self {
            area: self.area * factor,
            x: self.x * factor,
            y: self.y * factor,
            xx: self.xx * factor,
            yy: self.yy * factor,
            xy: self.xy * factor,
        }
    }

    /// What it counts for where the load pulls on the bonds between layers: [`ACROSS_LAYERS`].
    #[must_use]
    pub fn across_layers(self) -> Self {
        self.times(ACROSS_LAYERS)
    }

    /// The centroid, mm. `None` without area.
    #[must_use]
    pub fn centroid(&self) -> Option<[f64; 2]> {
        (self.area.is_finite() && self.area > 0.0).then(|| [self.x / self.area, self.y / self.area])
    }

    /// Second moments about the centroid, by parallel axes. `None` without area.
    #[must_use]
    pub fn moments(&self) -> Option<Moments> {
        let [cx, cy] = self.centroid()?;
        Some(Moments {
            about_x: (self.yy - self.area * cy * cy).max(0.0),
            about_y: (self.xx - self.area * cx * cx).max(0.0),
            product: self.xy - self.area * cx * cy,
        })
    }
}

impl Moments {
    /// The least and the greatest second moment about any axis through the centroid, mm⁴.
    #[must_use]
    pub fn principal(&self) -> [f64; 2] {
        let middle = f64::midpoint(self.about_x, self.about_y);
        let radius = ((self.about_x - self.about_y) / 2.0).hypot(self.product);
        [(middle - radius).max(0.0), middle + radius]
    }
}

impl Add for Section {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self {
            area: self.area + other.area,
            x: self.x + other.x,
            y: self.y + other.y,
            xx: self.xx + other.xx,
            yy: self.yy + other.yy,
            xy: self.xy + other.xy,
        }
    }
}

impl AddAssign for Section {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Sub for Section {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        self + other.times(-1.0)
    }
}

/// How stiff a sparse core is, as a share of the solid, at least and at most, for infill that fills
/// `density` (0 to 1) of its space. At most: every strand lies along the load, so that its share counts
/// in full. At least: strands bend like the edges of an open foam, density², of L. J. Gibson and M. F.
/// Ashby, *Cellular Solids*, 2nd ed., 1997 (from memory).
#[must_use]
pub fn core(density: f64) -> [f64; 2] {
    let density = density.clamp(0.0, 1.0);
    [density * density, density]
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The shape's integrals by a grid of small squares, `edge` wide, as far as `reach` about a
    /// `middle`: slow, and of another kind.
    fn by_raster(
        inside: impl Fn(f64, f64) -> bool,
        middle: [f64; 2],
        reach: f64,
        edge: f64,
    ) -> Section {
        let steps = (reach / edge).ceil() as i32;
        let at = |step: i32, middle: f64| (f64::from(step) + 0.5) * edge + middle;
        let mut sum = Section::default();
        for column in -steps..steps {
            for row in -steps..steps {
                let (x, y) = (at(column, middle[0]), at(row, middle[1]));
                if inside(x, y) {
                    sum += Section {
                        area: 1.0,
                        x,
                        y,
                        xx: x * x,
                        yy: y * y,
                        xy: x * y,
                    }
                    .times(edge * edge);
                }
            }
        }
        sum
    }

    fn alike(a: Section, b: Section, within: f64) -> bool {
        let scale = a.area.abs().max(1.0);
        let pairs = [
            (a.area, b.area, 1.0),
            (a.x, b.x, 10.0),
            (a.y, b.y, 10.0),
            (a.xx, b.xx, 100.0),
            (a.yy, b.yy, 100.0),
            (a.xy, b.xy, 100.0),
        ];
        pairs
            .iter()
            .all(|(a, b, reach)| (a - b).abs() <= within * scale * reach)
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..Default::default() })]

        #[test]
        fn a_bead_is_what_a_raster_sees(
            fx in -6.0..6.0_f64, fy in -6.0..6.0_f64, angle in 0.0..6.3_f64, length in 1.0..4.0_f64,
            width in 0.3..2.0_f64,
        ) {
            let (sin, cos) = angle.sin_cos();
            let to = [fx + length * cos, fy + length * sin];
            // Along an axis a whole row of squares is in or out at once: an edge of an eightieth of the
            // shorter side bounds the raster's own error by 2.5 %.
            let middle = [f64::midpoint(fx, to[0]), f64::midpoint(fy, to[1])];
            let raster = by_raster(|x, y| {
                let (x, y) = (x - fx, y - fy);
                let along = x * cos + y * sin;
                (0.0..=length).contains(&along) && (y * cos - x * sin).abs() <= width / 2.0
            }, middle, (length + width) / 2.0, width.min(length) / 80.0);
            prop_assert!(alike(Section::bead([fx, fy], to, width), raster, 0.03));
        }

        #[test]
        fn a_polygon_is_what_a_raster_sees(
            corners in prop::collection::vec(2.0..9.0_f64, 3..9),
        ) {
            // A star about the origin: its radius at each of its corners.
            let turn = std::f64::consts::TAU / corners.len() as f64;
            let points: Vec<[f64; 2]> = corners.iter().enumerate()
                .map(|(at, radius)| {
                    let (sin, cos) = (turn * at as f64).sin_cos();
                    [radius * cos, radius * sin]
                })
                .collect();
            let raster = by_raster(|x, y| {
                points.iter().zip(points.iter().cycle().skip(1)).any(|(a, b)| {
                    let side = |a: &[f64; 2], b: &[f64; 2]| {
                        (b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0]) >= 0.0
                    };
                    side(&[0.0, 0.0], a) && side(a, b) && side(b, &[0.0, 0.0])
                })
            }, [0.0, 0.0], 10.0, 0.025);
            prop_assert!(alike(Section::polygon(&points), raster, 0.02));
        }

        #[test]
        fn moments_do_not_care_where_the_origin_is(
            dx in -200.0..200.0_f64, dy in -200.0..200.0_f64, angle in 0.0..6.3_f64,
        ) {
            let (sin, cos) = angle.sin_cos();
            let bead = Section::bead([0.0, 0.0], [9.0 * cos, 9.0 * sin], 0.45)
                + Section::circle(3.0);
            let (here, there) = (bead.moments().unwrap(), bead.shifted([dx, dy]).moments().unwrap());
            prop_assert!((here.about_x - there.about_x).abs() < 1e-6);
            prop_assert!((here.about_y - there.about_y).abs() < 1e-6);
            prop_assert!((here.product - there.product).abs() < 1e-6);
        }
    }

    #[test]
    fn what_has_no_area_has_no_moments() {
        assert_eq!(Section::default().moments(), None);
        assert_eq!(Section::bead([1.0, 1.0], [1.0, 1.0], 0.4).centroid(), None);
        let hole = Section::polygon(&[[0.0, 0.0], [0.0, 1.0], [1.0, 1.0], [1.0, 0.0]]);
        assert!((hole.area + 1.0).abs() < 1e-12 && hole.centroid().is_none());
        assert_eq!(Section::polygon(&[]), Section::default());
    }
}
