//! Reading a figure with its unit, and writing it.

use super::Unreadable;

/// How one quantity is read.
pub(super) struct Scale {
    pub what: &'static str,
    pub unit: &'static str,
    pub least: f64,
    pub most: f64,
    pub example: &'static str,
    pub units: &'static [Unit],
}

/// A unit that is read: kept figure = (written + shift) × times ÷ over.
pub(super) struct Unit {
    pub word: &'static str,
    pub shift: f64,
    pub times: f64,
    pub over: f64,
}

impl Scale {
    /// Reads `number unit`, in any of the units this quantity knows.
    pub fn read(&self, text: &str) -> Result<f64, Unreadable> {
        let text = text.trim();
        let (number, unit) = split(text);
        if number.is_empty() {
            return Err(self.no_number(text));
        }
        if goes_on(unit) {
            return Err(self.not_plain(text));
        }
        let figure = plain(number).ok_or_else(|| self.not_plain(text))?;
        if unit.is_empty() {
            return Err(self.bare(number));
        }
        let word = tidy(unit);
        let Some(known) = self.units.iter().find(|u| u.word == word) else {
            let known: Vec<&str> = self.units.iter().map(|u| u.word).collect();
            return Err(Unreadable::WrongUnit {
                unit: clip(unit),
                what: self.what,
                known: known.join(", "),
            });
        };
        self.bounded((figure + known.shift) * known.times / known.over, text)
    }

    fn bounded(&self, figure: f64, written: &str) -> Result<f64, Unreadable> {
        if !figure.is_finite() {
            return Err(Unreadable::NotFinite {
                written: clip(written),
                what: self.what,
                example: self.example,
            });
        }
        if figure < self.least || figure > self.most {
            return Err(Unreadable::OutOfBounds {
                written: clip(written),
                what: self.what,
                least: Shown(self.least, self.unit).to_string(),
                most: Shown(self.most, self.unit).to_string(),
            });
        }
        Ok(figure)
    }

    fn bare(&self, written: &str) -> Unreadable {
        let written = clip(written);
        Unreadable::Bare {
            fix: format!("{written} {}", self.unit),
            written,
        }
    }

    fn no_number(&self, written: &str) -> Unreadable {
        Unreadable::NoNumber {
            written: clip(written),
            what: self.what,
            example: self.example,
        }
    }

    fn not_plain(&self, written: &str) -> Unreadable {
        Unreadable::NotPlain {
            written: clip(written),
            what: self.what,
            example: self.example,
        }
    }

    /// JSON Schema: a text that begins with a number and ends with one of the units. Looser than
    /// [`Scale::read`]: it knows no bounds.
    #[cfg(feature = "cli")]
    pub fn schema(&self) -> schemars::Schema {
        let mut units: Vec<String> = Vec::new();
        for unit in self.units {
            units.push(unit.word.replace('2', "\\^?[2²]").replace('3', "\\^?[3³]"));
        }
        schemars::json_schema!({
            "description": format!("A {} with its unit: \"{}\".", self.what, self.example),
            "type": "string",
            "pattern": format!("^\\s*[-+−]?([0-9]+\\.?[0-9]*|\\.[0-9]+)\\s*({})\\s*$", units.join("|"))
        })
    }
}

/// The number that a text begins with, and what follows it.
pub(super) fn split(text: &str) -> (&str, &str) {
    let end = text
        .find(|c: char| !matches!(c, '0'..='9' | '.' | '+' | '-' | '−'))
        .unwrap_or(text.len());
    let (number, unit) = text.split_at_checked(end).unwrap_or((text, ""));
    (number, unit.trim_start())
}

/// Whether what follows the digits is no unit but the rest of a number: `1,24 g/cm3`, `1e3 mm`.
pub(super) fn goes_on(unit: &str) -> bool {
    let mut rest = unit.chars();
    matches!(
        (rest.next(), rest.next()),
        (
            Some(',' | '\'' | '_' | 'e' | 'E'),
            Some('0'..='9' | '+' | '-')
        )
    )
}

/// A plain decimal: sign, digits, at most one point, at least one digit.
pub(super) fn plain(number: &str) -> Option<f64> {
    let number = number.replace('−', "-");
    let digits = number.strip_prefix(['+', '-']).unwrap_or(&number);
    let good = digits.chars().all(|c| c.is_ascii_digit() || c == '.')
        && digits.chars().any(|c| c.is_ascii_digit())
        && digits.matches('.').count() <= 1;
    if good { number.parse().ok() } else { None }
}

/// One spelling for each unit: `mm^3 / s`, `mm³/s` and `mm3/s` are the same.
fn tidy(unit: &str) -> String {
    let mut word = String::with_capacity(unit.len());
    for c in unit.chars() {
        match c {
            ' ' | '\t' | '\u{a0}' | '\u{202f}' | '^' => {}
            '²' => word.push('2'),
            '³' => word.push('3'),
            'º' => word.push('°'),
            'μ' => word.push('µ'),
            '℃' => word.push_str("°C"),
            '℉' => word.push_str("°F"),
            other => word.push(other),
        }
    }
    word
}

/// A stranger's text made fit for a message: no control characters, no more than 40 characters.
pub(crate) fn clip(text: &str) -> String {
    let mut clean: String = text
        .chars()
        .take(40)
        .map(|c| {
            if c.is_control() || is_direction(c) {
                '\u{fffd}'
            } else {
                c
            }
        })
        .collect();
    if text.chars().nth(40).is_some() {
        clean.push('…');
    }
    clean
}

/// Characters that turn the direction of text around, and could make a message read otherwise.
const fn is_direction(c: char) -> bool {
    matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// Writes a figure with its unit: to the precision asked for, else to six decimals without the
/// zeros at the end.
pub(super) fn write(f: &mut std::fmt::Formatter<'_>, figure: f64, unit: &str) -> std::fmt::Result {
    let places = f.precision().unwrap_or(6);
    let mut text = format!("{figure:.places$}");
    if f.precision().is_none() && text.contains('.') {
        text.truncate(text.trim_end_matches('0').trim_end_matches('.').len());
    }
    // Nothing is colder than nothing: `-0` is a rounding of something just below it.
    if text
        .trim_start_matches('-')
        .chars()
        .all(|c| matches!(c, '0' | '.'))
    {
        text = text.trim_start_matches('-').to_owned();
    }
    write!(f, "{text} {unit}")
}

/// A figure and its unit, for a message.
struct Shown(f64, &'static str);

impl std::fmt::Display for Shown {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write(f, self.0, self.1)
    }
}

/// Reads a quantity out of a sheet: text with a unit; a bare number is told the fix.
pub(super) struct Reading(pub &'static Scale);

impl serde::de::Visitor<'_> for Reading {
    type Value = f64;

    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "a {} like \"{}\"", self.0.what, self.0.example)
    }

    fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<f64, E> {
        self.0.read(text).map_err(E::custom)
    }

    fn visit_i64<E: serde::de::Error>(self, number: i64) -> Result<f64, E> {
        Err(E::custom(self.0.bare(&number.to_string())))
    }

    fn visit_u64<E: serde::de::Error>(self, number: u64) -> Result<f64, E> {
        Err(E::custom(self.0.bare(&number.to_string())))
    }

    fn visit_f64<E: serde::de::Error>(self, number: f64) -> Result<f64, E> {
        let written = number.to_string();
        if number.is_finite() {
            return Err(E::custom(self.0.bare(&written)));
        }
        Err(E::custom(Unreadable::NotFinite {
            written,
            what: self.0.what,
            example: self.0.example,
        }))
    }
}
