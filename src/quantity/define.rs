//! The macros that make one newtype for each quantity.

/// A quantity: an `f64` in one fixed unit, read and written with that unit.
macro_rules! quantity {
    (
        $(#[$doc:meta])*
        $name:ident: $what:literal, $unit:literal, $least:literal ..= $most:literal, example $example:literal,
        [$(($word:literal, $shift:expr, $times:expr, $over:expr)),+ $(,)?]
    ) => {
        $(#[$doc])*
        ///
        /// Arithmetic is not held to the bounds; only what is read from text is.
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
        #[repr(transparent)]
        pub struct $name(f64);

        impl $name {
            /// The unit the figure is kept and written in.
            pub const UNIT: &'static str = $unit;
            /// The least figure that is read.
            pub const LEAST: Self = Self($least);
            /// The greatest figure that is read.
            pub const MOST: Self = Self($most);

            const SCALE: $crate::quantity::read::Scale = $crate::quantity::read::Scale {
                what: $what,
                unit: $unit,
                least: $least,
                most: $most,
                example: $example,
                units: &[$($crate::quantity::read::Unit {
                    word: $word,
                    shift: $shift,
                    times: $times,
                    over: $over,
                }),+],
            };

            /// From a figure already in [`Self::UNIT`].
            #[must_use]
            pub const fn new(figure: f64) -> Self {
                Self(figure)
            }

            /// The figure, in [`Self::UNIT`].
            #[must_use]
            pub const fn get(self) -> f64 {
                self.0
            }
        }

        impl $crate::quantity::Quantity for $name {
            const UNIT: &'static str = $unit;
            const WHAT: &'static str = $what;

            fn figure(self) -> f64 {
                self.0
            }

            fn of(figure: f64) -> Self {
                Self(figure)
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                $crate::quantity::read::write(f, self.0, $unit)
            }
        }

        impl std::str::FromStr for $name {
            type Err = $crate::quantity::Unreadable;

            fn from_str(text: &str) -> Result<Self, Self::Err> {
                Self::SCALE.read(text).map(Self)
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(reader: D) -> Result<Self, D::Error> {
                reader.deserialize_any($crate::quantity::read::Reading(&Self::SCALE)).map(Self)
            }
        }

        #[cfg(feature = "cli")]
        impl schemars::JsonSchema for $name {
            fn schema_name() -> std::borrow::Cow<'static, str> {
                stringify!($name).into()
            }

            fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
                Self::SCALE.schema()
            }
        }
    };
}

/// A quantity whose amounts may be added, taken away, scaled and compared as a ratio.
macro_rules! amount {
    ($(#[$doc:meta])* $name:ident: $($rest:tt)*) => {
        $crate::quantity::define::quantity!($(#[$doc])* $name: $($rest)*);

        impl std::ops::Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }

        impl std::ops::Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }

        impl std::ops::Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }

        impl std::ops::Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }

        impl std::ops::Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }
    };
}

pub(crate) use {amount, quantity};
