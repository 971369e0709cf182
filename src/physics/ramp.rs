//! One move's speed over its length under constant acceleration.
//!
//! Source: kinematics of constant acceleration, v² = v₀² + 2·a·s (textbook). A move speeds up from
//! its entry speed, keeps its cruising speed, and slows down to its exit speed, with the same
//! acceleration both ways:
//!
//! - s₁ = (v² − v₀²) / 2a to speed up, s₂ = (v² − v₁²) / 2a to slow down;
//! - s₁ + s₂ ≤ L: a trapezoid, t = (v − v₀)/a + (v − v₁)/a + (L − s₁ − s₂)/v;
//! - else a triangle with its peak at √(a·L + (v₀² + v₁²)/2), t = (2·peak − v₀ − v₁)/a;
//! - |v₁² − v₀²| > 2·a·L: the move cannot be carried out.

/// Share of the length by which a change of speed may miss it, for an exit speed that was itself
/// worked out from the length.
const SLACK: f64 = 1e-9;

/// The same as a share of the greater speed's square: on a very short and fast move the squares'
/// own rounding is larger than what the length allows.
const ROUNDING: f64 = 1e-12;

/// The shape of a move's speed over time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// It reaches its cruising speed.
    Trapezoid,
    /// It is too short for that.
    Triangle,
}

/// A move's speed over its length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ramp {
    /// Whether it reaches its cruising speed.
    pub shape: Shape,
    /// The greatest speed, in mm/s.
    pub peak: f64,
    /// Length of speeding up, in mm.
    pub accelerating: f64,
    /// Length at the peak, in mm.
    pub cruising: f64,
    /// Length of slowing down, in mm.
    pub braking: f64,
    /// The whole time, in seconds.
    pub seconds: f64,
}

/// The ramp of a move of `length` mm that enters at `entry` and leaves at `exit`, cruises at
/// `cruise` (all mm/s) and changes its speed by `acceleration` (mm/s²).
///
/// `None` where it cannot be carried out: the length is too short for the change of speed, or the
/// entry or exit speed is above the cruising speed; and where a value is no number, negative, or
/// zero where it must not be (cruise, acceleration).
#[must_use]
pub fn ramp(length: f64, entry: f64, exit: f64, cruise: f64, acceleration: f64) -> Option<Ramp> {
    let sane = length.is_finite()
        && length >= 0.0
        && entry >= 0.0
        && exit >= 0.0
        && entry <= cruise
        && exit <= cruise
        && cruise > 0.0
        && acceleration.is_finite()
        && acceleration > 0.0;
    if !sane {
        return None;
    }
    let (entered, left) = (entry * entry, exit * exit);
    let doubled = 2.0 * acceleration;
    let room = doubled * length;
    if (left - entered).abs() > room * (1.0 + SLACK) + ROUNDING * entered.max(left) {
        return None;
    }
    let to_cruise = (cruise * cruise - entered) / doubled;
    let from_cruise = (cruise * cruise - left) / doubled;
    if to_cruise + from_cruise <= length {
        let cruising = length - to_cruise - from_cruise;
        let changing = (cruise - entry) + (cruise - exit);
        return Some(Ramp {
            shape: Shape::Trapezoid,
            peak: cruise,
            accelerating: to_cruise,
            cruising,
            braking: from_cruise,
            seconds: changing / acceleration + cruising / cruise,
        });
    }
    let peak = f64::midpoint(room, entered + left)
        .sqrt()
        .max(entry)
        .max(exit);
    // (peak² − v₀²)/2a without the difference of two nearly equal squares.
    let accelerating = (0.5 * (length + (left - entered) / doubled)).clamp(0.0, length);
    let braking = length - accelerating;
    Some(Ramp {
        shape: Shape::Triangle,
        peak,
        accelerating,
        cruising: 0.0,
        braking,
        // (peak − v₀)/a likewise: a length at its mean speed.
        seconds: over_mean(accelerating, entry, peak) + over_mean(braking, peak, exit),
    })
}

/// The largest speed in mm/s that `length` mm from `speed` (mm/s) on allow under `acceleration`
/// (mm/s²), and so also the largest from which they allow slowing down to `speed`: √(v² + 2·a·L).
/// None of the three may be negative.
#[must_use]
#[inline]
pub fn reachable(speed: f64, length: f64, acceleration: f64) -> f64 {
    (speed * speed + 2.0 * acceleration * length).sqrt()
}

/// Seconds for a length in mm at the mean of two speeds in mm/s.
fn over_mean(length: f64, from: f64, to: f64) -> f64 {
    if length > 0.0 {
        2.0 * length / (from + to)
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn close(left: f64, right: f64) -> bool {
        (left - right).abs() <= 1e-9 * left.abs().max(right.abs()).max(1e-9)
    }

    /// Entry, exit and cruise with the ends below the cruise, and what they are carried out with.
    fn moves() -> impl Strategy<Value = [f64; 5]> {
        (1e-4..500.0, 0.0..1.0, 0.0..1.0, 1.0..500.0, 10.0..50_000.0).prop_map(
            |(length, entry, exit, cruise, a)| [length, entry * cruise, exit * cruise, cruise, a],
        )
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 5000, failure_persistence: None, ..Default::default() })]

        #[test]
        fn lengths_add_up_and_time_is_between_its_bounds([length, entry, exit, cruise, a] in moves()) {
            let Some(ramp) = ramp(length, entry, exit, cruise, a) else {
                prop_assert!((exit * exit - entry * entry).abs() > 2.0 * a * length);
                return Ok(());
            };
            prop_assert!(close(ramp.accelerating + ramp.cruising + ramp.braking, length));
            prop_assert!(ramp.accelerating >= 0.0 && ramp.cruising >= 0.0 && ramp.braking >= 0.0);
            prop_assert!(ramp.peak <= cruise && ramp.peak >= entry.max(exit));
            prop_assert!(ramp.seconds >= length / ramp.peak * (1.0 - 1e-9));
            prop_assert!(close(reachable(entry, ramp.accelerating, a), ramp.peak));
            prop_assert!(close(reachable(exit, ramp.braking, a), ramp.peak));
        }

        #[test]
        fn reversed_it_takes_as_long([length, entry, exit, cruise, a] in moves()) {
            let (there, back) = (ramp(length, entry, exit, cruise, a), ramp(length, exit, entry, cruise, a));
            prop_assert_eq!(there.is_some(), back.is_some());
            if let (Some(there), Some(back)) = (there, back) {
                prop_assert!(close(there.seconds, back.seconds));
                prop_assert!(close(there.accelerating, back.braking) || there.accelerating < 1e-9);
            }
        }

        #[test]
        fn faster_by_k_and_k_squared_takes_a_kth([length, entry, exit, cruise, a] in moves(), k in 0.1..10.0) {
            let plain = ramp(length, entry, exit, cruise, a);
            let scaled = ramp(length, k * entry, k * exit, k * cruise, k * k * a);
            if let (Some(plain), Some(scaled)) = (plain, scaled) {
                prop_assert!(close(plain.seconds, k * scaled.seconds));
            }
        }

        #[test]
        fn split_while_cruising_it_takes_as_long(cruise in 1.0..300.0, a in 100.0..10_000.0, share in 0.0..1.0) {
            let ends = cruise * cruise / (2.0 * a);
            let length = 2.0 * ends + 50.0;
            let first = ends + 50.0 * share;
            let whole = ramp(length, 0.0, 0.0, cruise, a).unwrap();
            let parts = ramp(first, 0.0, cruise, cruise, a).unwrap().seconds
                + ramp(length - first, cruise, 0.0, cruise, a).unwrap().seconds;
            prop_assert!(close(whole.seconds, parts));
        }

        #[test]
        fn an_exit_worked_out_from_the_length_is_carried_out(length in 1e-12..100.0, entry in 0.0..1000.0, a in 10.0..50_000.0) {
            let exit = reachable(entry, length, a);
            prop_assert!(ramp(length, entry, exit, exit, a).is_some());
            prop_assert!(ramp(length, exit, entry, exit, a).is_some());
        }
    }

    #[test]
    fn what_cannot_be_carried_out_says_so() {
        assert_eq!(ramp(0.2, 50.0, 0.0, 60.0, 1000.0), None);
        assert_eq!(ramp(10.0, 70.0, 0.0, 60.0, 1000.0), None);
        assert_eq!(ramp(10.0, 0.0, 70.0, 60.0, 1000.0), None);
        assert_eq!(ramp(10.0, 0.0, 0.0, 0.0, 1000.0), None);
        assert_eq!(ramp(0.0, 0.0, 1.0, 60.0, 1000.0), None);
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(ramp(10.0, 0.0, 0.0, 60.0, bad), None);
        }
        for bad in [-1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(ramp(bad, 0.0, 0.0, 60.0, 1000.0), None);
            assert_eq!(ramp(10.0, bad, 0.0, 60.0, 1000.0), None);
            assert_eq!(ramp(10.0, 0.0, bad, 60.0, 1000.0), None);
        }
    }

    #[test]
    fn no_length_takes_no_time() {
        for speed in [0.0, 30.0] {
            let ramp = ramp(0.0, speed, speed, 60.0, 1000.0).unwrap();
            assert_eq!((ramp.seconds, ramp.peak), (0.0, speed));
        }
    }
}
