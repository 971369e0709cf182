//! The application: what the finished part is for, and under what circumstances it is made.

use super::Origin;
use super::cited::Cited;
use super::material::whole;
use super::outcome::FlameClass;
use super::part::{Inherit, Part, Row, join, part, words};
use crate::finding::SourceMark;
use crate::quantity::{Celsius, Grams, Hours, Megapascals, Millimetres, Percent};

/// What a part is to stand, how large it is, and where it is made. Whatever is left out is not
/// asked.
#[derive(Debug, Clone, PartialEq, Default, serde::Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Application {
    /// What it is called.
    pub name: String,
    /// The sheet that this one lies over: it says only what differs.
    pub from: Option<String>,
    /// Where the values of this sheet are from that name no source of their own.
    pub source: Option<String>,
    /// How far those values can be trusted.
    pub mark: Option<SourceMark>,
    /// Anything worth knowing.
    pub note: Option<String>,
    /// The part as a body.
    pub part: Body,
    /// What it stands when in use.
    pub service: InUse,
    /// What it touches or is exposed to, in plain words: `fuel`, `sunlight`.
    pub exposed: Vec<String>,
    /// The flame class that is asked of the material.
    pub flame: Option<Cited<FlameClass>>,
    /// Uses that need licensed judgement, in plain words: `food`, `pressure`.
    pub concerns: Vec<String>,
    /// The room it is printed in.
    pub room: Room,
    /// The print itself.
    pub print: Print,
    /// What the filament is dried in.
    pub dryer: Dryer,
    /// How many are made.
    pub batch: Batch,
    /// What can hurt somebody; each defers to local rules where it matters.
    pub cautions: Vec<String>,
    /// Where the sheet itself is from.
    #[serde(skip)]
    pub origin: Origin,
    /// BLAKE3 digest of the sheet's bytes, in hexadecimal.
    #[serde(skip)]
    pub digest: Option<String>,
}

part! {
    /// The part as a body.
    pub struct Body {
        /// Width, depth and height as it lies on the bed.
        pub size: Option<Cited<[Millimetres; 3]>>,
        /// What one part weighs, with all that is thrown away with it.
        pub mass: Option<Cited<Grams>>,
    }
}

part! {
    /// What a part stands when in use.
    pub struct InUse {
        /// The temperature it is at for long.
        pub continuous: Option<Cited<Celsius>>,
        /// The temperature it sees for a short time.
        pub short_term: Option<Cited<Celsius>>,
        /// How it is loaded.
        pub load: Option<Cited<Load>>,
        /// The bending stress it bears.
        pub stress: Option<Cited<Megapascals>>,
    }
}

words! {
    /// How a part is loaded.
    pub enum Load {
        /// Hardly by more than its own weight.
        None = "none",
        /// Now and then.
        Passing = "passing",
        /// All the time.
        Sustained = "sustained",
    }
}

part! {
    /// The room it is printed in.
    pub struct Room {
        /// Its temperature.
        pub temperature: Option<Cited<Celsius>>,
        /// Its relative humidity.
        pub humidity: Option<Cited<Percent>>,
    }
}

part! {
    /// The print itself.
    pub struct Print {
        /// How long it takes.
        pub time: Option<Cited<Hours>>,
        /// How fast it is to go, as asked: the largest speed of deposit.
        pub speed: Option<Cited<crate::quantity::MillimetresPerSecond>>,
        /// Width and height of the bead.
        pub bead: Option<Cited<[Millimetres; 2]>>,
        /// How hot the bed is kept.
        pub bed: Option<Cited<Celsius>>,
    }
}

part! {
    /// What the filament is dried in.
    pub struct Dryer {
        /// How hot it gets.
        pub temperature: Option<Cited<Celsius>>,
        /// How long the filament stays in it.
        pub time: Option<Cited<Hours>>,
        /// Whether it takes the water out of its air (desiccant, vacuum) or only heats the room's.
        pub dries_air: Option<Cited<bool>>,
    }
}

part! {
    /// How many parts are made.
    pub struct Batch {
        /// Good parts wanted.
        pub parts: Option<Cited<u32>>,
        /// The share of parts that do not come out.
        pub scrap: Option<Cited<Percent>>,
        /// The filament on one spool.
        pub spool: Option<Cited<Grams>>,
    }
}

whole!(Application:
    note, part, service, exposed, flame, concerns, room, print, dryer, batch, cautions,
);
