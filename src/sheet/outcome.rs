//! What a material sheet says beyond the print: water, what the part stands, size, spool, changeover.

use super::cited::Cited;
use super::part::{Inherit, Part, Row, part, words};
use crate::quantity::{
    Celsius, Grams, KilojoulesPerMole, Millimetres, Percent, Range, SquareMicrometresPerSecond,
};
use std::collections::BTreeMap;

part! {
    /// Water in the material, by dry mass.
    pub struct Water {
        /// How much it holds at rest with air, by relative humidity; 100 % is under water.
        pub equilibrium: Vec<WaterPoint>,
        /// How fast water moves in it at `at`.
        pub diffusion: Option<Cited<Range<SquareMicrometresPerSecond>>>,
        /// The temperature that holds for.
        pub at: Option<Celsius>,
        /// How strongly that depends on temperature.
        pub activation: Option<Cited<Range<KilojoulesPerMole>>>,
    }
}

/// Water that the material holds at rest with air of one humidity.
#[derive(Debug, Clone, PartialEq, serde::Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct WaterPoint {
    /// Relative humidity at 23 °C.
    pub humidity: Percent,
    /// Water by mass.
    pub content: Cited<Percent>,
}

impl Part for Vec<WaterPoint> {
    fn over(&mut self, base: Self) {
        if self.is_empty() {
            *self = base;
        }
    }

    fn inherit(&mut self, from: &Inherit) {
        for point in self {
            super::cited::inherit(&mut point.content, from);
        }
    }

    fn rows(&self, key: &str, rows: &mut Vec<Row>) {
        for point in self {
            let key = format!("{key} at {}", point.humidity);
            rows.push(super::cited::row(&point.content, &key));
        }
    }
}

words! {
    /// How a material stands what it is exposed to.
    pub enum Resistance {
        /// It stands it.
        Resists = "resists",
        /// For a while, or with loss.
        Limited = "limited",
        /// It is attacked.
        Attacked = "attacked",
    }
}

/// What the material stands, by what it is exposed to.
pub type Resistances = BTreeMap<String, Cited<Resistance>>;

impl Part for Resistances {
    fn over(&mut self, base: Self) {
        for (what, how) in base {
            self.entry(what).or_insert(how);
        }
    }

    fn inherit(&mut self, from: &Inherit) {
        for how in self.values_mut() {
            super::cited::inherit(how, from);
        }
    }

    fn rows(&self, key: &str, rows: &mut Vec<Row>) {
        for (what, how) in self {
            rows.push(super::cited::row(how, &super::part::join(key, what)));
        }
    }
}

words! {
    /// Classes of small-flame tests on bars (IEC 60695-11-10), from least to most.
    pub enum FlameClass {
        /// Burns slowly when it lies flat.
        Hb = "HB",
        /// Goes out by itself, may drip flames.
        V2 = "V-2",
        /// Goes out by itself, drips no flames.
        V1 = "V-1",
        /// Goes out quickly by itself.
        V0 = "V-0",
    }
}

impl FlameClass {
    /// Its place in the order, from least to most.
    #[must_use]
    pub const fn rank(self) -> u8 {
        match self {
            Self::Hb => 0,
            Self::V2 => 1,
            Self::V1 => 2,
            Self::V0 => 3,
        }
    }
}

words! {
    /// What a material does with charge.
    pub enum Charge {
        /// It keeps it.
        Insulates = "insulates",
        /// It lets it go slowly.
        Dissipates = "dissipates",
        /// It carries it.
        Conducts = "conducts",
    }
}

part! {
    /// How much smaller a part comes out than it was drawn.
    pub struct Shrinkage {
        /// In the plane of the layers.
        pub plane: Option<Cited<Range<Percent>>>,
        /// Across the layers.
        pub height: Option<Cited<Range<Percent>>>,
        /// What to add to the diameter of a hole.
        pub hole: Option<Cited<Range<Millimetres>>>,
        /// The gap between two parts that are to slide.
        pub fit: Option<Cited<Range<Millimetres>>>,
    }
}

part! {
    /// What changing to or from the material takes.
    pub struct Changeover {
        /// What clears the nozzle.
        pub flush: Option<Cited<Grams>>,
        /// At what temperature.
        pub at: Option<Cited<Celsius>>,
    }
}

part! {
    /// What a machine holds a spool with.
    pub struct Holder {
        /// The largest spool across.
        pub diameter_most: Option<Cited<Millimetres>>,
        /// The widest spool.
        pub width_most: Option<Cited<Millimetres>>,
    }
}

part! {
    /// A dryer or dry box that belongs to the machine.
    pub struct DryBox {
        /// How hot it gets.
        pub limit: Option<Cited<Celsius>>,
        /// Whether it takes the water out of its air (desiccant, vacuum) or only heats the room's.
        pub dries_air: Option<Cited<bool>>,
        /// The largest spool across.
        pub diameter_most: Option<Cited<Millimetres>>,
        /// The widest spool.
        pub width_most: Option<Cited<Millimetres>>,
    }
}
