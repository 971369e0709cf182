//! What inspections of heat share.

use crate::command::Command;
use crate::machine::{Known, Setting, State, Step};
use crate::quantity::{Celsius, Range};
use crate::sheet::{Cited, Material};

/// The hotend temperature that a step sets: the tool, °C, and the word that says it.
pub(super) fn hotend_told(step: &Step<'_>, state: &State) -> Option<(u32, f64, usize)> {
    match (step.command, step.effects) {
        (
            Command::Hotend {
                target: Some(target),
                tool,
                ..
            },
            _,
        ) => Some((tool.unwrap_or(state.tool()), target, step.word)),
        (Command::Macro, Some(effects)) => {
            let (target, word) = effects.hotend?;
            Some((state.tool(), target, word))
        }
        _ => None,
    }
}

/// The bed temperature that a step sets: °C, and the word that says it.
pub(super) fn bed_told(step: &Step<'_>) -> Option<(f64, usize)> {
    match (step.command, step.effects) {
        (
            Command::Bed {
                target: Some(target),
                ..
            },
            _,
        ) => Some((target, step.word)),
        (Command::Macro, Some(effects)) => effects.bed,
        _ => None,
    }
}

/// The chamber temperature that a step sets: °C, and the word that says it.
pub(super) fn chamber_told(step: &Step<'_>) -> Option<(f64, usize)> {
    match (step.command, step.effects) {
        (
            Command::Chamber {
                target: Some(target),
                ..
            },
            _,
        ) => Some((target, step.word)),
        (Command::Macro, Some(effects)) => effects.chamber,
        _ => None,
    }
}

/// Whether a step is a macro of which no sheet says what it does.
pub(super) fn is_strange_macro(step: &Step<'_>) -> bool {
    step.effects.is_some_and(|effects| !effects.is_defined)
}

/// The range that holds for a hotend, and its key: the first layer's own where the sheet has one.
pub(crate) fn hotend_range(
    material: &Material,
    is_first: bool,
) -> Option<(&'static str, &Cited<Range<Celsius>>)> {
    let first = material.hotend.first_layer.as_ref().filter(|_| is_first);
    match (first, &material.hotend.print) {
        (Some(first), _) => Some(("hotend.first_layer", first)),
        (None, print) => print.as_ref().map(|print| ("hotend.print", print)),
    }
}

/// The target that a job set and did not wait for, where it is above 0; None where it waited, or a
/// macro may have.
pub(super) fn not_awaited(setting: &Setting) -> Option<f64> {
    match setting.awaited {
        Known::Known(true) | Known::Claimed => None,
        Known::Known(false) | Known::Unknown => setting.target.get().filter(|target| *target > 0.0),
    }
}
