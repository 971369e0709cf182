//! The same piece of filament passes the drive too often.

use super::figures::tidy;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Limit, SourceMark, Tally};
use crate::machine::{Facts, Line, Motion, State};
use std::collections::VecDeque;

/// How often hard filament may be drawn back over the same piece (chosen: a drive's teeth cut a little
/// each time; no figure is published).
const MOST: f64 = 40.0;

/// The same for soft filament, which the teeth dig into: what is drawn back a millimetre at most by its
/// sheet, or belongs to the elastomers (chosen).
const SOFT_MOST: f64 = 20.0;

/// Shorter steps back are no retraction, pm: rounding, and the tail of a wipe.
const SHORTEST: i64 = crate::machine::MILLIMETRE / 10;

/// The most retractions kept; past it the oldest is forgotten.
const CAP: usize = 4096;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "filament-ground",
    class: Class::Minor,
    page: include_str!("filament_ground.md"),
    wants: Wants::motions(Facts::DRAWN_BACK),
    silences: &[],
    make,
};

/// The retractions that may have passed over the piece at the drive.
#[derive(Default)]
struct Passes {
    /// Where each began, pm of filament, in the order laid.
    from: VecDeque<i64>,
    /// Where the last one ended.
    net: i64,
    most: i64,
    /// The finding, and whether the last retraction is in it.
    ground: Tally,
    is_noted: bool,
}

struct FilamentGround {
    held: Held,
    passes: Vec<(u32, Passes)>,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(FilamentGround {
        held: held.clone(),
        passes: Vec::new(),
    }))
}

fn most(held: &Held, tool: u32) -> (f64, &'static str) {
    let is_soft = held.material(tool).is_some_and(|material| {
        let short = material.retraction.length_most.as_ref();
        short.is_some_and(|most| most.value.get() <= 1.0)
            || material.family.as_deref() == Some("TPE")
    });
    if is_soft {
        (SOFT_MOST, "chosen for soft filament")
    } else {
        (MOST, "chosen for hard filament")
    }
}

impl Inspection for FilamentGround {
    fn motion(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        let tool = state.tool();
        let Some(reel) = state.filament.get(tool as usize) else {
            return;
        };
        if !state.has_deposited {
            return;
        }
        let (most, _) = most(&self.held, tool);
        let passes = super::bins::of_tool(&mut self.passes, tool);
        let before = reel.net.saturating_sub(motion.filament);
        // Several motions in a row are one retraction.
        let goes_on = passes.net == before && passes.most == reel.most && !passes.from.is_empty();
        passes.net = reel.net;
        passes.most = reel.most;
        if !goes_on {
            if motion.filament > -SHORTEST {
                return;
            }
            if passes.from.len() == CAP {
                passes.from.pop_front();
            }
            passes.from.push_back(before);
            passes.is_noted = false;
        }
        // All that began above where this one ends have passed over the piece that lies just above it.
        while passes.from.front().is_some_and(|from| *from <= reel.net) {
            passes.from.pop_front();
        }
        let count = passes.from.len() as f64;
        if count > most {
            let at = line.all();
            if passes.is_noted {
                passes.ground.go_on(count, count, &at);
            } else {
                passes.ground.note(count, count, &at);
            }
            passes.is_noted = true;
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        for (tool, passes) in std::mem::take(&mut self.passes) {
            let Some(count) = passes.ground.worst() else {
                continue;
            };
            let (most, whose) = most(end.held, tool);
            let count = tidy(count);
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Minor,
                message: format!(
                    "the drive of tool {tool} draws the same piece of filament back {count} times, above the \
                     {most} that it stands"
                ),
                help: "draw back less often or less far: raise the least travel that is worth it, and \
                       the least filament between two"
                    .to_owned(),
                limit: Some(Limit {
                    value: most,
                    unit: "",
                    whose: whose.to_owned(),
                    source: None,
                    mark: SourceMark::Chosen,
                }),
                amount: Some(count),
                extent: passes.ground.close(Counts::Moves),
                related: Vec::new(),
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Held, inspect};

    /// Found in a job with this many retractions over the same piece, with two millimetres laid behind
    /// each or nothing.
    fn count(retractions: usize, laid: &str) -> Option<f64> {
        let mut job = "M83\nM109 S210\nG1 X5 Y5 Z0.2 F1200\nG1 X50 E2\n".to_owned();
        for _ in 0..retractions {
            job += &format!("G1 E-1.5\nG1 E1.5\n{laid}");
        }
        let found = inspect(job.as_bytes(), Held::default()).findings;
        found
            .iter()
            .find(|finding| finding.requirement == "filament-ground")
            .and_then(|finding| finding.amount)
    }

    #[test]
    fn hard_filament_stands_forty() {
        assert_eq!(count(40, ""), None);
        assert_eq!(count(41, ""), Some(41.0));
    }

    #[test]
    fn a_piece_moves_on() {
        // Two millimetres on, no retraction of 1.5 mm reaches the same piece; a tenth on, fifteen do.
        assert_eq!(count(500, "G1 X5 E1\nG1 X50 E1\n"), None);
        assert_eq!(count(500, "G1 X5 E0.05\nG1 X50 E0.05\n"), None);
        assert_eq!(count(500, "G1 X5 E0.01\nG1 X50 E0.01\n"), Some(75.0));
    }
}
