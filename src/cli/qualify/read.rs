//! Values of `qualify` as they are typed: with their unit, several in one.

use crate::qualify::Weighed;
use crate::qualify::symptom::Symptom;
use crate::quantity::{Celsius, Grams, Hours, Millimetres, Percent};
use crate::sheet::{FlameClass, Load, NozzleMaterial};
use std::fmt::Display;
use std::str::FromStr;

/// A temperature, and whether it was written in degrees Fahrenheit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::cli) struct Degrees {
    pub celsius: Celsius,
    pub is_fahrenheit: bool,
}

impl FromStr for Degrees {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        Ok(Self {
            celsius: text.parse().map_err(said)?,
            is_fahrenheit: text.trim_end().ends_with(['F', '℉']),
        })
    }
}

/// Temperature and humidity of a room.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::cli) struct Air {
    pub temperature: Degrees,
    pub humidity: Percent,
}

/// A dryer's temperature, and the time in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::cli) struct Drying {
    pub temperature: Degrees,
    pub time: Option<Hours>,
}

impl FromStr for Drying {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (temperature, time) = match text.split_once(',') {
            Some((temperature, time)) => (temperature, Some(time.trim().parse().map_err(said)?)),
            None => (text, None),
        };
        Ok(Self {
            temperature: temperature.trim().parse()?,
            time,
        })
    }
}

fn said(fault: impl Display) -> String {
    fault.to_string().replace("; ", ": ")
}

pub(super) fn air(text: &str) -> Result<Air, String> {
    let help = "write temperature and relative humidity: 23C,55%";
    let (temperature, humidity) = text.split_once(',').ok_or(help)?;
    let humidity: Percent = humidity.trim().parse().map_err(said)?;
    if humidity.get() > 100.0 {
        return Err(format!(
            "{humidity} is no humidity: air holds 100 % at most"
        ));
    }
    Ok(Air {
        temperature: temperature.trim().parse()?,
        humidity,
    })
}

/// Lengths between crosses; the last one's unit holds for those that have none, millimetres where
/// none has.
fn lengths<const N: usize>(text: &str, example: &str) -> Result<[Millimetres; N], String> {
    let parts: Vec<&str> = text.split(['x', 'X', '×']).map(str::trim).collect();
    let is_bare =
        |part: &str| part.ends_with(|letter: char| letter.is_ascii_digit() || letter == '.');
    let unit = parts
        .last()
        .filter(|last| !is_bare(last))
        .map_or("mm", |last| {
            last.trim_start_matches(|letter: char| {
                letter.is_ascii_digit() || " .-+".contains(letter)
            })
        });
    let mut read = Vec::with_capacity(N);
    for part in &parts {
        let with_unit = if is_bare(part) {
            format!("{part} {unit}")
        } else {
            (*part).to_owned()
        };
        let length: Millimetres = with_unit.parse().map_err(said)?;
        if length.get() <= 0.0 {
            return Err(format!(
                "{length} is no length of a body: write it as {example}"
            ));
        }
        read.push(length);
    }
    read.try_into().map_err(|read: Vec<Millimetres>| {
        format!(
            "{} lengths where {N} are wanted: write them as {example}",
            read.len()
        )
    })
}

pub(super) fn size(text: &str) -> Result<[Millimetres; 3], String> {
    lengths(text, "180x120x60")
}

pub(super) fn bead(text: &str) -> Result<[Millimetres; 2], String> {
    lengths(text, "0.45x0.2")
}

pub(super) fn section(text: &str) -> Result<[Millimetres; 2], String> {
    lengths(text, "20x10")
}

pub(super) fn infill(text: &str) -> Result<Percent, String> {
    let share: Percent = text.parse().map_err(said)?;
    if share.get() > 100.0 {
        return Err(format!("{share} is more than solid"));
    }
    Ok(share)
}

/// Hours: a bare number counts them, for the option says so.
pub(super) fn hours(text: &str) -> Result<Hours, String> {
    let bare = text.trim().parse::<f64>().is_ok();
    let hours: Hours = if bare {
        format!("{} h", text.trim()).parse().map_err(said)?
    } else {
        text.parse().map_err(said)?
    };
    if hours.get() <= 0.0 {
        return Err(format!("{hours} is no time"));
    }
    Ok(hours)
}

pub(super) fn weighed(text: &str) -> Result<Weighed, String> {
    let help = "write the mass before and after drying: 505g,500g";
    let masses = text
        .split(',')
        .map(|text| text.trim().parse::<Grams>().map_err(said).map(Grams::get))
        .collect::<Result<Vec<f64>, String>>()?;
    let (before, after, empty) = match masses.as_slice() {
        [before, after] => (*before, *after, None),
        [before, after, empty] => (*before, *after, Some(*empty)),
        _ => return Err(help.to_owned()),
    };
    if after > before {
        return Err(format!("drying does not make a spool heavier: {help}"));
    }
    if after <= empty.unwrap_or(0.0) {
        return Err("a spool with filament weighs more than the empty one".to_owned());
    }
    Ok(Weighed {
        before,
        after,
        empty,
    })
}

pub(super) fn scrap(text: &str) -> Result<Percent, String> {
    let share: Percent = text.parse().map_err(said)?;
    if share.get() >= 100.0 {
        return Err(format!("with {share} of scrap no part comes out"));
    }
    Ok(share)
}

fn word<T: Copy + Display>(text: &str, all: &[T]) -> Result<T, String> {
    all.iter()
        .find(|known| known.to_string().eq_ignore_ascii_case(text))
        .copied()
        .ok_or_else(|| {
            let known: Vec<String> = all.iter().map(ToString::to_string).collect();
            format!("write one of: {}", known.join(", "))
        })
}

pub(super) fn load(text: &str) -> Result<Load, String> {
    word(text, Load::ALL)
}

pub(super) fn symptom(text: &str) -> Result<Symptom, String> {
    let word = text.to_lowercase().replace([' ', '_'], "-");
    Symptom::ALL
        .into_iter()
        .find(|known| known.word() == word)
        .ok_or_else(|| {
            let known = Symptom::ALL.map(Symptom::word);
            format!("write one of: {}", known.join(", "))
        })
}

pub(super) fn flame(text: &str) -> Result<FlameClass, String> {
    word(text, FlameClass::ALL)
}

pub(super) fn nozzle(text: &str) -> Result<NozzleMaterial, String> {
    word(text, NozzleMaterial::ALL)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_is_read_with_its_unit() {
        let typed: Degrees = "220F".parse().unwrap();
        // NIST SP 811, B.8 (memory): 220 °F is 104.444 °C.
        assert!((typed.celsius.get() - 104.444).abs() < 1e-3 && typed.is_fahrenheit);
        let of = |text| size(text).map(|sides| sides.map(Millimetres::get));
        assert_eq!(of("180x120x60"), Ok([180.0, 120.0, 60.0]));
        assert_eq!(of("2 x 1 × 0.5 in"), Ok([50.8, 25.4, 12.7]));
        assert_eq!(of("18cmx120mmx60"), Ok([180.0, 120.0, 60.0]));
        assert_eq!(hours("9").map(Hours::get), Ok(9.0));
        assert_eq!(hours("90 min").map(Hours::get), Ok(1.5));
        let room = air("23C, 55%").unwrap();
        assert_eq!(
            (room.temperature.celsius.get(), room.humidity.get()),
            (23.0, 55.0)
        );
        let dryer: Drying = "70 °C, 8h".parse().unwrap();
        assert_eq!(dryer.time.map(Hours::get), Some(8.0));
    }

    #[test]
    fn what_cannot_be_is_refused_with_the_fix() {
        for (fault, words) in [
            ("-300C".parse::<Degrees>().unwrap_err(), "-300"),
            ("220".parse::<Degrees>().unwrap_err(), "220 °C"),
            (air("23C,130%").unwrap_err(), "100 %"),
            (air("23C").unwrap_err(), "23C,55%"),
            (size("180x120").unwrap_err(), "180x120x60"),
            (size("180x120x-5").unwrap_err(), "no length"),
            (size("axbxc").unwrap_err(), "a"),
            (weighed("500g,505g").unwrap_err(), "heavier"),
            (weighed("505g,500g,600g").unwrap_err(), "empty"),
            (weighed("505g").unwrap_err(), "505g,500g"),
            (hours("0").unwrap_err(), "no time"),
            (hours("long").unwrap_err(), "long"),
            (scrap("100%").unwrap_err(), "no part"),
            (nozzle("wood").unwrap_err(), "carbide"),
        ] {
            assert!(fault.contains(words), "{fault}");
        }
    }
}
