//! Comments as hints: never the truth, only names for what the motion shows.
//!
//! The trade's words decide, from no particular program. A comment says something only if *every* word
//! of it has a meaning in its place, so that prose which happens to hold a word stays prose.

mod layer;
mod path;
mod setting;
mod value;
mod words;

use serde::{Deserialize, Serialize};
use words::Word;

/// What a stretch of deposit is said to be.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
#[serde(rename_all = "kebab-case")]
pub enum PathKind {
    /// Nothing was said.
    #[default]
    Unsaid,
    /// The outermost wall.
    OuterWall,
    /// A wall inside it.
    InnerWall,
    /// A wall of which nothing more is said.
    Wall,
    /// Sparse infill.
    Infill,
    /// Solid infill, top or bottom skin.
    SolidInfill,
    /// A stretch over air, overhanging walls included.
    Bridge,
    /// Support, and its interface.
    Support,
    /// A loop around the part that does not touch it.
    Skirt,
    /// A rim that holds the part down.
    Brim,
    /// A base under the part.
    Raft,
    /// A tower in which nozzles are primed or wiped.
    Tower,
    /// A line or blob that fills the nozzle.
    Purge,
    /// A wipe.
    Wipe,
    /// A bead in a narrow gap.
    Gap,
}

/// What a comment says.
#[derive(Debug, Clone, PartialEq)]
pub enum Hint {
    /// A layer begins; its number and height in mm where they are given.
    Layer {
        /// The layer's number as counted by the job.
        number: Option<u32>,
        /// The layer's height above the bed, mm.
        z: Option<f64>,
    },
    /// The deposit that follows is of this kind.
    Path(PathKind),
    /// A setting is declared.
    Setting(Key, String),
}

/// A declared setting.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Key {
    /// mm.
    LayerHeight,
    /// mm.
    FirstLayerHeight,
    /// mm.
    FilamentDiameter,
    /// mm.
    NozzleDiameter,
    /// A polymer's name.
    Material,
    /// mm.
    FilamentLengthMm,
    /// g.
    FilamentMassG,
    /// g/cm³.
    FilamentDensity,
    /// A count.
    Layers,
    /// A count.
    Walls,
    /// Per cent.
    InfillPercent,
    /// °C.
    HotendTemperature,
    /// °C.
    BedTemperature,
    /// s.
    PrintTimeS,
}

/// Reads one comment, with its `;` or brackets, and tells `tell` everything it says: one comment may
/// declare several settings. A comment that begins with `;!` is a note to this tool's tests.
///
/// Values of settings are told as plain decimals in the key's unit (several tools' with commas), a
/// material in capitals. Whatever the bytes, this does not fail; where it is in doubt it tells nothing.
///
/// Told as [`PathKind::Unsaid`]: the end of a kind (`wipe end`), and a kind that has no name here
/// (`type: custom`). What was said before holds no longer.
pub fn read(comment: &[u8], tell: &mut dyn FnMut(Hint)) {
    let Some((body, first)) = opening(comment) else {
        return;
    };
    if first.any(words::LAYER | words::LAYER_SIDE)
        && let Some(layer) = layer::read(body)
    {
        return tell(layer);
    }
    if first.any(words::IN_PATH)
        && let Some(kind) = path::read(body)
    {
        return tell(Hint::Path(kind));
    }
    if first.any(words::KEY) {
        setting::read(body, tell);
    }
}

/// The first cheap look: the comment without its marks and ornaments, and what its first word may mean.
/// None where no reader can find anything: nearly every comment ends here.
fn opening(comment: &[u8]) -> Option<(&[u8], Word)> {
    let body = match comment {
        [b';', b'!', ..] => return None,
        [b'(', rest @ .., b')'] | [b'(', rest @ ..] => rest,
        whole => whole,
    };
    let marks = body.iter().take_while(|byte| **byte == b';').count();
    let mut body = body.get(marks..)?.trim_ascii();
    // Ornaments (`--- raft ---`) stand on both sides, so that an empty value (`wipe =`) stays one.
    if let Some(ornament @ (b'-' | b'*' | b'=' | b'~')) = body.first() {
        while let Some(less) = body.strip_prefix(&[*ornament]) {
            body = less;
        }
        while let Some(less) = body.strip_suffix(&[*ornament]) {
            body = less;
        }
        body = body.trim_ascii();
    }
    if let [b'\'' | b'"', ..] = body {
        // A name in quotation marks may be one that is not known.
        return Some((body, words::QUOTED));
    }
    let (first, _) = words::word(body);
    first.any(words::ANY).then_some((body, first))
}

#[cfg(test)]
mod tests;
