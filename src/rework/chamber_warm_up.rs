//! A chamber that the part needs warm is warmed before the job homes.

use super::{Characteristic, Mend, Proposal, Proposals, Rework};
use crate::command::{Command, DwellUnit};
use crate::edit::Change;
use crate::inspection::{End, Held, neediest, of_material};
use crate::machine::{Line, Motion, Setup, State, Step};
use crate::physics::chamber::fit;
use crate::sheet::{ChamberKind, Machine};
use crate::survey::Layer;

pub(super) static REWORK: Rework = Rework {
    id: "chamber-warm-up",
    page: include_str!("chamber_warm_up.md"),
    answers: &["chamber-not-warmed"],
    alters: &[Characteristic::Heat, Characteristic::Fan],
    is_repair: false,
    make: Some(make),
};

const ID: &str = "chamber-not-warmed";

/// A hotend that waits stays at most this hot, °C: nothing cooks and nothing oozes (chosen; standby
/// of 150 to 170 °C is common practice).
const STANDBY: f64 = 150.0;

/// The part fan's share while the air warms: it moves the air along the bed (chosen).
const STIRRING: f64 = 0.5;

/// The longest dwell where the sheet does not say one, s (chosen).
const DWELL: f64 = 600.0;

/// The machine where the wait goes in: before the first homing or probing, else before the first
/// push.
struct Place {
    line: u64,
    start: u64,
    /// What the bed is set to, and whether that was awaited.
    bed: (f64, bool),
    /// What each hotend is set to, and whether that was awaited.
    hotends: Vec<(f64, bool)>,
    fan: f64,
    air: Option<f64>,
}

struct Mending {
    held: Held,
    place: Option<Place>,
    /// What the bed is set to as the part begins.
    bed: Option<f64>,
}

fn make(held: &Held) -> Box<dyn Mend> {
    Box::new(Mending {
        held: held.clone(),
        place: None,
        bed: None,
    })
}

impl Place {
    fn new(state: &State, line: &Line<'_>) -> Self {
        let of = |setting: &crate::machine::Setting| {
            let awaited = setting.awaited.get() == Some(true);
            (setting.target.get().unwrap_or(0.0), awaited)
        };
        Self {
            line: line.number,
            start: line.start,
            bed: of(&state.bed.setting),
            hotends: state
                .hotends
                .iter()
                .map(|hotend| of(&hotend.setting))
                .collect(),
            fan: state.conditions.fan,
            air: state.air,
        }
    }
}

impl Mend for Mending {
    fn step(&mut self, step: &Step<'_>, state: &State, line: &Line<'_>) {
        let homes = matches!(step.command, Command::Home | Command::Probe)
            || step.effects.is_some_and(|effects| effects.homes);
        if homes && self.place.is_none() {
            self.place = Some(Place::new(state, line));
        }
    }

    fn follows(&self) -> bool {
        self.place.is_none()
    }

    fn motion(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        if self.place.is_none() && motion.pushed > 0 {
            self.place = Some(Place::new(state, line));
        }
    }

    fn layer(&mut self, layer: &Layer) {
        if self.bed.is_none()
            && let Some(stroke) = layer.settings().next()
        {
            self.bed = stroke.conditions.bed.target.get();
        }
    }

    fn propose(&mut self, end: &End<'_>, proposals: &mut Proposals) {
        let (Some((material, need)), Some(place), Some(machine)) =
            (neediest(&self.held), &self.place, &end.held.machine)
        else {
            return;
        };
        let Some(range) = &material.chamber.print else {
            return;
        };
        let kind = machine.chamber.kind.as_ref().map(|kind| kind.value);
        if matches!(kind, None | Some(ChamberKind::None)) {
            return;
        }
        let Some(bed) = self.bed.filter(|bed| *bed > 0.0) else {
            proposals.refuse(
                REWORK.id,
                ID,
                "the job never sets the bed, which warms the chamber",
            );
            return;
        };
        let wait = match wait(machine, end.setup, place, bed, need) {
            Ok(wait) => wait,
            Err(reason) => {
                proposals.refuse(REWORK.id, ID, reason);
                return;
            }
        };
        let mut changes = vec![Change::new(
            place.line,
            place.start..place.start,
            lines(place, end.setup, bed, &wait.words),
        )];
        if wait.sets_chamber && end.state.chamber.setting.target.is_unknown() {
            // What this sets nobody else switches off.
            if end.program_end.is_some() {
                let reason = "the control reads nothing behind the program's end, where the chamber \
                              would be switched off";
                proposals.refuse(REWORK.id, ID, reason);
                return;
            }
            changes.push(super::heaters_off::behind(end, "M141 S0\n"));
        }
        proposals.list.push(Proposal {
            rework: REWORK.id,
            requirement: ID,
            old: "the chamber is not warmed".to_owned(),
            new: wait.said,
            limit: Some(of_material(
                material,
                "chamber.print",
                range,
                range.value.least,
            )),
            at: None,
            changes,
        });
    }
}

/// The wait itself, and what it assumes in words.
struct Wait {
    words: String,
    said: String,
    /// Whether it leaves the chamber set.
    sets_chamber: bool,
}

/// By the control's own word where it has one and a sensor, else by a dwell of the model's length.
fn wait(
    machine: &Machine,
    setup: &Setup,
    place: &Place,
    bed: f64,
    need: f64,
) -> Result<Wait, String> {
    let chamber = &machine.chamber;
    if let Some(limit) = chamber
        .limit
        .as_ref()
        .filter(|limit| limit.value.get() < need)
    {
        return Err(format!("the chamber stands no more than {}", limit.value));
    }
    let from = place.air.unwrap_or(setup.ambient);
    let seconds = seconds(machine, setup, bed, from, need)?;
    let assumed = format!("bed {bed} °C, room {} °C", setup.ambient);
    let reads = chamber.has_sensor.as_ref().is_some_and(|yes| yes.value);
    if reads && machine.control.has_chamber_words == Some(true) {
        return Ok(Wait {
            sets_chamber: true,
            words: format!("M191 S{need}\n"),
            said: format!(
                "M191 S{need} before homing, some {:.0} min by the model ({assumed})",
                (seconds / 60.0).ceil()
            ),
        });
    }
    let control = &machine.control;
    let most = [control.longest_dwell, control.idle_timeout]
        .into_iter()
        .flatten()
        .map(|limit| limit.get() - 1.0)
        .fold(DWELL, f64::min)
        .max(1.0);
    let pieces = (seconds / most).ceil().max(1.0);
    let each = (seconds / pieces).ceil();
    let word = match setup.dialect.dwell {
        DwellUnit::Milliseconds => format!("G4 P{:.0}\n", each * 1000.0),
        DwellUnit::Seconds => format!("G4 P{each:.0}\n"),
    };
    Ok(Wait {
        sets_chamber: false,
        words: word.repeat(pieces as usize),
        said: format!(
            "a dwell of {:.0} min before homing, for {need} °C by the model ({assumed})",
            (pieces * each / 60.0).ceil()
        ),
    })
}

/// Seconds with the bed at its temperature until the air is warm enough, or why that never comes.
fn seconds(
    machine: &Machine,
    setup: &Setup,
    bed: f64,
    from: f64,
    need: f64,
) -> Result<f64, String> {
    let measured = &machine.chamber.warm_up;
    if let (Some(at), Some(after), Some(first), Some(second)) = (
        &measured.bed,
        &measured.after,
        &measured.first,
        &measured.second,
    ) && (at.value.get() - bed).abs() <= 5.0
    {
        let fitted = fit(
            setup.ambient,
            after.value.get(),
            first.value.get(),
            second.value.get(),
        )
        .ok_or("the readings of chamber.warm_up are no warm-up")?;
        return fitted
            .time_to(need)
            .ok_or_else(|| never(bed, fitted.rest, need, None));
    }
    let chamber = setup.chamber.ok_or(
        "the machine sheet says neither chamber.wall_conductance and chamber.contents nor \
         chamber.warm_up: nobody can tell how long it takes",
    )?;
    chamber.time_to(bed, from.min(need), need).ok_or_else(|| {
        never(
            bed,
            chamber.rest(bed).unwrap_or(setup.ambient),
            need,
            Some(chamber.holding_power(need)),
        )
    })
}

fn never(bed: f64, rest: f64, need: f64, power: Option<f64>) -> String {
    let help = power.map_or(String::new(), |power| {
        format!(
            "; insulate the walls, or give the chamber a heater: these walls lose {power:.0} W at \
             {need} °C"
        )
    });
    format!("with the bed at {bed} °C the air comes to {rest:.0} °C and never to {need} °C{help}")
}

/// Everything that goes in: bed up, nozzle at standby, air moved, the wait, and all as it was.
fn lines(place: &Place, setup: &Setup, bed: f64, wait: &str) -> String {
    let mut text = String::new();
    let mut after = String::new();
    let many = place.hotends.len() > 1;
    for (tool, (target, awaited)) in place.hotends.iter().enumerate() {
        if *target > STANDBY {
            let of = if many {
                format!(" T{tool}")
            } else {
                String::new()
            };
            text += &format!("M104{of} S{STANDBY}\n");
            let word = if *awaited { "M109" } else { "M104" };
            after += &format!("{word}{of} S{target}\n");
        }
    }
    if place.bed != (bed, true) {
        text += &format!("M190 S{bed}\n");
    }
    let full = f64::from(setup.dialect.fan_full);
    if setup.part_fans.contains(&0) && place.fan < STIRRING {
        text += &format!("M106 S{}\n", (full * STIRRING).floor());
        after += &if place.fan > 0.0 {
            format!("M106 S{}\n", (full * place.fan).round())
        } else {
            "M107\n".to_owned()
        };
    }
    text + wait + &after
}
