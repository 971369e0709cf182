//! The job uses words that nobody here knows.

use super::named::{Named, times};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::command::Command;
use crate::finding::{Class, Counts, Finding, Tally};
use crate::machine::{Line, Role, State, Step};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "unknown-word",
    class: Class::Observation,
    page: include_str!("unknown_word.md"),
    wants: Wants::CHANGES,
    silences: &[],
    make,
};

/// The most words that have a finding each.
const SHOWN: usize = 12;
/// The most words told apart.
const KEPT: usize = 200;

struct UnknownWord {
    /// What the sheet names, known or lacking: the latter is another requirement's business.
    named: Vec<Named>,
    words: Vec<(Named, Tally)>,
    beyond: Tally,
}

#[allow(clippy::unnecessary_wraps, reason = "the register's form")]
fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    let named = held.machine.iter().flat_map(|machine| {
        let control = &machine.control;
        control.known_words.iter().chain(&control.lacks_words)
    });
    Ok(Box::new(UnknownWord {
        named: named.map(|name| Named::parse(name)).collect(),
        words: Vec::new(),
        beyond: Tally::default(),
    }))
}

impl Inspection for UnknownWord {
    fn step(&mut self, step: &Step<'_>, _: &State, line: &Line<'_>) {
        let is_unknown = match step.command {
            Command::Unknown(..) => true,
            Command::Macro => step.effects.is_none_or(|effects| {
                let heats = effects.hotend.or(effects.bed).or(effects.chamber).is_some();
                !effects.is_defined && effects.role == Role::Other && !heats
            }),
            _ => false,
        };
        let Some(word) = line.words.get(step.word).filter(|_| is_unknown) else {
            return;
        };
        let mark = line.word(step.word);
        if let Some((_, tally)) = self.words.iter_mut().find(|(name, _)| name.is(word, line)) {
            tally.mark(&mark);
        } else if self.named.iter().any(|name| name.is(word, line)) {
        } else if self.words.len() < KEPT {
            let mut tally = Tally::default();
            tally.mark(&mark);
            self.words.push((Named::of(word, line.bytes), tally));
        } else {
            self.beyond.mark(&mark);
        }
    }

    fn conclude(&mut self, _: &End<'_>, report: &mut Report) {
        let mut words = std::mem::take(&mut self.words);
        let mut rest = std::mem::take(&mut self.beyond);
        let is_complete = rest.is_empty();
        let more = words.split_off(words.len().min(SHOWN));
        let mut find = |message: String, help: &str, tally: Tally| {
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Observation,
                message,
                help: help.to_owned(),
                limit: None,
                amount: None,
                extent: tally.close(Counts::Words),
                related: Vec::new(),
            });
        };
        for (name, tally) in words {
            find(
                format!(
                    "{name} is not known here and is used {}",
                    times(tally.count())
                ),
                "see what the control makes of it; name it in the machine sheet's control.known_words",
                tally,
            );
        }
        if more.is_empty() {
            return;
        }
        let names: Vec<String> = more
            .iter()
            .take(SHOWN)
            .map(|(name, _)| name.to_string())
            .collect();
        let count = more.len();
        let least = if is_complete { "" } else { "at least " };
        let dots = if count > names.len() { " …" } else { "" };
        for (_, tally) in more {
            rest.merge(tally);
        }
        find(
            format!(
                "{least}{count} more words are not known here: {}{dots}",
                names.join(", ")
            ),
            "see that the file is a job for this kind of control",
            rest,
        );
    }
}
