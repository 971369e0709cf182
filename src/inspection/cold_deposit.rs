//! Filament is pushed through a hotend that is too cold for it.

use super::figures::tenth;
use super::held::{SENSOR_SPREAD, of_material};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Excerpt, Finding, Mark, Place, Tally};
use crate::machine::{Element, Facts, Known, Line, MILLIMETRE, Motion, State, Step};

/// Less than this much filament is rounding of the words, pm (chosen).
const LEAST_PUSH: i64 = MILLIMETRE / 100;

/// A wait ends this close to its target, K: then the hotend counts as being there (chosen).
const AS_GOOD_AS_THERE: f64 = 1.5;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "cold-deposit",
    class: Class::Critical,
    page: include_str!("cold_deposit.md"),
    wants: Wants::motions(Facts::FIRST_PUSH).and(Wants::HEAT),
    silences: &["hotend-not-awaited"],
    make,
};

struct ColdDeposit {
    held: Held,
    /// Cold pushes, counted by the setting they were made under.
    pushes: Tally,
    /// The setting of the last one: the tool, and the place of the word.
    setting: Option<(u32, Option<Place>)>,
    /// Pushes too small to be looked at alone, pm.
    small: i64,
    /// The tool of the coldest push, how far below its floor it was, and the word that set its hotend.
    worst: Option<(u32, f64, Option<Excerpt>)>,
    /// There the hotend is not only cold but set so.
    set_below: bool,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.says("hotend.extrusion_floor", |material| {
        material.hotend.extrusion_floor.as_ref()
    })?;
    Ok(Box::new(ColdDeposit {
        held: held.clone(),
        pushes: Tally::default(),
        setting: None,
        small: 0,
        worst: None,
        set_below: false,
    }))
}

impl ColdDeposit {
    /// The hotend's temperature at `clock`; None where nobody here can know it.
    fn temperature(&self, state: &State, hotend: &Element, clock: f64) -> Option<f64> {
        let setting = &hotend.setting;
        let now = hotend.temperature(clock).get()?;
        match (setting.target, setting.awaited) {
            // A macro that was told a temperature heats to it and no further.
            (Known::Known(target), Known::Claimed) => Some(target),
            (_, Known::Claimed) => None,
            // A tool without a word of its own, and beyond those the sheet lists, shares a hotend.
            (Known::Unknown, _) => {
                let listed = self.held.machine.as_ref().map_or(1, |m| m.tools.len());
                let shares = state.tool() as usize >= listed
                    && state
                        .hotends
                        .iter()
                        .any(|other| !other.setting.target.is_unknown());
                (!shares).then_some(now)
            }
            (Known::Known(target), Known::Known(true))
                if (target - now).abs() < AS_GOOD_AS_THERE =>
            {
                Some(target)
            }
            _ => Some(now),
        }
    }

    /// Filament is pushed at `now`, °C, where it does not flow below `floor`.
    fn pushed(&mut self, now: f64, floor: f64, (tool, hotend): (u32, &Element), at: &impl Mark) {
        let now = tenth(now);
        let under = floor - now;
        if under <= SENSOR_SPREAD {
            return;
        }
        let by = hotend.setting.by.as_ref();
        // One setting, one occurrence, however long filament is pushed under it.
        let setting = (tool, by.map(|by| by.place));
        if self.setting.replace(setting) == Some(setting) {
            self.pushes.go_on(under, now, at);
        } else {
            self.pushes.note(under, now, at);
        }
        if self.worst.as_ref().is_none_or(|(_, most, _)| under > *most) {
            let target = hotend.setting.target.get();
            self.set_below =
                target.is_some_and(|target| target > 0.0 && floor - target > SENSOR_SPREAD);
            self.worst = Some((tool, under, by.cloned()));
        }
    }
}

impl Inspection for ColdDeposit {
    fn motion(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        let tool = state.tool();
        let floor = self
            .held
            .material(tool)
            .and_then(|material| material.hotend.extrusion_floor.as_ref());
        let (Some(floor), Some(hotend)) = (floor, state.hotend()) else {
            return;
        };
        self.small += motion.pushed;
        if self.small < LEAST_PUSH {
            return;
        }
        self.small = 0;
        let Some(now) = self.temperature(state, hotend, state.clock - motion.seconds) else {
            return;
        };
        self.pushed(now, floor.value.get(), (tool, hotend), &line.all());
    }

    fn step(&mut self, step: &Step<'_>, state: &State, line: &Line<'_>) {
        let Some(effects) = step.effects.filter(|effects| effects.primes) else {
            return;
        };
        let tool = state.tool();
        let floor = self
            .held
            .material(tool)
            .and_then(|material| material.hotend.extrusion_floor.as_ref());
        let (Some(floor), Some(hotend)) = (floor, state.hotend()) else {
            return;
        };
        // A macro that heats and primes does so in this order.
        let told = effects.hotend.map(|(target, _)| target);
        let now = told.or_else(|| self.temperature(state, hotend, state.clock - step.seconds));
        if let Some(now) = now {
            let floor = floor.value.get();
            self.pushed(now, floor, (tool, hotend), &line.word(step.word));
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        // Where no word heats anything, that is another finding.
        if !matches!(end.state.heat_said, Known::Known(())) {
            return;
        }
        let pushes = std::mem::take(&mut self.pushes);
        let (Some(now), Some((tool, under, by))) = (pushes.worst(), self.worst.take()) else {
            return;
        };
        let extent = pushes.close(Counts::Settings);
        let Some(material) = end.held.material(tool) else {
            return;
        };
        let Some(floor) = &material.hotend.extrusion_floor else {
            return;
        };
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Critical,
            message: format!(
                "filament is pushed with the hotend at {now} °C by the heating model, {} K below \
                 the {} under which {} does not flow",
                tenth(under),
                floor.value,
                material.name
            ),
            help: if self.set_below {
                // What merely flows does not bond yet: the sheet's own range is what to go for.
                let print = material.hotend.print.as_ref();
                let print = print.filter(|range| range.value.least > floor.value);
                format!(
                    "set the hotend to {} before filament is pushed; colder, the drive grinds it and \
                     layers do not bond",
                    match print {
                        Some(range) => end.held.hotend_within(tool, &range.value),
                        None => format!("{} or more", floor.value),
                    }
                )
            } else {
                "heat the hotend and wait for it (`M109 S…`) before filament is pushed; the drive \
                 grinds the filament through, or the nozzle is dragged over the bed"
                    .to_owned()
            },
            limit: Some(of_material(
                material,
                "hotend.extrusion_floor",
                floor,
                floor.value,
            )),
            amount: Some(now),
            extent,
            related: by
                .map(|by| (by, "the hotend is set here".to_owned()))
                .into_iter()
                .collect(),
        });
    }
}
