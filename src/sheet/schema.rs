//! JSON Schema (2020-12) of the sheets, for editors.
//!
//! The schema is looser than the reader: it knows units but not bounds (`"900 °C"` passes), no
//! order (`["270 °C", "240 °C"]` passes), no contradictions between keys, not that `name` is needed
//! unless `from` is there, nor what `from` may name.

use super::{Application, Machine, Material};

/// Which sheet a schema is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// The material sheet.
    Material,
    /// The machine sheet.
    Machine,
    /// The application.
    Application,
}

/// The JSON Schema of one kind of sheet.
#[must_use]
pub fn schema(kind: Kind) -> serde_json::Value {
    let schema = match kind {
        Kind::Material => schemars::schema_for!(Material),
        Kind::Machine => schemars::schema_for!(Machine),
        Kind::Application => schemars::schema_for!(Application),
    };
    schema.to_value()
}
