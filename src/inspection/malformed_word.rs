//! Words that a control would misread.

use super::figures::tidy;
use super::named::{shown, times};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::command::{Axes, Command, Commands, Dialect, read};
use crate::finding::{Class, Counts, Finding, Tally};
use crate::grammar::{Fault, Kind, Word};
use crate::machine::{Facts, Line, Motion, State};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "malformed-word",
    class: Class::Major,
    page: include_str!("malformed_word.md"),
    wants: Wants::FAULTS.and(Wants::motions(Facts::MALFORMED)),
    silences: &[],
    make,
};

struct MalformedWord {
    dialect: Dialect,
    axes: Axes,
    commands: Commands,
    /// Numbers and bytes that are none.
    unreadable: Tally,
    example: String,
    /// Motion words without a number.
    bare: Tally,
    /// Arcs that there are not; the worst by how far the end lies off the circle.
    arcs: Tally,
    noted: u64,
}

#[allow(clippy::unnecessary_wraps, reason = "the register's form")]
fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(MalformedWord {
        dialect: held.setup().dialect,
        axes: Axes::default(),
        commands: Commands::new(),
        unreadable: Tally::default(),
        example: String::new(),
        bare: Tally::default(),
        arcs: Tally::default(),
        noted: 0,
    }))
}

/// Whether a control would take something else from this part than what is written.
fn is_misread(word: &Word, line: &Line<'_>) -> bool {
    let is_string = || word.bytes(line.bytes).first() == Some(&b'"');
    match (word.fault, word.kind) {
        // A name left to be filled in is another requirement's business.
        (_, Kind::Placeholder) => false,
        (Fault::BadNumber | Fault::TooLarge | Fault::BlankInNumber | Fault::LooseNumber, _)
        | (Fault::Unclosed, Kind::Quoted | Kind::Stray) => true,
        (Fault::StrayByte, _) => !is_string(),
        (Fault::BadChecksum, _) => !line.words.is_numbered(),
        _ => false,
    }
}

/// Whether the job ends with this line and, maybe, inside its last word: then the cut is the cause.
fn is_cut_off(line: &Line<'_>, index: usize) -> bool {
    index + 1 == line.words.len() && line.words.iter().all(|word| word.kind != Kind::End)
}

impl Inspection for MalformedWord {
    fn fault(&mut self, line: &Line<'_>, _: &State) {
        let found = line
            .words
            .iter()
            .position(|word| is_misread(word, line))
            .filter(|index| !is_cut_off(line, *index));
        let Some(index) = found else { return };
        // What a macro takes is its own affair, and so is what goes with words of no effect: a
        // version `U3.1.2` is no number.
        read(
            line.words,
            &self.dialect,
            &mut self.axes,
            &mut self.commands,
        );
        let harmless = |command: &Command| {
            matches!(
                command,
                Command::Idle | Command::Unknown(..) | Command::Macro
            )
        };
        if !self.commands.is_empty() && self.commands.iter().all(|(command, _)| harmless(command)) {
            return;
        }
        if self.unreadable.is_empty() {
            let word = line.words.get(index);
            self.example = word.map_or_else(String::new, |word| shown(word.bytes(line.bytes)));
        }
        self.unreadable.mark(&line.word(index));
        self.noted = line.number;
    }

    fn motion(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        if self.noted == line.number {
            return;
        }
        let lacking = line.words.iter().position(|word| {
            matches!(
                word.letter,
                b'X' | b'Y' | b'Z' | b'E' | b'F' | b'I' | b'J' | b'K' | b'R'
            ) && word.kind != Kind::Number
        });
        if let Some(index) = lacking {
            let is_placeholder = line
                .words
                .get(index)
                .is_some_and(|word| word.kind == Kind::Placeholder);
            if !is_placeholder && !is_cut_off(line, index) {
                self.bare.mark(&line.word(index));
            }
            return;
        }
        let is_axis = |word: &Word| {
            matches!(word.letter, b'X' | b'Y' | b'Z' | b'E' | b'F') && word.kind == Kind::Number
        };
        let mut seen = 0_u32;
        let twice = line.words.iter().enumerate().find(|(_, word)| {
            let bit = 1 << (word.letter & 31);
            let again = is_axis(word) && seen & bit != 0;
            seen |= if is_axis(word) { bit } else { 0 };
            again
        });
        if let Some((index, word)) = twice {
            if self.unreadable.is_empty() {
                self.example = shown(word.bytes(line.bytes));
            }
            self.unreadable.mark(&line.word(index));
            return;
        }
        // The first motion starts nobody knows where, and an arc cut off has lost its centre.
        let is_last = line.words.iter().all(|word| word.kind != Kind::End);
        if motion.facts.meets(Facts::ARC) && !motion.facts.meets(Facts::FIRST_MOTION) && !is_last {
            let off = state
                .arc
                .filter(|_| motion.is_arc)
                .map_or(0.0, |arc| arc.drift.abs());
            self.arcs.note(off, off, &line.all());
        }
    }

    fn conclude(&mut self, _: &End<'_>, report: &mut Report) {
        let mut find =
            |message: String, help: &str, amount: Option<f64>, (counts, tally): (Counts, Tally)| {
                if tally.is_empty() {
                    return;
                }
                report.findings.push(Finding {
                    requirement: REQUIREMENT.id,
                    class: Class::Major,
                    message,
                    help: help.to_owned(),
                    limit: None,
                    amount,
                    extent: tally.close(counts),
                    related: Vec::new(),
                });
            };
        let [unreadable, bare, arcs] =
            [&mut self.unreadable, &mut self.bare, &mut self.arcs].map(std::mem::take);
        let lines = times(unreadable.count());
        find(
            format!(
                "{} is no word of the language; such words stand in the job {lines}",
                self.example
            ),
            "put the number right, or take the line out: the control takes something else from it",
            None,
            (Counts::Lines, unreadable),
        );
        let lines = times(bare.count());
        find(
            format!("a motion word has no number, {lines}"),
            "give the axis its number, or take the letter out",
            None,
            (Counts::Moves, bare),
        );
        let off = arcs.worst().filter(|off| *off > 0.0);
        let (many, by) = (
            times(arcs.count()),
            off.map_or_else(String::new, |off| {
                format!("; at worst its end lies {} mm off its circle", tidy(off))
            }),
        );
        find(
            format!("there is no such arc, {many}{by}"),
            "see that centre or radius fit start and end; the control goes straight, stops, or goes \
             somewhere else",
            off.map(|off| (off * 1e6).round() / 1e6),
            (Counts::Moves, arcs),
        );
    }
}
