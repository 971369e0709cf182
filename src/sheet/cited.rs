//! A sheet's value with whose figure it is.

use super::part::{Inherit, Part, Row, Written};
use crate::finding::{Limit, SourceMark};
use crate::quantity::Quantity;
use serde::de::{
    Deserialize, Deserializer, Error, MapAccess, SeqAccess, Visitor,
    value::{
        BoolDeserializer, F64Deserializer, I64Deserializer, SeqAccessDeserializer, StrDeserializer,
    },
};
use std::fmt;
use std::marker::PhantomData;

/// A value of a sheet, where its author has it from, and how far it can be trusted.
///
/// Written as the plain value (`"240 °C"`), which takes the sheet's own `source` and `mark`, or as
/// a table: `{ value = "240 °C", source = "…", mark = "published" }`. A table that leaves one of
/// the two out takes that one from the sheet, unless it names a source of its own: then a mark that
/// is left out is `chosen`, for the sheet's mark belongs to the sheet's source.
#[derive(Debug, Clone, PartialEq)]
pub struct Cited<T> {
    /// The value.
    pub value: T,
    /// Where its author has it from.
    pub source: Option<String>,
    /// How far it can be trusted.
    pub mark: SourceMark,
    /// What is still to be taken from the top of the sheet.
    open: Open,
}

/// Which of source and mark the place itself left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Open {
    Both,
    Source,
    Neither,
}

impl<T> Cited<T> {
    /// A value with its source and mark.
    #[must_use]
    pub const fn new(value: T, source: Option<String>, mark: SourceMark) -> Self {
        Self {
            value,
            source,
            mark,
            open: Open::Neither,
        }
    }

    /// A value somebody chose, with no source.
    #[must_use]
    pub const fn chosen(value: T) -> Self {
        Self::new(value, None, SourceMark::Chosen)
    }
}

impl<T> Cited<T> {
    /// What is made of the value, with the same source and mark: an end of a range, say.
    #[must_use]
    pub fn map<U>(&self, make: impl FnOnce(&T) -> U) -> Cited<U> {
        Cited {
            value: make(&self.value),
            source: self.source.clone(),
            mark: self.mark,
            open: self.open,
        }
    }
}

impl<T: Quantity> Cited<T> {
    /// The figure as a limit for a finding. `whose` is the sheet and key it stands in: `material
    /// sheet PA6-CF, hotend.print`.
    #[must_use]
    pub fn limit(&self, whose: impl Into<String>) -> Limit {
        Limit {
            value: self.value.figure(),
            unit: T::UNIT,
            whose: whose.into(),
            source: self.source.clone(),
            mark: self.mark,
        }
    }
}

impl<T: Written> Part for Option<Cited<T>> {
    fn over(&mut self, base: Self) {
        if self.is_none() {
            *self = base;
        }
    }

    fn inherit(&mut self, from: &Inherit) {
        if let Some(cited) = self {
            inherit(cited, from);
        }
    }

    fn rows(&self, key: &str, rows: &mut Vec<Row>) {
        if let Some(cited) = self {
            rows.push(row(cited, key));
        }
    }
}

/// Gives the sheet's source and mark to a value that left them out.
pub(super) fn inherit<T>(cited: &mut Cited<T>, from: &Inherit) {
    if cited.open == Open::Both {
        cited.mark = from.mark;
    }
    if cited.open != Open::Neither {
        cited.source.clone_from(&from.source);
    }
    cited.open = Open::Neither;
}

/// The row of a value.
pub(super) fn row<T: Written>(cited: &Cited<T>, key: &str) -> Row {
    Row {
        key: key.to_owned(),
        value: cited.value.written(),
        source: cited.source.clone(),
        mark: Some(cited.mark),
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Cited<T> {
    fn deserialize<D: Deserializer<'de>>(reader: D) -> Result<Self, D::Error> {
        reader.deserialize_any(Reading(PhantomData))
    }
}

struct Reading<T>(PhantomData<T>);

#[derive(serde::Deserialize)]
#[serde(field_identifier, rename_all = "lowercase")]
enum Key {
    Value,
    Source,
    Mark,
}

const fn plain<T>(value: T) -> Cited<T> {
    Cited {
        value,
        source: None,
        mark: SourceMark::Chosen,
        open: Open::Both,
    }
}

impl<'de, T: Deserialize<'de>> Visitor<'de> for Reading<T> {
    type Value = Cited<T>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a value, or a table with `value`, `source` and `mark`")
    }

    fn visit_str<E: Error>(self, text: &str) -> Result<Cited<T>, E> {
        T::deserialize(StrDeserializer::new(text)).map(plain)
    }

    fn visit_bool<E: Error>(self, flag: bool) -> Result<Cited<T>, E> {
        T::deserialize(BoolDeserializer::new(flag)).map(plain)
    }

    fn visit_i64<E: Error>(self, number: i64) -> Result<Cited<T>, E> {
        T::deserialize(I64Deserializer::new(number)).map(plain)
    }

    fn visit_f64<E: Error>(self, number: f64) -> Result<Cited<T>, E> {
        T::deserialize(F64Deserializer::new(number)).map(plain)
    }

    fn visit_seq<A: SeqAccess<'de>>(self, values: A) -> Result<Cited<T>, A::Error> {
        T::deserialize(SeqAccessDeserializer::new(values)).map(plain)
    }

    fn visit_map<A: MapAccess<'de>>(self, mut table: A) -> Result<Cited<T>, A::Error> {
        let (mut value, mut source, mut mark) = (None, None, None);
        while let Some(key) = table.next_key::<Key>()? {
            match key {
                Key::Value => value = Some(table.next_value::<T>()?),
                Key::Source => source = Some(table.next_value::<String>()?),
                Key::Mark => mark = Some(table.next_value::<SourceMark>()?),
            }
        }
        let value = value.ok_or_else(|| {
            A::Error::custom(
                "this table holds no `value`; write { value = …, source = \"…\", mark = \"…\" }",
            )
        })?;
        let open = match (&source, &mark) {
            (None, None) => Open::Both,
            (None, Some(_)) => Open::Source,
            (Some(_), _) => Open::Neither,
        };
        Ok(Cited {
            value,
            source,
            mark: mark.unwrap_or_default(),
            open,
        })
    }
}

#[cfg(feature = "cli")]
impl<T: schemars::JsonSchema> schemars::JsonSchema for Cited<T> {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        format!("Cited{}", T::schema_name()).into()
    }

    fn json_schema(schemas: &mut schemars::SchemaGenerator) -> schemars::Schema {
        let value = schemas.subschema_for::<T>();
        let mark = schemas.subschema_for::<SourceMark>();
        schemars::json_schema!({
            "description": "The plain value, or a table that also says whose figure it is.",
            "anyOf": [
                value,
                {
                    "type": "object",
                    "properties": {
                        "value": value,
                        "source": { "type": "string", "description": "Where the figure is from." },
                        "mark": mark
                    },
                    "required": ["value"],
                    "additionalProperties": false
                }
            ]
        })
    }
}
