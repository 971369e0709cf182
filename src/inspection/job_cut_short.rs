//! The job ends before it is done.

use super::figures::tenth;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::command::Command;
use crate::command::hint::Key;
use crate::finding::{Class, Excerpt, Extent, Finding, Mark};
use crate::grammar::{Fault, Kind, Word, Words, read_line};
use crate::machine::{Known, Line, Role, State, Step, mm};
use crate::survey::Layer;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "job-cut-short",
    class: Class::Major,
    page: include_str!("job_cut_short.md"),
    wants: Wants::CHANGES.and(Wants::LAYERS),
    silences: &["declared-mismatch", "heater-left-on", "state-left-changed"],
    make,
};

/// The layers before the last must agree within this share of the largest (chosen).
const ALIKE: f64 = 0.25;
/// Less than this share of the layers before it makes a layer unfinished (chosen).
const UNFINISHED: f64 = 0.5;
/// Less than this share of what the comments promise is not all of it (chosen).
const PROMISED: f64 = 0.9;

#[derive(Default)]
struct JobCutShort {
    /// Filament of the part's last layers, the newest last, mm; and how many there were.
    recent: [f64; 4],
    layers: u64,
    is_rising: bool,
    /// Where the part's last stretch begins.
    last: Excerpt,
    /// The last line with a word that ends a job.
    ended: u64,
}

#[allow(clippy::unnecessary_wraps, reason = "the register's form")]
fn make(_: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(JobCutShort::default()))
}

/// Whether a part at the end of an unended line is the beginning of a word and no more.
fn is_begun(word: &Word, words: &[Word]) -> bool {
    let is_motion = words.iter().all(|word| {
        !matches!(word.letter, b'G' | b'M')
            || matches!((word.letter, word.whole()), (b'G', Some(0..=3)))
    });
    match word.kind {
        Kind::Bare => is_motion || (words.len() == 1 && matches!(word.letter, b'G' | b'M')),
        Kind::Stray => matches!(word.fault, Fault::BadNumber | Fault::Unclosed),
        Kind::Quoted | Kind::Placeholder => word.fault == Fault::Unclosed,
        _ => false,
    }
}

impl JobCutShort {
    /// Why it looks cut short, where it does; and whether the unended line is the evidence.
    fn evidence(&self, end: &End<'_>) -> Option<(String, bool)> {
        let mut words = Words::default();
        let unended = end.unended.filter(|line| !line.clipped_front);
        if let Some(line) = unended {
            read_line(&line.text, &mut words);
            if words.last().is_some_and(|word| is_begun(word, &words)) {
                return Some(("the job ends inside a word".to_owned(), true));
            }
        }
        let heat = end.state.hotend().map(|hotend| hotend.setting.target);
        let is_hot = match heat {
            Some(Known::Known(target)) => target > 0.0,
            Some(Known::Claimed) => true,
            Some(Known::Unknown) | None => false,
        };
        if !is_hot || self.ended > self.last.place.line || self.layers < 2 {
            return None;
        }
        let first = words.iter().find(|word| word.kind != Kind::LineNumber);
        let is_motion = first.is_some_and(|first| {
            matches!(first.letter, b'X' | b'Y' | b'Z' | b'E')
                || matches!((first.letter, first.whole()), (b'G', Some(0..=3)))
        });
        if is_motion {
            return Some((
                "the job ends inside a line, with the hotend on and no word that ends it"
                    .to_owned(),
                true,
            ));
        }
        let [before @ .., last] = self.recent;
        let most = before.into_iter().fold(0.0, f64::max);
        let least = before.into_iter().fold(f64::INFINITY, f64::min);
        let are_alike = self.layers >= 4 && least >= most * (1.0 - ALIKE);
        if are_alike && !self.is_rising && last < least * UNFINISHED {
            return Some((
                format!(
                    "the job ends in mid-layer with the hotend on and no word that ends it: the last \
                     layer has {} mm of filament, the three before it {} mm or more",
                    tenth(last),
                    tenth(least)
                ),
                false,
            ));
        }
        let has = [
            (
                Key::FilamentLengthMm,
                Some(mm(end.state.filament_total())),
                "mm of filament",
            ),
            (
                Key::Layers,
                end.totals.layers.map(|layers| layers as f64 + 1.0),
                "layers",
            ),
        ];
        has.into_iter().find_map(|(key, built, what)| {
            let (promised, _) = end.declared.number(key)?;
            let is_short = built.is_some_and(|built| built < promised * PROMISED);
            is_short.then(|| {
                (
                    format!(
                        "the job ends with the hotend on and no word that ends it, and without all of \
                         the {promised} {what} its comments promise"
                    ),
                    false,
                )
            })
        })
    }
}

impl Inspection for JobCutShort {
    fn layer(&mut self, layer: &Layer) {
        let Some(last) = layer.part().last() else {
            return;
        };
        layer.show(last.start).write(&mut self.last);
        self.is_rising = layer.is_rising;
        self.layers += 1;
        self.recent.rotate_left(1);
        let [.., newest] = &mut self.recent;
        *newest = layer.part().map(|stroke| mm(stroke.pushed)).sum();
    }

    fn step(&mut self, step: &Step<'_>, _: &State, line: &Line<'_>) {
        let ends = match step.command {
            Command::MotorsOff
            | Command::End(_)
            | Command::Power(false)
            | Command::EmergencyStop
            | Command::Home => true,
            Command::Hotend { target, .. } | Command::Bed { target, .. } => target == Some(0.0),
            Command::Macro => step
                .effects
                .is_some_and(|effects| effects.role == Role::End),
            _ => false,
        };
        if ends {
            self.ended = line.number;
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let Some((message, at_the_end)) = self.evidence(end) else {
            return;
        };
        let at = match end.unended {
            Some(unended) if at_the_end => unended.clone(),
            _ => std::mem::take(&mut self.last),
        };
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Major,
            message,
            help:
                "copy or slice the job again, and compare its size with the source's; the heaters \
                   would stay on where it ends"
                    .to_owned(),
            limit: None,
            amount: None,
            extent: Extent::once(at),
            related: Vec::new(),
        });
    }
}
