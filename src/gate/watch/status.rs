//! How a watching gate fares, in the OpenMetrics text format (the specification, version 1.0), for
//! whatever collects it.

use crate::report::gated::Answer;
use crate::text::clean;
use std::io::{self, Write};
use std::path::Path;

/// How the gate fares.
#[derive(Debug, Default)]
pub struct Status {
    /// How many jobs got each answer, by [`Answer::code`].
    pub answered: [u64; 3],
    /// How many files wait in the inbox.
    pub waiting: usize,
    /// How many jobs were taken and have not gone yet.
    pub taken: usize,
    /// How long the oldest of those that wait has not changed, s.
    pub oldest: f64,
    /// When the last job was answered, s since 1970.
    pub last_answer: Option<u64>,
    pub errors: u64,
    /// The last error and when it was, s since 1970.
    pub last_error: Option<(String, u64)>,
    /// When the gate was started, s since 1970.
    pub started: u64,
}

impl Status {
    /// As OpenMetrics text.
    pub fn text(&self) -> String {
        let mut text = String::new();
        let mut family = |name: &str, kind: &str, help: &str, samples: &[(String, String)]| {
            text.push_str(&format!("# TYPE meltgauge_gate_{name} {kind}\n"));
            if name.ends_with("_seconds") {
                text.push_str(&format!("# UNIT meltgauge_gate_{name} seconds\n"));
            }
            text.push_str(&format!("# HELP meltgauge_gate_{name} {help}\n"));
            for (label, value) in samples {
                text.push_str(&format!("meltgauge_gate_{name}{label} {value}\n"));
            }
        };
        let one = |label: &str, value: String| vec![(label.to_owned(), value)];
        let answers = [Answer::Pass, Answer::Hold, Answer::NotInspected];
        let by_answer: Vec<_> = answers
            .iter()
            .zip(self.answered)
            .map(|(answer, count)| {
                let label = format!("_total{{answer=\"{}\"}}", answer.word());
                (label, count.to_string())
            })
            .collect();
        family("jobs", "counter", "Jobs answered.", &by_answer);
        family(
            "waiting",
            "gauge",
            "Files in the inbox.",
            &one("", self.waiting.to_string()),
        );
        family(
            "taken",
            "gauge",
            "Jobs taken and not gone yet.",
            &one("", self.taken.to_string()),
        );
        family(
            "oldest_age_seconds",
            "gauge",
            "How long the oldest file in the inbox has not changed.",
            &one("", format!("{:.3}", self.oldest)),
        );
        let moment = |moment: Option<u64>| match moment {
            Some(moment) => one("", moment.to_string()),
            None => Vec::new(),
        };
        family(
            "last_answer_timestamp_seconds",
            "gauge",
            "When the last job was answered.",
            &moment(self.last_answer),
        );
        family(
            "start_timestamp_seconds",
            "gauge",
            "When the gate was started.",
            &moment(Some(self.started)),
        );
        family(
            "errors",
            "counter",
            "What the system refused.",
            &one("_total", self.errors.to_string()),
        );
        let at = self.last_error.as_ref().map(|(_, at)| *at);
        family(
            "last_error_timestamp_seconds",
            "gauge",
            "When the last error was.",
            &moment(at),
        );
        let said = self.last_error.as_ref().map(|(said, _)| {
            let said = clean(said.as_bytes())
                .replace('\\', "\\\\")
                .replace('"', "\\\"");
            (format!("_info{{message=\"{said}\"}}"), "1".to_owned())
        });
        family("last_error", "info", "The last error.", said.as_slice());
        text.push_str("# EOF\n");
        text
    }

    /// Writes it in one step, in place of the one before.
    pub fn write(&self, path: &Path) -> io::Result<()> {
        let folder = match path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        };
        let mut builder = tempfile::Builder::new();
        builder.prefix(".meltgauge-").suffix(".part");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            builder.permissions(std::fs::Permissions::from_mode(0o644));
        }
        let mut file = builder.tempfile_in(folder)?;
        file.write_all(self.text().as_bytes())?;
        file.persist(path).map_err(|fault| fault.error)?;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// OpenMetrics 1.0: a counter's sample ends with `_total`, an info's with `_info`; a label's value
    /// escapes `\`, `"` and line feeds; the text ends with `# EOF` and a line feed.
    #[test]
    fn the_text_is_of_the_format() {
        let status = Status {
            answered: [3, 1, 0],
            last_error: Some(("disk \"a\\b\"\nfull".to_owned(), 7)),
            ..Status::default()
        };
        let text = status.text();
        assert!(text.ends_with("\n# EOF\n"));
        assert!(text.contains("\nmeltgauge_gate_jobs_total{answer=\"pass\"} 3\n"));
        assert!(
            text.contains("_info{message=\"disk \\\"a\\\\b\\\"␊full\"} 1\n"),
            "{text}"
        );
        let mut family = "";
        for line in text.lines().take_while(|line| *line != "# EOF") {
            if let Some(rest) = line.strip_prefix("# TYPE ") {
                family = rest.split(' ').next().unwrap();
            }
            let name = line
                .trim_start_matches("# TYPE ")
                .trim_start_matches("# UNIT ");
            assert!(
                name.trim_start_matches("# HELP ").starts_with(family),
                "{line}"
            );
            if !line.starts_with('#') {
                let value = line.rsplit(' ').next().unwrap();
                assert!(value.parse::<f64>().is_ok(), "{line}");
            }
        }
        // What is not known has no sample.
        assert!(!text.contains("\nmeltgauge_gate_last_answer"));
    }
}
