//! The material sheet: the data sheet's limits.

use super::Origin;
use super::cited::Cited;
use super::outcome::{Changeover, Charge, FlameClass, Resistance, Resistances, Shrinkage, Water};
use super::part::{Inherit, Part, Row, join, part};
use crate::finding::SourceMark;
use crate::quantity::{
    Celsius, CubicMillimetresPerSecond, Grams, GramsPerCubicCentimetre, Hours, Megapascals,
    Millimetres, MillimetresPerSecond, Percent, Price, Range, Seconds,
};

/// A filament material, as its data sheet gives it. What the sheet does not say is `None`, and
/// requirements that need it are not held.
#[derive(Debug, Clone, PartialEq, Default, serde::Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Material {
    /// Its name by ISO 1043: `PA6-CF`. Needed unless `from` names a base.
    pub name: String,
    /// The library sheet that this one lies over: it says only what differs.
    pub from: Option<String>,
    /// Where the values of this sheet are from that name no source of their own.
    pub source: Option<String>,
    /// How far those values can be trusted.
    pub mark: Option<SourceMark>,
    /// The day it was written.
    pub date: Option<String>,
    /// The role of its author.
    pub by: Option<String>,
    /// Why it differs from the sheet that it lies over.
    pub reason: Option<String>,
    /// Other spellings that jobs declare: `nylon-cf`.
    pub also: Vec<String>,
    /// The family it belongs to: `PA`.
    pub family: Option<String>,
    /// Anything worth knowing.
    pub note: Option<String>,
    /// Density of the solid filament.
    pub density: Option<Cited<GramsPerCubicCentimetre>>,
    /// Diameter of the filament.
    pub filament_diameter: Option<Cited<Millimetres>>,
    /// What it costs.
    pub price: Option<Cited<Price>>,
    /// The spool at hand.
    pub spool: Spool,
    /// Hotend temperatures.
    pub hotend: Hotend,
    /// Bed temperatures.
    pub bed: Bed,
    /// Chamber air temperatures.
    pub chamber: Chamber,
    /// Part fan.
    pub fan: Fan,
    /// The first layer.
    pub first_layer: FirstLayer,
    /// How fast it melts.
    pub flow: Flow,
    /// The width of what is laid.
    pub bead: Bead,
    /// How it may be drawn back.
    pub retraction: Retraction,
    /// What nozzle it needs.
    pub nozzle: NozzleNeed,
    /// Drying before printing.
    pub drying: Drying,
    /// How long an open spool stays printable in room air.
    pub exposure: Option<Cited<Hours>>,
    /// When it needs an enclosure.
    pub enclosure: Enclosure,
    /// Temperatures the finished part stands.
    pub service: Service,
    /// Water in it.
    pub water: Water,
    /// What it stands of what it may be exposed to.
    pub chemicals: Resistances,
    /// How it stands sunlight.
    pub uv: Option<Cited<Resistance>>,
    /// Its flame class, on bars of the material as such.
    pub flame: Option<Cited<FlameClass>>,
    /// What it does with charge.
    pub charge: Option<Cited<Charge>>,
    /// How much smaller a part comes out.
    pub shrinkage: Shrinkage,
    /// What changing to or from it takes.
    pub changeover: Changeover,
    /// Materials that support it, best first.
    pub supports: Vec<String>,
    /// What a layer needs.
    pub layer: LayerLimits,
    /// Build surfaces it sticks to.
    pub surfaces: Vec<String>,
    /// What can be done to it after printing.
    pub finishing: Vec<String>,
    /// What can hurt somebody; each defers to local rules where it matters.
    pub cautions: Vec<String>,
    /// Where the sheet itself is from.
    #[serde(skip)]
    pub origin: Origin,
    /// BLAKE3 digest of the sheet's bytes, in hexadecimal; with a base, of the base's bytes and
    /// then the sheet's. None where the library was built without the command line.
    #[serde(skip)]
    pub digest: Option<String>,
}

impl Material {
    /// Whether the word is one of this material's names. Case and separators do not matter.
    #[must_use]
    pub fn answers_to(&self, word: &str) -> bool {
        let word = super::name::plain(word);
        super::name::plain(&self.name) == word
            || self
                .also
                .iter()
                .any(|other| super::name::plain(other) == word)
    }
}

part! {
    /// Hotend temperatures.
    pub struct Hotend {
        /// The range to print in.
        pub print: Option<Cited<Range<Celsius>>>,
        /// The range for the first layer, where it differs.
        pub first_layer: Option<Cited<Range<Celsius>>>,
        /// Below this it does not flow: extruding strips the filament.
        pub extrusion_floor: Option<Cited<Celsius>>,
    }
}

part! {
    /// Bed temperatures.
    pub struct Bed {
        /// The range to print on.
        pub print: Option<Cited<Range<Celsius>>>,
    }
}

part! {
    /// Chamber air temperatures.
    pub struct Chamber {
        /// The range of the air around the part.
        pub print: Option<Cited<Range<Celsius>>>,
        /// Whether it will not print well without.
        pub required: Option<Cited<bool>>,
        /// Above this the part itself softens.
        pub softening: Option<Cited<Celsius>>,
        /// Above this the filament softens before the hotend and jams.
        pub jams_above: Option<Cited<Celsius>>,
    }
}

part! {
    /// Part fan, as a share of full speed.
    pub struct Fan {
        /// How many layers count as the first ones.
        pub first_layers: Option<Cited<u32>>,
        /// The most on those.
        pub first_layers_most: Option<Cited<Percent>>,
        /// The range on the layers after.
        pub print: Option<Cited<Range<Percent>>>,
        /// The range on bridges.
        pub bridge: Option<Cited<Range<Percent>>>,
    }
}

part! {
    /// The first layer.
    pub struct FirstLayer {
        /// The fastest deposit.
        pub speed_most: Option<Cited<MillimetresPerSecond>>,
        /// The greatest height, as a share of the nozzle's bore.
        pub height_most_share: Option<Cited<Percent>>,
        /// The widest bead, as a share of the nozzle's bore.
        pub width_most_share: Option<Cited<Percent>>,
    }
}

part! {
    /// The width of what is laid above the first layer, as a share of the nozzle's bore.
    pub struct Bead {
        /// The narrowest that holds together.
        pub width_least_share: Option<Cited<Percent>>,
        /// The widest that the nozzle's face still presses flat.
        pub width_most_share: Option<Cited<Percent>>,
    }
}

part! {
    /// How it may be drawn back, whatever the drive could do.
    pub struct Retraction {
        /// The longest.
        pub length_most: Option<Cited<Millimetres>>,
        /// The fastest.
        pub speed_most: Option<Cited<MillimetresPerSecond>>,
    }
}

part! {
    /// The spool at hand.
    pub struct Spool {
        /// The filament on it when new, without the spool itself.
        pub mass: Option<Cited<Grams>>,
        /// The filament still on it.
        pub left: Option<Cited<Grams>>,
        /// How large it is across.
        pub diameter: Option<Cited<Millimetres>>,
        /// How wide it is.
        pub width: Option<Cited<Millimetres>>,
        /// Above this the spool itself softens.
        pub softening: Option<Cited<Celsius>>,
    }
}

part! {
    /// How fast it melts: `most`, at a temperature and through a bore.
    pub struct Flow {
        /// The most that melts.
        pub most: Option<Cited<CubicMillimetresPerSecond>>,
        /// The hotend temperature that holds for.
        pub at: Option<Celsius>,
        /// The bore that holds for.
        pub bore: Option<Cited<Millimetres>>,
    }
}

part! {
    /// What nozzle it needs.
    pub struct NozzleNeed {
        /// Whether it wears soft nozzles out.
        pub abrasive: Option<Cited<bool>>,
        /// The smallest bore that does not clog.
        pub smallest: Option<Cited<Millimetres>>,
    }
}

part! {
    /// Drying before printing.
    pub struct Drying {
        /// Temperature of the dryer.
        pub temperature: Option<Cited<Celsius>>,
        /// Time in it.
        pub time: Option<Cited<Range<Hours>>>,
        /// Whether it will not print well without.
        pub required: Option<Cited<bool>>,
        /// The most moisture it prints well with, by mass.
        pub highest_moisture: Option<Cited<Percent>>,
    }
}

part! {
    /// When it needs an enclosure.
    pub struct Enclosure {
        /// Parts whose longest side is above this need one.
        pub needed_above: Option<Cited<Millimetres>>,
    }
}

part! {
    /// Temperatures the finished part stands.
    pub struct Service {
        /// For long, in air.
        pub continuous: Option<Cited<Celsius>>,
        /// For long, where the grade is a good one: what some data sheets of the material give.
        pub continuous_upper: Option<Cited<Celsius>>,
        /// For a short time.
        pub short_term: Option<Cited<Celsius>>,
        /// Heat deflection temperatures (ISO 75), each at its stress.
        pub heat_deflection: Vec<HeatDeflection>,
    }
}

part! {
    /// What a layer needs.
    pub struct LayerLimits {
        /// The least time before the next layer is laid on it, so that it cools.
        pub time_least: Option<Cited<Seconds>>,
        /// The longest time before the next layer is laid on it, so that the two bond.
        pub time_most: Option<Cited<Seconds>>,
        /// Below this speed a layer gains no cooling: the hot nozzle lingers over it and cooks it.
        pub speed_floor: Option<Cited<MillimetresPerSecond>>,
        /// The least height above the first layer, as a share of the nozzle's bore.
        pub height_least_share: Option<Cited<Percent>>,
        /// The greatest height above the first layer, as a share of the nozzle's bore.
        pub height_most_share: Option<Cited<Percent>>,
    }
}

/// A heat deflection temperature (ISO 75) at its bending stress.
#[derive(Debug, Clone, PartialEq, serde::Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct HeatDeflection {
    /// The bending stress: method A is 1.80 MPa, B 0.45 MPa, C 8.00 MPa (ISO 75, memory).
    pub stress: Megapascals,
    /// The temperature.
    pub temperature: Cited<Celsius>,
}

impl Part for Vec<HeatDeflection> {
    fn over(&mut self, base: Self) {
        if self.is_empty() {
            *self = base;
        }
    }

    fn inherit(&mut self, from: &Inherit) {
        for point in self {
            super::cited::inherit(&mut point.temperature, from);
        }
    }

    fn rows(&self, key: &str, rows: &mut Vec<Row>) {
        for point in self {
            rows.push(super::cited::row(
                &point.temperature,
                &format!("{key} at {}", point.stress),
            ));
        }
    }
}

impl Part for Option<Celsius> {
    fn over(&mut self, base: Self) {
        if self.is_none() {
            *self = base;
        }
    }

    fn inherit(&mut self, _: &Inherit) {}

    fn rows(&self, key: &str, rows: &mut Vec<Row>) {
        if let Some(at) = self {
            rows.push(Row {
                key: key.to_owned(),
                value: at.to_string(),
                source: None,
                mark: None,
            });
        }
    }
}

/// Writes [`Part`] for a whole sheet: every field but those about the sheet itself.
macro_rules! whole {
    ($sheet:ty: $($field:ident),+ $(,)?) => {
        impl $crate::sheet::part::Part for $sheet {
            fn over(&mut self, base: Self) {
                $(Part::over(&mut self.$field, base.$field);)+
            }

            fn inherit(&mut self, from: &Inherit) {
                $(Part::inherit(&mut self.$field, from);)+
            }

            fn rows(&self, key: &str, rows: &mut Vec<Row>) {
                $(Part::rows(&self.$field, &join(key, stringify!($field)), rows);)+
            }
        }
    };
}

pub(super) use whole;

whole!(Material:
    also, family, note, density, filament_diameter, price, spool, hotend, bed, chamber, fan, first_layer, flow,
    bead, retraction, nozzle,
    drying, exposure, enclosure, service, water, chemicals, uv, flame, charge, shrinkage, changeover, supports,
    layer, surfaces, finishing, cautions,
);
