//! The job writes settings of the machine.

use super::named::{Named, times};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::command::{Axes, Command};
use crate::finding::{Class, Counts, Finding, Tally};
use crate::machine::{Line, State, Step};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "settings-written",
    class: Class::Major,
    page: include_str!("settings_written.md"),
    wants: Wants::CHANGES,
    silences: &[],
    make,
};

#[derive(Default)]
struct SettingsWritten {
    /// By word; there are ten such words at most.
    words: Vec<(Named, Class, Tally)>,
}

#[allow(clippy::unnecessary_wraps, reason = "the register's form")]
fn make(_: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(SettingsWritten::default()))
}

/// Whether a line gives any value; without one these words only report.
fn gives_value(axes: &Axes) -> bool {
    axes.any(b"ABCDEFHIJKLPQRSTUVWXYZ")
}

impl Inspection for SettingsWritten {
    fn step(&mut self, step: &Step<'_>, _: &State, line: &Line<'_>) {
        /// Sets the home where the nozzle stands; needs no value.
        const HOME_HERE: i64 = 428;
        let class = match step.command {
            Command::StoreSettings => Class::Major,
            Command::ChangeSettings(number) if number == HOME_HERE || gives_value(step.axes) => {
                Class::Minor
            }
            _ => return,
        };
        let Some(word) = line.words.get(step.word) else {
            return;
        };
        let known = self.words.iter().position(|(name, ..)| name.is(word, line));
        let index = known.unwrap_or(self.words.len());
        if known.is_none() {
            self.words
                .push((Named::of(word, line.bytes), class, Tally::default()));
        }
        if let Some((.., tally)) = self.words.get_mut(index) {
            tally.mark(&line.word(step.word));
        }
    }

    fn conclude(&mut self, _: &End<'_>, report: &mut Report) {
        for (name, class, tally) in std::mem::take(&mut self.words) {
            let often = times(tally.count());
            let (message, help) = if class == Class::Major {
                (
                    format!(
                        "{name} is used {often}: it writes what the machine keeps for every later job"
                    ),
                    format!(
                        "take {name} out of the job; settings are stored by whoever looks after the machine"
                    ),
                )
            } else {
                (
                    format!(
                        "{name} is used {often}: it changes a setting of the machine, for this job and until somebody changes it back"
                    ),
                    format!("take {name} out of the job, or set it in the machine's own settings"),
                )
            };
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class,
                message,
                help,
                limit: None,
                amount: None,
                extent: tally.close(Counts::Words),
                related: Vec::new(),
            });
        }
    }
}
