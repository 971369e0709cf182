//! A line is longer than the control can hold.

use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Limit, Tally};
use crate::grammar::Kind;
use crate::machine::Line;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "overlong-line",
    class: Class::Minor,
    page: include_str!("overlong_line.md"),
    wants: Wants {
        long: true,
        ..Wants::END
    },
    silences: &[],
    make,
};

struct OverlongLine {
    longest: u32,
    over: Tally,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    let longest = held
        .machine()?
        .control
        .longest_line
        .ok_or_else(|| "the machine sheet does not say control.longest_line".to_owned())?;
    Ok(Box::new(OverlongLine {
        longest,
        over: Tally::default(),
    }))
}

impl Inspection for OverlongLine {
    fn long(&mut self, line: &Line<'_>) {
        // What stands behind the last word is not sent, or is dropped on reading.
        let end = line
            .words
            .iter()
            .rfind(|word| !matches!(word.kind, Kind::Comment | Kind::Remark | Kind::End))
            .map_or(0, |word| word.span().end);
        if end > self.longest as usize {
            self.over.note(end as f64, end as f64, &line.all());
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let (Some(machine), Some(most)) = (end.held.machine.as_deref(), self.over.worst()) else {
            return;
        };
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Minor,
            message: format!(
                "a line has {most} bytes without its comment; the control of {} holds {}",
                machine.name, self.longest
            ),
            help: "shorten the line: fewer digits, no blanks, or its words on several lines"
                .to_owned(),
            limit: Some(Limit {
                value: f64::from(self.longest),
                unit: "bytes",
                whose: format!("machine sheet {}, control.longest_line", machine.name),
                source: machine.source.clone(),
                mark: machine.mark.unwrap_or_default(),
            }),
            amount: Some(most),
            extent: std::mem::take(&mut self.over).close(Counts::Lines),
            related: Vec::new(),
        });
    }
}
