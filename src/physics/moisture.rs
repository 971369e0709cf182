//! Water in filament: how fast it goes in and out of a strand, and how far.
//!
//! A strand is a long cylinder of radius a with one diffusion coefficient D and one concentration at
//! its surface (J. Crank, *The Mathematics of Diffusion*, 2nd ed., Oxford, 1975, section 5.3; equation
//! numbers 5.23 and 5.24 from memory). The same curve serves uptake and drying. In polyamides D rises
//! with the water content, so that the curve is a sketch and not a forecast (published: Arhant et al.
//! 2016, Reuvers et al.); whoever uses it gives D as a range and the result too. On a spool only the
//! outermost turns see the air: the strand is the upper bound for the spool, and the true case for the
//! turns that feed first.

use std::f64::consts::PI;

/// Gas constant, J/(mol K) (CODATA 2018, memory).
pub const GAS_CONSTANT: f64 = 8.314_462_618;

/// Below this Dt/a² the short-time form is taken, whose error there is under 0.003 %; above it the
/// series.
const SHORT: f64 = 0.005;

/// How many terms of the series are taken: from [`SHORT`] on the rest is below 1e-8.
const TERMS: u32 = 20;

/// The first five roots of J0 (Abramowitz and Stegun, table 9.5; memory), where the expansion below is
/// too coarse.
const FIRST_ROOTS: [f64; 5] = [
    2.404_825_557_695_773,
    5.520_078_110_286_311,
    8.653_727_912_911_013,
    11.791_534_439_014_281,
    14.930_917_708_487_787,
];

/// The `n`-th root of the Bessel function J0, n from 1: McMahon's expansion (Abramowitz and Stegun
/// 9.5.12; memory), to better than 1e-9.
#[must_use]
pub fn root(n: u32) -> f64 {
    let known = n
        .checked_sub(1)
        .and_then(|index| FIRST_ROOTS.get(index as usize));
    if let Some(root) = known {
        return *root;
    }
    let beta = (f64::from(n) - 0.25) * PI;
    let x = 1.0 / (8.0 * beta);
    let x2 = x * x;
    beta + x * (1.0 + x2 * (-124.0 / 3.0 + x2 * (120_928.0 / 15.0 - x2 * 401_743_168.0 / 105.0)))
}

/// The share of the way to equilibrium that a strand has gone, for `reduced` = Dt/a²:
/// 1 − Σ 4/α² · exp(−α²·Dt/a²), and for short times 4·√(x/π) − x − x^1.5/(3·√π).
#[must_use]
pub fn share(reduced: f64) -> f64 {
    if reduced.is_nan() || reduced <= 0.0 {
        return 0.0;
    }
    if reduced < SHORT {
        let root = (reduced / PI).sqrt();
        return 4.0 * root - reduced - reduced * root / 3.0;
    }
    let left: f64 = (1..=TERMS)
        .map(|n| {
            let square = root(n).powi(2);
            4.0 / square * (-square * reduced).exp()
        })
        .sum();
    1.0 - left
}

/// Dt/a² at which [`share`] is reached; `None` outside 0 to 1.
#[must_use]
pub fn reduced(share_wanted: f64) -> Option<f64> {
    if !(0.0..1.0).contains(&share_wanted) {
        return None;
    }
    let (mut low, mut high) = (0.0, 1.0);
    while share(high) < share_wanted {
        high *= 2.0;
        if high > 64.0 {
            return None;
        }
    }
    for _ in 0..200 {
        let middle = f64::midpoint(low, high);
        if share(middle) < share_wanted {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(f64::midpoint(low, high))
}

/// A diffusion coefficient in m²/s, as it depends on temperature:
/// D(T) = D(T₀)·exp(E/R·(1/T₀ − 1/T)).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Diffusion {
    /// Its value at `at`, m²/s.
    pub coefficient: f64,
    /// The temperature that holds for, °C.
    pub at: f64,
    /// Activation energy, J/mol.
    pub energy: f64,
}

impl Diffusion {
    /// At another temperature (°C), m²/s.
    #[must_use]
    pub fn at(&self, celsius: f64) -> f64 {
        let kelvin = |celsius: f64| celsius + 273.15;
        let apart = 1.0 / kelvin(self.at) - 1.0 / kelvin(celsius);
        self.coefficient * (self.energy / GAS_CONSTANT * apart).exp()
    }

    /// Dt/a² of a strand of this diameter (mm) after `seconds` at `celsius`.
    #[must_use]
    pub fn reduced(&self, diameter: f64, celsius: f64, seconds: f64) -> f64 {
        let radius = diameter / 2000.0;
        self.at(celsius) * seconds / (radius * radius)
    }

    /// Seconds at `celsius` until a strand of this diameter (mm) has gone this share of the way.
    #[must_use]
    pub fn seconds(&self, diameter: f64, celsius: f64, share: f64) -> Option<f64> {
        let radius = diameter / 2000.0;
        Some(reduced(share)? * radius * radius / self.at(celsius))
    }
}

/// Mass % of water after a share of the way from `from` to `equilibrium`.
#[must_use]
pub fn content(from: f64, equilibrium: f64, share: f64) -> f64 {
    from + (equilibrium - from) * share
}

/// Saturation vapour pressure over water in Pa at this temperature (°C): 610.94·exp(17.625·T/(T + 243.04))
/// (O. A. Alduchov, R. E. Eskridge, *J. Appl. Meteorol.* 35 (1996) 601–609; coefficients from memory).
#[must_use]
pub fn saturation_pressure(celsius: f64) -> f64 {
    610.94 * (17.625 * celsius / (celsius + 243.04)).exp()
}

/// Relative humidity in % of room air that is warmed to `to` (°C) without losing its water: what a dryer
/// holds that only heats the room's air.
#[must_use]
pub fn warmed(humidity: f64, room: f64, to: f64) -> f64 {
    humidity * saturation_pressure(room) / saturation_pressure(to)
}

/// Equilibrium water content in mass % at a relative humidity in %, between measured points that
/// include (0, 0), in straight lines. Points go up in humidity; `None` past the last one.
#[must_use]
pub fn equilibrium(points: &[(f64, f64)], humidity: f64) -> Option<f64> {
    if !(0.0..=100.0).contains(&humidity) {
        return None;
    }
    let mut before = (0.0, 0.0);
    for point in points {
        if humidity <= point.0 {
            let width = point.0 - before.0;
            if width <= 0.0 {
                return Some(point.1);
            }
            return Some(before.1 + (point.1 - before.1) * (humidity - before.0) / width);
        }
        before = *point;
    }
    None
}

/// Mass % of water that was in filament which weighed `before` and weighs `after` once it loses no
/// more: of the dry mass, as sheets give it. `None` where it did not lose mass.
#[must_use]
pub fn by_weighing(before: f64, after: f64) -> Option<f64> {
    (after > 0.0 && before >= after).then(|| 100.0 * (before - after) / after)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Σ 4/α² over all roots is 1 (identity): what is cut off is about 4/(π²·n).
    #[test]
    fn the_roots_sum_to_one() {
        let many = 200_000_u32;
        let sum: f64 = (1..=many).map(|n| 4.0 / root(n).powi(2)).sum();
        let rest = 4.0 / (PI * PI * f64::from(many));
        assert!((sum + rest - 1.0).abs() < 1e-9, "{sum}");
    }

    #[test]
    fn both_forms_meet() {
        let below = share(SHORT * (1.0 - 1e-12));
        let above = share(SHORT);
        assert!((below - above).abs() / above < 3e-5, "{below} {above}");
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 2000, failure_persistence: None, ..Default::default() })]

        #[test]
        fn it_only_rises_and_stays_within_bounds(x in 0.0..3.0_f64, more in 1e-6..1.0_f64) {
            let (one, other) = (share(x), share(x + more));
            prop_assert!((0.0..=1.0).contains(&one) && other >= one - 1e-5);
        }

        #[test]
        fn time_undoes_share(wanted in 0.001..0.999_f64) {
            prop_assert!((share(reduced(wanted).unwrap()) - wanted).abs() < 1e-5);
        }

        #[test]
        fn warming_and_cooling_undo_each_other(humidity in 1.0..100.0_f64, room in 0.0..40.0_f64, to in 40.0..120.0_f64) {
            prop_assert!((warmed(warmed(humidity, room, to), to, room) - humidity).abs() < 1e-9 * humidity);
        }

        #[test]
        fn equilibrium_lies_between_its_points(humidity in 0.0..100.0_f64) {
            let points = [(50.0, 2.7), (100.0, 9.5)];
            let water = equilibrium(&points, humidity).unwrap();
            prop_assert!((0.0..=9.5).contains(&water));
        }
    }

    #[test]
    fn what_has_no_answer_says_so() {
        assert_eq!(reduced(1.0), None);
        assert_eq!(reduced(-0.1), None);
        assert_eq!(share(f64::NAN), 0.0);
        assert_eq!(equilibrium(&[(50.0, 2.7)], 60.0), None);
        assert_eq!(equilibrium(&[(50.0, 2.7)], -1.0), None);
        assert_eq!(by_weighing(500.0, 505.0), None);
        assert!((by_weighing(505.0, 500.0).unwrap() - 1.0).abs() < 1e-12);
    }
}
