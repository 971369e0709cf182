//! The record: one JSON object a job and line, for programs.
//!
//! `corpus/record.schema.json` is its JSON Schema (2020-12), made from the types in `parts` and
//! `survey`; `corpus/survey.schema.json` is that of a survey alone, `corpus/gate.schema.json` that of a line of the gate's log. A reader
//! may count on every key being there; what is not known is null. New keys may come with any release;
//! [`VERSION`] rises when one goes or changes its meaning.

mod gate;
mod make;
mod parts;
mod qualify;
mod rework;
mod survey;
mod walls;

pub use gate::{GateRecord, gate_schema, moment, no_record};
pub use parts::{
    Concession, ConcessionRemark, Declared, Error, Extent, Finding, Given, Job, Limit, Machine,
    Macro, Material, NotHeld, Place, Record, Related, Setpoint, Tool, Uses,
};
pub use survey::{
    Amount, BeadWidth, Class, FirstLayer, LayerRow, Pushed, QuickestLayer, Retractions, Survey,
    SurveyRecord, TimeParts, ToolFilament,
};
pub use walls::{Region, Section, Spot, Stiffness, WallPart, Walls};

pub use qualify::{
    QualifyMargin, QualifyPoint, QualifyRecord, QualifySheet, QualifySide, qualify_line,
    qualify_schema, symptom_line,
};
pub use rework::{
    Change, Found, Kept, Refused, ReworkOutput, ReworkRecord, rework_line, rework_schema,
};

use super::Outcome;
use crate::text::clean;

/// The schema's name.
pub const NAME: &str = "meltgauge-record";

/// The schema's version.
pub const VERSION: u32 = 2;

/// The name of the schema of a survey alone.
pub const SURVEY_NAME: &str = "meltgauge-survey";

/// Its version.
pub const SURVEY_VERSION: u32 = 1;

/// One job's record as a line of JSON, without a line ending.
///
/// # Errors
///
/// What keeps it from being written as JSON; nothing that a job can bring about.
pub fn line(outcome: &Outcome) -> Result<String, serde_json::Error> {
    Ok(harmless(&serde_json::to_string(&Record::of(outcome))?))
}

/// One job's survey as a line of JSON, without a line ending; with a row a layer where asked for.
///
/// # Errors
///
/// What keeps it from being written as JSON; nothing that a job can bring about.
pub fn survey_line(outcome: &Outcome, layers: bool) -> Result<String, serde_json::Error> {
    let record = SurveyRecord::of(outcome, layers);
    Ok(harmless(&serde_json::to_string(&record)?))
}

/// JSON escapes the first control range itself. What else a terminal could stumble over is escaped
/// here: it can only stand within texts, so that the meaning stays.
fn harmless(json: &str) -> String {
    if let std::borrow::Cow::Borrowed(_) = clean(json.as_bytes()) {
        return json.to_owned();
    }
    let mut text = String::with_capacity(json.len() + 16);
    for letter in json.chars() {
        if matches!(clean(letter.encode_utf8(&mut [0; 4]).as_bytes()).as_ref(), shown if !shown.starts_with(letter))
        {
            for unit in letter.encode_utf16(&mut [0; 2]) {
                text.push_str(&format!("\\u{unit:04x}"));
            }
        } else {
            text.push(letter);
        }
    }
    text
}

/// The JSON Schema of the record.
#[must_use]
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(Record).to_value()
}

/// The JSON Schema of a survey alone.
#[must_use]
pub fn survey_schema() -> serde_json::Value {
    schemars::schema_for!(SurveyRecord).to_value()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_that_mislead_are_escaped_and_keep_their_meaning() {
        let text = "a\u{202e}b\u{9b}c\u{7f}d°\u{e0041}";
        let json = serde_json::to_string(text).unwrap();
        let safe = harmless(&json);
        assert_eq!(safe, "\"a\\u202eb\\u009bc\\u007fd°\\udb40\\udc41\"");
        assert_eq!(serde_json::from_str::<String>(&safe).unwrap(), text);
        assert_eq!(harmless("\"plain\""), "\"plain\"");
    }

    /// The schemas in the corpus are what the types say. With `MELTGAUGE_WRITE=1` they are written
    /// anew.
    #[test]
    fn the_schemas_in_the_corpus_are_these() {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/corpus/");
        for (name, schema) in [
            ("record", schema()),
            ("survey", survey_schema()),
            ("gate", gate_schema()),
            ("qualify", qualify_schema()),
        ] {
            let path = format!("{folder}{name}.schema.json");
            let made = format!("{}\n", serde_json::to_string_pretty(&schema).unwrap());
            if std::env::var_os("MELTGAUGE_WRITE").is_some() {
                std::fs::write(&path, &made).unwrap();
            }
            assert_eq!(std::fs::read_to_string(&path).unwrap_or_default(), made);
        }
    }
}
