//! A price by mass: `25 EUR/kg`.

use super::read::{self, clip};
use super::{Grams, Unreadable};

/// What a kilogram costs, in a currency that is kept as it was written: `25 EUR/kg`.
///
/// Currencies are never converted into each other. Also read by the gram and the pound.
#[derive(Debug, Clone, PartialEq)]
pub struct Price {
    per_kilogram: f64,
    currency: String,
}

const WHAT: &str = "price";
const EXAMPLE: &str = "25 EUR/kg";
/// The greatest amount that is read: dear filament in the smallest currencies (chosen).
const MOST: f64 = 1e9;
/// The longest currency that is read, in characters (chosen; ISO 4217 codes have three).
const LONGEST: usize = 8;

impl Price {
    /// A price from its amount by the kilogram.
    #[must_use]
    pub fn new(per_kilogram: f64, currency: impl Into<String>) -> Self {
        Self {
            per_kilogram,
            currency: currency.into(),
        }
    }

    /// What a kilogram costs, in [`Self::currency`].
    #[must_use]
    pub const fn per_kilogram(&self) -> f64 {
        self.per_kilogram
    }

    /// The currency, as it was written.
    #[must_use]
    pub fn currency(&self) -> &str {
        &self.currency
    }

    /// What this mass costs, in [`Self::currency`].
    #[must_use]
    pub fn of(&self, mass: Grams) -> f64 {
        self.per_kilogram * mass.get() / 1000.0
    }
}

impl std::fmt::Display for Price {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        read::write(f, self.per_kilogram, &self.currency)?;
        f.write_str("/kg")
    }
}

impl std::str::FromStr for Price {
    type Err = Unreadable;

    fn from_str(text: &str) -> Result<Self, Unreadable> {
        let text = text.trim();
        let (number, unit) = read::split(text);
        let (written, what, example) = (clip(text), WHAT, EXAMPLE);
        if number.is_empty() {
            return Err(Unreadable::NoNumber {
                written,
                what,
                example,
            });
        }
        let Some(amount) = read::plain(number).filter(|_| !read::goes_on(unit)) else {
            return Err(Unreadable::NotPlain {
                written,
                what,
                example,
            });
        };
        if unit.is_empty() {
            return Err(Unreadable::Bare {
                written: clip(number),
                fix: format!("{} EUR/kg", clip(number)),
            });
        }
        let (currency, mass) = unit.split_once('/').unwrap_or((unit, ""));
        let (currency, mass) = (currency.trim(), mass.trim());
        let is_currency = !currency.is_empty()
            && currency.chars().count() <= LONGEST
            && currency == clip(currency)
            && !currency.contains(|c: char| c.is_whitespace() || c.is_ascii_digit());
        // One unit of that mass, in kilograms.
        let kilograms = match mass {
            "kg" => 1.0,
            "g" => 0.001,
            "lb" => 0.016 * super::OUNCE,
            _ => 0.0,
        };
        if !is_currency || kilograms == 0.0 {
            let currency = if is_currency { currency } else { "EUR" };
            return Err(Unreadable::WrongUnit {
                unit: clip(unit),
                what,
                known: format!("{currency}/kg, {currency}/g, {currency}/lb"),
            });
        }
        let per_kilogram = amount / kilograms;
        if !(0.0..=MOST).contains(&per_kilogram) {
            return Err(Unreadable::OutOfBounds {
                written,
                what,
                least: format!("0 {currency}/kg"),
                most: format!("{MOST} {currency}/kg"),
            });
        }
        Ok(Self::new(per_kilogram, currency))
    }
}

impl<'de> serde::Deserialize<'de> for Price {
    fn deserialize<D: serde::Deserializer<'de>>(reader: D) -> Result<Self, D::Error> {
        struct Reading;

        impl serde::de::Visitor<'_> for Reading {
            type Value = Price;

            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                write!(f, "a {WHAT} like \"{EXAMPLE}\"")
            }

            fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Price, E> {
                text.parse().map_err(E::custom)
            }

            fn visit_i64<E: serde::de::Error>(self, number: i64) -> Result<Price, E> {
                self.visit_str(&number.to_string())
            }

            fn visit_f64<E: serde::de::Error>(self, number: f64) -> Result<Price, E> {
                self.visit_str(&number.to_string())
            }
        }

        reader.deserialize_any(Reading)
    }
}

#[cfg(feature = "cli")]
impl schemars::JsonSchema for Price {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Price".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({
            "description": format!("A {WHAT} by mass, in any currency: \"{EXAMPLE}\"."),
            "type": "string",
            "pattern": "^\\s*\\+?([0-9]+\\.?[0-9]*|\\.[0-9]+)\\s*[^\\s0-9/]{1,8}\\s*/\\s*(kg|g|lb)\\s*$"
        })
    }
}
