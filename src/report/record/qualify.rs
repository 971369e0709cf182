//! The record of an answer. The comments on the types are the schema's descriptions.

use super::make::{TOOL, finite};
use super::parts::Tool;
use crate::finding::SourceMark;
use crate::qualify;
use crate::qualify::symptom::{Likely, Symptom};
use crate::report::qualified::Qualified;
use crate::sheet::Origin;
use schemars::JsonSchema;
use serde::Serialize;

/// The schema's name.
const NAME: &str = "meltgauge-qualify";

/// The schema's version.
const VERSION: u32 = 1;

/// What becomes of a question.
#[derive(Debug, Serialize, JsonSchema)]
pub struct QualifyRecord {
    /// The name of this schema: `meltgauge-qualify`.
    pub schema: &'static str,
    /// The version of this schema. It rises when a key goes or changes its meaning.
    pub version: u32,
    /// The program that wrote the record.
    pub tool: Tool,
    /// The material sheet.
    pub material: QualifySheet,
    /// The machine sheet; null where none is named.
    pub machine: Option<QualifySheet>,
    /// The application; null where all was asked on the command line.
    pub application: Option<QualifySheet>,
    /// What it comes to: `suits`, `suits-with-changes`, `nothing-held`, `open` or
    /// `does-not-suit`.
    pub verdict: &'static str,
    /// Every point, worst standing first.
    pub points: Vec<QualifyPoint>,
    /// What can hurt somebody.
    pub cautions: Vec<String>,
    /// The symptom that is asked about; null where none is.
    pub symptom: Option<&'static str>,
    /// Its causes that the evidence speaks for, likeliest first.
    pub causes: Vec<QualifyCause>,
}

/// A cause of a symptom.
#[derive(Debug, Serialize, JsonSchema)]
pub struct QualifyCause {
    /// The cause.
    pub cause: &'static str,
    /// What speaks for it: the requirement, point or value, and what was found.
    pub evidence: Vec<String>,
    /// What to try next.
    pub next: &'static str,
}

/// A sheet that was held.
#[derive(Debug, Serialize, JsonSchema)]
pub struct QualifySheet {
    /// Its name.
    pub name: String,
    /// Where it is from.
    pub origin: String,
    /// BLAKE3 of the sheet.
    pub digest: Option<String>,
}

/// One thing that was looked at.
#[derive(Debug, Serialize, JsonSchema)]
pub struct QualifyPoint {
    /// Its id.
    pub id: &'static str,
    /// How it stands: `stops`, `change`, `try-first`, `unknown`, `note` or `fits`.
    pub standing: &'static str,
    /// What the material or the use asks for.
    pub needs: Option<QualifySide>,
    /// What is there.
    pub has: Option<QualifySide>,
    /// How far apart the two are, above zero where there is room; null where that is no figure.
    pub margin: Option<QualifyMargin>,
    /// What it comes to, and why.
    pub says: String,
    /// What to do about it; null where nothing is to be done.
    pub action: Option<String>,
}

/// One of two values, and whose it is.
#[derive(Debug, Serialize, JsonSchema)]
pub struct QualifySide {
    /// The value as text, with its unit.
    pub value: String,
    /// The sheet and key it stands in, or `as asked`, or how it was worked out.
    pub whose: String,
    /// Where the sheet's author has it from.
    pub source: Option<String>,
    /// How far it can be trusted; null where it is no sheet's figure.
    pub mark: Option<SourceMark>,
}

/// How far apart two values are.
#[derive(Debug, Serialize, JsonSchema)]
pub struct QualifyMargin {
    /// The amount.
    pub value: Option<f64>,
    /// Its unit.
    pub unit: &'static str,
    /// The same in per cent of the limit, where the trade quotes it so; temperatures on the Celsius
    /// scale.
    pub percent: Option<f64>,
}

impl QualifyRecord {
    /// The record of an answer.
    #[must_use]
    pub fn of(qualified: &Qualified<'_>) -> Self {
        let (question, answer) = (&qualified.question, qualified.answer);
        let sheet = |name: &str, origin: &Origin, digest: &Option<String>| QualifySheet {
            name: name.to_owned(),
            origin: origin.to_string(),
            digest: digest.clone(),
        };
        let material = question.material;
        let application = question.application;
        Self {
            schema: NAME,
            version: VERSION,
            tool: TOOL,
            material: sheet(&material.name, &material.origin, &material.digest),
            machine: question
                .machine
                .map(|machine| sheet(&machine.name, &machine.origin, &machine.digest)),
            application: (application.origin != Origin::Unnamed)
                .then(|| sheet(&application.name, &application.origin, &application.digest)),
            verdict: answer.verdict.word(),
            points: answer.points.iter().map(point).collect(),
            cautions: answer.cautions.clone(),
            symptom: None,
            causes: Vec::new(),
        }
    }
}

fn point(point: &qualify::Point) -> QualifyPoint {
    QualifyPoint {
        id: point.id,
        standing: point.standing.word(),
        needs: point.needs.as_ref().map(side),
        has: point.has.as_ref().map(side),
        margin: point.margin.map(|margin| QualifyMargin {
            value: finite(margin.value),
            unit: margin.unit,
            percent: margin.percent.and_then(finite),
        }),
        says: point.says.clone(),
        action: point.action.clone(),
    }
}

fn side(side: &qualify::Side) -> QualifySide {
    QualifySide {
        value: side.text.clone(),
        whose: side.whose.clone(),
        source: side.source.clone(),
        mark: side.mark,
    }
}

/// One answer's record as a line of JSON, without a line ending.
///
/// # Errors
///
/// What keeps it from being written as JSON; nothing that a question can bring about.
pub fn qualify_line(qualified: &Qualified<'_>) -> Result<String, serde_json::Error> {
    Ok(super::harmless(&serde_json::to_string(
        &QualifyRecord::of(qualified),
    )?))
}

/// The record of a symptom's causes, as [`qualify_line`].
///
/// # Errors
///
/// As [`qualify_line`].
pub fn symptom_line(
    qualified: &Qualified<'_>,
    symptom: Symptom,
    causes: &[Likely],
) -> Result<String, serde_json::Error> {
    let record = QualifyRecord {
        symptom: Some(symptom.word()),
        causes: causes
            .iter()
            .map(|likely| QualifyCause {
                cause: likely.cause.says(),
                evidence: likely
                    .evidence
                    .iter()
                    .map(|sign| format!("{}: {}", sign.id, sign.says))
                    .collect(),
                next: likely.cause.next(),
            })
            .collect(),
        ..QualifyRecord::of(qualified)
    };
    Ok(super::harmless(&serde_json::to_string(&record)?))
}

/// The JSON Schema of the record of an answer.
#[must_use]
pub fn qualify_schema() -> serde_json::Value {
    schemars::schema_for!(QualifyRecord).to_value()
}
