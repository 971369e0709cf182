//! A checksum does not fit its line.

use super::named::times;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Tally};
use crate::grammar::{Fault, Kind};
use crate::machine::{Line, State};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "checksum-wrong",
    class: Class::Minor,
    page: include_str!("checksum_wrong.md"),
    wants: Wants::FAULTS,
    silences: &[],
    make,
};

#[derive(Default)]
struct ChecksumWrong {
    wrong: Tally,
    /// What the first one should be.
    first: String,
}

#[allow(clippy::unnecessary_wraps, reason = "the register's form")]
fn make(_: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(ChecksumWrong::default()))
}

impl Inspection for ChecksumWrong {
    fn fault(&mut self, line: &Line<'_>, _: &State) {
        for (index, word) in line.words.iter().enumerate() {
            let is_wrong = match word.fault {
                Fault::WrongChecksum => true,
                // Without a line number a lone `*` is a stray byte.
                Fault::BadChecksum => line.words.is_numbered(),
                _ => false,
            };
            if word.kind != Kind::Checksum || !is_wrong {
                continue;
            }
            if self.wrong.is_empty() {
                let before = line.bytes.get(..word.at as usize).unwrap_or_default();
                let sum = before.iter().fold(0_u8, |sum, byte| sum ^ byte);
                self.first = format!(
                    "the first says {} and its line gives *{sum}",
                    super::named::shown(word.bytes(line.bytes))
                );
            }
            self.wrong.mark(&line.word(index));
        }
    }

    fn conclude(&mut self, _: &End<'_>, report: &mut Report) {
        if self.wrong.is_empty() {
            return;
        }
        let extent = std::mem::take(&mut self.wrong).close(Counts::Lines);
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Minor,
            message: format!("a checksum is wrong {}: {}", times(extent.count), self.first),
            help: "take the job from its source again; it was changed or damaged after it was numbered"
                .to_owned(),
            limit: None,
            amount: None,
            extent,
            related: Vec::new(),
        });
    }
}
