//! How far the worst may go, with its unit.

use crate::quantity::{
    Celsius, CubicMillimetresPerSecond, Grams, Kelvins, Millimetres, MillimetresPerSecond,
    MillimetresPerSecondSquared, Percent, Quantity, Seconds,
};
use std::fmt;
use std::str::FromStr;

/// A figure in one of the units that findings have.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bound {
    /// The figure, in `unit`.
    pub value: f64,
    /// The unit as findings write it; empty for a count.
    pub unit: &'static str,
}

/// Why a text is no bound.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "`{0}` is not a figure with a unit that findings have; write `235 °C`, `62 mm/s`, `0.5 mm`, `30 %` or a count"
)]
pub struct BoundError(String);

impl FromStr for Bound {
    type Err = BoundError;

    fn from_str(text: &str) -> Result<Self, BoundError> {
        fn read<Q: Quantity + FromStr>(text: &str) -> Option<Bound> {
            let value = text.parse::<Q>().ok()?.figure();
            Some(Bound {
                value,
                unit: Q::UNIT,
            })
        }
        let count = || {
            let value = text.trim().parse::<u32>().ok()?;
            Some(Self {
                value: f64::from(value),
                unit: "",
            })
        };
        read::<Celsius>(text)
            .or_else(|| read::<Millimetres>(text))
            .or_else(|| read::<MillimetresPerSecond>(text))
            .or_else(|| read::<MillimetresPerSecondSquared>(text))
            .or_else(|| read::<CubicMillimetresPerSecond>(text))
            .or_else(|| read::<Percent>(text))
            .or_else(|| read::<Kelvins>(text))
            .or_else(|| read::<Seconds>(text))
            .or_else(|| read::<Grams>(text))
            .or_else(count)
            .ok_or_else(|| BoundError(text.chars().take(40).collect()))
    }
}

impl fmt::Display for Bound {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.value)?;
        if !self.unit.is_empty() {
            write!(f, " {}", self.unit)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bound_has_the_unit_of_a_finding() {
        let bound = |text: &str| text.parse::<Bound>().unwrap();
        assert_eq!(
            bound("235 °C"),
            Bound {
                value: 235.0,
                unit: "°C"
            }
        );
        assert_eq!(
            bound("455 °F"),
            Bound {
                value: 235.0,
                unit: "°C"
            }
        );
        assert_eq!(
            bound("62 mm/s"),
            Bound {
                value: 62.0,
                unit: "mm/s"
            }
        );
        assert_eq!(
            bound("3720 mm/min"),
            Bound {
                value: 62.0,
                unit: "mm/s"
            }
        );
        assert_eq!(
            bound("0.5 mm"),
            Bound {
                value: 0.5,
                unit: "mm"
            }
        );
        assert_eq!(
            bound("30 %"),
            Bound {
                value: 30.0,
                unit: "%"
            }
        );
        assert_eq!(
            bound("3"),
            Bound {
                value: 3.0,
                unit: ""
            }
        );
        assert_eq!(bound("235 °C").to_string(), "235 °C");
        assert!("warm".parse::<Bound>().is_err());
        assert!("nan °C".parse::<Bound>().is_err());
        assert!("1e9 lumps".parse::<Bound>().is_err());
    }
}
