//! Setpoints as they stand in a job: where their numbers are, and what to write there.

use super::{Proposal, Proposals};
use crate::edit::Change;
use crate::finding::{Excerpt, Limit};
use crate::grammar::{Kind, Word, Words, read_line};
use crate::inspection::SENSOR_SPREAD;
use crate::machine::Setting;
use crate::quantity::Celsius;
use std::collections::BTreeMap;
use std::ops::Range;

/// A number in a job.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Number {
    line: u64,
    range: Range<u64>,
    value: f64,
    decimals: usize,
}

impl Number {
    /// The number of a word on a line that begins at `start`; none where it is spaced.
    pub fn of(word: &Word, bytes: &[u8], start: u64, line: u64) -> Option<Self> {
        let said = word.bytes(bytes);
        let from = said
            .iter()
            .position(|byte| byte.is_ascii_digit() || matches!(byte, b'-' | b'+' | b'.'))?;
        let said = said.get(from..)?;
        if said.iter().any(|byte| matches!(byte, b' ' | b'\t')) {
            return None;
        }
        let from = start + u64::from(word.at) + from as u64;
        Some(Self::written(said, from, line, word.to_f64()))
    }

    /// A number as it stands at a byte of the job.
    fn written(said: &[u8], from: u64, line: u64, value: f64) -> Self {
        Self {
            line,
            range: from..from + said.len() as u64,
            value,
            decimals: said
                .iter()
                .position(|byte| *byte == b'.')
                .map_or(0, |point| said.len() - point - 1),
        }
    }

    /// The change that writes another value, rounded to at most so many digits behind the point, and with
    /// no fewer than stood there.
    pub fn rounded_to(&self, value: f64, decimals: usize) -> Change {
        let wide = format!("{value:.*}", decimals.max(self.decimals));
        let narrow = format!("{value:.*}", self.decimals);
        let text = if narrow.parse::<f64>().ok() == wide.parse().ok() {
            &narrow
        } else {
            // More digits than stood there, so that there is a point.
            wide.trim_end_matches('0').trim_end_matches('.')
        };
        let is_zero = text.parse() == Ok(0.0);
        let text = text.strip_prefix('-').filter(|_| is_zero).unwrap_or(text);
        Change::new(self.line, self.range.clone(), text.to_owned())
    }

    /// Its bytes.
    pub const fn range(&self) -> &Range<u64> {
        &self.range
    }

    /// Its value.
    pub const fn value(&self) -> f64 {
        self.value
    }

    /// Its digits behind the point.
    pub const fn decimals(&self) -> usize {
        self.decimals
    }

    /// The change that writes another value in its place, with as many digits behind the point.
    pub fn to(&self, value: f64) -> Change {
        let decimals = self.decimals;
        let mut text = format!("{value:.decimals$}");
        if text.parse() != Ok(value) {
            // The value needs more digits than stood there.
            text = value.to_string();
        }
        Change::new(self.line, self.range.clone(), text)
    }
}

/// The numbers behind any of `letters` on the line of a word that set something, or the value of the
/// macro's parameter; only those that say `value`. Empty where the line was clipped.
pub(super) fn numbers(by: &Excerpt, letters: &[u8], value: f64) -> Vec<Number> {
    if by.clipped_front || by.clipped_back {
        return Vec::new();
    }
    let mut words = Words::default();
    let mut text = by.text.clone();
    text.push(b'\n');
    read_line(&text, &mut words);
    let at = (by.place.start - by.text_start) as usize;
    let Some(index) = words.iter().position(|word| word.at as usize == at) else {
        return Vec::new();
    };
    let mut found = Vec::new();
    if let Some(parameter) = words.get(index).filter(|word| word.kind == Kind::Parameter) {
        let said = parameter.parameter(&text);
        if let Some(read) = std::str::from_utf8(said)
            .ok()
            .and_then(|said| said.parse().ok())
        {
            let from = by.text_start + parameter.value_at() as u64;
            found.push(Number::written(said, from, by.place.line, read));
        }
    } else {
        let is_next =
            |word: &&Word| !matches!(word.letter, b'M' | b'G') || word.kind != Kind::Number;
        for word in words.iter().skip(index + 1).take_while(is_next) {
            if word.kind == Kind::Number && letters.contains(&word.letter) {
                found.extend(Number::of(word, &text, by.text_start, by.place.line));
            }
        }
    }
    found.retain(|number| (number.value - value).abs() < 1e-9);
    found
}

/// A setpoint outside its range, and what it is to become.
pub(super) struct Outside<'a> {
    pub rework: &'static str,
    pub requirement: &'static str,
    /// The word that sets it.
    pub by: &'a Excerpt,
    /// °C.
    pub target: f64,
    /// The nearest bound of the range.
    pub wanted: Celsius,
    pub limit: Limit,
    /// Why the machine must not be set so hot, where it must not.
    pub too_hot: Option<String>,
    /// Words before it that set the same, with nothing set in between.
    pub ahead: &'a [Excerpt],
}

/// Follows what one heater is set to: a word that warms it up ahead of the one that waits says the same
/// twice, and both are one setting.
#[derive(Debug, Default)]
pub(super) struct Ahead {
    last: Option<(Excerpt, f64)>,
    /// By the key of the later word, the earlier ones.
    words: BTreeMap<u64, Vec<Excerpt>>,
}

/// The most words that are followed for a heater, and the most of them that say the same in a row (both
/// chosen: a job's start has two or three; with more they stay as they are).
const AHEAD: usize = 1000;
const ROW: usize = 4;

impl Ahead {
    /// Takes the setting after a command.
    pub fn step(&mut self, setting: &Setting) {
        let Some((by, target)) = setting.by.as_ref().zip(setting.target.get()) else {
            self.last = None;
            return;
        };
        let last = match &mut self.last {
            Some((last, said)) if key(last) == key(by) => {
                *said = target;
                return;
            }
            last => last.replace((by.clone(), target)),
        };
        if let Some((last, said)) = last
            && said == target
            && self.words.len() < AHEAD
        {
            let mut words = self.words.get(&key(&last)).cloned().unwrap_or_default();
            words.push(last);
            if words.len() <= ROW {
                self.words.insert(key(by), words);
            }
        }
    }

    /// The words ahead of one, without those that `is_used` says stand for themselves.
    pub fn of(&self, by: &Excerpt, is_used: impl Fn(u64) -> bool) -> Vec<Excerpt> {
        let words = self.words.get(&key(by)).map_or(&[][..], Vec::as_slice);
        // What lies ahead of a used one belongs to that one.
        words
            .iter()
            .rev()
            .take_while(|word| !is_used(key(word)))
            .cloned()
            .collect()
    }
}

/// The bound that a target misses by more than a sensor's spread: whether from below, and the bound.
pub(super) fn missed(least: Celsius, most: Celsius, target: f64) -> Option<(bool, Celsius)> {
    if least.get() - target > SENSOR_SPREAD {
        Some((true, least))
    } else if target - most.get() > SENSOR_SPREAD {
        Some((false, most))
    } else {
        None
    }
}

/// Proposes the change, or says why not.
pub(super) fn put_right(outside: Outside<'_>, proposals: &mut Proposals) {
    let Outside {
        rework,
        requirement,
        by,
        target,
        wanted,
        limit,
        too_hot,
        ahead,
    } = outside;
    if let Some(reason) = too_hot {
        proposals.refuse(rework, requirement, reason);
        return;
    }
    let mut found = numbers(by, b"SR", target);
    if !found.is_empty() {
        for word in ahead {
            found.extend(numbers(word, b"SR", target));
        }
    }
    if found.is_empty() {
        let reason = "the setpoint's number does not stand where it can be changed";
        proposals.refuse(rework, requirement, reason);
        return;
    }
    proposals.list.push(Proposal {
        rework,
        requirement,
        old: format!("{target} °C"),
        new: wanted.to_string(),
        limit: Some(limit),
        at: Some(by.clone()),
        changes: found.iter().map(|number| number.to(wanted.get())).collect(),
    });
}

/// A place as a key: a word that sets something is one word, however often it is met.
pub(super) fn key(by: &Excerpt) -> u64 {
    by.place.start
}

#[cfg(test)]
mod tests {
    use super::*;

    fn excerpt(line: &str, what: &str) -> Excerpt {
        let from = line.find(what).unwrap();
        Excerpt::new(7, 1000, line.as_bytes(), from..from + what.len())
    }

    #[test]
    fn numbers_where_they_stand() {
        let by = excerpt("M109 T1 S220.0 ; go\n", "M109");
        let found = numbers(&by, b"SR", 220.0);
        assert_eq!(found.len(), 1);
        let change = found[0].to(245.0);
        assert_eq!(
            (change.line, change.range, change.text.as_str()),
            (7, 1009..1014, "245.0")
        );
    }

    #[test]
    fn a_macros_parameter() {
        let by = excerpt("START BED=60 HOTEND=215\n", "HOTEND=215");
        let change = numbers(&by, b"SR", 215.0)[0].to(240.0);
        assert_eq!((change.range, change.text.as_str()), (1020..1023, "240"));
    }

    #[test]
    fn not_the_next_command_and_no_other_value() {
        let by = excerpt("M104 S220 M140 S220\n", "M104");
        assert_eq!(numbers(&by, b"SR", 220.0).len(), 1);
        assert!(numbers(&by, b"SR", 230.0).is_empty());
    }
}
