//! Line numbers and checksums, stated anew where a job has them.

use crate::grammar::{Kind, Words, read_line};

/// States line numbers and checksums of the lines that pass, from the first change on.
#[derive(Debug, Default)]
pub(super) struct Restate {
    words: Words,
    /// The number of the last numbered line, as it becomes.
    last: Option<i64>,
    /// Whether the last numbered line had a checksum.
    summed: bool,
    out: Vec<u8>,
}

impl Restate {
    /// Notes a line that passes unchanged before the first change.
    pub fn note(&mut self, line: &[u8]) {
        let mut rest = line;
        while !rest.is_empty() {
            rest = read_line(rest, &mut self.words);
            if let Some(number) = number(&self.words) {
                self.last = Some(number);
                self.summed = self.words.iter().any(|word| word.kind == Kind::Checksum);
            }
        }
    }

    /// A line of the job, changed or behind a change. A carriage return alone ends a line too, so that
    /// there may be several.
    pub fn line(&mut self, line: &[u8], is_new: bool) -> &[u8] {
        self.out.clear();
        let mut rest = line;
        while !rest.is_empty() {
            let after = read_line(rest, &mut self.words).len();
            let (one, after) = rest.split_at(rest.len() - after);
            self.one(one, is_new);
            rest = after;
        }
        &self.out
    }

    /// One line, whose words were read.
    fn one(&mut self, line: &[u8], is_new: bool) {
        let from = self.out.len();
        let end = self
            .words
            .iter()
            .find(|word| word.kind == Kind::End)
            .map_or(line.len(), |word| word.at as usize);
        let (body, ending) = line.split_at(end.min(line.len()));
        let Some(said) = number(&self.words) else {
            // A new line among numbered ones has a number too; any other stays as it is.
            match self
                .last
                .filter(|_| is_new && !body.trim_ascii().is_empty())
            {
                Some(last) => {
                    let next = last.saturating_add(1);
                    self.out.extend_from_slice(format!("N{next} ").as_bytes());
                    self.out.extend_from_slice(body);
                    self.last = Some(next);
                    if self.summed {
                        sum(&mut self.out, from);
                    }
                }
                None => self.out.extend_from_slice(body),
            }
            self.out.extend_from_slice(ending);
            return;
        };
        let resets = self
            .words
            .iter()
            .any(|word| word.letter == b'M' && word.whole() == Some(110));
        // Raised only as far as it must be to stay above the line before.
        let now = match self.last.filter(|_| !resets) {
            Some(last) => said.max(last.saturating_add(1)),
            None => said,
        };
        let mut at = 0;
        self.summed = false;
        for word in self.words.iter() {
            let span = word.span();
            match word.kind {
                Kind::LineNumber if now != said => {
                    self.out
                        .extend_from_slice(body.get(at..span.start).unwrap_or_default());
                    self.out.extend_from_slice(format!("N{now}").as_bytes());
                    at = span.end;
                }
                Kind::Checksum => {
                    self.out
                        .extend_from_slice(body.get(at..span.start).unwrap_or_default());
                    at = span.end;
                    self.summed = true;
                    sum(&mut self.out, from);
                }
                _ => {}
            }
        }
        self.out
            .extend_from_slice(body.get(at..).unwrap_or_default());
        self.last = Some(now);
        self.out.extend_from_slice(ending);
    }
}

/// Writes the checksum of what was written since `from`.
fn sum(out: &mut Vec<u8>, from: usize) {
    let body = out.get(from..).unwrap_or_default();
    let sum = body.iter().fold(0_u8, |sum, byte| sum ^ byte);
    out.extend_from_slice(format!("*{sum}").as_bytes());
}

fn number(words: &Words) -> Option<i64> {
    words
        .iter()
        .find(|word| word.kind == Kind::LineNumber)
        .map(|word| word.value)
}
