//! Sheets: what a job is held against. TOML with units in the values, a source and a mark to each.
//!
//! A leaf that is `None` is one the sheet does not say; that is no pass, and whoever holds a job
//! against the sheet says so. A built-in library needs no files; files are read under `cli` only.
//!
//! Absent here: jobs, requirements, and any printer or filament by its maker's name.

mod application;
mod check;
mod cited;
mod control;
mod fault;
pub mod library;
#[cfg(feature = "cli")]
mod load;
mod machine;
mod material;
mod name;
mod notes;
mod outcome;
#[cfg(feature = "cli")]
pub mod overlay;
mod part;
mod read;
#[cfg(feature = "cli")]
mod schema;
mod show;
mod tree;

pub use application::{Application, Batch, Body, Dryer, InUse, Load, Print, Room};
pub use cited::Cited;
pub use control::{
    Accelerations, Control, Cornering, CorneringKind, DwellUnit, G10Meaning, G28Meaning, Macro,
    MacroHeat, ProgramEnd, ToolChange,
};
pub use fault::{Error, LARGEST, Spot};
#[cfg(feature = "cli")]
pub use load::{
    Layer, check_application, check_machine, check_material, load_application, load_machine,
    load_material, machine_layers, material_layers,
};
pub use machine::{
    Allowance, AxisAccelerations, AxisSpeeds, AxisTimes, BedShape, ChamberKind, DEFAULT_AMBIENT,
    DEFAULT_LINER_LIMIT, Drive, Machine, MachineBed, MachineChamber, MachineHead, NozzleMaterial,
    RodsAlong, Tool, WarmUp,
};
pub use material::{
    Bead, Bed, Chamber, Drying, Enclosure, Fan, FirstLayer, Flow, HeatDeflection, Hotend,
    LayerLimits, Material, NozzleNeed, Retraction, Service, Spool,
};
pub use outcome::{
    Changeover, Charge, DryBox, FlameClass, Holder, Resistance, Resistances, Shrinkage, Water,
    WaterPoint,
};
pub use part::Row;
#[cfg(feature = "cli")]
pub use schema::{Kind, schema};
pub use show::{show, show_machine};

/// Where a sheet is from.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Origin {
    /// Made in code, or read from a text with this name.
    #[default]
    Unnamed,
    /// Read from a text that was handed over under this name.
    Text(String),
    /// The built-in library.
    Library,
    /// A file; the path as it was given, made fit to print.
    File(String),
}

impl std::fmt::Display for Origin {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Unnamed => f.write_str("made in code"),
            Self::Library => f.write_str("built-in library"),
            Self::Text(name) | Self::File(name) => f.write_str(name),
        }
    }
}

#[cfg(test)]
mod tests;
