//! Quantities: figures that carry their unit in their type and are read and written with it.
//!
//! `"464 °F"` reads as a [`Celsius`] of 240; a bare `240` is refused with the fix. Temperatures are
//! points, not amounts: there is no `Celsius + Celsius`, and the difference of two is [`Kelvins`].
//!
//! Conversion factors: inch, psi and degree Fahrenheit by NIST SP 811 (2008), appendix B.8 (psi
//! published; inch and °F from memory of the same appendix); pound and ounce avoirdupois from memory
//! of it too. Bounds are chosen: wide enough for any filament printer, narrow enough to catch a slip
//! of unit or decimal point.
//!
//! Absent here: files, and where a figure comes from (a sheet says that).

mod define;
mod price;
mod range;
mod read;
mod unreadable;

pub use price::Price;
pub use range::Range;
pub(crate) use read::clip;
pub use unreadable::Unreadable;

use define::{amount, quantity};

/// What every quantity can do, for code that works on any of them.
pub trait Quantity: Copy + PartialOrd + std::fmt::Display {
    /// The unit the figure is kept in.
    const UNIT: &'static str;
    /// What kind of quantity it is: `temperature`, `length`.
    const WHAT: &'static str;

    /// The figure, in `UNIT`.
    fn figure(self) -> f64;

    /// From a figure in `UNIT`.
    fn of(figure: f64) -> Self;
}

/// One inch in millimetres (exact).
const INCH: f64 = 25.4;
/// One pound-force per square inch in megapascals (NIST SP 811, B.8, published).
const PSI: f64 = 0.006_894_757_293;
/// One ounce avoirdupois in grams (memory).
const OUNCE: f64 = 28.349_523_125;

quantity! {
    /// A temperature, in degrees Celsius.
    Celsius: "temperature", "°C", -60.0 ..= 600.0, example "240 °C",
    [("°C", 0.0, 1.0, 1.0), ("C", 0.0, 1.0, 1.0), ("°F", -32.0, 1.0, 1.8), ("F", -32.0, 1.0, 1.8)]
}

amount! {
    /// A difference of temperatures, in kelvins.
    Kelvins: "temperature difference", "K", -600.0 ..= 600.0, example "5 K",
    [("K", 0.0, 1.0, 1.0)]
}

amount! {
    /// A rate of heating, in kelvins per second.
    KelvinsPerSecond: "heating rate", "K/s", 0.0 ..= 100.0, example "2 K/s",
    [("K/s", 0.0, 1.0, 1.0), ("K/min", 0.0, 1.0, 60.0), ("°C/s", 0.0, 1.0, 1.0), ("°C/min", 0.0, 1.0, 60.0)]
}

amount! {
    /// A length or a position, in millimetres.
    Millimetres: "length", "mm", -10000.0 ..= 10000.0, example "0.4 mm",
    [("mm", 0.0, 1.0, 1.0), ("cm", 0.0, 10.0, 1.0), ("m", 0.0, 1000.0, 1.0), ("µm", 0.0, 1.0, 1000.0),
     ("um", 0.0, 1.0, 1000.0), ("in", 0.0, INCH, 1.0)]
}

amount! {
    /// An area, in square millimetres.
    SquareMillimetres: "area", "mm²", 0.0 ..= 1e8, example "200 mm²",
    [("mm2", 0.0, 1.0, 1.0), ("cm2", 0.0, 100.0, 1.0), ("m2", 0.0, 1e6, 1.0), ("in2", 0.0, INCH * INCH, 1.0)]
}

amount! {
    /// A speed, in millimetres per second.
    MillimetresPerSecond: "speed", "mm/s", 0.0 ..= 5000.0, example "60 mm/s",
    [("mm/s", 0.0, 1.0, 1.0), ("mm/min", 0.0, 1.0, 60.0), ("m/min", 0.0, 1000.0, 60.0),
     ("m/s", 0.0, 1000.0, 1.0), ("in/s", 0.0, INCH, 1.0), ("in/min", 0.0, INCH, 60.0)]
}

amount! {
    /// An acceleration, in millimetres per second squared.
    MillimetresPerSecondSquared: "acceleration", "mm/s²", 0.0 ..= 1e6, example "1000 mm/s²",
    [("mm/s2", 0.0, 1.0, 1.0), ("m/s2", 0.0, 1000.0, 1.0), ("in/s2", 0.0, INCH, 1.0)]
}

amount! {
    /// A flow of melt, in cubic millimetres per second.
    CubicMillimetresPerSecond: "flow", "mm³/s", 0.0 ..= 1000.0, example "10 mm³/s",
    [("mm3/s", 0.0, 1.0, 1.0), ("mm3/min", 0.0, 1.0, 60.0), ("cm3/min", 0.0, 1000.0, 60.0),
     ("in3/s", 0.0, INCH * INCH * INCH, 1.0)]
}

amount! {
    /// A mass, in grams.
    Grams: "mass", "g", 0.0 ..= 100000.0, example "750 g",
    [("g", 0.0, 1.0, 1.0), ("kg", 0.0, 1000.0, 1.0), ("mg", 0.0, 1.0, 1000.0), ("oz", 0.0, OUNCE, 1.0),
     ("lb", 0.0, 16.0 * OUNCE, 1.0)]
}

amount! {
    /// A density, in grams per cubic centimetre.
    GramsPerCubicCentimetre: "density", "g/cm³", 0.1 ..= 25.0, example "1.24 g/cm³",
    [("g/cm3", 0.0, 1.0, 1.0), ("g/mL", 0.0, 1.0, 1.0), ("g/ml", 0.0, 1.0, 1.0), ("kg/m3", 0.0, 1.0, 1000.0),
     ("lb/in3", 0.0, 16_000.0 * OUNCE, INCH * INCH * INCH)]
}

amount! {
    /// A time, in seconds.
    Seconds: "time", "s", 0.0 ..= 1e7, example "10 s",
    [("s", 0.0, 1.0, 1.0), ("ms", 0.0, 1.0, 1000.0), ("min", 0.0, 60.0, 1.0), ("h", 0.0, 3600.0, 1.0)]
}

amount! {
    /// A long time, in hours.
    Hours: "time", "h", 0.0 ..= 10000.0, example "4 h",
    [("h", 0.0, 1.0, 1.0), ("min", 0.0, 1.0, 60.0), ("s", 0.0, 1.0, 3600.0), ("d", 0.0, 24.0, 1.0)]
}

amount! {
    /// A power, in watts.
    Watts: "power", "W", 0.0 ..= 100000.0, example "300 W",
    [("W", 0.0, 1.0, 1.0), ("kW", 0.0, 1000.0, 1.0)]
}

amount! {
    /// A thermal conductance (of walls, of a bed's face), in watts per kelvin.
    WattsPerKelvin: "thermal conductance", "W/K", 0.0 ..= 1000.0, example "4.9 W/K",
    [("W/K", 0.0, 1.0, 1.0), ("W/°C", 0.0, 1.0, 1.0)]
}

amount! {
    /// A heat capacity, in joules per kelvin.
    JoulesPerKelvin: "heat capacity", "J/K", 0.0 ..= 1e7, example "7500 J/K",
    [("J/K", 0.0, 1.0, 1.0), ("kJ/K", 0.0, 1000.0, 1.0), ("J/°C", 0.0, 1.0, 1.0)]
}

amount! {
    /// A share, in per cent.
    Percent: "share", "%", 0.0 ..= 1000.0, example "30 %",
    [("%", 0.0, 1.0, 1.0)]
}

amount! {
    /// A stress or modulus, in megapascals.
    Megapascals: "stress", "MPa", 0.0 ..= 1e6, example "0.45 MPa",
    [("MPa", 0.0, 1.0, 1.0), ("N/mm2", 0.0, 1.0, 1.0), ("kPa", 0.0, 1.0, 1000.0), ("GPa", 0.0, 1000.0, 1.0),
     ("psi", 0.0, PSI, 1.0)]
}

amount! {
    /// A diffusion coefficient, in square micrometres per second; 1 µm²/s is 1e-12 m²/s.
    SquareMicrometresPerSecond: "diffusion coefficient", "µm²/s", 0.0 ..= 1e6, example "0.2 µm²/s",
    [("µm2/s", 0.0, 1.0, 1.0), ("um2/s", 0.0, 1.0, 1.0), ("mm2/s", 0.0, 1e6, 1.0), ("m2/s", 0.0, 1e12, 1.0)]
}

amount! {
    /// An activation energy, in kilojoules per mole.
    KilojoulesPerMole: "activation energy", "kJ/mol", 0.0 ..= 1000.0, example "55 kJ/mol",
    [("kJ/mol", 0.0, 1.0, 1.0), ("J/mol", 0.0, 1.0, 1000.0)]
}

impl std::ops::Sub for Celsius {
    type Output = Kelvins;
    fn sub(self, other: Self) -> Kelvins {
        Kelvins::new(self.get() - other.get())
    }
}

impl std::ops::Add<Kelvins> for Celsius {
    type Output = Self;
    fn add(self, difference: Kelvins) -> Self {
        Self::new(self.get() + difference.get())
    }
}

impl std::ops::Sub<Kelvins> for Celsius {
    type Output = Self;
    fn sub(self, difference: Kelvins) -> Self {
        Self::new(self.get() - difference.get())
    }
}

impl From<Hours> for Seconds {
    fn from(hours: Hours) -> Self {
        Self::new(hours.get() * 3600.0)
    }
}

#[cfg(test)]
mod tests;
