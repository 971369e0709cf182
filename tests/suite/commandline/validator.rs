//! A small validator of JSON Schema, so that records are held against their schema without a
//! library of a hundred crates.

use serde_json::Value;
use std::path::Path;

/// Holds a record against `corpus/record.schema.json`.
pub fn assert_valid(record: &Value) {
    let faults = faults(record);
    assert!(faults.is_empty(), "{faults:#?}\n{record:#}");
}

/// Holds a survey's record against `corpus/survey.schema.json`.
pub fn assert_valid_survey(record: &Value) {
    let faults = faults_by("survey", record);
    assert!(faults.is_empty(), "{faults:#?}\n{record:#}");
}

/// Holds a line of a log or a record against `corpus/<name>.schema.json`.
pub fn assert_valid_by(name: &str, record: &Value) {
    let faults = faults_by(name, record);
    assert!(faults.is_empty(), "{faults:#?}\n{record:#}");
}

/// What is wrong with a record by `corpus/record.schema.json`.
pub fn faults(record: &Value) -> Vec<String> {
    faults_by("record", record)
}

/// What is wrong with a record by the schema of this name in `corpus/`.
pub fn faults_by(name: &str, record: &Value) -> Vec<String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus");
    let path = folder.join(format!("{name}.schema.json"));
    let schema: Value =
        serde_json::from_slice(&std::fs::read(path).expect("the schema is there")).expect("JSON");
    let mut faults = Vec::new();
    validate(record, &schema, &schema, "", &mut faults);
    faults
}

/// A validator for the words of JSON Schema (2020-12) that this schema uses; another word is a fault,
/// so that none is passed over.
fn validate(value: &Value, schema: &Value, root: &Value, at: &str, faults: &mut Vec<String>) {
    let Some(words) = schema.as_object() else {
        if schema == &Value::Bool(false) {
            faults.push(format!("{at}: nothing is allowed here"));
        }
        return;
    };
    for (word, rule) in words {
        let mut fault = |what: &str| faults.push(format!("{at}: {what}: {value}"));
        match word.as_str() {
            "$schema" | "$defs" | "title" | "description" | "format" => {}
            "$ref" => {
                let pointer = rule
                    .as_str()
                    .and_then(|rule| rule.strip_prefix('#'))
                    .expect("a local reference");
                validate(
                    value,
                    root.pointer(pointer).expect("it is there"),
                    root,
                    at,
                    faults,
                );
            }
            "type" => {
                let is = |kind: &str| match kind {
                    "null" => value.is_null(),
                    "object" => value.is_object(),
                    "array" => value.is_array(),
                    "string" => value.is_string(),
                    "boolean" => value.is_boolean(),
                    "number" => value.is_number(),
                    "integer" => value.is_u64() || value.is_i64(),
                    other => panic!("the type {other} is not known here"),
                };
                let fits = match rule {
                    Value::String(kind) => is(kind),
                    Value::Array(kinds) => kinds.iter().filter_map(Value::as_str).any(is),
                    _ => false,
                };
                if !fits {
                    fault(&format!("is not {rule}"));
                }
            }
            "const" if value != rule => fault(&format!("is not {rule}")),
            "enum" if !rule.as_array().is_some_and(|list| list.contains(value)) => {
                fault("is none of the words")
            }
            "const" | "enum" => {}
            "minimum" | "maximum" => {
                if let (Some(number), Some(bound)) = (value.as_f64(), rule.as_f64())
                    && ((word == "minimum" && number < bound)
                        || (word == "maximum" && number > bound))
                {
                    fault(&format!("is beyond {word} {rule}"));
                }
            }
            "minItems" | "maxItems" => {
                if let (Some(list), Some(bound)) = (value.as_array(), rule.as_u64())
                    && ((word == "minItems" && (list.len() as u64) < bound)
                        || (word == "maxItems" && list.len() as u64 > bound))
                {
                    fault(&format!("does not keep {word} {rule}"));
                }
            }
            "required" => {
                for key in rule
                    .as_array()
                    .into_iter()
                    .flatten()
                    .filter_map(Value::as_str)
                {
                    if value.is_object() && value.get(key).is_none() {
                        fault(&format!("lacks {key}"));
                    }
                }
            }
            "properties" => {
                for (key, rule) in rule.as_object().into_iter().flatten() {
                    if let Some(value) = value.get(key) {
                        validate(value, rule, root, &format!("{at}/{key}"), faults);
                    }
                }
            }
            "additionalProperties" => {
                let known = words.get("properties").and_then(Value::as_object);
                for (key, value) in value.as_object().into_iter().flatten() {
                    if known.is_none_or(|known| !known.contains_key(key)) {
                        validate(value, rule, root, &format!("{at}/{key}"), faults);
                    }
                }
            }
            "items" => {
                for (index, value) in value.as_array().into_iter().flatten().enumerate() {
                    validate(value, rule, root, &format!("{at}/{index}"), faults);
                }
            }
            "anyOf" | "oneOf" => {
                let fits = rule.as_array().into_iter().flatten().filter(|rule| {
                    let mut faults = Vec::new();
                    validate(value, rule, root, at, &mut faults);
                    faults.is_empty()
                });
                let count = fits.count();
                if count == 0 || (word == "oneOf" && count > 1) {
                    fault(&format!("fits {count} of {word}"));
                }
            }
            other => panic!("the word {other} is not known to this validator"),
        }
    }
}
