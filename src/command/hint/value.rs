//! Values of declared settings: numbers with units, and names of polymers.

use super::words::number_length;

/// What a number measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Dimension {
    /// Told in mm.
    Length,
    /// Told in g.
    Mass,
    /// Told in g/cm³.
    Density,
    /// Told in °C.
    Temperature,
    /// Told in per cent.
    Percent,
    /// A whole number without a unit.
    Count,
    /// Told in s.
    Time,
}

/// A unit: what it measures, and how many places the point moves to reach the told unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Unit {
    dimension: Dimension,
    places: i32,
}

/// The longest unit, without its spaces and marks.
const LONGEST_UNIT: usize = 8;
/// The most digits of a number.
const MOST_DIGITS: usize = 24;
/// The most tools of a list.
const MOST_TOOLS: usize = 32;
/// The longest name of a polymer.
const LONGEST_NAME: usize = 24;

impl Unit {
    /// A unit as written, in UTF-8 or Latin-1; None where it is not one of these.
    pub(super) fn read(text: &[u8]) -> Option<Self> {
        let mut letters = [0; LONGEST_UNIT];
        let mut length = 0;
        for byte in text {
            let letter = match byte {
                b'a'..=b'z' | b'A'..=b'Z' => byte | 0x20,
                b'0'..=b'9' | b'/' | b'%' => *byte,
                // Micro, and a cube; then what stands before them and a degree in UTF-8.
                0xB5 | 0xBC => b'u',
                0xB3 => b'3',
                b' ' | b'^' | 0xB0 | 0xC2 | 0xCE => continue,
                _ => return None,
            };
            *letters.get_mut(length)? = letter;
            length += 1;
        }
        let (dimension, places) = match letters.get(..length)? {
            b"mm" => (Dimension::Length, 0),
            b"cm" => (Dimension::Length, 1),
            b"m" => (Dimension::Length, 3),
            b"um" | b"micron" | b"microns" => (Dimension::Length, -3),
            b"g" => (Dimension::Mass, 0),
            b"kg" => (Dimension::Mass, 3),
            b"g/cm3" | b"g/cc" | b"g/ml" => (Dimension::Density, 0),
            b"kg/m3" => (Dimension::Density, -3),
            b"c" | b"degc" | b"celsius" => (Dimension::Temperature, 0),
            b"s" | b"sec" | b"second" | b"seconds" => (Dimension::Time, 0),
            b"%" | b"percent" => (Dimension::Percent, 0),
            _ => return None,
        };
        Some(Self { dimension, places })
    }
}

/// A number as written: its digits around the point, its unit, and what follows.
struct Figure<'a> {
    whole: &'a [u8],
    part: &'a [u8],
    unit: &'a [u8],
    rest: &'a [u8],
}

/// The number at the front of the text, with the unit that follows up to a space before a digit, a
/// comma, `;` or a bracket.
fn figure(text: &[u8]) -> Option<Figure<'_>> {
    let length = number_length(text);
    let (number, after) = text.split_at_checked(length)?;
    let point = memchr::memchr(b'.', number);
    let (whole, part) = match point {
        Some(at) => (number.get(..at)?, number.get(at + 1..)?),
        None => (number, &[][..]),
    };
    if length == 0 || length > MOST_DIGITS {
        return None;
    }
    let mut space = false;
    let end = after.iter().position(|byte| {
        let ends = matches!(byte, b',' | b';' | b'(' | b')') || (space && byte.is_ascii_digit());
        space = *byte == b' ';
        ends
    });
    let (unit, rest) = after.split_at_checked(end.unwrap_or(after.len()))?;
    Some(Figure {
        whole,
        part,
        unit: unit.trim_ascii(),
        rest,
    })
}

impl Figure<'_> {
    /// Adds the number to a list, its point moved to the right; `false` where it is no whole number
    /// and must be one.
    fn add(&self, list: &mut String, places: i32) {
        if !list.is_empty() {
            list.push(',');
        }
        let digits = || self.whole.iter().chain(self.part);
        let count = i32::try_from(self.whole.len() + self.part.len()).unwrap_or(0);
        let point = i32::try_from(self.whole.len()).unwrap_or(0) + places;
        // Zeros at the ends say nothing.
        let zeros_first = digits().take_while(|digit| **digit == b'0').count();
        let zeros_last = digits().rev().take_while(|digit| **digit == b'0').count();
        let first = i32::try_from(zeros_first)
            .unwrap_or(0)
            .min(point - 1)
            .min(count);
        let last = (count - i32::try_from(zeros_last).unwrap_or(0)).max(point);
        for place in first..last {
            if place == point {
                list.push('.');
            }
            let digit = usize::try_from(place)
                .ok()
                .and_then(|place| digits().nth(place));
            list.push(char::from(*digit.unwrap_or(&b'0')));
        }
    }

    fn is_whole(&self) -> bool {
        self.part.iter().all(|digit| *digit == b'0')
    }

    /// Whether the number is below one, and not zero.
    fn is_fraction(&self) -> bool {
        self.whole.iter().all(|digit| *digit == b'0') && !self.is_whole()
    }

    /// Whether the number is 100 or more.
    fn is_hundreds(&self) -> bool {
        let zeros = self
            .whole
            .iter()
            .take_while(|digit| **digit == b'0')
            .count();
        self.whole.len() - zeros >= 3
    }
}

/// A setting's text without quotation marks around it.
fn unquoted(text: &[u8]) -> &[u8] {
    match text {
        [b'"', inside @ .., b'"'] | [b'\'', inside @ .., b'\''] => inside.trim_ascii(),
        _ => text,
    }
}

/// The parts of a list of tools.
fn tools(text: &[u8]) -> impl Iterator<Item = &[u8]> {
    text.split(|byte| matches!(byte, b',' | b';'))
        .map(|part| unquoted(part.trim_ascii()))
}

/// Whether the value is a number, whatever its unit.
pub(super) fn plain(value: &[u8]) -> bool {
    figure(value).is_some_and(|figure| figure.rest.is_empty() && figure.unit.len() <= LONGEST_UNIT)
}

/// Numbers of one dimension in its told unit, one for each tool; None where the value says anything
/// else. `unit` is the key's, for numbers without one.
pub(super) fn decimals(value: &[u8], dimension: Dimension, unit: Option<Unit>) -> Option<String> {
    // Cheaper than to begin a text and to give it up.
    if !matches!(value.first(), Some(b'0'..=b'9' | b'.' | b'"' | b'\'')) {
        return None;
    }
    let mut list = String::new();
    for (index, text) in tools(unquoted(value)).enumerate() {
        let figure = figure(text).filter(|figure| figure.rest.is_empty())?;
        let said = match figure.unit {
            [] => unit,
            text => Some(Unit::read(text)?),
        };
        let places = match said {
            Some(unit) if unit.dimension == dimension => unit.places,
            Some(_) => return None,
            // Densities without a unit are in g/cm³, or in kg/m³: no polymer has 100 g/cm³.
            None if dimension == Dimension::Density && figure.is_hundreds() => -3,
            // A share below one without its sign is of one, not of a hundred.
            None if dimension == Dimension::Percent && figure.is_fraction() => 2,
            None => 0,
        };
        if index >= MOST_TOOLS || (dimension == Dimension::Count && !figure.is_whole()) {
            return None;
        }
        figure.add(&mut list, places);
    }
    Some(list)
}

/// The lengths in mm and the masses in g that a value lists by their units, in any order; numbers with
/// other units (volumes) and without one are left out.
pub(super) fn lengths_and_masses(
    value: &[u8],
    unit: Option<Unit>,
) -> (Option<String>, Option<String>) {
    let mut lengths = String::new();
    let mut masses = String::new();
    let mut rest = unquoted(value);
    for _ in 0..MOST_TOOLS {
        while let [b' ' | b'\t' | b',' | b';' | b'(' | b')', others @ ..] = rest {
            rest = others;
        }
        let Some(figure) = figure(rest) else { break };
        let said = match figure.unit {
            [] => unit,
            text => Unit::read(text),
        };
        match said.map(|unit| (unit.dimension, unit.places)) {
            Some((Dimension::Length, places)) => figure.add(&mut lengths, places),
            Some((Dimension::Mass, places)) => figure.add(&mut masses, places),
            _ => {}
        }
        rest = figure.rest;
    }
    // Text that goes on in another way is prose.
    if !rest.is_empty() {
        return (None, None);
    }
    let some = |list: String| (!list.is_empty()).then_some(list);
    (some(lengths), some(masses))
}

/// A time in seconds: `1d 2h 3m 4s`, `2 hours 5 minutes`, and a number alone where `bare` seconds are
/// meant; hours, minutes and seconds with colons where `clock` is no time of day. Two numbers with one
/// colon may be either, and are not read.
pub(super) fn time(value: &[u8], bare: bool, clock: bool) -> Option<String> {
    const COLONS: [f64; 3] = [3600.0, 60.0, 1.0];
    let value = unquoted(value);
    if memchr::memchr(b':', value).is_some() {
        let mut seconds = 0.0;
        let mut scales = COLONS.iter();
        for text in value.split(|byte| *byte == b':') {
            let number: f64 = std::str::from_utf8(text).ok()?.trim().parse().ok()?;
            seconds += number * scales.next()?;
        }
        let is_time = text_is_clock(value) && scales.next().is_none();
        return (clock && is_time).then(|| seconds.to_string());
    }
    let mut rest = value;
    let mut seconds = 0.0;
    let mut last = f64::INFINITY;
    loop {
        let length = number_length(rest);
        let (number, after) = rest.split_at_checked(length)?;
        if length == 0 || length > MOST_DIGITS {
            return None;
        }
        let number: f64 = std::str::from_utf8(number).ok()?.parse().ok()?;
        let after = after.trim_ascii_start();
        let letters = after.iter().take_while(|b| b.is_ascii_alphabetic()).count();
        let (unit, others) = after.split_at_checked(letters)?;
        let scale = match unit.to_ascii_lowercase().as_slice() {
            b"" if bare && last.is_infinite() && others.is_empty() => 1.0,
            b"d" | b"day" | b"days" => 86_400.0,
            b"h" | b"hr" | b"hrs" | b"hour" | b"hours" => 3600.0,
            b"m" | b"min" | b"mins" | b"minute" | b"minutes" => 60.0,
            b"s" | b"sec" | b"secs" | b"second" | b"seconds" => 1.0,
            _ => return None,
        };
        // From days down to seconds, each once.
        if scale >= last {
            return None;
        }
        last = scale;
        seconds += number * scale;
        rest = match others {
            [b',', more @ ..] => more.trim_ascii_start(),
            _ => others.trim_ascii_start(),
        };
        if rest.is_empty() {
            return Some(seconds.to_string());
        }
    }
}

/// Whether it is made of digits and colons, and a point perhaps.
fn text_is_clock(value: &[u8]) -> bool {
    value
        .iter()
        .all(|byte| byte.is_ascii_digit() || matches!(byte, b':' | b'.'))
}

/// Names of polymers in capitals, one for each tool; None where the value is no name: a number, a
/// sentence, another setting. With `short` only names that are written in capitals.
pub(super) fn materials(value: &[u8], short: bool) -> Option<String> {
    if value.len() > LONGEST_NAME * MOST_TOOLS {
        return None;
    }
    let mut list = String::new();
    for text in tools(unquoted(value)) {
        // A remark after the name: `PETG (black)`.
        let text = match text {
            [name @ .., b')'] => {
                let at = memchr::memchr(b'(', name)?;
                name.get(..at)?.trim_ascii()
            }
            _ => text,
        };
        let name = std::str::from_utf8(text).ok()?;
        if !is_polymer(name, short) {
            return None;
        }
        if !list.is_empty() {
            list.push(',');
        }
        list.extend(name.chars().map(|c| c.to_ascii_uppercase()));
    }
    Some(list)
}

/// Whether this may be a polymer's name: a word, and after it only words in capitals or digits
/// (`PA 6`, `PC ABS`).
fn is_polymer(name: &str, short: bool) -> bool {
    const NO_NAMES: [&str; 10] = [
        "none", "unknown", "null", "default", "custom", "auto", "true", "false", "yes", "no",
    ];
    let letters = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '+' | '/' | '_' | '.');
    let capitals = |word: &str| !word.bytes().any(|byte| byte.is_ascii_lowercase());
    let mut words = name.split(' ');
    let first = words.next().unwrap_or_default();
    name.len() <= LONGEST_NAME
        && first.len() >= 2
        && first.starts_with(|c: char| c.is_ascii_alphabetic())
        && name.chars().all(|c| letters(c) || c == ' ')
        && (!short || capitals(first))
        && words.all(capitals)
        && !NO_NAMES.iter().any(|no| no.eq_ignore_ascii_case(name))
}
