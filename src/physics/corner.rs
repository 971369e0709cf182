//! The largest speed through the corner between two straight moves.
//!
//! Two rules are in use, and they differ by more than a little, so whoever calls must know which
//! one a control follows:
//!
//! - *corner deviation* ([`by_deviation`]): a circle tangent to both moves passes the corner at a
//!   stated distance, and its centripetal acceleration stays within the acceleration (formula and
//!   sign convention published in open planner source; the derivation is plane geometry);
//! - *instant speed change* (common practice, no source): the velocity jumps at the corner, and the
//!   jump is limited axis by axis ([`by_axis_change`]) or as a vector ([`by_vector_change`]). At a
//!   right angle along the axes these two differ by √2.
//!
//! A direction is how far each axis goes for one millimetre of path: a unit vector, where the path
//! is that of all its axes. Speeds before and after the corner are taken to be equal. Straight on,
//! there is no limit: infinity. On a full reversal the deviation allows 0, a speed change half of
//! itself.

/// By corner deviation, between two unit vectors, with the deviation in mm and the acceleration in
/// mm/s²; in mm/s.
///
/// With θ the angle between the moves (180° straight on): R = d·sin(θ/2) / (1 − sin(θ/2)) and
/// v² = a·R. Here sin(θ/2) = |u₁ + u₂|/2 and cos(θ/2) = |u₂ − u₁|/2, and 1/(1 − sin) is taken as
/// (1 + sin)/cos²: nothing cancels on a corner that is nearly straight.
#[must_use]
pub fn by_deviation<const N: usize>(
    before: [f64; N],
    after: [f64; N],
    deviation: f64,
    acceleration: f64,
) -> f64 {
    let (mut along, mut across) = (0.0, 0.0);
    for (before, after) in before.into_iter().zip(after) {
        along += (before + after) * (before + after);
        across += (after - before) * (after - before);
    }
    from_squares(0.25 * along, 0.25 * across, deviation, acceleration)
}

/// The same from the cosine of the turn: the product u₁·u₂, 1 straight on and −1 on a reversal
/// (the angle θ between the moves has the opposite cosine). Less exact than [`by_deviation`] below
/// a turn of about a thousandth of a degree.
#[must_use]
pub fn by_deviation_at(turn_cosine: f64, deviation: f64, acceleration: f64) -> f64 {
    let along = 0.5 * (1.0 + turn_cosine);
    from_squares(along, 1.0 - along, deviation, acceleration)
}

/// From sin²(θ/2) and cos²(θ/2).
#[inline]
fn from_squares(sine: f64, cosine: f64, deviation: f64, acceleration: f64) -> f64 {
    if cosine <= 0.0 {
        return f64::INFINITY;
    }
    let sine = sine.clamp(0.0, 1.0).sqrt();
    (acceleration * deviation * sine * (1.0 + sine) / cosine).sqrt()
}

/// By instant speed change axis by axis: the largest speed at which no axis changes its own by more
/// than its limit (mm/s), v = min Jᵢ / |u₂ᵢ − u₁ᵢ|; in mm/s. An axis without a limit has infinity.
///
/// The directions may hold axes that are no part of the path, such as the filament.
#[must_use]
pub fn by_axis_change<const N: usize>(before: [f64; N], after: [f64; N], limits: [f64; N]) -> f64 {
    let mut least = f64::INFINITY;
    for ((before, after), limit) in before.into_iter().zip(after).zip(limits) {
        let change = (after - before).abs();
        if change > 0.0 {
            least = least.min(limit / change);
        }
    }
    least
}

/// By instant speed change as a vector: v = J / |u₂ − u₁|, which is J / (2·sin(turn/2)) for unit
/// vectors, with J in mm/s; in mm/s.
#[must_use]
pub fn by_vector_change<const N: usize>(before: [f64; N], after: [f64; N], limit: f64) -> f64 {
    let mut square = 0.0;
    for (before, after) in before.into_iter().zip(after) {
        square += (after - before) * (after - before);
    }
    over(limit, square)
}

/// The same from the cosine of the turn, as in [`by_deviation_at`]: |u₂ − u₁|² = 2·(1 − u₁·u₂).
#[must_use]
pub fn by_vector_change_at(turn_cosine: f64, limit: f64) -> f64 {
    over(limit, 2.0 * (1.0 - turn_cosine))
}

fn over(limit: f64, square: f64) -> f64 {
    if square > 0.0 {
        limit / square.sqrt()
    } else {
        f64::INFINITY
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn close(left: f64, right: f64, share: f64) -> bool {
        (left - right).abs() <= share * left.abs().max(right.abs())
    }

    /// Two unit vectors in the plane, `turn` radians apart, the first at `start`.
    fn pair(start: f64, turn: f64) -> ([f64; 2], [f64; 2]) {
        (
            [start.cos(), start.sin()],
            [(start + turn).cos(), (start + turn).sin()],
        )
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 5000, failure_persistence: None, ..Default::default() })]

        #[test]
        fn vectors_and_cosine_agree(start in 0.0..6.3, turn in 0.01..3.1, figure in 0.001..20.0, a in 10.0..20_000.0) {
            let (before, after) = pair(start, turn);
            prop_assert!(close(by_deviation(before, after, figure, a), by_deviation_at(turn.cos(), figure, a), 1e-9));
            prop_assert!(close(by_vector_change(before, after, figure), by_vector_change_at(turn.cos(), figure), 1e-9));
            prop_assert!(close(by_vector_change(before, after, figure), figure / (2.0 * (0.5 * turn).sin()), 1e-9));
        }

        #[test]
        fn the_path_decides_and_not_where_it_points(start in 0.0..6.3, turn in 0.01..3.1) {
            let (before, after) = pair(start, turn);
            let (east, turned) = pair(0.0, turn);
            prop_assert!(close(by_deviation(before, after, 0.02, 1000.0), by_deviation(east, turned, 0.02, 1000.0), 1e-9));
            prop_assert!(close(by_vector_change(before, after, 8.0), by_vector_change(east, turned, 8.0), 1e-9));
            // Backwards along the same corner.
            let (there, back) = (after.map(|part| -part), before.map(|part| -part));
            prop_assert!(close(by_deviation(before, after, 0.02, 1000.0), by_deviation(there, back, 0.02, 1000.0), 1e-9));
        }

        #[test]
        fn sharper_is_slower(turn in 0.01..3.0, more in 0.01..0.1) {
            let (east, gentle) = pair(0.0, turn);
            let (_, sharp) = pair(0.0, turn + more);
            prop_assert!(by_deviation(east, sharp, 0.02, 1000.0) < by_deviation(east, gentle, 0.02, 1000.0));
            prop_assert!(by_vector_change(east, sharp, 8.0) < by_vector_change(east, gentle, 8.0));
        }

        #[test]
        fn an_axis_allows_between_the_vector_and_root_two_of_it(start in 0.0..6.3, turn in 0.01..3.1) {
            let (before, after) = pair(start, turn);
            let (vector, axis) = (by_vector_change(before, after, 8.0), by_axis_change(before, after, [8.0; 2]));
            prop_assert!(axis >= vector * (1.0 - 1e-12));
            prop_assert!(axis <= vector * std::f64::consts::SQRT_2 * (1.0 + 1e-12));
        }
    }

    #[test]
    fn straight_on_has_no_limit() {
        let east = [1.0, 0.0, 0.0];
        assert_eq!(by_deviation(east, east, 0.02, 1000.0), f64::INFINITY);
        assert_eq!(by_axis_change(east, east, [8.0; 3]), f64::INFINITY);
        assert_eq!(by_vector_change(east, east, 8.0), f64::INFINITY);
        assert_eq!(by_deviation_at(1.0, 0.02, 1000.0), f64::INFINITY);
        assert_eq!(by_vector_change_at(1.0, 8.0), f64::INFINITY);
        // A product of unit vectors may be rounded past 1.
        assert_eq!(by_deviation_at(1.0 + 1e-15, 0.02, 1000.0), f64::INFINITY);
        assert_eq!(by_vector_change_at(1.0 + 1e-15, 8.0), f64::INFINITY);
    }

    #[test]
    fn a_reversal_stops_or_jumps_by_all_of_it() {
        let (east, west) = ([1.0, 0.0, 0.0], [-1.0, 0.0, 0.0]);
        assert_eq!(by_deviation(east, west, 0.02, 1000.0), 0.0);
        assert_eq!(by_deviation_at(-1.0, 0.02, 1000.0), 0.0);
        assert_eq!(by_deviation_at(-1.0 - 1e-15, 0.02, 1000.0), 0.0);
        assert_eq!(by_axis_change(east, west, [8.0; 3]), 4.0);
        assert_eq!(by_vector_change(east, west, 8.0), 4.0);
        assert_eq!(by_vector_change_at(-1.0, 8.0), 4.0);
    }

    #[test]
    fn an_axis_without_a_limit_limits_nothing() {
        let (before, after) = ([1.0, 0.0, 0.03], [0.0, 1.0, -0.1]);
        let open = f64::INFINITY;
        assert_eq!(by_axis_change(before, after, [open; 3]), open);
        assert_eq!(by_axis_change(before, after, [8.0, 16.0, open]), 8.0);
        let by_filament = by_axis_change(before, after, [open, open, 0.5]);
        assert!((by_filament - 0.5 / 0.13).abs() < 1e-12);
        assert_eq!(by_axis_change(before, after, [0.0; 3]), 0.0);
    }
}
