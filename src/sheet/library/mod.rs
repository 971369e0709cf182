//! The built-in library: sheets embedded in the program, sorted by name.
//!
//! Figures are ranges for a material as such; the data sheet of the spool at hand always wins.

use super::fault::Error;
use super::{Machine, Material, Origin, name, read};
use std::sync::OnceLock;

macro_rules! embedded {
    ($folder:literal: $($name:literal),+ $(,)?) => {
        &[$(($name, include_str!(concat!($folder, "/", $name, ".toml")))),+]
    };
}

/// Name and text of every material sheet.
const MATERIALS: &[(&str, &str)] = embedded!(
    "materials": "ABS", "ASA", "PA12", "PA12-CF", "PA6", "PA6-CF", "PA66", "PC", "PEEK", "PEI", "PETG", "PLA",
    "POM", "PP", "PVAL", "TPU",
);

/// Name and text of every machine sheet.
const MACHINES: &[(&str, &str)] = embedded!("machines": "closed-hardened", "heated-chamber", "large-285", "open-lined", "two-tools");

/// Every material sheet, sorted by name.
pub fn materials() -> &'static [Material] {
    static READ: OnceLock<Vec<Material>> = OnceLock::new();
    // A sheet of the library that cannot be read fails a test, never a user.
    READ.get_or_init(|| {
        MATERIALS
            .iter()
            .filter_map(|sheet| read_one(*sheet).ok())
            .collect()
    })
}

/// Every machine sheet, sorted by name.
pub fn machines() -> &'static [Machine] {
    static READ: OnceLock<Vec<Machine>> = OnceLock::new();
    READ.get_or_init(|| {
        MACHINES
            .iter()
            .filter_map(|sheet| read_one(*sheet).ok())
            .collect()
    })
}

/// The material sheet of this name or other spelling. Case and separators do not matter. A spelling
/// that several materials share (`nylon`) names none of them.
///
/// # Errors
/// No sheet has that name, or several share the spelling; the names meant are in the error.
pub fn material(word: &str) -> Result<Material, Error> {
    match material_text(word) {
        Some(sheet) => read_one(sheet),
        None => Err(match sharing(word) {
            names if names.is_empty() => unknown("material", word, near_material(word)),
            names => Error::Shared {
                word: crate::quantity::clip(word),
                names,
            },
        }),
    }
}

/// The machine sheet of this name. Case and separators do not matter.
///
/// # Errors
/// No sheet has that name; the nearest names are in the error.
pub fn machine(word: &str) -> Result<Machine, Error> {
    match machine_text(word) {
        Some(sheet) => read_one(sheet),
        None => Err(unknown("machine", word, near_machine(word))),
    }
}

/// The text of a library sheet as it is embedded, to start a sheet of one's own from.
#[must_use]
pub fn text(word: &str) -> Option<&'static str> {
    material_text(word)
        .or_else(|| machine_text(word))
        .map(|(_, text)| text)
}

fn read_one<S: read::Sheet>((name, text): (&str, &str)) -> Result<S, Error> {
    read::text_of(name, text, Origin::Library)
}

fn unknown(kind: &'static str, word: &str, near: Vec<&'static str>) -> Error {
    Error::Unknown {
        kind,
        word: crate::quantity::clip(word),
        near,
    }
}

pub(super) fn material_text(word: &str) -> Option<(&'static str, &'static str)> {
    by_name(MATERIALS, word).or_else(|| match sharing(word).as_slice() {
        [only] => by_name(MATERIALS, only),
        _ => None,
    })
}

pub(super) fn machine_text(word: &str) -> Option<(&'static str, &'static str)> {
    by_name(MACHINES, word)
}

fn by_name(
    sheets: &[(&'static str, &'static str)],
    word: &str,
) -> Option<(&'static str, &'static str)> {
    let word = name::plain(word);
    sheets
        .iter()
        .find(|(name, _)| name::plain(name) == word)
        .copied()
}

/// Materials that have the spelling in common.
fn sharing(word: &str) -> Vec<&'static str> {
    materials()
        .iter()
        .filter(|sheet| sheet.answers_to(word))
        .map(|sheet| sheet.name.as_str())
        .collect()
}

/// Materials that share the spelling, else those of near names.
pub(super) fn near_material(word: &str) -> Vec<&'static str> {
    let sharing = sharing(word);
    if sharing.is_empty() {
        name::nearest(word, MATERIALS.iter().map(|(name, _)| *name))
    } else {
        sharing
    }
}

/// Machines of near names.
pub(super) fn near_machine(word: &str) -> Vec<&'static str> {
    name::nearest(word, MACHINES.iter().map(|(name, _)| *name))
}
