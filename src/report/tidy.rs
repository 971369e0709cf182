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
