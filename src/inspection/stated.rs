//! What a job's comments state in numbers.

use super::figures::tidy;
use crate::command::hint::Key;
use crate::finding::Excerpt;

/// A statement that the motion does not bear out: what it says, and what the motion does.
pub(super) struct Off<'a> {
    pub key: Key,
    /// What it says.
    pub says: f64,
    /// The least and the most that the motion shows.
    pub does: [f64; 2],
    pub at: &'a Excerpt,
}

impl Off<'_> {
    pub fn show(&self) -> String {
        let (what, unit) = match self.key {
            Key::LayerHeight => ("layers of ", " mm"),
            Key::FirstLayerHeight => ("a first layer of ", " mm"),
            Key::FilamentMassG => ("", " g of filament"),
            Key::Layers => ("", " layers"),
            Key::Walls => ("", " walls"),
            Key::InfillPercent => ("", " % infill"),
            _ => ("", " mm of filament"),
        };
        let [least, most] = self.does.map(|figure| {
            if figure > 10.0 {
                figure.round()
            } else {
                tidy(figure)
            }
        });
        let does = if least == most {
            format!("{least}")
        } else {
            format!("{least} to {most}")
        };
        format!("{what}{}{unit} and the motion shows {does}", self.says)
    }
}

/// Half a unit in the last written digit: what rounding may hide.
fn rounding(text: &str) -> f64 {
    let text = text.trim();
    match text.split_once('.') {
        Some((_, part)) => 0.5 * 10_f64.powi(-(part.len() as i32)),
        None => {
            let zeros = text.bytes().rev().take_while(|byte| *byte == b'0').count();
            0.5 * 10_f64.powi(zeros as i32)
        }
    }
}

/// The numbers of a statement, and how much rounding may hide in them.
pub(super) fn numbers(list: &str) -> (Vec<f64>, f64) {
    let values = list
        .split(',')
        .filter_map(|text| text.trim().parse().ok())
        .filter(|number: &f64| number.is_finite())
        .collect();
    (values, list.split(',').map(rounding).sum())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_rounding_hides() {
        assert!((rounding("30") - 5.0).abs() < 1e-12);
        assert!((rounding("31.95") - 0.005).abs() < 1e-12);
        assert!((rounding("7") - 0.5).abs() < 1e-12);
        let (values, hidden) = numbers("1.5,20");
        assert_eq!(values, [1.5, 20.0]);
        assert!((hidden - 5.05).abs() < 1e-12);
    }
}
