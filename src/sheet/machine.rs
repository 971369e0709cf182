//! The machine sheet: the printer's limits.

use super::Origin;
use super::cited::Cited;
use super::control::Control;
use super::material::whole;
use super::outcome::{DryBox, Holder};
use super::part::{Inherit, Part, Row, join, part, words};
use crate::finding::SourceMark;
use crate::quantity::{
    Celsius, CubicMillimetresPerSecond, JoulesPerKelvin, KelvinsPerSecond, Millimetres,
    MillimetresPerSecond, MillimetresPerSecondSquared, Seconds, Watts, WattsPerKelvin,
};

/// Room air where a sheet does not say (chosen).
pub const DEFAULT_AMBIENT: Celsius = Celsius::new(22.0);

/// The temperature a polymer-lined hotend may reach where its tool does not say (common practice:
/// the liner softens and gives off fumes beyond about 250 °C).
pub const DEFAULT_LINER_LIMIT: Celsius = Celsius::new(240.0);

/// A printer, or a class of printers. What the sheet does not say is `None`, and requirements that
/// need it are not held.
#[derive(Debug, Clone, PartialEq, Default, serde::Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Machine {
    /// Its name. Needed unless `from` names a base.
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
    /// Anything worth knowing.
    pub note: Option<String>,
    /// The bed.
    pub bed: MachineBed,
    /// The greatest height of a part.
    pub height: Option<Cited<Millimetres>>,
    /// The least X, Y and Z the nozzle can reach; often beyond the printable area.
    pub reach_from: Option<Cited<[Millimetres; 3]>>,
    /// The greatest X, Y and Z the nozzle can reach.
    pub reach_to: Option<Cited<[Millimetres; 3]>>,
    /// The tools, T0 first.
    pub tools: Vec<Tool>,
    /// The tool head, and what carries it.
    pub head: MachineHead,
    /// The chamber.
    pub chamber: MachineChamber,
    /// What it holds a spool with.
    pub holder: Holder,
    /// A dryer or dry box that belongs to it.
    pub dry_box: DryBox,
    /// Temperature of the room.
    pub ambient: Option<Cited<Celsius>>,
    /// The fastest each axis may go.
    pub speed: AxisSpeeds,
    /// The greatest acceleration of each axis.
    pub acceleration: AxisAccelerations,
    /// What takes time beside the motion that a job writes.
    pub allowance: Allowance,
    /// Which fan indices blow on the part; where it is left out, 0 alone does.
    pub part_fans: Option<Vec<u32>>,
    /// Where the nozzle stands after homing all axes.
    pub home: Option<Cited<[Millimetres; 3]>>,
    /// What this control means by its words.
    pub control: Control,
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

impl Machine {
    /// Temperature of the room, or [`DEFAULT_AMBIENT`].
    #[must_use]
    pub fn ambient(&self) -> Celsius {
        self.ambient
            .as_ref()
            .map_or(DEFAULT_AMBIENT, |cited| cited.value)
    }

    /// The fan indices that blow on the part.
    #[must_use]
    pub fn part_fans(&self) -> &[u32] {
        self.part_fans.as_deref().unwrap_or(&[0])
    }
}

part! {
    /// The bed.
    pub struct MachineBed {
        /// Its shape. Where it is left out: a circle if `diameter` is given, else a rectangle.
        pub shape: Option<Cited<BedShape>>,
        /// X and Y of the printable rectangle's lower left corner.
        pub printable_from: Option<Cited<[Millimetres; 2]>>,
        /// X and Y of its upper right corner.
        pub printable_to: Option<Cited<[Millimetres; 2]>>,
        /// Diameter of a round bed's printable area.
        pub diameter: Option<Cited<Millimetres>>,
        /// X and Y of a round bed's centre; the origin where it is left out.
        pub centre: Option<Cited<[Millimetres; 2]>>,
        /// The hottest it may get.
        pub limit: Option<Cited<Celsius>>,
        /// Rated power of its heater.
        pub power: Option<Cited<Watts>>,
        /// What the build surface is.
        pub surface: Option<Cited<String>>,
        /// Conductance from the bed to the chamber's air (h·A of the faces that touch it).
        pub conductance: Option<Cited<WattsPerKelvin>>,
        /// How fast it heats at first, from room temperature.
        pub heating_rate: Option<Cited<KelvinsPerSecond>>,
        /// Time constant of its first-order heating and cooling.
        pub time_constant: Option<Cited<Seconds>>,
        /// Where it would end at full power.
        pub reachable: Option<Cited<Celsius>>,
    }
}

words! {
    /// The shape of the printable area.
    pub enum BedShape {
        /// A rectangle.
        Rectangle = "rectangle",
        /// A circle.
        Circle = "circle",
    }
}

impl MachineBed {
    /// The shape that is stated or follows from what is given; `None` if the sheet says nothing.
    #[must_use]
    pub fn shape(&self) -> Option<BedShape> {
        if let Some(shape) = &self.shape {
            return Some(shape.value);
        }
        if self.diameter.is_some() {
            return Some(BedShape::Circle);
        }
        (self.printable_from.is_some() && self.printable_to.is_some())
            .then_some(BedShape::Rectangle)
    }

    /// The printable area's bounding box, least X, least Y, greatest X, greatest Y.
    #[must_use]
    pub fn printable_box(&self) -> Option<[Millimetres; 4]> {
        match self.shape()? {
            BedShape::Rectangle => {
                let [left, front] = self.printable_from.as_ref()?.value;
                let [right, back] = self.printable_to.as_ref()?.value;
                Some([left, front, right, back])
            }
            BedShape::Circle => {
                let radius = self.diameter.as_ref()?.value / 2.0;
                let [x, y] = self
                    .centre
                    .as_ref()
                    .map_or([Millimetres::new(0.0); 2], |cited| cited.value);
                Some([x - radius, y - radius, x + radius, y + radius])
            }
        }
    }

    /// Whether a point lies within the printable area, its edge included; `None` if the sheet does
    /// not say where that is.
    #[must_use]
    pub fn within(&self, x: Millimetres, y: Millimetres) -> Option<bool> {
        let [left, front, right, back] = self.printable_box()?;
        if self.shape()? == BedShape::Rectangle {
            return Some(left <= x && x <= right && front <= y && y <= back);
        }
        let (across, deep) = (
            x.get() - f64::midpoint(left.get(), right.get()),
            y.get() - f64::midpoint(front.get(), back.get()),
        );
        Some(across.hypot(deep) <= (right - left).get() / 2.0)
    }
}

part! {
    /// A tool: drive, hotend and nozzle.
    pub struct Tool {
        /// The hottest the hotend may get.
        pub limit: Option<Cited<Celsius>>,
        /// Whether a polymer liner reaches the melt zone.
        pub lined: Option<Cited<bool>>,
        /// The hottest that liner may get.
        pub liner_limit: Option<Cited<Celsius>>,
        /// The most it melts of an easy material through its bore.
        pub melt_rate: Option<Cited<CubicMillimetresPerSecond>>,
        /// What the nozzle is made of.
        pub nozzle_material: Option<Cited<NozzleMaterial>>,
        /// The nozzle's bore.
        pub bore: Option<Cited<Millimetres>>,
        /// Where the filament is driven from.
        pub drive: Option<Cited<Drive>>,
        /// The longest retraction that keeps the melt in place and the drive from grinding.
        pub retraction_most: Option<Cited<Millimetres>>,
        /// The fastest retraction.
        pub retraction_speed_most: Option<Cited<MillimetresPerSecond>>,
        /// The filament it takes.
        pub filament_diameter: Option<Cited<Millimetres>>,
        /// Where its nozzle stands against tool 0's.
        pub offset: Option<Cited<[Millimetres; 3]>>,
        /// How fast it heats at first, from room temperature.
        pub heating_rate: Option<Cited<KelvinsPerSecond>>,
        /// Time constant of its first-order heating and cooling.
        pub time_constant: Option<Cited<Seconds>>,
        /// Where it would end at full power.
        pub reachable: Option<Cited<Celsius>>,
    }
}

impl Tool {
    /// The hottest its liner may get, if it is said to have one.
    #[must_use]
    pub fn liner_limit(&self) -> Option<Celsius> {
        self.lined.as_ref().filter(|lined| lined.value)?;
        Some(
            self.liner_limit
                .as_ref()
                .map_or(DEFAULT_LINER_LIMIT, |cited| cited.value),
        )
    }

    /// Whether its nozzle stands abrasive filament; `None` if the sheet does not say.
    #[must_use]
    pub fn hard(&self) -> Option<bool> {
        self.nozzle_material
            .as_ref()
            .map(|cited| cited.value.hard())
    }
}

words! {
    /// What a nozzle is made of.
    pub enum NozzleMaterial {
        /// Brass.
        Brass = "brass",
        /// Stainless steel.
        StainlessSteel = "stainless-steel",
        /// Brass or copper alloy with a plated surface.
        PlatedBrass = "plated-brass",
        /// Hardened steel.
        HardenedSteel = "hardened-steel",
        /// Cemented carbide.
        Carbide = "carbide",
        /// A ruby or other gem set in metal.
        Ruby = "ruby",
    }
}

impl NozzleMaterial {
    /// Whether it stands filament with carbon or glass fibre (common practice, no source).
    #[must_use]
    pub const fn hard(self) -> bool {
        matches!(self, Self::HardenedSteel | Self::Carbide | Self::Ruby)
    }
}

words! {
    /// Where the filament is driven from.
    pub enum Drive {
        /// At the hotend.
        Direct = "direct",
        /// From the frame, through a tube.
        Remote = "remote",
    }
}

part! {
    /// The tool head and what carries it, as far as they may run into what is printed already.
    pub struct MachineHead {
        /// How far it reaches sideways from the nozzle's middle, at most.
        pub reach: Option<Cited<Millimetres>>,
        /// How high its lowest part, but for the nozzle, lies above the nozzle's tip.
        pub above: Option<Cited<Millimetres>>,
        /// How high the rods or the beam that carry it lie above the nozzle's tip.
        pub rods_above: Option<Cited<Millimetres>>,
        /// Which way they run.
        pub rods_along: Option<Cited<RodsAlong>>,
        /// How far they reach from the nozzle's middle across that way.
        pub rods_reach: Option<Cited<Millimetres>>,
    }
}

words! {
    /// Which way the rods or the beam run that carry the tool head.
    pub enum RodsAlong {
        /// Along X.
        X = "x",
        /// Along Y.
        Y = "y",
    }
}

words! {
    /// What kind of chamber it is.
    pub enum ChamberKind {
        /// An open frame.
        None = "none",
        /// Closed, warmed by the bed alone.
        Closed = "closed",
        /// Closed, with a heater of its own.
        Heated = "heated",
    }
}

part! {
    /// The chamber.
    pub struct MachineChamber {
        /// What kind it is.
        pub kind: Option<Cited<ChamberKind>>,
        /// The hottest its air may get.
        pub limit: Option<Cited<Celsius>>,
        /// Conductance of all its walls together (U·A).
        pub wall_conductance: Option<Cited<WattsPerKelvin>>,
        /// Heat capacity of air, frame and panels.
        pub contents: Option<Cited<JoulesPerKelvin>>,
        /// Rated power of its own heater.
        pub power: Option<Cited<Watts>>,
        /// Whether the control can read its temperature.
        pub has_sensor: Option<Cited<bool>>,
        /// How it warms up by measurement: goes before what conductance and contents give.
        pub warm_up: WarmUp,
    }
}

part! {
    /// A chamber's warm-up as measured from the room's temperature: two readings of its air, the second
    /// after twice the time of the first.
    pub struct WarmUp {
        /// What the bed was set to.
        pub bed: Option<Cited<Celsius>>,
        /// The time to the first reading.
        pub after: Option<Cited<Seconds>>,
        /// The air then.
        pub first: Option<Cited<Celsius>>,
        /// The air after twice the time.
        pub second: Option<Cited<Celsius>>,
    }
}

part! {
    /// The fastest each axis may go.
    pub struct AxisSpeeds {
        /// X.
        pub x: Option<Cited<MillimetresPerSecond>>,
        /// Y.
        pub y: Option<Cited<MillimetresPerSecond>>,
        /// Z.
        pub z: Option<Cited<MillimetresPerSecond>>,
        /// The filament.
        pub e: Option<Cited<MillimetresPerSecond>>,
    }
}

part! {
    /// The greatest acceleration of each axis.
    pub struct AxisAccelerations {
        /// X.
        pub x: Option<Cited<MillimetresPerSecondSquared>>,
        /// Y.
        pub y: Option<Cited<MillimetresPerSecondSquared>>,
        /// Z.
        pub z: Option<Cited<MillimetresPerSecondSquared>>,
        /// The filament.
        pub e: Option<Cited<MillimetresPerSecondSquared>>,
    }
}

part! {
    /// What takes time beside the motion that a job writes; it counts into the time of a job, and
    /// what is left out counts as none.
    pub struct Allowance {
        /// Homing, axis by axis.
        pub homing: AxisTimes,
        /// One word that probes or levels the bed.
        pub probing: Option<Cited<Seconds>>,
        /// One change of the tool.
        pub tool_change: Option<Cited<Seconds>>,
    }
}

part! {
    /// A time for each axis.
    pub struct AxisTimes {
        /// X.
        pub x: Option<Cited<Seconds>>,
        /// Y.
        pub y: Option<Cited<Seconds>>,
        /// Z.
        pub z: Option<Cited<Seconds>>,
    }
}

impl Part for Vec<Tool> {
    /// Tool by tool: the first named lies over the base's first; tools the base has more stay.
    fn over(&mut self, base: Self) {
        for (index, below) in base.into_iter().enumerate() {
            match self.get_mut(index) {
                Some(tool) => tool.over(below),
                None => self.push(below),
            }
        }
    }

    fn inherit(&mut self, from: &Inherit) {
        for tool in self {
            tool.inherit(from);
        }
    }

    fn rows(&self, key: &str, rows: &mut Vec<Row>) {
        for (index, tool) in self.iter().enumerate() {
            tool.rows(&format!("{key}[{index}]"), rows);
        }
    }
}

impl Part for Option<Vec<u32>> {
    fn over(&mut self, base: Self) {
        if self.is_none() {
            *self = base;
        }
    }

    fn inherit(&mut self, _: &Inherit) {}

    fn rows(&self, key: &str, rows: &mut Vec<Row>) {
        if let Some(fans) = self {
            let value = fans
                .iter()
                .map(ToString::to_string)
                .collect::<Vec<_>>()
                .join(", ");
            rows.push(Row {
                key: key.to_owned(),
                value,
                source: None,
                mark: None,
            });
        }
    }
}

whole!(Machine:
    note, bed, height, reach_from, reach_to, tools, head, chamber, holder, dry_box, ambient, speed, acceleration, allowance, part_fans,
    home, cautions,
);
