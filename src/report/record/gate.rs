//! The gate's lines for a log. The comments on the types are the schema's descriptions.

use super::make::{TOOL, job};
use super::parts::Tool;
use crate::report::gated::{Answer, Gated};
use crate::text::{Name, clean};
use schemars::JsonSchema;
use serde::Serialize;

/// The schema's name.
const NAME: &str = "meltgauge-gate";

/// The schema's version.
const VERSION: u32 = 1;

/// What the gate says, in one line of its log.
#[derive(Debug, Serialize, JsonSchema)]
pub struct GateRecord {
    /// The name of this schema: `meltgauge-gate`.
    pub schema: &'static str,
    /// The version of this schema. It rises when a key goes or changes its meaning.
    pub version: u32,
    /// The program that wrote the line.
    pub tool: Tool,
    /// When, in universal time: `2027-03-31T14:05:09Z`.
    pub time: String,
    /// What became of the job; null where the line is about the gate itself.
    pub answer: Option<Answer>,
    /// The job's path as given, `-` for the standard input; null where the line is about the gate
    /// itself. What is not UTF-8 in it is replaced.
    pub job: Option<String>,
    /// The path's bytes in hexadecimal, where `job` is not the whole truth.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub job_bytes: Option<String>,
    /// Why the job does not pass, what else is to be known of it, or what happens to the gate.
    pub reason: String,
    /// The rule that named the sheets, counted from 1; null where rules were not asked or none fits.
    pub rule: Option<usize>,
    /// The names of the material sheets.
    pub material: Vec<String>,
    /// The name of the machine sheet.
    pub machine: Option<String>,
    /// BLAKE3 of the job's stored bytes as they are from now on, in hexadecimal.
    pub digest: Option<String>,
    /// How many changes were made to the job.
    pub changes: usize,
    /// Whether a stamp said so, and the job was not inspected anew.
    pub by_stamp: bool,
    /// Where the job was moved to, by a gate that watches a folder.
    pub moved_to: Option<String>,
    /// How long the answer took, s.
    pub seconds: f64,
}

impl GateRecord {
    /// The line on a job.
    #[must_use]
    pub fn of(gated: &Gated, time: &str) -> Self {
        let named = job(&gated.name);
        Self {
            answer: Some(gated.answer),
            job: Some(named.path),
            job_bytes: named.path_bytes,
            rule: gated.rule,
            material: gated.materials.clone(),
            machine: gated.machine.clone(),
            digest: gated.digest.clone(),
            changes: gated.changes,
            by_stamp: gated.by_stamp,
            moved_to: gated
                .moved_to
                .as_ref()
                .map(|path| path.to_string_lossy().into_owned()),
            seconds: gated.took.as_secs_f64(),
            ..Self::event(&gated.reason, time)
        }
    }

    /// A line about the gate itself.
    #[must_use]
    pub fn event(reason: &str, time: &str) -> Self {
        Self {
            schema: NAME,
            version: VERSION,
            tool: TOOL,
            time: time.to_owned(),
            answer: None,
            job: None,
            job_bytes: None,
            reason: reason.to_owned(),
            rule: None,
            material: Vec::new(),
            machine: None,
            digest: None,
            changes: 0,
            by_stamp: false,
            moved_to: None,
            seconds: 0.0,
        }
    }

    /// As a line of JSON, without a line ending.
    ///
    /// # Errors
    ///
    /// What keeps it from being written as JSON; nothing that a job can bring about.
    pub fn json(&self) -> Result<String, serde_json::Error> {
        Ok(super::harmless(&serde_json::to_string(self)?))
    }

    /// As `key=value` with texts in quotation marks, without a line ending. No name of a file or of a
    /// sheet can end the line or a text in it.
    #[must_use]
    pub fn text(&self) -> String {
        let quoted = |text: &str| {
            let text = clean(text.as_bytes());
            format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
        };
        let mut line = format!("time={} gate={}", self.time, env!("CARGO_PKG_VERSION"));
        let mut say = |key: &str, value: &str| {
            line.push_str(&format!(" {key}={value}"));
        };
        if let Some(answer) = self.answer {
            say("answer", answer.word());
        }
        if let Some(job) = &self.job {
            say("job", &quoted(job));
        }
        if !self.reason.is_empty() {
            say("reason", &quoted(&self.reason));
        }
        if let Some(rule) = self.rule {
            say("rule", &rule.to_string());
        }
        if !self.material.is_empty() {
            say("material", &quoted(&self.material.join(", ")));
        }
        if let Some(machine) = &self.machine {
            say("machine", &quoted(machine));
        }
        if self.changes > 0 {
            say("changes", &self.changes.to_string());
        }
        if self.by_stamp {
            say("by_stamp", "true");
        }
        if let Some(moved_to) = &self.moved_to {
            say("moved_to", &quoted(moved_to));
        }
        if self.answer.is_some() {
            say("seconds", &format!("{:.4}", self.seconds));
        }
        line
    }
}

/// The JSON Schema of the gate's lines.
#[must_use]
pub fn gate_schema() -> serde_json::Value {
    schemars::schema_for!(GateRecord).to_value()
}

/// A moment in universal time, from seconds since 1970: `2027-03-31T14:05:09Z` (RFC 3339).
#[must_use]
pub fn moment(since_1970: u64) -> String {
    let day = u32::try_from(since_1970 / 86_400)
        .ok()
        .and_then(crate::concession::Date::from_days);
    let day = day.map_or_else(|| "0000-00-00".to_owned(), |day| day.to_string());
    let of_day = since_1970 % 86_400;
    let (hours, minutes, seconds) = (of_day / 3600, of_day / 60 % 60, of_day % 60);
    format!("{day}T{hours:02}:{minutes:02}:{seconds:02}Z")
}

/// A failure that is told in place of an inspection's record.
#[must_use]
pub fn no_record(name: &Name, reason: &str) -> crate::report::Failed {
    crate::report::Failed {
        name: name.clone(),
        message: reason.to_owned(),
        help: "see the gate's configuration".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moments_are_those_of_the_standard() {
        // RFC 3339, section 5.8, gives moments in this form; 1,000,000,000 s is from memory.
        assert_eq!(moment(0), "1970-01-01T00:00:00Z");
        assert_eq!(moment(1_000_000_000), "2001-09-09T01:46:40Z");
    }

    #[test]
    fn a_name_cannot_end_its_line_or_its_text() {
        let forged = "a\"\ntime=0 answer=pass job=\"b\u{1b}[2J\\\r\u{2028}";
        let name = Name::Path(forged.into());
        let gated = Gated::refused(name, Answer::Hold, forged.to_owned());
        let record = GateRecord::of(&gated, "now");
        for line in [record.text(), record.json().unwrap()] {
            assert!(!line.contains(char::is_control), "{line:?}");
            assert!(!line.contains('\u{2028}'));
        }
        let text = record.text();
        let job = text.split(" job=\"").nth(1).unwrap();
        assert!(
            job.starts_with("a\\\"␊time=0 answer=pass job=\\\"b"),
            "{job}"
        );
        let value: serde_json::Value = serde_json::from_str(&record.json().unwrap()).unwrap();
        assert_eq!(value["job"], forged);
    }
}
