//! An axis moves that was neither homed nor left to a macro.

use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Tally};
use crate::grammar::Kind;
use crate::machine::{Facts, Line, Motion, State};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "unhomed-motion",
    class: Class::Minor,
    page: include_str!("unhomed_motion.md"),
    wants: Wants::motions(Facts::UNHOMED),
    silences: &[],
    make,
};

const AXES: [u8; 3] = *b"XYZ";

#[derive(Default)]
struct UnhomedMotion {
    moved: [bool; 3],
    motions: Tally,
}

#[allow(clippy::unnecessary_wraps, reason = "the register's form")]
fn make(_: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(UnhomedMotion::default()))
}

impl Inspection for UnhomedMotion {
    fn motion(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        let names = |letter| {
            line.words
                .iter()
                .any(|word| word.letter == letter && word.kind == Kind::Number)
        };
        let [x, y, z] = AXES.map(names);
        // The nozzle is lifted by an amount, so that homing does not drag it over the bed.
        let is_lift = z && !x && !y && !state.absolute.on && motion.to[2] > motion.from[2];
        if is_lift {
            return;
        }
        for ((moved, named), homed) in self.moved.iter_mut().zip([x, y, z]).zip(state.homed) {
            *moved |= named && homed.is_unknown();
        }
        self.motions.mark(&line.all());
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        if self.motions.is_empty() {
            return;
        }
        let axes: Vec<String> = AXES
            .iter()
            .zip(self.moved)
            .filter(|(_, moved)| *moved)
            .map(|(letter, _)| char::from(*letter).to_string())
            .collect();
        let is_homed_later = end.state.homed.iter().all(|homed| !homed.is_unknown());
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Minor,
            message: format!(
                "{} moved {}, so that nobody knows where the nozzle goes",
                match axes.as_slice() {
                    [one] => format!("{one} is"),
                    [all @ .., last] => format!("{} and {last} are", all.join(", ")),
                    [] => "an axis is".to_owned(),
                },
                if is_homed_later {
                    "before the job homes"
                } else {
                    "and the job never homes"
                },
            ),
            help: "home with G28 before the first motion; if the axes are set by hand, see that \
                   nothing stands in the way"
                .to_owned(),
            limit: None,
            amount: None,
            extent: std::mem::take(&mut self.motions).close(Counts::Moves),
            related: Vec::new(),
        });
    }
}
