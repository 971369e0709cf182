//! Comments as hints: never the truth, only names for what the motion shows.

use serde::{Deserialize, Serialize};

/// What a stretch of deposit is said to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PathKind {
    /// Nothing was said.
    #[default]
    Unsaid,
    /// The outermost wall.
    OuterWall,
    /// A wall inside it.
    InnerWall,
    /// Sparse infill.
    Infill,
    /// Solid infill, top or bottom skin.
    SolidInfill,
    /// A stretch over air.
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
}

/// Reads one comment, with its `;` or brackets, and tells `tell` everything it says: one comment may
/// declare several settings. A comment that begins with `;!` is a note to this tool's tests.
pub fn read(comment: &[u8], tell: &mut dyn FnMut(Hint)) {
    let _ = (comment, tell);
}
