//! Numbers as a reader wants them, and whose they are.

use crate::finding::SourceMark;

/// A number with at most three decimals and no zeros at its end: `240`, `22.5`.
#[must_use]
pub fn tidy(number: f64) -> String {
    if !number.is_finite() {
        return "unknown".to_owned();
    }
    let text = format!("{number:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

/// A count with its thousands set apart: `61,234`.
#[must_use]
pub fn grouped(count: u64) -> String {
    let digits = count.to_string();
    let mut text = String::with_capacity(digits.len() + digits.len() / 3);
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

/// A number with at most `decimals` decimals and no zeros at its end.
#[must_use]
pub fn rounded(number: f64, decimals: usize) -> String {
    let scale = 10_f64.powi(i32::try_from(decimals).unwrap_or(3));
    tidy((number * scale).round() / scale)
}

/// A stretch of time for a person: `12.3 s`, `47 min 28 s`, `1 h 05 min`.
#[must_use]
pub fn lasting(seconds: f64) -> String {
    if !seconds.is_finite() || seconds < 0.0 {
        return "unknown".to_owned();
    }
    if seconds < 59.95 {
        return format!("{} s", rounded(seconds, 1));
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "not negative, and a cast saturates"
    )]
    let whole = seconds.round() as u64;
    if whole < 3600 {
        return match (whole / 60, whole % 60) {
            (minutes, 0) => format!("{minutes} min"),
            (minutes, seconds) => format!("{minutes} min {seconds:02} s"),
        };
    }
    let minutes = whole.saturating_add(30) / 60;
    format!("{} h {:02} min", grouped(minutes / 60), minutes % 60)
}

/// Whose figure it is: `a handbook (published)`; nothing twice.
#[must_use]
pub fn figure_of(source: Option<&str>, mark: SourceMark) -> String {
    let word = match (source, mark) {
        (Some(_), SourceMark::Practice) => "common practice",
        (_, mark) => mark.word(),
    };
    match source {
        None => word.to_owned(),
        Some(source) if source.contains(word) => source.to_owned(),
        Some(source) => format!("{source} ({word})"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_figure_says_whose_it_is_once() {
        let of = |source, mark| figure_of(source, mark);
        assert_eq!(of(None, SourceMark::Practice), "common practice, no source");
        assert_eq!(
            of(Some("a handbook"), SourceMark::Published),
            "a handbook (published)"
        );
        assert_eq!(
            of(Some("the shop"), SourceMark::Practice),
            "the shop (common practice)"
        );
        assert_eq!(
            of(Some("chosen for a damp room"), SourceMark::Chosen),
            "chosen for a damp room"
        );
    }

    #[test]
    fn time_is_for_people() {
        for (seconds, text) in [
            (0.0, "0 s"),
            (12.34, "12.3 s"),
            (59.94, "59.9 s"),
            (59.96, "1 min"),
            (125.4, "2 min 05 s"),
            (3599.4, "59 min 59 s"),
            (3599.6, "1 h 00 min"),
            (3930.0, "1 h 06 min"),
            (360_000.0, "100 h 00 min"),
            (f64::INFINITY, "unknown"),
            (f64::NAN, "unknown"),
        ] {
            assert_eq!(lasting(seconds), text, "{seconds}");
        }
        assert_eq!(rounded(12.345, 1), "12.3");
        assert_eq!(rounded(12.0, 2), "12");
    }

    #[test]
    fn numbers_are_tidy() {
        assert_eq!(tidy(240.0), "240");
        assert_eq!(tidy(22.5), "22.5");
        assert_eq!(tidy(0.1 + 0.2), "0.3");
        assert_eq!(tidy(-0.0001), "0");
        assert_eq!(tidy(1000.0), "1000");
        assert_eq!(tidy(f64::NAN), "unknown");
        assert_eq!(grouped(0), "0");
        assert_eq!(grouped(999), "999");
        assert_eq!(grouped(61_234), "61,234");
        assert_eq!(grouped(1_000_000), "1,000,000");
    }
}
