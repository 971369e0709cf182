//! What a control means by its words: the dialect, as the machine sheet states it.

use super::part::words;
use crate::quantity::{
    Celsius, Millimetres, MillimetresPerSecond, MillimetresPerSecondSquared, Seconds, Unreadable,
};
use std::collections::BTreeMap;

/// What a control means by its words. Every key may be left out; the default is the usage most
/// common for printers (common practice, no source).
#[derive(Debug, Clone, PartialEq, serde::Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Control {
    /// The unit of P in a dwell (`G4 P500`). Default: milliseconds.
    pub dwell_p: DwellUnit,
    /// What `G10` does. Default: it retracts.
    pub g10: G10Meaning,
    /// Where a tool change happens. Default: at the T word.
    pub tool_change: ToolChange,
    /// The fan's full speed, as S is written: 255, 100 or 1. Default: 255.
    pub fan_full: u32,
    /// Whether G90 and G91 also set how E is counted. Default: no.
    pub e_follows_g90: bool,
    /// What `G28` does. Default: it seeks the end stops.
    pub g28: G28Meaning,
    /// The words that end the program, so that nothing behind them is carried out: any of `"M2"`,
    /// `"M30"` and `"%"` (the second fence). Default: none; M2 and fences do nothing, M30 names a file.
    pub program_ends: Vec<ProgramEnd>,
    /// Whether waiting with R also waits for cooling (`M109 R200`). Default: yes.
    pub wait_r_cools: bool,
    /// Whether braces in a line are evaluated. Default: no.
    pub evaluates_braces: bool,
    /// Whether all tools feed one hotend: a heat word for any of them heats it. Default: false.
    pub one_hotend: bool,
    /// Whether it knows the probing words (G29, G30, G38.2). Default: not said.
    pub has_probing_words: Option<bool>,
    /// Whether it knows the chamber words (M141, M191). Default: not said.
    pub has_chamber_words: Option<bool>,
    /// Whether it knows arcs (G2, G3). Default: not said.
    pub has_arcs: Option<bool>,
    /// Whether it knows the retraction words (G10, G11). Default: not said.
    pub has_retract_words: Option<bool>,
    /// The longest line it holds, in bytes. Default: not said.
    pub longest_line: Option<u32>,
    /// The longest dwell it takes in one word. Default: not said.
    pub longest_dwell: Option<Seconds>,
    /// After so long without a motion it switches motors or heaters off. Default: not said.
    pub idle_timeout: Option<Seconds>,
    /// How many segments in a second it can plan. Default: not said.
    pub segments_per_second: Option<u32>,
    /// Words it knows beyond the common ones: `M141`, `START_PRINT`.
    pub known_words: Vec<String>,
    /// Words it lacks.
    pub lacks_words: Vec<String>,
    /// How it limits speed in corners. Default: not said.
    pub cornering: Option<Cornering>,
    /// What it accelerates with until a job says otherwise. Default: not said.
    pub acceleration: Accelerations,
    /// What its macros do, by name.
    pub macros: BTreeMap<String, Macro>,
}

impl Default for Control {
    fn default() -> Self {
        Self {
            dwell_p: DwellUnit::Milliseconds,
            g10: G10Meaning::Retract,
            tool_change: ToolChange::AtT,
            fan_full: 255,
            e_follows_g90: false,
            g28: G28Meaning::EndStops,
            program_ends: Vec::new(),
            wait_r_cools: true,
            evaluates_braces: false,
            one_hotend: false,
            has_probing_words: None,
            has_chamber_words: None,
            has_arcs: None,
            has_retract_words: None,
            longest_line: None,
            longest_dwell: None,
            idle_timeout: None,
            segments_per_second: None,
            known_words: Vec::new(),
            lacks_words: Vec::new(),
            cornering: None,
            acceleration: Accelerations::default(),
            macros: BTreeMap::new(),
        }
    }
}

words! {
    /// The unit of P in a dwell.
    pub enum DwellUnit {
        /// Milliseconds.
        Milliseconds = "milliseconds",
        /// Seconds, as RS-274 has it (NISTIR 6556, 3.5.4, published).
        Seconds = "seconds",
    }
}

words! {
    /// What `G10` does.
    pub enum G10Meaning {
        /// Retracts by stored amounts.
        Retract = "retract",
        /// Sets coordinate systems, as RS-274 has it (NISTIR 6556, 3.5.5, published).
        Coordinates = "coordinates",
    }
}

words! {
    /// What `G28` does.
    pub enum G28Meaning {
        /// Seeks the end stops of the axes named.
        EndStops = "end-stops",
        /// A rapid to the named point, then every axis home, as RS-274 has it (NISTIR 6556, 3.5.8,
        /// published).
        Move = "move",
    }
}

words! {
    /// A word that ends the program.
    pub enum ProgramEnd {
        /// M2 (NISTIR 6556, 3.6.1, published).
        M2 = "M2",
        /// M30, which elsewhere names a file (the same clause).
        M30 = "M30",
        /// The second `%` (NISTIR 6556, 3.1, published).
        Fence = "%",
    }
}

words! {
    /// Where a tool change happens.
    pub enum ToolChange {
        /// At the T word.
        AtT = "at-t",
        /// At M6; T only selects, as RS-274 has it (NISTIR 6556, 3.7.3, published).
        AtM6 = "at-m6",
    }
}

words! {
    /// By what rule speed in corners is limited.
    pub enum CorneringKind {
        /// By how far the path would deviate at the corner.
        Deviation = "deviation",
        /// By the change of the velocity vector.
        Vector = "vector",
        /// By the change of each axis's speed.
        PerAxis = "per-axis",
    }
}

/// How a control limits speed in corners: `{ kind = "deviation", deviation = "0.02 mm" }`,
/// `{ kind = "vector", speed = "8 mm/s" }` or `{ kind = "per-axis", x = "8 mm/s", … }`.
#[derive(Debug, Clone, Copy, PartialEq, serde::Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Cornering {
    /// By what rule.
    pub kind: CorneringKind,
    /// The deviation, by that rule.
    pub deviation: Option<Millimetres>,
    /// The change of the velocity vector, by that rule.
    pub speed: Option<MillimetresPerSecond>,
    /// The change of X's speed.
    pub x: Option<MillimetresPerSecond>,
    /// The change of Y's speed.
    pub y: Option<MillimetresPerSecond>,
    /// The change of Z's speed.
    pub z: Option<MillimetresPerSecond>,
    /// The change of the filament's speed.
    pub e: Option<MillimetresPerSecond>,
}

/// What a control accelerates with until a job says otherwise (M204), each within the limits of the
/// axes: `{ print = "1000 mm/s²", travel = "1500 mm/s²", retract = "1500 mm/s²" }`.
#[derive(Debug, Clone, Copy, PartialEq, Default, serde::Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Accelerations {
    /// While filament is laid.
    pub print: Option<MillimetresPerSecondSquared>,
    /// On the way, with nothing laid.
    pub travel: Option<MillimetresPerSecondSquared>,
    /// Of the filament alone.
    pub retract: Option<MillimetresPerSecondSquared>,
}

/// What a macro does, as far as the sheet says. Everything else it may do stays unknown.
#[derive(Debug, Clone, PartialEq, Default, serde::Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Macro {
    /// It homes all axes.
    pub homes: bool,
    /// It levels or probes the bed: held as a probing word is, after what it heats and waits for.
    pub levels: bool,
    /// It primes the nozzle: filament is pushed, so that the hotend must be warm; where it heats the
    /// hotend itself it is taken to wait for that first.
    pub primes: bool,
    /// It waits until what it heats is there.
    pub waits: bool,
    /// It turns heaters and motors off.
    pub ends: bool,
    /// How E is counted after it, if it sets that.
    pub absolute_e: Option<bool>,
    /// What it sets the hotend to.
    pub hotend: Option<MacroHeat>,
    /// What it sets the bed to.
    pub bed: Option<MacroHeat>,
    /// What it sets the chamber to.
    pub chamber: Option<MacroHeat>,
}

/// Where a macro has a temperature from: written `"EXTRUDER_TEMP"` or `"240 °C"`.
#[derive(Debug, Clone, PartialEq)]
pub enum MacroHeat {
    /// From the parameter of this name.
    Parameter(String),
    /// Always this.
    Fixed(Celsius),
}

impl std::str::FromStr for MacroHeat {
    type Err = Unreadable;

    fn from_str(text: &str) -> Result<Self, Unreadable> {
        let text = text.trim();
        let begins = text.starts_with(|c: char| c.is_ascii_alphabetic() || c == '_');
        if begins && text.chars().all(|c| c.is_ascii_alphanumeric() || c == '_') {
            return Ok(Self::Parameter(text.to_owned()));
        }
        text.parse().map(Self::Fixed)
    }
}

impl std::fmt::Display for MacroHeat {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Parameter(name) => f.write_str(name),
            Self::Fixed(temperature) => temperature.fmt(f),
        }
    }
}

impl<'de> serde::Deserialize<'de> for MacroHeat {
    fn deserialize<D: serde::Deserializer<'de>>(reader: D) -> Result<Self, D::Error> {
        struct Reading;

        impl serde::de::Visitor<'_> for Reading {
            type Value = MacroHeat;

            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str("a parameter's name like \"HOTEND\", or a temperature like \"240 °C\"")
            }

            fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<MacroHeat, E> {
                text.parse().map_err(E::custom)
            }

            fn visit_i64<E: serde::de::Error>(self, number: i64) -> Result<MacroHeat, E> {
                self.visit_str(&number.to_string())
            }

            fn visit_f64<E: serde::de::Error>(self, number: f64) -> Result<MacroHeat, E> {
                self.visit_str(&number.to_string())
            }
        }

        reader.deserialize_any(Reading)
    }
}

#[cfg(feature = "cli")]
impl schemars::JsonSchema for MacroHeat {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "MacroHeat".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({
            "description": "The name of the parameter that carries the temperature, or the temperature.",
            "type": "string"
        })
    }
}
