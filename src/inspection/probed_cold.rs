//! The bed is felt or levelled while it is colder than it later prints at.

use super::figures::tenth;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::command::Command;
use crate::finding::{Class, Excerpt, Extent, Finding};
use crate::machine::{Line, MacroEffects, Role, State, Step};
use crate::survey::Layer;

/// Colder than the later setpoint by more than this, K, a bed has another shape (the issue's own
/// figure; chosen).
const COLDER: f64 = 10.0;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "probed-cold",
    class: Class::Minor,
    page: include_str!("probed_cold.md"),
    wants: Wants::HEAT.and(Wants::LAYERS),
    silences: &[],
    make,
};

#[derive(Default)]
struct ProbedCold {
    has_begun: bool,
    /// The bed's temperature when it was felt last before the part, and the word.
    probed: Option<(f64, Excerpt)>,
    /// The setpoint the part begins at, and the word that set it.
    target: Option<(f64, Excerpt)>,
}

fn make(_: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(ProbedCold::default()))
}

impl Inspection for ProbedCold {
    fn step(&mut self, step: &Step<'_>, state: &State, line: &Line<'_>) {
        if self.has_begun {
            return;
        }
        match (step.command, step.effects) {
            // With these words a stored map is used or shown, and nothing is felt.
            (Command::Probe, _) if b"ADLS".iter().any(|letter| step.axes.named(*letter)) => {}
            (Command::Probe, _) | (Command::Macro, Some(MacroEffects { levels: true, .. })) => {
                let bed = &state.bed;
                let is_hidden = bed.setting.awaited.is_claimed();
                let now = bed.temperature(state.clock - step.seconds).get();
                self.probed = now
                    .filter(|_| !is_hidden)
                    .map(|now| (now, line.word(step.word).excerpt()));
            }
            // It may level once more.
            (_, Some(effects)) if effects.role == Role::Start && !effects.is_defined => {
                self.probed = None;
            }
            _ => {}
        }
    }

    fn layer(&mut self, layer: &Layer) {
        if self.has_begun {
            return;
        }
        let Some(stroke) = layer.settings().next() else {
            return;
        };
        self.has_begun = true;
        let setting = &stroke.conditions.bed;
        if let (Some(target), Some(by)) = (setting.target.get(), &setting.by) {
            self.target = Some((target, by.clone()));
        }
    }

    fn conclude(&mut self, _: &End<'_>, report: &mut Report) {
        let (Some((now, at)), Some((target, by))) = (self.probed.take(), self.target.take()) else {
            return;
        };
        let now = tenth(now);
        if target - now <= COLDER {
            return;
        }
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Minor,
            message: format!(
                "the bed is felt at {now} °C by the heating model, {} K colder than the {target} °C \
                 it prints at",
                tenth(target - now)
            ),
            help: format!(
                "heat the bed and wait for it (`M190 S{target}`) before it is felt; a warm bed has \
                 another shape"
            ),
            limit: None,
            amount: Some(now),
            extent: Extent::once(at),
            related: vec![(by, "the bed is set here".to_owned())],
        });
    }
}
