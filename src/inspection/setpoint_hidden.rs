//! What went uninspected because a macro may have seen to it.

use super::heat::is_strange_macro;
use super::heater_left_on::is_on;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Excerpt, Finding, NotHeld, Tally};
use crate::machine::{Facts, Known, Line, Motion, Setting, State, Step};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "setpoint-hidden",
    class: Class::Observation,
    page: include_str!("setpoint_hidden.md"),
    wants: Wants::motions(Facts::FIRST_DEPOSIT).and(Wants::HEAT),
    // Cold deposit and heaters left on keep silent by themselves where a macro may explain them; what
    // the job does by its own words is not to be hidden by a macro elsewhere.
    silences: &[
        "bed-not-awaited",
        "chamber-not-warmed",
        "hotend-not-awaited",
        "unhomed-motion",
    ],
    make,
};

/// What is hidden, in the reader's words, and the requirement that was not held for it.
type Hidden = (&'static str, &'static str);

#[derive(Default)]
struct SetpointHidden {
    needs_chamber: bool,
    hidden: Vec<Hidden>,
    /// The first macro before the first deposit of which nobody knows what it does.
    strange: Option<Excerpt>,
    has_deposit: bool,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    let needs_chamber = held.each_material().any(|material| {
        material
            .chamber
            .required
            .as_ref()
            .is_some_and(|yes| yes.value)
    });
    Ok(Box::new(SetpointHidden {
        needs_chamber,
        ..SetpointHidden::default()
    }))
}

/// A heater whose temperature is hidden, or else the wait for it.
fn heater(setting: &Setting, target: Hidden, wait: Hidden) -> Option<Hidden> {
    if setting.target.is_claimed() {
        Some(target)
    } else {
        setting.awaited.is_claimed().then_some(wait)
    }
}

impl Inspection for SetpointHidden {
    fn motion(&mut self, _: &Motion, state: &State, _: &Line<'_>) {
        self.has_deposit = true;
        let now = &state.conditions;
        self.hidden.extend(heater(
            &now.hotend,
            ("the hotend's temperature", "cold-deposit"),
            ("the wait for the hotend", "hotend-not-awaited"),
        ));
        self.hidden.extend(heater(
            &now.bed,
            ("the bed's temperature", "bed-below-sheet"),
            ("the wait for the bed", "bed-not-awaited"),
        ));
        if self.needs_chamber {
            let chamber = ("the chamber's temperature", "chamber-not-warmed");
            self.hidden.extend(heater(&now.chamber, chamber, chamber));
        }
        if state.homed.iter().any(|homed| homed.is_claimed()) {
            self.hidden.push(("homing", "unhomed-motion"));
        }
    }

    fn step(&mut self, step: &Step<'_>, _: &State, line: &Line<'_>) {
        if !self.has_deposit && self.strange.is_none() && is_strange_macro(step) {
            self.strange = Some(line.word(step.word).excerpt());
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        if !self.has_deposit {
            return;
        }
        let state = end.state;
        let mut hidden = std::mem::take(&mut self.hidden);
        let mut macros = Tally::default();
        let by = match (&state.claims.start, &self.strange) {
            (Some(start), _) => Some(start),
            // Nothing heats, but a macro stands there: it may.
            (None, Some(strange)) if state.heat_said.is_unknown() => {
                hidden.push(("heating", "cold-deposit"));
                Some(strange)
            }
            _ => None,
        };
        if let Some(by) = by.filter(|_| !hidden.is_empty()) {
            macros.mark(by);
        }
        let elements = || state.hotends.iter().chain([&state.bed]);
        let on = elements().any(|element| is_on(element).is_some());
        let macro_on = elements().any(|element| {
            element.setting.by_macro && matches!(element.setting.target, Known::Known(t) if t > 0.0)
                || element.setting.target.is_claimed()
        });
        match (&state.claims.end, by) {
            (Some(ends), _) if on || macro_on => {
                hidden.push(("heaters off at the end", "heater-left-on"));
                macros.mark(ends);
            }
            (None, Some(by)) if macro_on && !on => {
                hidden.push(("heaters off at the end", "heater-left-on"));
                if macros.is_empty() {
                    macros.mark(by);
                }
            }
            _ => {}
        }
        if macros.is_empty() {
            return;
        }
        let named: Vec<&str> = hidden.iter().map(|(what, _)| *what).collect();
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Observation,
            message: format!(
                "a macro may see to what the job does not show, and it went uninspected: {}",
                named.join(", ")
            ),
            help: "say in the machine sheet what the macro does (`control.macros`), so that it can be \
                   inspected"
                .to_owned(),
            limit: None,
            amount: None,
            extent: macros.close(Counts::Words),
            related: Vec::new(),
        });
        report
            .not_held
            .extend(hidden.iter().map(|(what, requirement)| NotHeld {
                requirement,
                reason: format!("a macro may see to {what}"),
            }));
    }
}
