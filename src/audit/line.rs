//! An audit's line: all that is known of one job, on a line of its own.
//!
//! A line is what `--map` writes, what `--fold` reads, and what an audit on this computer puts into
//! its store: there is one way from a job to the store, wherever the job was inspected. Around the
//! job's record it says where the job lies, how many jobs lie there, and under which terms the
//! verdict was reached.

use crate::report::{Outcome, record};
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// The schema's name.
pub const NAME: &str = "meltgauge-audit-line";

/// The schema's version.
pub const VERSION: u32 = 2;

/// Where a job lies, and what the file was like.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Site {
    /// The file's path. What is not UTF-8 in it is replaced.
    pub path: String,
    /// The path's bytes in hexadecimal, where `path` is not the whole truth.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub path_bytes: Option<String>,
    /// Its length in bytes; none where it could not be asked.
    pub size: Option<u64>,
    /// When it was last written, ns since 1970; none where that is not to be trusted.
    pub modified_ns: Option<i64>,
    /// The month in which it was last written, `2027-03`.
    pub month: Option<String>,
    /// BLAKE3 of its bytes as stored; none where they could not be read.
    pub digest: Option<String>,
    /// A digest of all that verdicts hang on besides the bytes: sheets, concessions, the program.
    pub terms: String,
    /// How many jobs the file holds.
    pub jobs: u64,
}

impl Site {
    /// The path's bytes.
    #[must_use]
    pub fn key(&self) -> Vec<u8> {
        let bytes = |hex: &String| {
            let pairs = hex.as_bytes().chunks(2);
            pairs
                .map(|pair| u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok())
                .collect::<Option<Vec<u8>>>()
        };
        self.path_bytes
            .as_ref()
            .and_then(bytes)
            .unwrap_or_else(|| self.path.clone().into_bytes())
    }
}

/// A path as text and, where that is not the whole truth, its bytes in hexadecimal.
#[must_use]
pub fn spelled(path: &Path) -> (String, Option<String>) {
    match path.to_str() {
        Some(text) => (text.to_owned(), None),
        None => {
            let bytes = path.as_os_str().as_encoded_bytes();
            let hex = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
            (path.to_string_lossy().into_owned(), Some(hex))
        }
    }
}

/// A path from its bytes.
#[must_use]
pub fn path_of(key: &[u8]) -> PathBuf {
    #[cfg(unix)]
    {
        use std::os::unix::ffi::OsStrExt;
        PathBuf::from(std::ffi::OsStr::from_bytes(key))
    }
    #[cfg(not(unix))]
    PathBuf::from(String::from_utf8_lossy(key).into_owned())
}

/// A line as it is written.
#[derive(Serialize)]
struct Written<'a> {
    schema: &'static str,
    version: u32,
    site: &'a Site,
    member: &'a str,
    no_rule: bool,
    record: &'a RawValue,
}

/// A line as it is read. Of the record it holds what the store keeps.
#[derive(Debug, Clone, Deserialize)]
pub struct Line {
    schema: String,
    version: u32,
    /// Where the job lies.
    pub site: Site,
    /// The job itself.
    #[serde(flatten)]
    pub job: Job,
}

/// What became of a job.
#[derive(Debug, Clone, Deserialize)]
pub struct Job {
    /// Its name within an archive; empty for a file that is a job.
    pub member: String,
    /// Whether no rule fits it.
    pub no_rule: bool,
    /// Its record.
    pub record: Record,
}

/// What of a record the store keeps.
#[derive(Debug, Clone, Deserialize)]
pub struct Record {
    pub(super) job: Bytes,
    pub(super) material: Vec<Sheet>,
    pub(super) machine: Option<Sheet>,
    pub(super) hold_from: Option<String>,
    pub(super) verdict: Option<String>,
    pub(super) error: Option<Said>,
    pub(super) findings: Vec<Finding>,
    pub(super) not_held: Vec<NotHeld>,
    pub(super) declared: BTreeMap<String, Declared>,
    pub(super) held_values: BTreeMap<String, Option<f64>>,
    pub(super) survey: Option<Survey>,
}

#[derive(Debug, Clone, Deserialize)]
pub(super) struct Bytes {
    pub bytes: Option<u64>,
    pub lines: Option<u64>,
    pub packing: Option<String>,
}

#[derive(Debug, Clone, Deserialize)]
pub(super) struct Sheet {
    pub name: String,
    pub digest: Option<String>,
    pub named_by: Option<String>,
}

#[derive(Debug, Clone, Deserialize)]
pub(super) struct Said {
    pub message: String,
}

#[derive(Debug, Clone, Deserialize)]
pub(super) struct Finding {
    pub requirement: String,
    pub class: String,
    pub message: String,
    pub extent: Extent,
    pub limit: Option<Limit>,
    pub amount: Option<f64>,
    pub conceded: Option<u64>,
}

#[derive(Debug, Clone, Deserialize)]
pub(super) struct Extent {
    pub count: u64,
    pub counts: String,
    pub first: Option<Place>,
    pub worst: Option<Place>,
}

#[derive(Debug, Clone, Deserialize)]
pub(super) struct Place {
    pub line: u64,
}

#[derive(Debug, Clone, Deserialize)]
pub(super) struct Limit {
    pub value: Option<f64>,
    pub unit: String,
    pub whose: String,
}

#[derive(Debug, Clone, Deserialize)]
pub(super) struct NotHeld {
    pub requirement: String,
}

#[derive(Debug, Clone, Deserialize)]
pub(super) struct Declared {
    pub value: String,
}

#[derive(Debug, Clone, Deserialize)]
pub(super) struct Survey {
    pub time_s: Option<f64>,
    pub filament_factored_mm: Option<f64>,
    pub filament_g: Option<f64>,
    pub layers: Option<u64>,
    pub footprint_mm: Option<[f64; 2]>,
    pub longest_side_mm: Option<f64>,
    pub first_layer: FirstLayer,
    pub quickest_layer_s: Option<f64>,
    pub peak_flow_mm3_s: Option<f64>,
    pub sustained_flow_mm3_s: Option<f64>,
}

#[derive(Debug, Clone, Deserialize)]
pub(super) struct FirstLayer {
    pub height_mm: Option<f64>,
    pub speed_mm_s: Option<f64>,
}

impl Line {
    /// Reads a line.
    ///
    /// # Errors
    ///
    /// Why it is none, or none of this version.
    pub fn read(text: &str) -> Result<Self, String> {
        let line: Self = serde_json::from_str(text).map_err(|fault| fault.to_string())?;
        if line.schema != NAME || line.version != VERSION {
            return Err(format!(
                "it is `{}` version {}, and wanted is {NAME} version {VERSION}",
                line.schema, line.version
            ));
        }
        Ok(line)
    }
}

impl Job {
    /// What a record's line says of a job.
    ///
    /// # Errors
    ///
    /// What keeps the record from being written or read; nothing that a job can bring about.
    pub fn of(member: &str, outcome: &Outcome, no_rule: bool) -> Result<Self, serde_json::Error> {
        Ok(Self {
            member: member.to_owned(),
            no_rule,
            record: serde_json::from_str(&record::line(outcome)?)?,
        })
    }

    /// The word for what became of it: `released`, `released-by-concession`, `held`, `failed` or
    /// `no-rule`.
    #[must_use]
    pub fn state(&self) -> &str {
        match (&self.record.verdict, self.no_rule) {
            (_, true) => "no-rule",
            (Some(verdict), false) => verdict,
            (None, false) => "failed",
        }
    }
}

/// Writes a line, without a line ending.
///
/// # Errors
///
/// What keeps it from being written as JSON; nothing that a job can bring about.
pub fn write(
    site: &Site,
    member: &str,
    no_rule: bool,
    outcome: &Outcome,
) -> Result<String, serde_json::Error> {
    let record = RawValue::from_string(record::line(outcome)?)?;
    let line = serde_json::to_string(&Written {
        schema: NAME,
        version: VERSION,
        site,
        member,
        no_rule,
        record: &record,
    })?;
    Ok(record::harmless(&line))
}
