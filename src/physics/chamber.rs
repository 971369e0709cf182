//! A chamber warmed by its bed, by a heater of its own, or by both.
//!
//! C·dT/dt = P_heater + min(hA_bed·(T_bed − T), P_bed) − UA·(T − T_amb)
//!
//! The first-order balance of one well-mixed body (textbook). A thermostatted bed is no heater of
//! constant power: it gives what its face passes on, hA_bed·(T_bed − T), and never more than its
//! rated power; that is why a bed alone seldom brings a thin-walled box to 60 °C. The coefficient h
//! at a bed's face is 8 to 12 W/m²K (memory), a wall's U 3 to 6 W/m²K for a thin panel and 1 to 2
//! with foam (memory); C is almost all frame and panels, the air one or two per cent of it.

/// A chamber's figures, in SI units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chamber {
    /// From bed to chamber, hA of the bed's faces, in W/K; 0 without a bed.
    pub bed_conductance: f64,
    /// The bed's rated power in W, where it is known.
    pub bed_power: Option<f64>,
    /// Power of a heater of the chamber's own, in W, always on; 0 without one.
    pub heater_power: f64,
    /// From chamber to room, UA of the walls, in W/K.
    pub wall_conductance: f64,
    /// Heat capacity of air, frame and contents, in J/K.
    pub capacity: f64,
    /// The room, in °C.
    pub ambient: f64,
}

/// One of the two linear laws: the bed gives what its face passes on, or its rated power.
#[derive(Debug, Clone, Copy)]
struct Regime {
    /// Net power into the chamber at 0 °C, in W.
    power: f64,
    /// How much less for each kelvin, in W/K.
    loss: f64,
}

impl Chamber {
    /// Power in W that the bed gives at `t_bed` to a chamber at `inside` (both °C): negative when
    /// the bed is the cooler.
    #[must_use]
    pub fn bed_gives(&self, t_bed: f64, inside: f64) -> f64 {
        let passed = self.bed_conductance * (t_bed - inside);
        self.bed_power.map_or(passed, |rated| passed.min(rated))
    }

    /// Power in W that holds the chamber at `inside` (°C): UA·(T − T_amb).
    #[must_use]
    pub fn holding_power(&self, inside: f64) -> f64 {
        self.wall_conductance * (inside - self.ambient)
    }

    /// Where the chamber comes to rest in °C with the bed at `t_bed` (°C):
    /// (hA·T_bed + UA·T_amb + P_heater)/(hA + UA), or T_amb + (P_bed + P_heater)/UA where the bed's
    /// rated power does not suffice for that. `None` where nothing carries heat off.
    #[must_use]
    pub fn rest(&self, t_bed: f64) -> Option<f64> {
        // Both laws fall with T and the lesser of the two rules, so the lower rest is the true one.
        let open = self.open(t_bed).rest();
        let capped = self.capped().and_then(Regime::rest);
        match (open, capped) {
            (Some(open), Some(capped)) => Some(open.min(capped)),
            (open, capped) => open.or(capped),
        }
    }

    /// Seconds with the bed at `t_bed` until the chamber has come from `from` to `to` (all °C).
    /// `None` means never: `to` is at or past the rest, or the other way.
    #[must_use]
    pub fn time_to(&self, t_bed: f64, from: f64, to: f64) -> Option<f64> {
        if from == to {
            return Some(0.0);
        }
        match self.parting(t_bed) {
            Some(parting) if (from < parting) != (to < parting) && from != parting => {
                let first = self.regime(t_bed, from, parting);
                let second = self.regime(t_bed, parting, to);
                let until = first.time(self.capacity, from, parting)?;
                Some(until + second.time(self.capacity, parting, to)?)
            }
            _ => self.regime(t_bed, from, to).time(self.capacity, from, to),
        }
    }

    /// The chamber's temperature in °C, `seconds` after it was at `from` with the bed at `t_bed`
    /// (both °C) from then on. For a bed that changes, take one step after another.
    #[must_use]
    pub fn at(&self, t_bed: f64, from: f64, seconds: f64) -> f64 {
        if seconds <= 0.0 {
            return from;
        }
        // It moves towards the rest and never turns; a chamber without one moves up or stays.
        let towards = self.rest(t_bed).unwrap_or(f64::INFINITY);
        if let Some(parting) = self.parting(t_bed)
            && (from < parting) != (towards < parting)
            && from != parting
        {
            let first = self.regime(t_bed, from, parting);
            return match first.time(self.capacity, from, parting) {
                Some(until) if until < seconds => {
                    self.regime(t_bed, parting, towards)
                        .at(self.capacity, parting, seconds - until)
                }
                _ => first.at(self.capacity, from, seconds),
            };
        }
        self.regime(t_bed, from, towards)
            .at(self.capacity, from, seconds)
    }

    /// The chamber temperature in °C below which the bed is held by its rated power, where it has
    /// one that can hold it.
    fn parting(&self, t_bed: f64) -> Option<f64> {
        let rated = self.bed_power?;
        let parting = t_bed - rated / self.bed_conductance;
        parting.is_finite().then_some(parting)
    }

    /// The law between two temperatures on one side of the parting.
    fn regime(&self, t_bed: f64, one: f64, other: f64) -> Regime {
        let below = self
            .parting(t_bed)
            .is_some_and(|parting| one.min(other) < parting);
        match self.capped() {
            Some(capped) if below => capped,
            _ => self.open(t_bed),
        }
    }

    fn open(&self, t_bed: f64) -> Regime {
        Regime {
            power: self.heater_power
                + self.bed_conductance * t_bed
                + self.wall_conductance * self.ambient,
            loss: self.bed_conductance + self.wall_conductance,
        }
    }

    fn capped(&self) -> Option<Regime> {
        self.bed_power.map(|rated| Regime {
            power: self.heater_power + rated + self.wall_conductance * self.ambient,
            loss: self.wall_conductance,
        })
    }
}

impl Regime {
    fn rest(self) -> Option<f64> {
        let rest = self.power / self.loss;
        (self.loss > 0.0 && rest.is_finite()).then_some(rest)
    }

    /// Kelvins a second at `inside`.
    fn rate(self, capacity: f64, inside: f64) -> f64 {
        (self.power - self.loss * inside) / capacity
    }

    /// T0 + rate0·τ·(1 − exp(−t/τ)) with τ = C/loss; a straight line without loss.
    fn at(self, capacity: f64, from: f64, seconds: f64) -> f64 {
        let straight = self.rate(capacity, from) * seconds;
        let constants = seconds * self.loss / capacity;
        if constants > 0.0 {
            from - straight * (-constants).exp_m1() / constants
        } else {
            from + straight
        }
    }

    /// The same turned round: t = −τ·ln(1 − (T − T0)/(rate0·τ)).
    fn time(self, capacity: f64, from: f64, to: f64) -> Option<f64> {
        let straight = (to - from) / self.rate(capacity, from);
        let per_second = self.loss / capacity;
        let part = straight * per_second;
        if !(straight.is_finite() && straight >= 0.0 && part < 1.0) {
            return None;
        }
        if part > 0.0 {
            Some(-(-part).ln_1p() / per_second)
        } else {
            Some(straight)
        }
    }
}

/// A warm-up of the first order, as two readings give it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fitted {
    /// Where it would come to rest, °C.
    pub rest: f64,
    /// Its time constant, s.
    pub tau: f64,
    /// The room, °C.
    pub ambient: f64,
}

/// The warm-up that starts at `ambient` and reads `first` after `seconds` and `second` after twice
/// that (°C): with a = (T(2t) − T(t))/(T(t) − T_amb), T_∞ = T_amb + (T(t) − T_amb)/(1 − a) and
/// τ = −t/ln a. `None` where the readings do not rise, or rise faster and faster.
#[must_use]
pub fn fit(ambient: f64, seconds: f64, first: f64, second: f64) -> Option<Fitted> {
    let a = (second - first) / (first - ambient);
    let is_warm_up = first > ambient && a > 0.0 && a < 1.0 && seconds > 0.0;
    is_warm_up.then(|| Fitted {
        rest: ambient + (first - ambient) / (1.0 - a),
        tau: -seconds / a.ln(),
        ambient,
    })
}

impl Fitted {
    /// Seconds from the room's temperature to `to` (°C); `None` means never.
    #[must_use]
    pub fn time_to(&self, to: f64) -> Option<f64> {
        let left = (self.rest - to) / (self.rest - self.ambient);
        (left > 0.0).then(|| (-self.tau * left.ln()).max(0.0))
    }
}

/// Standard atmosphere, in Pa (ISO 2533, memory).
pub const ATMOSPHERE: f64 = 101_325.0;

/// Gas constant of dry air, in J/kgK (textbook; references name 287.05).
const AIR_CONSTANT: f64 = 287.05;

/// Heat capacity of air at constant pressure from 25 °C to 70 °C, in J/kgK (Y. A. Çengel, property
/// table of air at 1 atm; published). 1008 at 80 °C.
const AIR_HEAT: f64 = 1007.0;

/// Density of dry air at this temperature (°C) and pressure (Pa), in kg/m³: p/(R·T), the ideal gas
/// law.
#[must_use]
pub fn air_density(celsius: f64, pressure: f64) -> f64 {
    pressure / (AIR_CONSTANT * (celsius + 273.15))
}

/// Heat capacity in J/K of this much air (m³) at one atmosphere and this temperature (°C).
#[must_use]
pub fn air_capacity(volume: f64, celsius: f64) -> f64 {
    volume * air_density(celsius, ATMOSPHERE) * AIR_HEAT
}

/// Wall area in m² of a box with these sides (m).
#[must_use]
pub fn box_area(sides: [f64; 3]) -> f64 {
    let [x, y, z] = sides;
    2.0 * (x * y + y * z + z * x)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn chamber() -> impl Strategy<Value = Chamber> {
        (
            0.2..6.0,
            proptest::option::of(20.0..600.0),
            prop_oneof![Just(0.0), 10.0..400.0],
            0.5..8.0,
            500.0..30_000.0,
            10.0..35.0,
        )
            .prop_map(
                |(
                    bed_conductance,
                    bed_power,
                    heater_power,
                    wall_conductance,
                    capacity,
                    ambient,
                )| {
                    Chamber {
                        bed_conductance,
                        bed_power,
                        heater_power,
                        wall_conductance,
                        capacity,
                        ambient,
                    }
                },
            )
    }

    /// The balance itself, stepped: fourth-order Runge and Kutta.
    fn stepped(chamber: &Chamber, t_bed: f64, from: f64, seconds: f64, steps: u32) -> f64 {
        let slope = |inside: f64| {
            (chamber.heater_power + chamber.bed_gives(t_bed, inside)
                - chamber.holding_power(inside))
                / chamber.capacity
        };
        let step = seconds / f64::from(steps);
        let mut inside = from;
        for _ in 0..steps {
            let k1 = slope(inside);
            let k2 = slope(inside + step * k1 / 2.0);
            let k3 = slope(inside + step * k2 / 2.0);
            let k4 = slope(inside + step * k3);
            inside += step * (k1 + 2.0 * k2 + 2.0 * k3 + k4) / 6.0;
        }
        inside
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 2000, failure_persistence: None, ..Default::default() })]

        #[test]
        fn the_closed_form_follows_the_balance(
            chamber in chamber(), t_bed in 10.0..140.0, from in 10.0..140.0, parts in 0.01..4.0,
        ) {
            let seconds = parts * chamber.capacity / (chamber.bed_conductance + chamber.wall_conductance);
            let closed = chamber.at(t_bed, from, seconds);
            let step = stepped(&chamber, t_bed, from, seconds, 2000);
            // At the parting the slope has a kink, where the stepping is of first order only.
            prop_assert!((closed - step).abs() < 1e-4, "{closed} against {step}");
        }

        #[test]
        fn at_rest_nothing_moves(chamber in chamber(), t_bed in 10.0..140.0) {
            let rest = chamber.rest(t_bed).unwrap();
            let net = chamber.heater_power + chamber.bed_gives(t_bed, rest) - chamber.holding_power(rest);
            prop_assert!(net.abs() < 1e-9 * (1.0 + chamber.holding_power(rest).abs()));
            prop_assert!((chamber.at(t_bed, rest, 1e5) - rest).abs() < 1e-9 * rest);
        }

        #[test]
        fn time_to_undoes_at(
            chamber in chamber(), t_bed in 10.0..140.0, from in 10.0..140.0, parts in 0.001..6.0,
        ) {
            let rest = chamber.rest(t_bed).unwrap();
            prop_assume!(f64::abs(rest - from) > 0.1);
            let seconds = parts * chamber.capacity / (chamber.bed_conductance + chamber.wall_conductance);
            let to = chamber.at(t_bed, from, seconds);
            let again = chamber.time_to(t_bed, from, to).unwrap();
            prop_assert!((again - seconds).abs() < 1e-6 * (seconds + 1.0), "{again} against {seconds}");
        }

        #[test]
        fn past_the_rest_is_never(
            chamber in chamber(), t_bed in 10.0..140.0, from in 10.0..140.0, past in 1e-6..80.0,
        ) {
            let rest = chamber.rest(t_bed).unwrap();
            let way = if rest >= from { 1.0 } else { -1.0 };
            prop_assert_eq!(chamber.time_to(t_bed, from, rest + way * past), None);
            prop_assert_eq!(chamber.time_to(t_bed, from, from - way * past), None);
        }

        #[test]
        fn waiting_twice_is_waiting_once(
            chamber in chamber(), t_bed in 10.0..140.0, from in 10.0..140.0,
            first in 0.0..9000.0, then in 0.0..9000.0,
        ) {
            let twice = chamber.at(t_bed, chamber.at(t_bed, from, first), then);
            prop_assert!((twice - chamber.at(t_bed, from, first + then)).abs() < 1e-8);
        }
    }

    /// Readings taken from a warm-up give that warm-up back.
    #[test]
    fn two_readings_give_the_constants() {
        let (ambient, rest, tau) = (22.0, 48.1423, 1040.139);
        let at = |seconds: f64| rest - (rest - ambient) * (-seconds / tau).exp();
        let fitted = fit(ambient, 900.0, at(900.0), at(1800.0)).unwrap();
        assert!((fitted.rest - rest).abs() < 1e-9 && (fitted.tau - tau).abs() < 1e-6);
        // W7 of the project's chamber cases (computed): 45 °C after 2203.65 s.
        assert!((fitted.time_to(45.0).unwrap() - 2203.65).abs() < 0.02);
        assert_eq!(fitted.time_to(60.0), None);
        assert_eq!(fit(22.0, 900.0, 30.0, 38.5), None);
        assert_eq!(fit(22.0, 900.0, 21.0, 30.0), None);
    }

    #[test]
    fn without_loss_it_warms_in_a_straight_line() {
        let sealed = Chamber {
            bed_conductance: 0.0,
            bed_power: None,
            heater_power: 100.0,
            wall_conductance: 0.0,
            capacity: 5000.0,
            ambient: 20.0,
        };
        assert_eq!(sealed.rest(100.0), None);
        assert!((sealed.at(100.0, 20.0, 500.0) - 30.0).abs() < 1e-12);
        assert_eq!(sealed.time_to(100.0, 20.0, 30.0), Some(500.0));
        assert_eq!(sealed.time_to(100.0, 20.0, 19.0), None);
        let dead = Chamber {
            heater_power: 0.0,
            ..sealed
        };
        assert!((dead.at(100.0, 20.0, 500.0) - 20.0).abs() < 1e-12);
        assert_eq!(dead.time_to(100.0, 20.0, 30.0), None);
    }

    #[test]
    fn a_bed_switched_off_lets_the_chamber_cool() {
        let chamber = Chamber {
            bed_conductance: 2.0,
            bed_power: Some(200.0),
            heater_power: 0.0,
            wall_conductance: 4.0,
            capacity: 6000.0,
            ambient: 20.0,
        };
        assert!(chamber.bed_gives(20.0, 50.0) < 0.0);
        // One time constant, 6000/(2 + 4) s: 20 + 30/e.
        let cooled = chamber.at(20.0, 50.0, 1000.0);
        assert!((cooled - (20.0 + 30.0 / std::f64::consts::E)).abs() < 1e-9);
        assert_eq!(chamber.time_to(20.0, 50.0, 20.0), None);
    }
}
