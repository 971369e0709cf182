//! What the record is made of. The comments here are the schema's descriptions.

use super::survey::Survey;
use crate::concession::Verdict;
use crate::finding::{Class, Counts, SourceMark};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Serialize;
use std::collections::BTreeMap;

/// The words of the classes, most harmful first.
fn class(_: &mut SchemaGenerator) -> Schema {
    json_schema!({ "type": "string", "enum": Class::ALL })
}

fn class_or_null(_: &mut SchemaGenerator) -> Schema {
    let [critical, major, minor, observation] = Class::ALL;
    json_schema!({ "enum": [critical, major, minor, observation, null] })
}

/// What became of one job.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Record {
    /// The name of this schema: `meltgauge-record`.
    pub schema: &'static str,
    /// The version of this schema. It rises when a key goes or changes its meaning.
    pub version: u32,
    /// The program that wrote the record.
    pub tool: Tool,
    /// The job.
    pub job: Job,
    /// The material sheets, one for each tool that has one.
    pub material: Vec<Material>,
    /// The machine sheet; null where none is named.
    pub machine: Option<Machine>,
    /// Findings of this class and above hold the job; null where it could not be inspected.
    #[schemars(schema_with = "class_or_null")]
    pub hold_from: Option<Class>,
    /// What becomes of the job; null where it could not be inspected.
    pub verdict: Option<Verdict>,
    /// Why the job could not be inspected; null where it was.
    pub error: Option<Error>,
    /// What was found, most harmful class first.
    pub findings: Vec<Finding>,
    /// What was not held, and why. Silence of a sheet is not a pass.
    pub not_held: Vec<NotHeld>,
    /// The declared concessions that cover a finding or are remarked on.
    pub concessions: Vec<Concession>,
    /// What the job sets and uses.
    pub uses: Option<Uses>,
    /// What the job's comments declare: the first of each setting.
    pub declared: BTreeMap<String, Declared>,
    /// What of the job was held against limits of the material sheet, past them or not: the extreme in
    /// each case, in the limit's unit; null where there was nothing to hold. Empty where several tools
    /// push.
    pub held_values: BTreeMap<&'static str, Option<f64>>,
    /// What the job builds.
    pub survey: Option<Survey>,
}

/// The program that wrote a record.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Tool {
    /// Its name.
    pub name: &'static str,
    /// Its version.
    pub version: &'static str,
}

/// The job as a file.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Job {
    /// Its path as given, `-` for the standard input. What is not UTF-8 in it is replaced.
    pub path: String,
    /// The path's bytes in hexadecimal, where `path` is not the whole truth.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub path_bytes: Option<String>,
    /// Bytes of the job itself, unpacked.
    pub bytes: Option<u64>,
    /// Bytes as stored.
    pub stored_bytes: Option<u64>,
    /// How it is stored: `plain`, `gzip` or `zstd`.
    pub packing: Option<&'static str>,
    /// Lines.
    pub lines: Option<u64>,
    /// The line on which the program ends, where the control ends it at a word.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ends_on: Option<u64>,
    /// Lines behind that line which hold more than a comment: they were not read as job.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unread: Option<u64>,
    /// BLAKE3 of the stored bytes, 64 hexadecimal digits.
    pub digest: Option<String>,
}

/// Who named a sheet.
#[derive(Debug, Clone, Copy, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Given {
    /// The command line.
    CommandLine,
    /// The configuration.
    Configuration,
    /// The job itself, in a comment.
    Job,
}

/// The material sheet of a tool.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Material {
    /// The tool; null where the sheet is for every tool.
    pub tool: Option<u32>,
    /// The sheet's name.
    pub name: String,
    /// Where the sheet is from.
    pub origin: String,
    /// BLAKE3 of the sheet.
    pub digest: Option<String>,
    /// Who named it.
    pub named_by: Option<Given>,
    /// The line on which the job declares it.
    pub declared_on: Option<u64>,
}

/// The machine sheet.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Machine {
    /// The sheet's name.
    pub name: String,
    /// Where the sheet is from.
    pub origin: String,
    /// BLAKE3 of the sheet.
    pub digest: Option<String>,
    /// Who named it.
    pub named_by: Option<Given>,
}

/// Why a job could not be inspected.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Error {
    /// Why.
    pub message: String,
    /// What to do.
    pub help: String,
}

/// One nonconformity. One cause gives one finding, however often it shows.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Finding {
    /// The requirement's id.
    pub requirement: &'static str,
    /// How much harm it may do.
    #[schemars(schema_with = "class")]
    pub class: Class,
    /// What the job does, against what, by how much.
    pub message: String,
    /// What to do about it.
    pub help: String,
    /// How often, and where.
    pub extent: Extent,
    /// What it was held against; null where that is no figure.
    pub limit: Option<Limit>,
    /// The job's own value at its worst place, in the limit's unit.
    pub amount: Option<f64>,
    /// Other places that explain it.
    pub related: Vec<Related>,
    /// The concession that covers it: its index among those declared, from 0; null where none does.
    pub conceded: Option<usize>,
}

/// How often something occurs, and where.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Extent {
    /// How often; 0 where the finding is about the job as a whole.
    pub count: u64,
    /// What is counted.
    pub counts: Counts,
    /// The first place.
    pub first: Option<Place>,
    /// The last place.
    pub last: Option<Place>,
    /// The worst place.
    pub worst: Option<Place>,
}

/// A place in the job.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Place {
    /// The line's number, from 1.
    pub line: u64,
    /// The first byte and one past the last, from the start of the unpacked job.
    pub byte: [u64; 2],
    /// The column in bytes, from 1; null where it is not known.
    pub column: Option<u64>,
    /// The line, clipped, with control bytes replaced.
    pub text: String,
}

/// A place that explains a finding.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Related {
    /// Where.
    pub place: Place,
    /// What is there.
    pub note: String,
}

/// The figure a job was held against, and whose it is.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Limit {
    /// The figure.
    pub value: Option<f64>,
    /// Its unit; empty for a count or a word.
    pub unit: &'static str,
    /// The sheet and the key in it.
    pub whose: String,
    /// Where the sheet's author has it from.
    pub source: Option<String>,
    /// How far it can be trusted.
    pub mark: SourceMark,
}

/// A requirement that was not held.
#[derive(Debug, Serialize, JsonSchema)]
pub struct NotHeld {
    /// The requirement's id.
    pub requirement: &'static str,
    /// Why.
    pub reason: String,
}

/// A declared concession.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Concession {
    /// Its index among those declared, from 0.
    pub index: usize,
    /// The requirement's id.
    pub requirement: String,
    /// How far the worst may go, with its unit.
    pub bound: Option<String>,
    /// Why it is granted.
    pub reason: String,
    /// Who grants it.
    pub by: String,
    /// The last day on which it holds.
    pub until: Option<String>,
    /// The findings it covers, by index from 0.
    pub covers: Vec<usize>,
    /// What is to be said about it.
    pub remarks: Vec<ConcessionRemark>,
}

/// A remark on a concession.
#[derive(Debug, Serialize, JsonSchema)]
pub struct ConcessionRemark {
    /// `unused`, `exceeded`, `unmeasured`, `expired` or `unknown-requirement`.
    pub kind: &'static str,
    /// In words.
    pub message: String,
}

/// What the job sets and uses. Lists are cut at sixteen entries.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Uses {
    /// Hotend setpoints.
    pub hotend: Vec<Setpoint>,
    /// Bed setpoints.
    pub bed: Vec<Setpoint>,
    /// Chamber setpoints.
    pub chamber: Vec<Setpoint>,
    /// Tools that lay the part.
    pub tools: Vec<u32>,
    /// The part fan after the first layer, weighted by filament, 0 to 1.
    pub fan_mean: Option<f64>,
    /// The highest commanded feed while the part is laid, mm/s.
    pub feed_most_mm_s: Option<f64>,
    /// Macros, each with its first line.
    pub macros: Vec<Macro>,
}

/// A setpoint.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Setpoint {
    /// The tool; null for bed and chamber.
    pub tool: Option<u32>,
    /// °C; 0 is off.
    pub target: Option<f64>,
    /// How often it is set.
    pub count: u64,
    /// The first line that sets it.
    pub line: u64,
    /// Whether the job waits for it.
    pub waits: bool,
}

/// A macro that the job calls.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Macro {
    /// Its name.
    pub name: String,
    /// The first line that calls it.
    pub line: u64,
}

/// A declared setting.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Declared {
    /// Its value as written.
    pub value: String,
    /// Where.
    pub place: Place,
}
