//! What every part of a sheet can do: lie over a base, take the sheet's source, show itself.

use crate::finding::SourceMark;
use crate::quantity::{self, Range};

/// What values without a source of their own take from the top of their sheet.
pub(super) struct Inherit {
    pub source: Option<String>,
    pub mark: SourceMark,
}

/// One line of a sheet as it is shown.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// The key: `hotend.print`.
    pub key: String,
    /// The value as text, with its unit.
    pub value: String,
    /// Whose figure it is.
    pub source: Option<String>,
    /// How far it can be trusted; none for what is no figure, such as a note.
    pub mark: Option<SourceMark>,
}

/// A part of a sheet.
pub(super) trait Part {
    /// Takes from `base` what this part does not say.
    fn over(&mut self, base: Self);
    /// Gives the sheet's source and mark to the values that have none.
    fn inherit(&mut self, from: &Inherit);
    /// Adds a row for everything that is said.
    fn rows(&self, key: &str, rows: &mut Vec<Row>);
}

/// Defines a part of a sheet: a table whose every key may be left out.
macro_rules! part {
    (
        $(#[$doc:meta])*
        pub struct $name:ident { $($(#[$field_doc:meta])* pub $field:ident: $type:ty),+ $(,)? }
    ) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Default, serde::Deserialize)]
        #[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
        #[serde(default, deny_unknown_fields)]
        pub struct $name {
            $($(#[$field_doc])* pub $field: $type),+
        }

        impl $crate::sheet::part::Part for $name {
            fn over(&mut self, base: Self) {
                $($crate::sheet::part::Part::over(&mut self.$field, base.$field);)+
            }

            fn inherit(&mut self, from: &$crate::sheet::part::Inherit) {
                $($crate::sheet::part::Part::inherit(&mut self.$field, from);)+
            }

            fn rows(&self, key: &str, rows: &mut Vec<$crate::sheet::part::Row>) {
                $($crate::sheet::part::Part::rows(
                    &self.$field,
                    &$crate::sheet::part::join(key, stringify!($field)),
                    rows,
                );)+
            }
        }
    };
}

/// Defines a closed set of words, written in kebab case.
macro_rules! words {
    (
        $(#[$doc:meta])*
        pub enum $name:ident { $($(#[$variant_doc:meta])* $variant:ident = $word:literal),+ $(,)? }
    ) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Deserialize)]
        #[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
        pub enum $name {
            $($(#[$variant_doc])* #[serde(rename = $word)] $variant),+
        }

        impl $name {
            /// Every word of the set.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// The word for it.
            #[must_use]
            pub const fn word(self) -> &'static str {
                match self {
                    $(Self::$variant => $word),+
                }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.word())
            }
        }

        impl $crate::sheet::part::Written for $name {
            fn written(&self) -> String {
                self.word().to_owned()
            }
        }
    };
}

pub(super) use {part, words};

/// `hotend` and `print` make `hotend.print`.
pub(super) fn join(key: &str, field: &str) -> String {
    if key.is_empty() {
        field.to_owned()
    } else {
        format!("{key}.{field}")
    }
}

impl Part for Vec<String> {
    fn over(&mut self, base: Self) {
        if self.is_empty() {
            *self = base;
        }
    }

    fn inherit(&mut self, _: &Inherit) {}

    fn rows(&self, key: &str, rows: &mut Vec<Row>) {
        if !self.is_empty() {
            rows.push(Row {
                key: key.to_owned(),
                // Whole sentences end with a stop of their own.
                value: self.join("; ").replace(".; ", ". "),
                source: None,
                mark: None,
            });
        }
    }
}

impl Part for Option<String> {
    fn over(&mut self, base: Self) {
        if self.is_none() {
            *self = base;
        }
    }

    fn inherit(&mut self, _: &Inherit) {}

    fn rows(&self, key: &str, rows: &mut Vec<Row>) {
        if let Some(text) = self {
            rows.push(Row {
                key: key.to_owned(),
                value: text.clone(),
                source: None,
                mark: None,
            });
        }
    }
}

/// A value as `sheet show` prints it.
pub(super) trait Written {
    fn written(&self) -> String;
}

macro_rules! written {
    ($($type:ty),+ $(,)?) => {
        $(impl Written for $type {
            fn written(&self) -> String {
                self.to_string()
            }
        })+
    };
}

written!(
    u32,
    String,
    quantity::Celsius,
    quantity::KelvinsPerSecond,
    quantity::Millimetres,
    quantity::MillimetresPerSecond,
    quantity::MillimetresPerSecondSquared,
    quantity::CubicMillimetresPerSecond,
    quantity::Grams,
    quantity::GramsPerCubicCentimetre,
    quantity::Price,
    quantity::Seconds,
    quantity::Hours,
    quantity::Watts,
    quantity::WattsPerKelvin,
    quantity::JoulesPerKelvin,
    quantity::Percent,
    quantity::Megapascals,
);

impl<T: quantity::Quantity> Written for Range<T> {
    fn written(&self) -> String {
        self.to_string()
    }
}

impl<T: quantity::Quantity, const N: usize> Written for [T; N] {
    fn written(&self) -> String {
        self.iter()
            .map(ToString::to_string)
            .collect::<Vec<_>>()
            .join(", ")
    }
}

impl Written for bool {
    fn written(&self) -> String {
        (if *self { "yes" } else { "no" }).to_owned()
    }
}
