//! A body that warms or cools towards a resting temperature: the lumped first-order law.
//!
//! T(t) = T∞ + (T0 − T∞)·exp(−t/τ) with τ = ρVc/(hA), valid for a Biot number below 0.1
//! (F. P. Incropera, D. P. DeWitt et al., *Fundamentals of Heat and Mass Transfer*, chapter 5;
//! book from memory, the law is textbook knowledge).
//!
//! A hotend or a bed under a thermostat ([`Warmth`]) is such a body: full power against the loss to
//! the room until the target is reached and held; heater off while it is above. Overshoot, sensor
//! lag and the control's own ramps are left out, so a real heater is rarely quicker than this.

/// The temperature in °C after `seconds` of a body at `from` (°C) that would rest at `rest` (°C),
/// with the time constant `tau` in seconds. A time constant of zero or below is a body without
/// mass, which is at rest at once.
#[must_use]
pub fn temperature(from: f64, rest: f64, tau: f64, seconds: f64) -> f64 {
    if seconds <= 0.0 {
        from
    } else if tau <= 0.0 {
        rest
    } else {
        // rest + (from − rest)·exp(−t/τ), written so that no time gives exactly `from`.
        from + (from - rest) * (-seconds / tau).exp_m1()
    }
}

/// Seconds until that body is at `goal` (°C): t = −τ·ln((T∞ − goal)/(T∞ − T0)). `None` means never:
/// the goal lies at or past the rest, or on the other side.
#[must_use]
pub fn time_to(from: f64, rest: f64, tau: f64, goal: f64) -> Option<f64> {
    if goal == from {
        return Some(0.0);
    }
    // How much of the way from start to rest the goal is.
    let part = (goal - from) / (rest - from);
    if !(part > 0.0 && part < 1.0 && tau.is_finite()) {
        return None;
    }
    Some(-tau.max(0.0) * (-part).ln_1p())
}

/// The time constant in seconds of a body that went from `from` to `goal` in `seconds` on its way
/// to `rest` (all °C), as a sheet states it ("20 °C to 240 °C in 90 s"). `None` when no time
/// constant does that.
#[must_use]
pub fn time_constant(from: f64, rest: f64, goal: f64, seconds: f64) -> Option<f64> {
    let unit = time_to(from, rest, 1.0, goal)?;
    let tau = seconds / unit;
    (tau.is_finite() && tau > 0.0).then_some(tau)
}

/// A rest and a time constant, found from measurements.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    /// Where the body would come to rest, in °C.
    pub rest: f64,
    /// The time constant, in seconds.
    pub tau: f64,
}

/// Fits rest and time constant to a body that starts at ambient (°C) and reads `at_once` (°C) after
/// `seconds` and `at_twice` (°C) after twice as long: with a = (T(2t) − T(t))/(T(t) − T_amb),
/// T∞ = T_amb + (T(t) − T_amb)/(1 − a) and τ = −t/ln a.
///
/// `None` where a is not between 0 and 1: such readings are no first-order warming (or came too
/// early to tell).
#[must_use]
pub fn fit(ambient: f64, seconds: f64, at_once: f64, at_twice: f64) -> Option<Fit> {
    let first = at_once - ambient;
    let ratio = (at_twice - at_once) / first;
    if !(ratio > 0.0 && ratio < 1.0 && seconds.is_finite() && seconds > 0.0) {
        return None;
    }
    let fit = Fit {
        rest: ambient + first / (1.0 - ratio),
        tau: -seconds / ratio.ln(),
    };
    (fit.rest.is_finite() && fit.tau.is_finite()).then_some(fit)
}

/// A hotend or bed from the moment a target was set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Warmth {
    /// The temperature at that moment, in °C.
    pub start: f64,
    /// The target, in °C; for a heater switched off any value at or below ambient (0).
    pub target: f64,
    /// Where it would come to rest with the heater always on, in °C: ambient + power / loss.
    pub full_power_rest: f64,
    /// The time constant of heating and of cooling, in seconds: capacity / loss.
    pub tau: f64,
    /// The surroundings, in °C.
    pub ambient: f64,
}

impl Warmth {
    /// The temperature in °C, `seconds` after the target was set.
    ///
    /// Below its target it warms towards [`Warmth::full_power_rest`] and holds the target once
    /// there; above, it cools towards ambient and holds the target once there. A target that full
    /// power cannot hold is not held.
    #[must_use]
    pub fn at(&self, seconds: f64) -> f64 {
        if self.is_heating() {
            return self.heated(self.start, seconds).min(self.target);
        }
        let cooled = temperature(self.start, self.ambient, self.tau, seconds);
        if cooled > self.target {
            return cooled;
        }
        let until = time_to(self.start, self.ambient, self.tau, self.target).unwrap_or(0.0);
        self.heated(self.target, seconds - until).min(self.target)
    }

    /// Seconds from setting the target until the temperature has come to `goal` (°C), `Some(0)`
    /// where it already is there or past it in the direction of the target. `None` means never:
    /// beyond the target, or beyond what the heater or the surroundings allow.
    #[must_use]
    pub fn reaches(&self, goal: f64) -> Option<f64> {
        if self.is_heating() {
            if goal <= self.start {
                Some(0.0)
            } else if goal > self.target {
                None
            } else {
                time_to(self.start, self.full_power_rest, self.tau, goal)
            }
        } else if goal >= self.start {
            Some(0.0)
        } else if goal < self.target {
            None
        } else {
            time_to(self.start, self.ambient, self.tau, goal)
        }
    }

    fn is_heating(&self) -> bool {
        self.target >= self.start
    }

    fn heated(&self, from: f64, seconds: f64) -> f64 {
        temperature(from, self.full_power_rest, self.tau, seconds)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// A hotend of our own invention: 50 W against 0.125 W/K is 400 K above the room.
    const HOTEND: Warmth = Warmth {
        start: 20.0,
        target: 240.0,
        full_power_rest: 420.0,
        tau: 180.0,
        ambient: 20.0,
    };

    #[test]
    fn it_warms_and_then_holds() {
        let seconds = HOTEND.reaches(240.0).unwrap();
        // −180·ln(180/400), worked by hand.
        assert!((seconds - 143.7314).abs() < 1e-3, "{seconds}");
        assert!(HOTEND.at(seconds - 1.0) < 240.0);
        assert!((HOTEND.at(seconds + 1.0) - 240.0).abs() < 1e-12);
        assert!((HOTEND.at(36_000.0) - 240.0).abs() < 1e-12);
        assert!((HOTEND.at(0.0) - 20.0).abs() < 1e-12);
    }

    #[test]
    fn it_cools_and_then_holds() {
        let cooling = Warmth {
            start: 240.0,
            target: 100.0,
            ..HOTEND
        };
        let seconds = cooling.reaches(100.0).unwrap();
        // 180·ln(220/80).
        assert!((seconds - 182.0882).abs() < 1e-3, "{seconds}");
        assert!(cooling.at(seconds - 1.0) > 100.0);
        assert!((cooling.at(seconds + 1.0) - 100.0).abs() < 1e-12);
        let off = Warmth {
            start: 240.0,
            target: 0.0,
            ..HOTEND
        };
        assert!((off.at(1e6) - 20.0).abs() < 1e-9);
        assert_eq!(off.reaches(20.0), None);
        assert!(off.reaches(50.0).is_some());
    }

    #[test]
    fn what_it_never_reaches() {
        assert_eq!(HOTEND.reaches(241.0), None);
        let beyond = Warmth {
            target: 450.0,
            ..HOTEND
        };
        assert_eq!(beyond.reaches(450.0), None);
        assert_eq!(beyond.reaches(420.0), None);
        assert!(beyond.reaches(419.0).is_some());
        assert!((beyond.at(1e6) - 420.0).abs() < 1e-9);
        let cooling = Warmth {
            start: 240.0,
            target: 100.0,
            ..HOTEND
        };
        assert_eq!(cooling.reaches(99.0), None);
        assert_eq!(cooling.reaches(250.0), Some(0.0));
    }

    #[test]
    fn a_target_beyond_full_power_is_not_held() {
        // From above, it passes its target and goes down to what the heater can hold.
        let weak = Warmth {
            start: 100.0,
            target: 80.0,
            full_power_rest: 60.0,
            tau: 100.0,
            ambient: 20.0,
        };
        let until = weak.reaches(80.0).unwrap();
        assert!((weak.at(until) - 80.0).abs() < 1e-9);
        assert!((weak.at(until + 100.0) - (60.0 + 20.0 / std::f64::consts::E)).abs() < 1e-9);
    }

    #[test]
    fn a_body_without_mass_is_at_rest_at_once() {
        assert!((temperature(20.0, 60.0, 0.0, 1.0) - 60.0).abs() < 1e-12);
        assert!((temperature(20.0, 60.0, 0.0, 0.0) - 20.0).abs() < 1e-12);
        assert_eq!(time_to(20.0, 60.0, 0.0, 50.0), Some(0.0));
    }

    #[test]
    fn readings_that_fit_nothing() {
        assert_eq!(fit(20.0, 60.0, 30.0, 45.0), None, "it grows");
        assert_eq!(fit(20.0, 60.0, 30.0, 40.0), None, "a straight line");
        assert_eq!(fit(20.0, 60.0, 30.0, 30.0), None, "already at rest");
        assert_eq!(fit(20.0, 60.0, 30.0, 25.0), None, "it falls again");
        assert_eq!(fit(20.0, 60.0, 20.0, 30.0), None, "it did not move");
        assert_eq!(fit(20.0, 0.0, 30.0, 35.0), None, "no time");
        assert_eq!(fit(20.0, f64::NAN, 30.0, 35.0), None);
        assert_eq!(time_constant(20.0, 60.0, 70.0, 90.0), None);
        assert_eq!(time_constant(20.0, 60.0, 20.0, 90.0), None);
        assert_eq!(time_constant(20.0, 60.0, 50.0, 0.0), None);
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 2000, failure_persistence: None, ..Default::default() })]

        #[test]
        fn time_to_undoes_temperature(
            from in -20.0..400.0, rest in -20.0..400.0, tau in 1.0..5000.0, parts in 0.001..8.0,
        ) {
            prop_assume!(f64::abs(rest - from) > 0.1);
            let seconds = tau * parts;
            let goal = temperature(from, rest, tau, seconds);
            let again = time_to(from, rest, tau, goal).unwrap();
            prop_assert!((again - seconds).abs() <= 1e-6 * seconds.max(tau));
        }

        #[test]
        fn waiting_twice_is_waiting_once(
            from in -20.0..400.0, rest in -20.0..400.0, tau in 1.0..5000.0,
            first in 0.0..9000.0, then in 0.0..9000.0,
        ) {
            let halfway = temperature(from, rest, tau, first);
            let twice = temperature(halfway, rest, tau, then);
            let once = temperature(from, rest, tau, first + then);
            prop_assert!((twice - once).abs() < 1e-9);
        }

        #[test]
        fn a_fit_finds_what_made_the_readings(
            ambient in 10.0..35.0, rise in 5.0..300.0, tau in 60.0..4000.0, part in 0.2..2.0,
        ) {
            let seconds = tau * part;
            let rest = ambient + rise;
            let once = temperature(ambient, rest, tau, seconds);
            let twice = temperature(ambient, rest, tau, 2.0 * seconds);
            let found = fit(ambient, seconds, once, twice).unwrap();
            prop_assert!((found.rest - rest).abs() < 1e-8 * rest);
            prop_assert!((found.tau - tau).abs() < 1e-8 * tau);
        }

        #[test]
        fn a_time_constant_gives_the_time_it_came_from(
            from in 10.0..35.0, rise in 5.0..300.0, part in 0.01..0.99, seconds in 1.0..3000.0,
        ) {
            let (rest, goal) = (from + rise, from + part * rise);
            let tau = time_constant(from, rest, goal, seconds).unwrap();
            let again = time_to(from, rest, tau, goal).unwrap();
            prop_assert!((again - seconds).abs() <= 1e-9 * seconds);
        }

        #[test]
        fn a_heater_is_never_past_its_target_nor_turns_back(
            start in 15.0..300.0, target in 0.0..300.0, spare in 1.0..200.0, tau in 5.0..900.0,
            early in 0.0..4000.0, later in 0.0..4000.0,
        ) {
            let heater = Warmth { start, target, full_power_rest: target.max(start) + spare, tau, ambient: 15.0 };
            let (first, then) = (heater.at(early), heater.at(early + later));
            if target >= start {
                prop_assert!(then >= first - 1e-9 && then <= target);
            } else {
                prop_assert!(then <= first + 1e-9 && then >= target.max(15.0) - 1e-9);
            }
        }

        #[test]
        fn reaches_and_at_agree(
            start in 15.0..300.0, target in 0.0..300.0, tau in 5.0..900.0, part in 0.001..0.999,
        ) {
            let heater = Warmth { start, target, full_power_rest: 500.0, tau, ambient: 15.0 };
            let rest = target.max(15.0);
            prop_assume!(f64::abs(rest - start) > 0.01);
            let goal = start + part * (rest - start);
            let seconds = heater.reaches(goal).unwrap();
            prop_assert!((heater.at(seconds) - goal).abs() < 1e-6);
        }
    }
}
