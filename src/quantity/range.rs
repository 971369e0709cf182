//! A range of a quantity, both ends within it.

use super::Quantity;
use serde::{Deserialize, Deserializer, de::Error as _};

/// A range of a quantity, both ends within it; written `["240 °C", "270 °C"]`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range<T> {
    /// The lower end.
    pub least: T,
    /// The upper end; never below `least` in a range that was read.
    pub most: T,
}

impl<T: Quantity> Range<T> {
    /// A range from its ends; `None` if they are the wrong way round.
    #[must_use]
    pub fn new(least: T, most: T) -> Option<Self> {
        (least <= most).then_some(Self { least, most })
    }

    /// Whether the value lies within, ends included.
    #[must_use]
    pub fn contains(&self, value: T) -> bool {
        self.least <= value && value <= self.most
    }

    /// The value midway.
    #[must_use]
    pub fn middle(&self) -> T {
        T::of(f64::midpoint(self.least.figure(), self.most.figure()))
    }
}

impl<T: Quantity> std::fmt::Display for Range<T> {
    /// Both ends with their unit, so that a range of temperatures below zero reads well.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.least.fmt(f)?;
        f.write_str(" to ")?;
        self.most.fmt(f)
    }
}

impl<'de, T: Quantity + Deserialize<'de>> Deserialize<'de> for Range<T> {
    fn deserialize<D: Deserializer<'de>>(reader: D) -> Result<Self, D::Error> {
        struct Ends<T>(std::marker::PhantomData<T>);

        impl<'de, T: Quantity + Deserialize<'de>> serde::de::Visitor<'de> for Ends<T> {
            type Value = Range<T>;

            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                write!(f, "two values, the lower and the upper end")
            }

            fn visit_seq<A: serde::de::SeqAccess<'de>>(
                self,
                mut ends: A,
            ) -> Result<Range<T>, A::Error> {
                let wrong = |n: usize| {
                    A::Error::custom(format_args!(
                        "a range of {} has two ends, not {n}; write the lower and the upper end",
                        T::WHAT
                    ))
                };
                let least: T = ends.next_element()?.ok_or_else(|| wrong(0))?;
                let most: T = ends.next_element()?.ok_or_else(|| wrong(1))?;
                let mut count = 2_usize;
                while ends.next_element::<serde::de::IgnoredAny>()?.is_some() {
                    count = count.saturating_add(1);
                }
                if count > 2 {
                    return Err(wrong(count));
                }
                Range::new(least, most).ok_or_else(|| {
                    A::Error::custom(format_args!(
                        "the lower end {least} is above the upper end {most}; write [\"{most}\", \"{least}\"]"
                    ))
                })
            }

            fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Range<T>, E> {
                Err(E::custom(format_args!(
                    "`{}` is one value where a range is wanted; write both ends, [\"…\", \"…\"]",
                    super::read::clip(text)
                )))
            }
        }

        reader.deserialize_any(Ends(std::marker::PhantomData))
    }
}

#[cfg(feature = "cli")]
impl<T: schemars::JsonSchema> schemars::JsonSchema for Range<T> {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        format!("RangeOf{}", T::schema_name()).into()
    }

    fn json_schema(schemas: &mut schemars::SchemaGenerator) -> schemars::Schema {
        let end = schemas.subschema_for::<T>();
        schemars::json_schema!({
            "description": "The lower and the upper end, both within the range.",
            "type": "array",
            "items": end,
            "minItems": 2,
            "maxItems": 2
        })
    }
}
