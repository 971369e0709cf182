//! Figures as an answer writes them.

use super::Question;
use crate::quantity::{Celsius, Quantity, Range};

/// A number with at most one decimal.
pub(super) fn tenth(value: f64) -> String {
    round(value, 1)
}

/// A number with at most `places` decimals and no zeros at its end.
pub(super) fn round(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    if text == "-0" { "0" } else { text }.to_owned()
}

/// A temperature in degrees Fahrenheit: °C × 1.8 + 32 (NIST SP 811, B.8; memory).
pub(super) fn fahrenheit(celsius: f64) -> f64 {
    celsius * 1.8 + 32.0
}

impl Question<'_> {
    /// A temperature as the asker reads it: °F beside °C where °F was asked.
    pub(super) fn heat(&self, at: Celsius) -> String {
        let celsius = at.get();
        if self.fahrenheit {
            format!("{} °C ({} °F)", tenth(celsius), tenth(fahrenheit(celsius)))
        } else {
            format!("{} °C", tenth(celsius))
        }
    }

    /// A range of temperatures.
    pub(super) fn heats(&self, range: &Range<Celsius>) -> String {
        format!("{} to {}", self.heat(range.least), self.heat(range.most))
    }
}

/// A quantity to three decimals, with its unit.
pub(super) fn plain<Q: Quantity>(value: Q) -> String {
    format!("{} {}", round(value.figure(), 3), Q::UNIT)
}
