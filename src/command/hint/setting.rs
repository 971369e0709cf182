//! Declared settings: `layer_height = 0.2`, `Filament used: 1.2 m`.

use super::value::{Dimension, Unit, decimals, lengths_and_masses, materials, plain, time};
use super::words::{KEY, Piece, Pieces, UNIT};
use super::{Hint, Key};

/// The longest key, letters only.
const LONGEST_KEY: usize = 40;
/// The most settings of one comment.
const MOST_SETTINGS: usize = 16;

/// How a key's value is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Form {
    /// Numbers above zero.
    Above0(Key, Dimension),
    /// Numbers from zero on.
    From0(Key, Dimension),
    /// The same, the unit must be said: the key has other uses too.
    WithUnit(Key, Dimension),
    /// A diameter of 1 to 4 mm; a filament's, not a reinforcing fibre's.
    Filament,
    /// A polymer's name.
    Polymer,
    /// A polymer's short name in capitals; the key is used for grades, too.
    ShortName,
    /// Lengths and masses, by their units.
    Used,
    /// How long the job takes, in seconds where nothing else is said.
    Time,
    /// The same; what else could be the time of day.
    TimeOfDay,
    /// The same; a number alone tells how far the job has come.
    TimeSoFar,
}

use Dimension::{Count, Density, Length, Mass, Percent, Temperature};
use Form::{
    Above0, Filament, From0, Polymer, ShortName, Time, TimeOfDay, TimeSoFar, Used, WithUnit,
};

/// The keys: words without case and separators, in the alphabet's order.
static KEYS: &[(&[u8], Form)] = &[
    (b"bed", WithUnit(Key::BedTemperature, Temperature)),
    (b"bedtemp", From0(Key::BedTemperature, Temperature)),
    (b"bedtemperature", From0(Key::BedTemperature, Temperature)),
    (b"buildplatetemp", From0(Key::BedTemperature, Temperature)),
    (
        b"buildplatetemperature",
        From0(Key::BedTemperature, Temperature),
    ),
    (b"buildtime", Time),
    (b"density", Above0(Key::FilamentDensity, Density)),
    (b"estimatedbuildtime", Time),
    (b"estimatedduration", Time),
    (b"estimatedprintduration", Time),
    (b"estimatedprintingtime", Time),
    (b"estimatedprinttime", Time),
    (b"estimatedtime", Time),
    (b"estimatedtotaltime", Time),
    (b"extruder", WithUnit(Key::HotendTemperature, Temperature)),
    (b"extrudertemp", From0(Key::HotendTemperature, Temperature)),
    (
        b"extrudertemperature",
        From0(Key::HotendTemperature, Temperature),
    ),
    (
        b"extrusiontemperature",
        From0(Key::HotendTemperature, Temperature),
    ),
    (b"fiberdia", Filament),
    (b"fiberdiameter", Filament),
    (b"fibredia", Filament),
    (b"fibrediameter", Filament),
    (b"filament", Polymer),
    (b"filamentdensity", Above0(Key::FilamentDensity, Density)),
    (b"filamentdia", Above0(Key::FilamentDiameter, Length)),
    (b"filamentdiameter", Above0(Key::FilamentDiameter, Length)),
    (b"filamentlength", Above0(Key::FilamentLengthMm, Length)),
    (b"filamentlengthused", Above0(Key::FilamentLengthMm, Length)),
    (b"filamentmass", Above0(Key::FilamentMassG, Mass)),
    (b"filamentmassused", Above0(Key::FilamentMassG, Mass)),
    (b"filamentmaterial", Polymer),
    (b"filamenttype", Polymer),
    (b"filamentusage", Used),
    (b"filamentused", Used),
    (b"filamentusedlength", Above0(Key::FilamentLengthMm, Length)),
    (b"filamentusedmass", Above0(Key::FilamentMassG, Mass)),
    (b"filamentusedweight", Above0(Key::FilamentMassG, Mass)),
    (b"filamentweight", Above0(Key::FilamentMassG, Mass)),
    (b"filldensity", From0(Key::InfillPercent, Percent)),
    (b"firstlayerheight", Above0(Key::FirstLayerHeight, Length)),
    (
        b"firstlayerthickness",
        Above0(Key::FirstLayerHeight, Length),
    ),
    (
        b"heatedbedtemperature",
        From0(Key::BedTemperature, Temperature),
    ),
    (b"hotend", WithUnit(Key::HotendTemperature, Temperature)),
    (b"hotendtemp", From0(Key::HotendTemperature, Temperature)),
    (
        b"hotendtemperature",
        From0(Key::HotendTemperature, Temperature),
    ),
    (b"infill", WithUnit(Key::InfillPercent, Percent)),
    (b"infilldensity", From0(Key::InfillPercent, Percent)),
    (b"infillpercentage", From0(Key::InfillPercent, Percent)),
    (b"initiallayerheight", Above0(Key::FirstLayerHeight, Length)),
    (
        b"initiallayerprintheight",
        Above0(Key::FirstLayerHeight, Length),
    ),
    (
        b"initiallayerthickness",
        Above0(Key::FirstLayerHeight, Length),
    ),
    (b"layercount", Above0(Key::Layers, Count)),
    (b"layerheight", Above0(Key::LayerHeight, Length)),
    (b"layers", Above0(Key::Layers, Count)),
    (b"layerscount", Above0(Key::Layers, Count)),
    (b"layerthickness", Above0(Key::LayerHeight, Length)),
    (b"lengthoffilament", Above0(Key::FilamentLengthMm, Length)),
    (b"massoffilament", Above0(Key::FilamentMassG, Mass)),
    (b"material", Polymer),
    (b"materialdiameter", Above0(Key::FilamentDiameter, Length)),
    (b"materialtype", ShortName),
    (b"nozzle", WithUnit(Key::NozzleDiameter, Length)),
    (b"nozzlebore", Above0(Key::NozzleDiameter, Length)),
    (b"nozzledia", Above0(Key::NozzleDiameter, Length)),
    (b"nozzlediameter", Above0(Key::NozzleDiameter, Length)),
    (b"nozzlesize", Above0(Key::NozzleDiameter, Length)),
    (b"nozzletemp", From0(Key::HotendTemperature, Temperature)),
    (
        b"nozzletemperature",
        From0(Key::HotendTemperature, Temperature),
    ),
    (b"numberoflayers", Above0(Key::Layers, Count)),
    (b"numberofperimeters", From0(Key::Walls, Count)),
    (b"numberofwalls", From0(Key::Walls, Count)),
    (b"perimetercount", From0(Key::Walls, Count)),
    (b"perimeters", From0(Key::Walls, Count)),
    (b"platetemperature", From0(Key::BedTemperature, Temperature)),
    (
        b"platformtemperature",
        From0(Key::BedTemperature, Temperature),
    ),
    (b"polymer", Polymer),
    (
        b"printbedtemperature",
        From0(Key::BedTemperature, Temperature),
    ),
    (b"printduration", Time),
    (
        b"printingtemperature",
        From0(Key::HotendTemperature, Temperature),
    ),
    (b"printingtime", TimeSoFar),
    (
        b"printtemperature",
        From0(Key::HotendTemperature, Temperature),
    ),
    (b"printtime", Time),
    (b"sparseinfilldensity", From0(Key::InfillPercent, Percent)),
    (b"temperature", From0(Key::HotendTemperature, Temperature)),
    (b"time", TimeOfDay),
    (b"totalestimatedprintingtime", Time),
    (b"totalestimatedprinttime", Time),
    (b"totalestimatedtime", Time),
    (
        b"totalfilamentlength",
        Above0(Key::FilamentLengthMm, Length),
    ),
    (b"totalfilamentmass", Above0(Key::FilamentMassG, Mass)),
    (b"totalfilamentused", Used),
    (b"totalfilamentweight", Above0(Key::FilamentMassG, Mass)),
    (b"totallayercount", Above0(Key::Layers, Count)),
    (b"totallayernumber", Above0(Key::Layers, Count)),
    (b"totallayers", Above0(Key::Layers, Count)),
    (b"totallayerscount", Above0(Key::Layers, Count)),
    (b"totalprintingtime", Time),
    (b"totalprinttime", Time),
    (b"totaltime", Time),
    (b"usedfilament", Used),
    (b"wallcount", From0(Key::Walls, Count)),
    (b"walllinecount", From0(Key::Walls, Count)),
    (b"walllines", From0(Key::Walls, Count)),
    (b"wallloops", From0(Key::Walls, Count)),
    (b"walls", From0(Key::Walls, Count)),
    (b"weightoffilament", Above0(Key::FilamentMassG, Mass)),
];

/// Tells the settings that the comment declares, one after another. It stops where the comment goes on
/// in another way: what stands in another setting's text (`start = M104 ; layer_height = 0.9`) is not
/// declared.
pub(super) fn read(body: &[u8], tell: &mut dyn FnMut(Hint)) {
    let mut rest = body;
    for _ in 0..MOST_SETTINGS {
        let Some(at) = memchr::memchr2(b'=', b':', rest) else {
            return;
        };
        let (key, value) = rest.split_at(at);
        let value = value.get(1..).unwrap_or_default();
        let (value, others) = split(value);
        let told = match form(key) {
            Some((form, unit)) => declare(form, unit, value.trim_ascii(), tell),
            None => !others.is_empty() && plain(value.trim_ascii()),
        };
        if !told || others.is_empty() {
            return;
        }
        rest = others;
    }
}

/// The value, and the settings after it: a comma or `;` divides them where a key follows, else it
/// divides the tools' values.
fn split(value: &[u8]) -> (&[u8], &[u8]) {
    let Some(next_key) = memchr::memchr2(b'=', b':', value) else {
        return (value, &[]);
    };
    let before = value.get(..next_key).unwrap_or_default();
    match memchr::memrchr2(b',', b';', before) {
        Some(at) => (
            value.get(..at).unwrap_or_default(),
            value.get(at + 1..).unwrap_or_default(),
        ),
        None => (value, &[]),
    }
}

/// What the key means, with the unit that it carries (`filament used [mm]`, `layer_height_mm`).
fn form(key: &[u8]) -> Option<(Form, Option<Unit>)> {
    let mut is_usual = false;
    let (name, bracket) = match key.iter().position(|byte| matches!(byte, b'[' | b'(')) {
        Some(at) => {
            let (name, bracket) = key.split_at(at);
            let inside = match bracket.trim_ascii() {
                [b'[', inside @ .., b']'] | [b'(', inside @ .., b')'] => inside,
                _ => return None,
            };
            is_usual = matches!(inside, b"normal mode" | b"normal");
            let unit = if is_usual {
                None
            } else {
                Some(Unit::read(inside)?)
            };
            (name, unit)
        }
        None => (key, None),
    };
    let mut letters = [0; LONGEST_KEY];
    let mut length = 0;
    let mut unit_word: Option<&[u8]> = None;
    let mut pieces = Pieces::new(name);
    let mut tool_follows = false;
    loop {
        let before = pieces.rest();
        let Some(piece) = pieces.next() else { break };
        // A unit's word, if there is one, is the last.
        if unit_word.is_some() {
            return None;
        }
        match piece {
            Piece::Word(word) if word.any(KEY | UNIT) => {
                let used = before.len() - pieces.rest().len();
                let text = before.get(..used)?;
                // The piece begins after its separators.
                let start = text.iter().position(u8::is_ascii_alphabetic)?;
                let text = text.get(start..)?;
                if !word.any(KEY) {
                    unit_word = Some(text);
                    continue;
                }
                let end = length + text.len();
                let place = letters.get_mut(length..end)?;
                place.copy_from_slice(text);
                place.make_ascii_lowercase();
                length = end;
            }
            Piece::Mark(b'#') => tool_follows = true,
            Piece::Number(_) if tool_follows => tool_follows = false,
            _ => return None,
        }
    }
    let unit = match (bracket, unit_word) {
        (None, Some(word)) => Some(Unit::read(word)?),
        (bracket, None) => bracket,
        (Some(_), Some(_)) => return None,
    };
    let letters = letters.get(..length)?;
    let at = KEYS.binary_search_by_key(&letters, |(name, _)| name).ok()?;
    let (_, form) = KEYS.get(at)?;
    // Of times some are for another way of working than the usual one.
    (!is_usual || matches!(form, Time | TimeSoFar)).then_some((*form, unit))
}

/// Tells the value under its key; whether it was one.
fn declare(form: Form, unit: Option<Unit>, value: &[u8], tell: &mut dyn FnMut(Hint)) -> bool {
    let mut told = false;
    let mut say = |key: Key, value: Option<String>| {
        if let Some(value) = value {
            told = true;
            tell(Hint::Setting(key, value));
        }
    };
    match form {
        Above0(key, dimension) => say(
            key,
            decimals(value, dimension, unit).filter(|text| above_zero(text)),
        ),
        From0(key, dimension) => say(key, decimals(value, dimension, unit)),
        WithUnit(key, dimension) => {
            let said = unit.is_some() || value.last().is_some_and(|byte| !byte.is_ascii_digit());
            if said {
                say(key, decimals(value, dimension, unit));
            }
        }
        Filament => {
            let told = decimals(value, Length, unit);
            let width = |text: &str| text.parse().is_ok_and(|mm: f64| (1.0..=4.0).contains(&mm));
            say(
                Key::FilamentDiameter,
                told.filter(|text| text.split(',').all(width)),
            );
        }
        Time | TimeOfDay | TimeSoFar => {
            let seconds = unit.map_or_else(
                || time(value, form != TimeSoFar, form == Time),
                |_| decimals(value, Dimension::Time, unit),
            );
            say(Key::PrintTimeS, seconds.filter(|text| above_zero(text)));
        }
        Polymer => say(Key::Material, materials(value, false)),
        ShortName => say(Key::Material, materials(value, true)),
        Used => {
            let (lengths, masses) = lengths_and_masses(value, unit);
            say(
                Key::FilamentLengthMm,
                lengths.filter(|text| above_zero(text)),
            );
            say(Key::FilamentMassG, masses.filter(|text| above_zero(text)));
        }
    }
    told
}

/// Whether any of the numbers is above zero: zeros alone mean that nobody worked it out.
fn above_zero(list: &str) -> bool {
    list.bytes().any(|byte| matches!(byte, b'1'..=b'9'))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_keys_are_in_order_and_each_can_be_read() {
        assert!(KEYS.is_sorted_by(|one, other| one.0 < other.0));
        assert!(KEYS.iter().all(|(name, _)| name.len() <= LONGEST_KEY));
    }
}
