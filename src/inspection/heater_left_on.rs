//! The job ends with a heater on.

use super::heat::is_strange_macro;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Excerpt, Extent, Finding};
use crate::machine::{Element, Line, State, Step};
use crate::sheet::ChamberKind;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "heater-left-on",
    class: Class::Major,
    page: include_str!("heater_left_on.md"),
    wants: Wants::STEPS,
    silences: &[],
    make,
};

#[derive(Default)]
struct HeaterLeftOn {
    /// The filament pushed before the last macro that may have switched off.
    macro_after: Option<i64>,
}

fn make(_: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(HeaterLeftOn::default()))
}

/// A heater that is on by a word of the job, or by a macro that is known: its target and that word.
pub(super) fn is_on(element: &Element) -> Option<(f64, &Excerpt)> {
    let setting = &element.setting;
    let target = setting.target.get().filter(|target| *target > 0.0)?;
    let is_strange = setting.by_macro && setting.awaited.is_claimed();
    let by = setting.by.as_ref().filter(|_| !is_strange)?;
    Some((target, by))
}

impl Inspection for HeaterLeftOn {
    fn step(&mut self, step: &Step<'_>, state: &State, _: &Line<'_>) {
        if is_strange_macro(step) && step.effects.is_some_and(|effects| !effects.is_aside) {
            self.macro_after = Some(state.filament_total());
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let state = end.state;
        let macro_at_end = self.macro_after == Some(state.filament_total());
        if end.motions == 0 || state.claims.end.is_some() || macro_at_end {
            return;
        }
        // More tools than the sheet lists share a hotend: then the one in use speaks for it.
        let shared = state.hotends.len() > end.setup.tools.len();
        let hotends = state
            .hotends
            .iter()
            .zip(0..)
            .filter(|(_, tool)| !shared || *tool == state.tool())
            .map(|(hotend, tool)| {
                let several = state.hotends.len() > 1 && !shared;
                let name = if several {
                    format!("hotend of tool {tool}")
                } else {
                    "hotend".to_owned()
                };
                (name, hotend)
            });
        // Where the sheet knows of no chamber heater, none can be on.
        let has_heater = end.held.machine.as_deref().is_none_or(|machine| {
            let kind = machine.chamber.kind.as_ref();
            kind.is_none_or(|kind| kind.value == ChamberKind::Heated)
        });
        let mut on: Vec<(String, f64, &Excerpt)> = hotends
            .chain([("bed".to_owned(), &state.bed)])
            .chain(has_heater.then(|| ("chamber".to_owned(), &state.chamber)))
            .filter_map(|(what, element)| is_on(element).map(|(target, by)| (what, target, by)))
            .collect();
        on.sort_by(|(_, one, _), (_, other, _)| other.total_cmp(one));
        let Some(((_, hottest, by), rest)) = on.split_first() else {
            return;
        };
        let named: Vec<String> = on
            .iter()
            .map(|(what, target, _)| format!("the {what} set to {target} °C"))
            .collect();
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Major,
            message: format!("the job ends with {}", named.join(" and ")),
            help: "switch every heater off at the end (`M104 S0`, with a tool where there are \
                   several, `M140 S0`, and `M141 S0` for a chamber); a heater left on is a fire risk in an empty room"
                .to_owned(),
            limit: None,
            amount: Some(*hottest),
            extent: Extent::once((*by).clone()),
            related: rest
                .iter()
                .map(|(what, _, by)| ((*by).clone(), format!("the {what} is set here")))
                .collect(),
        });
    }
}
