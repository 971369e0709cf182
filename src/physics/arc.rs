//! Circular arcs in a plane, in both forms of RS-274.
//!
//! Source of the rules: T. R. Kramer, F. M. Proctor, E. Messina, *The NIST RS274NGC Interpreter -
//! Version 3*, NISTIR 6556, 2000, section 3.5.3 (published). The geometry is plane trigonometry.
//!
//! A plane is a pair of coordinates (a, b) whose normal completes a right-handed system, so that
//! counterclockwise, seen from the normal's positive end, is the way from +a to +b: G17 is (X, Y),
//! G18 is **(Z, X)** and G19 is (Y, Z). Handing over (X, Z) for G18 turns every arc the wrong way.

use std::f64::consts::{FRAC_PI_2, TAU};

/// How far the end may lie off the circle in the centre form, in millimetres
/// (NIST RS274NGC, 3.5.3.2, for G21; published).
pub const CENTRE_TOLERANCE: f64 = 0.002;

/// The same where the job is written in inches: 0.0002 in (NIST RS274NGC, 3.5.3.2, for G20;
/// published).
pub const CENTRE_TOLERANCE_INCH: f64 = 0.00508;

/// How far half the chord may exceed the stated radius in the radius form, in millimetres; the arc
/// is then the half circle over the chord. The report names no figure here: ours is that of the
/// centre form (chosen), so that half circles written with three decimals are understood.
pub const RADIUS_TOLERANCE: f64 = 0.002;

/// Why words do not describe an arc.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum ArcFault {
    /// A coordinate, offset or radius is infinite or not a number.
    #[error("arc with a coordinate that is no finite number")]
    NotFinite,
    /// The centre is the start, or the radius is zero.
    #[error("arc of radius 0 mm")]
    NoRadius,
    /// Radius form with the end at the start: infinitely many circles pass there
    /// (NIST RS274NGC, 3.5.3.1).
    #[error("arc in radius form that ends where it starts")]
    EndIsStart,
    /// Radius form with an end that no circle of this radius reaches.
    #[error("arc whose end is {chord:.4} mm away, more than its diameter of {diameter:.4} mm")]
    ChordTooLong {
        /// From start to end, in millimetres.
        chord: f64,
        /// Twice the stated radius, in millimetres.
        diameter: f64,
    },
}

/// An arc of one circle, up to one turn (more with [`Arc::with_extra_turns`]).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arc {
    /// Where it starts, in millimetres.
    pub start: [f64; 2],
    /// Where it ends, in millimetres.
    pub end: [f64; 2],
    /// The centre, in millimetres.
    pub centre: [f64; 2],
    /// The radius in millimetres: the mean of the distances of start and end from the centre.
    pub radius: f64,
    /// End's distance from the centre less start's, in millimetres. Zero on a true arc; in the
    /// centre form whoever calls holds its size against [`CENTRE_TOLERANCE`].
    pub drift: f64,
    /// The angle passed through, in radians, above 0.
    pub sweep: f64,
    /// The direction from the centre to the start, in radians from +a towards +b.
    pub start_angle: f64,
    /// Whether it runs clockwise seen from the positive end of the plane's normal (G2).
    pub clockwise: bool,
}

/// An arc by its centre, given as the offset from the start (the words I, J, K). An end equal to
/// the start is a full circle.
///
/// An end that lies off the circle is no fault here: [`Arc::drift`] says by how much.
///
/// # Errors
///
/// [`ArcFault::NotFinite`], and [`ArcFault::NoRadius`] when the offset is zero.
pub fn from_centre(
    start: [f64; 2],
    end: [f64; 2],
    offset: [f64; 2],
    clockwise: bool,
) -> Result<Arc, ArcFault> {
    if !all_finite([start, end, offset]) {
        return Err(ArcFault::NotFinite);
    }
    let start_radius = offset[0].hypot(offset[1]);
    if start_radius == 0.0 {
        return Err(ArcFault::NoRadius);
    }
    let chord = [end[0] - start[0], end[1] - start[1]];
    // From the centre to the start, and to the end. The products are taken with the chord and not
    // with the end's vector: on a short arc of a large circle nothing cancels then.
    let from = [-offset[0], -offset[1]];
    let to = [from[0] + chord[0], from[1] + chord[1]];
    let cross = from[0] * chord[1] - from[1] * chord[0];
    let dot = from[0] * to[0] + from[1] * to[1];
    let turned = if clockwise {
        (-cross).atan2(dot)
    } else {
        cross.atan2(dot)
    };
    let sweep = if turned > 0.0 { turned } else { turned + TAU };
    let end_radius = to[0].hypot(to[1]);
    Ok(Arc {
        start,
        end,
        centre: [start[0] + offset[0], start[1] + offset[1]],
        radius: 0.5 * (start_radius + end_radius),
        drift: end_radius - start_radius,
        sweep,
        start_angle: from[1].atan2(from[0]),
        clockwise,
    })
}

/// An arc by its radius (the word R): 180° or less for a positive radius, more for a negative one
/// (NIST RS274NGC, 3.5.3.1).
///
/// The centre lies h = √(R² − c²/4) off the middle of the chord c and the smaller of the two arcs
/// sweeps 2·atan(c / 2h). Near the half circle the centre moves by ½·tan(sweep/2) for each
/// millimetre of the chord, which is why the report calls such arcs bad practice.
///
/// # Errors
///
/// [`ArcFault::NotFinite`]; [`ArcFault::NoRadius`] for R0; [`ArcFault::EndIsStart`];
/// [`ArcFault::ChordTooLong`] past [`RADIUS_TOLERANCE`].
pub fn from_radius(
    start: [f64; 2],
    end: [f64; 2],
    radius: f64,
    clockwise: bool,
) -> Result<Arc, ArcFault> {
    if !all_finite([start, end, [radius, 0.0]]) {
        return Err(ArcFault::NotFinite);
    }
    if radius == 0.0 {
        return Err(ArcFault::NoRadius);
    }
    let chord = [end[0] - start[0], end[1] - start[1]];
    let length = chord[0].hypot(chord[1]);
    if length == 0.0 {
        return Err(ArcFault::EndIsStart);
    }
    let half = 0.5 * length;
    let stated = radius.abs();
    if half - stated > RADIUS_TOLERANCE {
        return Err(ArcFault::ChordTooLong {
            chord: length,
            diameter: 2.0 * stated,
        });
    }
    // As a product, because R² − c²/4 loses half its digits near the half circle.
    let height = ((stated - half).max(0.0) * (stated + half)).sqrt();
    let small = 2.0 * half.atan2(height);
    let sweep = if radius > 0.0 { small } else { TAU - small };
    // Counterclockwise and up to 180°, the centre is on the left hand of the chord; each of the two
    // other choices moves it across.
    let side = if clockwise == (radius > 0.0) {
        -1.0
    } else {
        1.0
    };
    let left = [-chord[1] / length, chord[0] / length];
    let offset = [
        0.5 * chord[0] + side * height * left[0],
        0.5 * chord[1] + side * height * left[1],
    ];
    Ok(Arc {
        start,
        end,
        centre: [start[0] + offset[0], start[1] + offset[1]],
        radius: stated.max(half),
        drift: 0.0,
        sweep,
        start_angle: (-offset[1]).atan2(-offset[0]),
        clockwise,
    })
}

impl Arc {
    /// The same arc with whole turns added before its end (the word P counts one more than this
    /// where a control knows it; common practice).
    #[must_use]
    pub fn with_extra_turns(mut self, turns: u32) -> Self {
        self.sweep += TAU * f64::from(turns);
        self
    }

    /// Its length in the plane, in millimetres: radius times sweep.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.radius * self.sweep
    }

    /// Its length in millimetres when the third axis moves along by `rise` millimetres: a helix,
    /// whose development is a right triangle.
    #[must_use]
    pub fn length_with(&self, rise: f64) -> f64 {
        self.length().hypot(rise)
    }

    /// The point after `fraction` (0 to 1) of the sweep, in millimetres.
    #[must_use]
    pub fn point(&self, fraction: f64) -> [f64; 2] {
        let turned = self.sweep * fraction;
        let angle = if self.clockwise {
            self.start_angle - turned
        } else {
            self.start_angle + turned
        };
        let radius = self.radius_at(fraction);
        [
            self.centre[0] + radius * angle.cos(),
            self.centre[1] + radius * angle.sin(),
        ]
    }

    /// The direction of the path after `fraction` (0 to 1) of the sweep: a unit vector.
    #[must_use]
    pub fn direction(&self, fraction: f64) -> [f64; 2] {
        let turned = self.sweep * fraction;
        if self.clockwise {
            let angle = self.start_angle - turned;
            [angle.sin(), -angle.cos()]
        } else {
            let angle = self.start_angle + turned;
            [-angle.sin(), angle.cos()]
        }
    }

    /// The smallest box around it, as least a, least b, greatest a, greatest b, in millimetres:
    /// its two ends and those of the circle's four outermost points that it passes.
    #[must_use]
    pub fn bounds(&self) -> [f64; 4] {
        let [start_a, start_b] = self.start;
        let [end_a, end_b] = self.end;
        let mut low = [start_a.min(end_a), start_b.min(end_b)];
        let mut high = [start_a.max(end_a), start_b.max(end_b)];
        let outermost = [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)];
        let mut angle = 0.0;
        for (towards_a, towards_b) in outermost {
            let away = if self.clockwise {
                self.start_angle - angle
            } else {
                angle - self.start_angle
            };
            let away = away.rem_euclid(TAU);
            if away <= self.sweep {
                let radius = self.radius_at(away / self.sweep);
                let a = self.centre[0] + radius * towards_a;
                let b = self.centre[1] + radius * towards_b;
                low = [low[0].min(a), low[1].min(b)];
                high = [high[0].max(a), high[1].max(b)];
            }
            angle += FRAC_PI_2;
        }
        [low[0], low[1], high[0], high[1]]
    }

    /// The distance from the centre after `fraction` of the sweep: even drift from start to end.
    fn radius_at(&self, fraction: f64) -> f64 {
        self.radius + self.drift * (fraction - 0.5)
    }
}

fn all_finite(points: [[f64; 2]; 3]) -> bool {
    points.iter().flatten().all(|value| value.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::f64::consts::PI;

    fn place() -> impl Strategy<Value = [f64; 2]> {
        [-500.0..500.0, -500.0..500.0]
    }

    /// An arc by its circle: no drift, any direction, any sweep short of a full turn.
    fn true_arc() -> impl Strategy<Value = Arc> {
        (
            place(),
            0.01..300.0,
            -PI..PI,
            0.001..(TAU - 0.001),
            any::<bool>(),
        )
            .prop_map(
                |(centre, radius, from, sweep, clockwise): ([f64; 2], f64, f64, f64, bool)| {
                    let to = if clockwise {
                        from - sweep
                    } else {
                        from + sweep
                    };
                    let start = [
                        centre[0] + radius * from.cos(),
                        centre[1] + radius * from.sin(),
                    ];
                    let end = [centre[0] + radius * to.cos(), centre[1] + radius * to.sin()];
                    let offset = [centre[0] - start[0], centre[1] - start[1]];
                    from_centre(start, end, offset, clockwise).unwrap()
                },
            )
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 2000, failure_persistence: None, ..Default::default() })]

        #[test]
        fn bounds_contain_every_point_and_are_tight(arc in true_arc()) {
            let [low_a, low_b, high_a, high_b] = arc.bounds();
            let mut seen = [f64::MAX, f64::MAX, f64::MIN, f64::MIN];
            let steps = 400_u32;
            for step in 0..=steps {
                let [a, b] = arc.point(f64::from(step) / f64::from(steps));
                seen = [seen[0].min(a), seen[1].min(b), seen[2].max(a), seen[3].max(b)];
            }
            let rounding = 1e-9;
            prop_assert!(seen[0] >= low_a - rounding && seen[1] >= low_b - rounding);
            prop_assert!(seen[2] <= high_a + rounding && seen[3] <= high_b + rounding);
            // Between two samples an arc bulges by no more than r·(step/2)²/2.
            let half_step = arc.sweep / f64::from(steps) / 2.0;
            let bulge = arc.radius * half_step * half_step / 2.0 + rounding;
            prop_assert!(seen[0] <= low_a + bulge && seen[1] <= low_b + bulge);
            prop_assert!(seen[2] >= high_a - bulge && seen[3] >= high_b - bulge);
        }

        #[test]
        fn length_is_that_of_many_short_chords(arc in true_arc()) {
            let steps = 2000_u32;
            let mut sum = 0.0;
            let mut last = arc.point(0.0);
            for step in 1..=steps {
                let next = arc.point(f64::from(step) / f64::from(steps));
                sum += (next[0] - last[0]).hypot(next[1] - last[1]);
                last = next;
            }
            // The polygon is short by (step angle)²/24 of the length.
            let angle = arc.sweep / f64::from(steps);
            prop_assert!((arc.length() - sum).abs() <= arc.length() * angle * angle / 20.0 + 1e-8);
            prop_assert!((arc.length() - arc.radius * arc.sweep).abs() <= 1e-12 * arc.length());
        }

        #[test]
        fn the_way_back_is_as_long(arc in true_arc()) {
            let offset = [arc.centre[0] - arc.end[0], arc.centre[1] - arc.end[1]];
            let back = from_centre(arc.end, arc.start, offset, !arc.clockwise).unwrap();
            prop_assert!((back.length() - arc.length()).abs() < 1e-8);
            for (there, again) in arc.bounds().into_iter().zip(back.bounds()) {
                prop_assert!((there - again).abs() < 1e-8);
            }
        }

        #[test]
        fn both_ways_round_make_a_full_circle(arc in true_arc()) {
            let offset = [arc.centre[0] - arc.start[0], arc.centre[1] - arc.start[1]];
            let other = from_centre(arc.start, arc.end, offset, !arc.clockwise).unwrap();
            prop_assert!((arc.sweep + other.sweep - TAU).abs() < 1e-12);
        }

        #[test]
        fn it_ends_at_its_end(arc in true_arc()) {
            let [a, b] = arc.point(1.0);
            prop_assert!((a - arc.end[0]).hypot(b - arc.end[1]) < 1e-9);
            let [a, b] = arc.point(0.0);
            prop_assert!((a - arc.start[0]).hypot(b - arc.start[1]) < 1e-9);
        }

        #[test]
        fn both_forms_name_the_same_arc(
            start in place(), end in place(), over in 1.0001..20.0, major in any::<bool>(),
            clockwise in any::<bool>(),
        ) {
            let half = 0.5 * (end[0] - start[0]).hypot(end[1] - start[1]);
            prop_assume!(half > 0.01);
            let stated = if major { -half * over } else { half * over };
            let by_radius = from_radius(start, end, stated, clockwise).unwrap();
            let offset = [by_radius.centre[0] - start[0], by_radius.centre[1] - start[1]];
            let by_centre = from_centre(start, end, offset, clockwise).unwrap();
            prop_assert!((by_radius.sweep - by_centre.sweep).abs() < 1e-9);
            prop_assert!((by_radius.radius - by_centre.radius).abs() < 1e-9 * by_radius.radius);
            prop_assert!(by_centre.drift.abs() < 1e-9 * by_radius.radius);
            prop_assert_eq!(by_radius.sweep > PI, major);
            let [a, b] = by_radius.point(1.0);
            prop_assert!((a - end[0]).hypot(b - end[1]) < 1e-9 * by_radius.radius);
        }

        #[test]
        fn extra_turns_add_circumferences(arc in true_arc(), turns in 0_u32..20) {
            let more = arc.with_extra_turns(turns);
            let expected = arc.length() + f64::from(turns) * TAU * arc.radius;
            prop_assert!((more.length() - expected).abs() <= 1e-12 * expected);
            prop_assert_eq!(more.end, arc.end);
        }
    }

    #[test]
    fn near_the_half_circle_the_sweep_keeps_its_digits() {
        // A chord short of the diameter by e: sweep = 2·asin(1 − e/2r), about π − 2·√(e/r). Taking
        // √(R² − c²/4) from the squares would leave about half the digits here.
        let radius = 10.0;
        for exponent in [-4, -8, -12] {
            let short = 10.0_f64.powi(exponent);
            let arc = from_radius([0.0, 0.0], [2.0 * radius - short, 0.0], radius, true).unwrap();
            let expected = PI - 2.0 * (short / radius).sqrt();
            // The next term of the series is (e/r)^1.5/12; the chord itself is known to 2e-15 only.
            let known = 2.0 * (short / radius).powf(1.5) + 4e-15 / (short * radius).sqrt();
            assert!((arc.sweep - expected).abs() <= known, "{short} mm short");
        }
    }

    #[test]
    fn short_arc_of_a_huge_circle_keeps_its_length() {
        // 1 µm of a circle of 1 km: the chord is the length to one part in 10¹⁹.
        let radius = 1e6;
        let angle = 1e-9_f64;
        let end = [
            radius * angle.sin(),
            -2.0 * radius * (angle / 2.0).sin().powi(2),
        ];
        let arc = from_centre([0.0, 0.0], end, [0.0, -radius], true).unwrap();
        assert!((arc.length() - 1e-3).abs() < 1e-12, "{}", arc.length());
    }

    #[test]
    fn a_drifting_arc_goes_from_its_start_to_its_end() {
        // A half circle from radius 5.001 to 4.999, and what it passes half-way.
        let arc = from_centre([0.0, 0.0], [10.0, 0.0], [5.001, 0.0], true).unwrap();
        for (fraction, [a, b]) in [(0.0, [0.0, 0.0]), (0.5, [5.001, 5.0]), (1.0, [10.0, 0.0])] {
            let [seen_a, seen_b] = arc.point(fraction);
            assert!((seen_a - a).hypot(seen_b - b) < 1e-12, "{fraction}");
        }
        let expected = [0.0, 0.0, 10.0, 5.0];
        for (side, expected) in arc.bounds().into_iter().zip(expected) {
            assert!((side - expected).abs() < 1e-12);
        }
        assert!((arc.length() - 5.0 * PI).abs() < 1e-12);
    }

    #[test]
    fn extra_turns_reach_the_whole_circle() {
        let quarter = from_centre([1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], false).unwrap();
        assert_eq!(quarter.bounds(), [0.0, 0.0, 1.0, 1.0]);
        assert_eq!(quarter.with_extra_turns(1).bounds(), [-1.0, -1.0, 1.0, 1.0]);
    }

    #[test]
    fn words_that_are_no_arc() {
        let (start, end) = ([0.0, 0.0], [1.0, 0.0]);
        assert_eq!(
            from_centre(start, end, [0.0, 0.0], true),
            Err(ArcFault::NoRadius)
        );
        assert_eq!(from_radius(start, end, 0.0, true), Err(ArcFault::NoRadius));
        assert_eq!(
            from_radius(start, start, 1.0, true),
            Err(ArcFault::EndIsStart)
        );
        for bad in [f64::NAN, f64::INFINITY] {
            assert_eq!(
                from_centre(start, [bad, 0.0], [1.0, 0.0], true),
                Err(ArcFault::NotFinite)
            );
            assert_eq!(from_radius(start, end, bad, true), Err(ArcFault::NotFinite));
        }
    }

    #[test]
    fn faults_say_what_is_wrong() {
        let fault = from_radius([0.0, 0.0], [10.0, 0.0], 4.9, true).unwrap_err();
        assert_eq!(
            fault.to_string(),
            "arc whose end is 10.0000 mm away, more than its diameter of 9.8000 mm"
        );
    }
}
