//! The record of a rework. The comments on the types are the schema's descriptions.

use super::make::{TOOL, findings, finite, job, limit, machine, materials, place, read_job, shown};
use super::parts::{Error, Finding, Job, Limit, Machine, Material, Place, Tool};
use crate::concession::Verdict;
use crate::finding::Class;
use crate::report::reworked::{Output, Reworked};
use crate::report::{Checked, Failed};
use crate::rework::{Characteristic, rework};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Serialize;

/// The schema's name.
const NAME: &str = "meltgauge-rework";

/// The schema's version.
const VERSION: u32 = 1;

fn class_or_null(_: &mut SchemaGenerator) -> Schema {
    let [critical, major, minor, observation] = Class::ALL;
    json_schema!({ "enum": [critical, major, minor, observation, null] })
}

/// What became of the rework of one job.
#[derive(Debug, Serialize, JsonSchema)]
pub struct ReworkRecord {
    /// The name of this schema: `meltgauge-rework`.
    pub schema: &'static str,
    /// The version of this schema. It rises when a key goes or changes its meaning.
    pub version: u32,
    /// The program that wrote the record.
    pub tool: Tool,
    /// The job as it was.
    pub job: Job,
    /// The material sheets, one for each tool that has one.
    pub material: Vec<Material>,
    /// The machine sheet; null where none is named.
    pub machine: Option<Machine>,
    /// Findings of this class and above hold the job; null where it could not be inspected.
    #[schemars(schema_with = "class_or_null")]
    pub hold_from: Option<Class>,
    /// Why the job could not be reworked; null where it was looked at to its end.
    pub error: Option<Error>,
    /// Whether the print is altered: a repair is among what is put right.
    pub repaired: bool,
    /// What is put right, in the order of the job.
    pub reworks: Vec<Change>,
    /// Whether line numbers and checksums are stated anew throughout.
    pub restated: bool,
    /// What is left alone, and why.
    pub refused: Vec<Refused>,
    /// Whether the result is proven; null where there was nothing to put right.
    pub proven: Option<bool>,
    /// Why it is not proven.
    pub unproven: Option<String>,
    /// What is proven to be kept; null where nothing is proven.
    pub kept: Option<Kept>,
    /// The job as it was: null where it could not be inspected.
    pub before: Option<Found>,
    /// The job as it becomes; null where there was nothing to put right.
    pub after: Option<Found>,
    /// Where the result went; null where nothing was written.
    pub output: Option<ReworkOutput>,
}

/// One thing that is put right.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Change {
    /// The rework's id.
    pub rework: &'static str,
    /// Whether it is a repair, which alters the print.
    pub is_repair: bool,
    /// The requirement it answers.
    pub requirement: &'static str,
    /// What the job said, with its unit.
    pub old: String,
    /// What it says now.
    pub new: String,
    /// The limit it was held against; null where that is no figure.
    pub limit: Option<Limit>,
    /// Where; null where it is about the job as a whole.
    pub place: Option<Place>,
    /// How many edits it took.
    pub edits: usize,
}

/// Something that is left alone.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Refused {
    /// The rework's id; `none` where none may answer it.
    pub rework: &'static str,
    /// The requirement it would answer.
    pub requirement: &'static str,
    /// Why.
    pub reason: String,
}

/// What is proven to be kept.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Kept {
    /// Moves, every one as it was.
    pub moves: u64,
    /// Of them such that push filament.
    pub pushes: u64,
    /// Filament pushed, mm.
    pub pushed_mm: Option<f64>,
    /// What stays the same: `path`, `deposit`, `retraction`, `heat`, `fan`, `feed` (of deposit),
    /// `travel` (its feeds).
    pub same: Vec<&'static str>,
    /// What of these changes.
    pub changed: Vec<&'static str>,
    /// Requirements whose findings are gone.
    pub gone: Vec<&'static str>,
}

/// What was found in a job.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Found {
    /// What becomes of the job.
    pub verdict: Verdict,
    /// Bytes of the job itself, unpacked.
    pub bytes: u64,
    /// Lines.
    pub lines: u64,
    /// BLAKE3 of the stored bytes, 64 hexadecimal digits; null where nothing was stored.
    pub digest: Option<String>,
    /// How long it takes, seconds; null where that cannot be told.
    pub time_s: Option<f64>,
    /// What was found, most harmful class first.
    pub findings: Vec<Finding>,
}

/// Where a result went.
#[derive(Debug, Serialize, JsonSchema)]
pub struct ReworkOutput {
    /// Its path, `-` for the standard output. What is not UTF-8 in it is replaced.
    pub path: String,
    /// The path's bytes in hexadecimal, where `path` is not the whole truth.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub path_bytes: Option<String>,
    /// Whether it took the place of the job.
    pub in_place: bool,
    /// Where the original is kept, if it was reworked in place.
    pub original: Option<String>,
    /// BLAKE3 of the stored bytes, 64 hexadecimal digits.
    pub digest: Option<String>,
}

fn found(checked: &Checked) -> Found {
    Found {
        verdict: checked.settlement.verdict,
        bytes: checked.stored.bytes_unpacked,
        lines: checked.inspected.lines,
        digest: checked.stored.digest_hex.clone(),
        time_s: checked
            .inspected
            .survey
            .time
            .as_ref()
            .ok()
            .and_then(|pace| finite(pace.seconds())),
        findings: findings(checked),
    }
}

impl ReworkRecord {
    /// Of a job that was looked at to its end.
    #[must_use]
    pub fn of(reworked: &Reworked) -> Self {
        let before = &reworked.before;
        let change = reworked.change.as_ref();
        let proof = change.map(|change| &change.proof);
        Self {
            job: read_job(before),
            material: materials(before),
            machine: machine(before),
            hold_from: Some(before.hold_from),
            repaired: reworked.repairs(),
            reworks: changes(reworked),
            restated: reworked.proposals.restate,
            refused: reworked
                .proposals
                .refusals
                .iter()
                .map(|refusal| Refused {
                    rework: refusal.rework,
                    requirement: refusal.requirement,
                    reason: shown(&refusal.reason),
                })
                .collect(),
            proven: proof.map(Result::is_ok),
            unproven: proof.and_then(|proof| proof.as_ref().err().map(|why| shown(&why.0))),
            kept: proof
                .and_then(|proof| proof.as_ref().ok())
                .map(|proof| Kept {
                    moves: proof.moves,
                    pushes: proof.pushes,
                    pushed_mm: finite(proof.pushed_mm),
                    same: proof.kept.iter().map(|one| one.word()).collect(),
                    changed: Characteristic::ALL
                        .into_iter()
                        .filter(|one| !proof.kept.contains(one))
                        .map(Characteristic::word)
                        .collect(),
                    gone: proof.gone.clone(),
                }),
            before: Some(found(before)),
            after: change.map(|change| found(&change.after)),
            output: output(reworked),
            ..Self::empty()
        }
    }

    /// Of a job that could not be reworked.
    #[must_use]
    pub fn failed(failed: &Failed) -> Self {
        Self {
            job: job(&failed.name),
            error: Some(Error {
                message: shown(&failed.message),
                help: shown(&failed.help),
            }),
            ..Self::empty()
        }
    }

    fn empty() -> Self {
        Self {
            schema: NAME,
            version: VERSION,
            tool: TOOL,
            job: job(&crate::text::Name::StandardInput),
            material: Vec::new(),
            machine: None,
            hold_from: None,
            error: None,
            repaired: false,
            reworks: Vec::new(),
            restated: false,
            refused: Vec::new(),
            proven: None,
            unproven: None,
            kept: None,
            before: None,
            after: None,
            output: None,
        }
    }
}

/// What is put right, in the order of its first edit.
fn changes(reworked: &Reworked) -> Vec<Change> {
    let mut counts = vec![0_usize; reworked.proposals.list.len()];
    let mut order: Vec<usize> = Vec::new();
    for (index, _) in &reworked.edits {
        if let Some(count) = counts.get_mut(*index) {
            if *count == 0 {
                order.push(*index);
            }
            *count += 1;
        }
    }
    order
        .into_iter()
        .filter_map(|index| Some((counts.get(index)?, reworked.proposals.list.get(index)?)))
        .map(|(edits, proposal)| Change {
            rework: proposal.rework,
            is_repair: rework(proposal.rework).is_some_and(|rework| rework.is_repair),
            requirement: proposal.requirement,
            old: shown(&proposal.old),
            new: shown(&proposal.new),
            limit: proposal.limit.as_ref().map(limit),
            place: proposal.at.as_ref().map(place),
            edits: *edits,
        })
        .collect()
}

fn output(reworked: &Reworked) -> Option<ReworkOutput> {
    // Where nothing was put right, the job went there as it was.
    let written = match &reworked.change {
        Some(change) => &change.after,
        None => &reworked.before,
    };
    let digest = written.stored.digest_hex.clone();
    match &reworked.output {
        Output::Nothing | Output::Shown => None,
        Output::StandardOutput => Some(ReworkOutput {
            path: "-".to_owned(),
            path_bytes: None,
            in_place: false,
            original: None,
            digest,
        }),
        Output::File {
            name,
            kept,
            in_place,
        } => {
            let place = job(name);
            Some(ReworkOutput {
                path: place.path,
                path_bytes: place.path_bytes,
                in_place: *in_place,
                original: kept.as_ref().map(|kept| job(kept).path),
                digest,
            })
        }
    }
}

/// The record as a line of JSON, without a line ending.
///
/// # Errors
///
/// What keeps it from being written as JSON; nothing that a job can bring about.
pub fn rework_line(record: &ReworkRecord) -> Result<String, serde_json::Error> {
    Ok(super::harmless(&serde_json::to_string(record)?))
}

/// The JSON Schema of the record of a rework.
#[must_use]
pub fn rework_schema() -> serde_json::Value {
    schemars::schema_for!(ReworkRecord).to_value()
}

#[cfg(test)]
mod tests {
    /// `corpus/rework.schema.json` is what the types say. With `MELTGAUGE_WRITE=1` it is written anew.
    #[test]
    fn the_schema_in_the_corpus_is_this_one() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/corpus/rework.schema.json");
        let schema = super::rework_schema();
        let made = format!("{}\n", serde_json::to_string_pretty(&schema).unwrap());
        if std::env::var_os("MELTGAUGE_WRITE").is_some() {
            std::fs::write(path, &made).unwrap();
        }
        assert_eq!(std::fs::read_to_string(path).unwrap_or_default(), made);
    }
}
