//! Line numbers repeat, fall or are broken.

use super::named::times;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Tally};
use crate::grammar::{Fault, Kind};
use crate::machine::Line;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "line-number-disorder",
    class: Class::Minor,
    page: include_str!("line_number_disorder.md"),
    wants: Wants {
        numbered: true,
        ..Wants::END
    },
    silences: &[],
    make,
};

#[derive(Default)]
struct LineNumberDisorder {
    last: Option<i64>,
    falling: Tally,
    broken: Tally,
}

#[allow(clippy::unnecessary_wraps, reason = "the register's form")]
fn make(_: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(LineNumberDisorder::default()))
}

impl Inspection for LineNumberDisorder {
    fn numbered(&mut self, line: &Line<'_>) {
        let is_reset = line
            .words
            .iter()
            .any(|word| word.letter == b'M' && word.whole() == Some(110));
        let numbers = line
            .words
            .iter()
            .enumerate()
            .filter(|(_, word)| word.letter == b'N');
        if is_reset {
            // `M110 N0`, `N0 M110`, `N9 M110 N0`: the last one counts.
            self.last = numbers
                .fold(None, |_, number| Some(number))
                .map(|(_, word)| word.value);
            return;
        }
        for (index, word) in numbers {
            if word.fault == Fault::BadLineNumber {
                self.broken.mark(&line.word(index));
            } else if word.kind == Kind::LineNumber {
                let last = self.last.replace(word.value);
                if let Some(last) = last.filter(|last| word.value <= *last) {
                    let back = (last - word.value) as f64;
                    self.falling
                        .note(back, word.value as f64, &line.word(index));
                }
            }
        }
    }

    fn conclude(&mut self, _: &End<'_>, report: &mut Report) {
        for (tally, what, help) in [
            (
                &mut self.falling,
                "a line number repeats or falls",
                "number the lines again in rising order, or set the count with M110 where a new part \
                 begins; a control that is sent the job stops at such a line",
            ),
            (
                &mut self.broken,
                "a line number is signed, broken or not first on its line",
                "write N and a whole number before everything else on the line",
            ),
        ] {
            let tally = std::mem::take(tally);
            if tally.is_empty() {
                continue;
            }
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Minor,
                message: format!("{what}, {}", times(tally.count())),
                help: help.to_owned(),
                limit: None,
                amount: None,
                extent: tally.close(Counts::Lines),
                related: Vec::new(),
            });
        }
    }
}
