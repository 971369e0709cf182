//! Writing overlays: a sheet that says only what differs, and changing a value while comments stay.
//!
//! Text in, text out; whoever calls reads the result back before it is kept.

use toml_edit::{Array, DocumentMut, Item, Table, Value, value};

/// Who made a sheet, when and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Made<'a> {
    /// The day, `2027-03-31`.
    pub date: &'a str,
    /// The role of its author.
    pub by: &'a str,
    /// Why it differs.
    pub reason: &'a str,
}

/// A new overlay of `from`, with the values that differ.
///
/// # Errors
/// A key that cannot stand in a sheet, one clause.
pub fn overlay(
    name: &str,
    from: &str,
    made: &Made<'_>,
    values: &[(&str, &str)],
) -> Result<String, String> {
    let mut sheet = DocumentMut::new();
    for (key, text) in [
        ("name", name),
        ("from", from),
        ("date", made.date),
        ("by", made.by),
        ("reason", made.reason),
        ("source", made.by),
    ] {
        sheet.insert(key, value(text));
    }
    sheet.insert("mark", value("chosen"));
    for (key, text) in values {
        put(&mut sheet, key, text)?;
    }
    Ok(sheet.to_string())
}

/// The sheet with these values changed or added; comments, order and everything else stay.
///
/// # Errors
/// The text is no TOML, or a key cannot stand in it, one clause.
pub fn changed(text: &str, values: &[(&str, &str)]) -> Result<String, String> {
    let mut sheet: DocumentMut = text
        .parse()
        .map_err(|fault: toml_edit::TomlError| fault.message().to_owned())?;
    for (key, text) in values {
        put(&mut sheet, key, text)?;
    }
    Ok(sheet.to_string())
}

/// A value as it is typed: TOML, or a text without its quotes; `a to b` is a range.
fn read(text: &str) -> Value {
    if let Ok(value) = text.parse::<Value>()
        && (value.is_array() || value.is_inline_table() || value.is_bool() || value.is_str())
    {
        return value;
    }
    match text.split_once(" to ") {
        Some((least, most)) => {
            Value::Array([least.trim(), most.trim()].into_iter().collect::<Array>())
        }
        None => text.into(),
    }
}

fn put(sheet: &mut DocumentMut, key: &str, text: &str) -> Result<(), String> {
    let parts: Vec<&str> = key.split('.').collect();
    let Some((last, way)) = parts
        .split_last()
        .filter(|_| parts.iter().all(|part| !part.is_empty()))
    else {
        return Err(format!("`{key}` is no key"));
    };
    let mut table: &mut Table = sheet.as_table_mut();
    for part in way {
        let (name, index) = indexed(part).ok_or_else(|| format!("`{key}` is no key"))?;
        let item = table.entry(name).or_insert_with(|| match index {
            Some(_) => Item::ArrayOfTables(toml_edit::ArrayOfTables::new()),
            None => Item::Table(Table::new()),
        });
        table = match (item, index) {
            (Item::ArrayOfTables(list), Some(index)) => {
                if index > list.len() {
                    return Err(format!("`{key}`: give the ones before it first"));
                }
                if index == list.len() {
                    list.push(Table::new());
                }
                list.get_mut(index)
                    .ok_or_else(|| format!("`{key}` is no key"))?
            }
            (Item::Table(table), None) => table,
            _ => {
                return Err(format!(
                    "`{key}` does not lead to a value that can be changed here"
                ));
            }
        };
    }
    let mut new = read(text);
    match table.get_mut(last) {
        Some(Item::Value(old)) => {
            // A comment behind the value stays.
            *new.decor_mut() = old.decor().clone();
            *old = new;
        }
        Some(_) => return Err(format!("`{key}` is a table; name a key in it")),
        None => {
            table.insert(last, Item::Value(new));
        }
    }
    Ok(())
}

/// `tools[0]` is `tools` and 0.
fn indexed(part: &str) -> Option<(&str, Option<usize>)> {
    match part.split_once('[') {
        None => Some((part, None)),
        Some((name, rest)) => Some((name, Some(rest.strip_suffix(']')?.parse().ok()?))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet::{Machine, Material};

    const MADE: Made<'_> = Made {
        date: "2026-11-28",
        by: "workshop lead",
        reason: "this spool runs hotter",
    };

    #[test]
    fn a_written_overlay_reads_back_to_the_same_values() {
        let values = [
            ("hotend.print", "250 °C to 270 °C"),
            ("density", "1.18 g/cm³"),
            ("nozzle.abrasive", "true"),
            ("drying.time", "[\"10 h\", \"12 h\"]"),
            (
                "flow.most",
                "{ value = \"9 mm³/s\", source = \"own test\", mark = \"measured\" }",
            ),
        ];
        let text = overlay("PA6-CF, spool of March", "PA6-CF", &MADE, &values).unwrap();
        let sheet = Material::parse("spool.toml", &text).unwrap();
        assert_eq!(
            sheet.hotend.print.as_ref().unwrap().value.to_string(),
            "250 °C to 270 °C"
        );
        assert_eq!(
            sheet.density.as_ref().unwrap().value.to_string(),
            "1.18 g/cm³"
        );
        assert_eq!(
            sheet.density.as_ref().unwrap().source.as_deref(),
            Some("workshop lead")
        );
        assert_eq!(
            sheet.flow.most.as_ref().unwrap().source.as_deref(),
            Some("own test")
        );
        assert_eq!(sheet.by.as_deref(), Some("workshop lead"));
        // What the base says stays the base's.
        assert_eq!(
            sheet.bed.print.unwrap().value.to_string(),
            "70 °C to 110 °C"
        );
        let text = overlay(
            "printer 3",
            "open-lined",
            &MADE,
            &[("tools[0].limit", "300 °C"), ("tools[0].lined", "false")],
        )
        .unwrap();
        let machine = Machine::parse("printer.toml", &text);
        // The base's liner limit does not fit a tool without a liner: the reader says so.
        assert!(machine.is_err(), "{text}");
    }

    #[test]
    fn comments_stay_when_a_value_is_changed() {
        let text = "# our spool\nname = \"x\" # the name\nfrom = \"PLA\"\n\n# hot\n[hotend]\n# tried in May\nprint = [\"200 °C\", \"215 °C\"] # at 60 mm/s\n";
        let now = changed(
            text,
            &[
                ("hotend.print", "205 °C to 220 °C"),
                ("bed.print", "55 °C to 60 °C"),
            ],
        )
        .unwrap();
        for kept in [
            "# our spool",
            "# the name",
            "# hot",
            "# tried in May",
            "# at 60 mm/s",
        ] {
            assert!(now.contains(kept), "{kept}: {now}");
        }
        let sheet = Material::parse("x.toml", &now).unwrap();
        assert_eq!(
            sheet.hotend.print.unwrap().value.to_string(),
            "205 °C to 220 °C"
        );
        assert_eq!(sheet.bed.print.unwrap().value.to_string(), "55 °C to 60 °C");
        // Changed back, it is the old text but for the table that was added.
        let back = changed(&now, &[("hotend.print", "200 °C to 215 °C")]).unwrap();
        assert!(back.starts_with(text), "{back}");
    }

    #[test]
    fn what_is_no_key_is_refused() {
        for (key, words) in [
            ("", "no key"),
            ("hotend..print", "no key"),
            ("hotend", "name a key in it"),
            ("tools[x].limit", "no key"),
            ("name.first", "does not lead"),
        ] {
            let fault = changed("name = \"x\"\n[hotend]\n", &[(key, "1")]).unwrap_err();
            assert!(fault.contains(words), "{key}: {fault}");
        }
    }
}
