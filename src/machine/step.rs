//! Carrying out every line: the common motion first, then any other command.

#![allow(
    clippy::indexing_slicing,
    reason = "an axis from 0 to 2 into arrays of three or four"
)]

use super::follow::stands_still;
use super::heat::Setting;
use super::macros::{self, MacroEffects, effects};
use super::motion;
use super::motion::{Facts, Motion};
use super::offsets;
use super::setup::Setup;
use super::state::{AIR_EVERY, Conditions, Filament, Known, State};
use super::{Line, Machine, Observer, Parts, Step};
use crate::command::{Axes, Command, Guard, MotionWord, Wait, read, read_motion};
use crate::grammar::{self, Word, read_line};
use crate::physics::chamber::Chamber;
use std::rc::Rc;

impl Machine {
    /// Carries out a line by its parts.
    #[inline(never)]
    pub(super) fn line(&mut self, line: &Line<'_>, observer: &mut impl Observer) {
        if let Some(word) = read_motion(line.words, &mut self.axes) {
            let is_long = line.bytes.len() > self.setup.longest_line;
            self.is_plain = !line.words.is_marked();
            if line.words.is_marked() || is_long {
                observer.remark(line, &self.state);
            }
            self.motion(word, line, observer);
            return;
        }
        self.other(line, observer);
    }

    #[inline(never)]
    fn other(&mut self, line: &Line<'_>, observer: &mut impl Observer) {
        observer.remark(line, &self.state);
        let mut commands = std::mem::take(&mut self.commands);
        read(
            line.words,
            &self.setup.dialect,
            &mut self.axes,
            &mut commands,
        );
        let is_motion = |(command, _): &&(Command, usize)| matches!(command, Command::Motion(_));
        let lost_end = commands.iter().filter(is_motion).count() > 1;
        for &(command, word) in &commands {
            if let Command::Motion(motion_word) = command {
                again(
                    &mut self.state,
                    &self.setup,
                    motion_word,
                    &self.axes,
                    &mut self.motion,
                );
                if lost_end {
                    // Two motions on a line: a line end was lost between them.
                    self.motion.facts = self.motion.facts.with(Facts::MALFORMED);
                }
                observer.motion(&self.motion, &self.state, line);
                if self.motion.moves() && self.planner.is_some() {
                    self.plan(observer);
                }
                continue;
            }
            if stands_still(command) {
                self.stop(observer);
            }
            let before = self.state.clock;
            let effects = self.carry_out_command(command, word, line);
            if command == Command::Macro && self.own_limits.is_none() {
                self.own_limits = macros::sets_limits(line);
            }
            if let (Command::Limits(number), Some(planner)) = (command, &mut self.planner) {
                let mut rates = *planner.rates();
                rates.say(number, |letter| self.axes.get(letter));
                planner.set_rates(rates);
            }
            let area = self.setup.tool(self.state.conditions.tool).filament_area;
            self.melt = area * self.state.conditions.flow;
            let step = Step {
                command,
                word,
                axes: &self.axes,
                effects: effects.as_ref(),
                seconds: self.state.clock - before,
            };
            observer.step(&step, &self.state, line);
        }
        self.commands = commands;
        if self.setup.dialect.fence_ends
            && line
                .words
                .iter()
                .any(|word| word.kind == grammar::Kind::Fence)
        {
            // The first fence opens, the second ends (NISTIR 6556, 3.1).
            if self.end.fenced {
                self.end.line = Some(line.number);
            }
            self.end.fenced = true;
        }
    }

    /// Passes over lines behind the program's end: comments are told, nothing else is read.
    #[cold]
    pub(super) fn pass_over(&mut self, block: &[u8], observer: &mut impl Observer) {
        let mut words = std::mem::take(&mut self.words);
        let mut rest = block;
        while !rest.is_empty() {
            let after = read_line(rest, &mut words);
            let bytes = rest.get(..rest.len() - after.len()).unwrap_or_default();
            self.lines += 1;
            let mut kinds = words.iter().map(|word| word.kind);
            if kinds.clone().any(|kind| !is_silent(kind)) {
                self.end.unread += 1;
            } else if kinds
                .any(|kind| matches!(kind, grammar::Kind::Comment | grammar::Kind::Remark))
            {
                let line = Line {
                    number: self.lines,
                    start: self.bytes,
                    bytes,
                    words: &Parts::read(&words),
                };
                observer.remark(&line, &self.state);
            }
            self.bytes += bytes.len() as u64;
            rest = after;
        }
        self.words = words;
    }

    fn carry_out_command(
        &mut self,
        command: Command,
        word: usize,
        line: &Line<'_>,
    ) -> Option<MacroEffects> {
        let Self {
            setup,
            state,
            axes,
            end,
            ..
        } = self;
        match command {
            Command::Dwell(seconds) => pass(state, setup, seconds),
            Command::Retract(back) => state.held_back = back,
            Command::Plane(plane) => state.plane = plane,
            Command::Inches(on) => state.inches.set(on),
            Command::Absolute(on) => {
                state.absolute.set(on);
                if setup.dialect.e_follows_g90 {
                    state.absolute_e.set(on);
                }
            }
            Command::AbsoluteExtrusion(on) => state.absolute_e.set(on),
            Command::InverseTime(on) => state.inverse_time = on,
            Command::Home => {
                let seconds = offsets::home(state, setup, axes);
                pass(state, setup, seconds);
            }
            Command::Probe => feel(state, setup),
            Command::Stop(_) => {
                let clock = state.clock;
                for element in elements(state) {
                    element.left_alone(clock);
                }
            }
            Command::SetPosition => offsets::set_position(state, axes),
            Command::Offsets(true) => offsets::take_up(state),
            Command::Offsets(false) => {
                // G92.1 forgets, G92.2 lays aside (NISTIR 6556, 3.5.18).
                let forgets = line.words.get(word).and_then(Word::tenths) == Some(921);
                offsets::lay_aside(state, forgets);
            }
            Command::SelectCoordinates(system) => offsets::select(state, system),
            Command::SetCoordinates if !setup.dialect.g10_retracts => {
                offsets::set_coordinates(state, axes);
            }
            Command::Volumetric(diameter) => state.volumetric = diameter,
            Command::Hotend { target, tool, wait } => {
                let number = heated_by(state, setup, tool);
                grow(state, setup, number);
                state.heat_said = Known::Known(());
                let clock = state.clock;
                let element = state.hotends.get_mut(number)?;
                if let Some(target) = target {
                    element.set(target, clock);
                    element.setting = said(line, word, target, element.setting.awaited);
                } else if is_unreadable(axes) {
                    element.setting = misread(line, word);
                }
                let passed = heard(element, wait, target.is_some(), clock);
                pass(state, setup, passed);
            }
            Command::Bed { target, wait } => {
                state.heat_said = Known::Known(());
                let clock = state.clock;
                if let Some(target) = target {
                    warm_air(state, setup);
                    state.bed.set(target, clock);
                    state.bed.setting = said(line, word, target, state.bed.setting.awaited);
                } else if is_unreadable(axes) {
                    state.bed.setting = misread(line, word);
                }
                let passed = heard(&mut state.bed, wait, target.is_some(), clock);
                pass(state, setup, passed);
            }
            Command::Chamber { target, wait } => {
                state.heat_said = Known::Known(());
                let clock = state.clock;
                if let Some(target) = target {
                    warm_air(state, setup);
                    state.chamber.set(target, clock);
                    state.chamber.setting = said(line, word, target, state.chamber.setting.awaited);
                } else if is_unreadable(axes) {
                    state.chamber.setting = misread(line, word);
                }
                let passed = heard(&mut state.chamber, wait, target.is_some(), clock);
                pass(state, setup, passed);
            }
            Command::WaitForHeat => {
                let clock = state.clock;
                let mut longest: f64 = 0.0;
                for element in elements(state) {
                    if element.setting.target.get().is_some() {
                        element.setting.awaited = Known::Known(true);
                        longest = longest.max(element.wait(clock, false));
                    }
                }
                pass(state, setup, longest);
            }
            // Nobody knows what the control takes from a number that is none.
            Command::Fan { .. } if axes.lacks_number(b"S") => return None,
            Command::Fan { share, index } => {
                if let Some((_, speed)) = state.fans.iter_mut().find(|(fan, _)| *fan == index) {
                    *speed = share;
                } else if state.fans.len() < 64 {
                    state.fans.push((index, share));
                }
                if setup.part_fans.contains(&index) {
                    let strongest = state
                        .fans
                        .iter()
                        .filter(|(fan, _)| setup.part_fans.contains(fan))
                        .fold(0.0, |most: f64, (_, speed)| most.max(*speed));
                    let conditions = Rc::make_mut(&mut state.conditions);
                    conditions.fan = strongest;
                    conditions.fan_by = Some(line.word(word).excerpt());
                }
                return None;
            }
            Command::SpeedFactor(Some(percent)) if percent > 0.0 => {
                Rc::make_mut(&mut state.conditions).speed = percent / 100.0;
                state.set_pace();
            }
            Command::FlowFactor {
                percent: Some(percent),
                tool,
            } if percent >= 0.0 => {
                if tool.is_none_or(|tool| tool == state.conditions.tool) {
                    Rc::make_mut(&mut state.conditions).flow = percent / 100.0;
                }
            }
            Command::Tool(Some(tool)) => {
                state.chosen = Some(tool);
                if setup.dialect.tool == crate::command::ToolChange::AtT {
                    change_tool(state, setup, tool);
                }
            }
            Command::ChangeTool => {
                if let Some(tool) = state.chosen {
                    change_tool(state, setup, tool);
                }
            }
            Command::MotorsOff => state.motors_off = true,
            Command::Power(false) | Command::EmergencyStop => {
                let clock = state.clock;
                for element in elements(state) {
                    element.set(0.0, clock);
                    element.setting.by = Some(line.word(word).excerpt());
                }
            }
            Command::Guard(guard, on) => guard_switched(state, guard, on, line, word),
            Command::End(true) => {
                offsets::end_program(state);
                end.line = Some(line.number);
            }
            Command::Macro => {
                let effects = effects(line, setup);
                if let Some(keeps) = effects.keeps_modes {
                    state.keep_modes(keeps);
                }
                macros::carry_out(state, setup, &effects, line, word);
                refresh(state);
                return Some(effects);
            }
            _ => return None,
        }
        refresh(state);
        None
    }
}

/// Parts that ask for nothing.
const fn is_silent(kind: grammar::Kind) -> bool {
    use grammar::Kind;
    matches!(kind, Kind::Comment | Kind::Remark | Kind::End | Kind::Fence)
}

/// A motion off the hot path: not inlined once more.
#[inline(never)]
pub(super) fn again(
    state: &mut State,
    setup: &Setup,
    word: Option<MotionWord>,
    axes: &Axes,
    motion: &mut Motion,
) {
    motion::carry_out(state, setup, word, axes, motion);
}

impl State {
    /// Keeps the modes, or takes the kept ones back up.
    fn keep_modes(&mut self, keeps: bool) {
        if keeps {
            self.kept = Some([self.absolute.on, self.absolute_e.on, self.inches.on]);
        } else if let Some([absolute, absolute_e, inches]) = self.kept.take() {
            self.absolute.on = absolute;
            self.absolute_e.on = absolute_e;
            self.inches.on = inches;
        }
    }
}

/// A setpoint by a word of the job.
fn said(line: &Line<'_>, word: usize, target: f64, awaited: Known<bool>) -> Setting {
    Setting {
        target: Known::Known(target),
        by: Some(line.word(word).excerpt()),
        by_macro: false,
        awaited: if target > 0.0 {
            Known::Known(false)
        } else {
            awaited
        },
    }
}

/// Whether a heat word's temperature stands there and cannot be read: a number that is none, or a
/// name to be filled in.
fn is_unreadable(axes: &Axes) -> bool {
    axes.lacks_number(b"SR")
}

/// A setpoint of which nobody knows what the control takes from it.
fn misread(line: &Line<'_>, word: usize) -> Setting {
    Setting {
        target: Known::Claimed,
        by: Some(line.word(word).excerpt()),
        by_macro: false,
        awaited: Known::Claimed,
    }
}

/// The bed is felt or levelled: that takes its time, and may set Z's zero.
pub(super) fn feel(state: &mut State, setup: &Setup) {
    if state.homed[2].is_unknown() {
        state.homed[2] = Known::Claimed;
    }
    pass(state, setup, setup.probing);
}

/// Every heating element.
pub(super) fn elements(state: &mut State) -> impl Iterator<Item = &mut super::Element> {
    state
        .hotends
        .iter_mut()
        .chain([&mut state.bed, &mut state.chamber])
}

/// Marks a wait and gives how long it takes.
fn heard(element: &mut super::Element, wait: Wait, has_target: bool, clock: f64) -> f64 {
    if wait == Wait::No {
        return 0.0;
    }
    if has_target || element.setting.target.get().is_some() {
        element.setting.awaited = Known::Known(true);
    }
    element.wait(clock, wait == Wait::Both)
}

/// Time passes outside motions.
fn pass(state: &mut State, setup: &Setup, seconds: f64) {
    if seconds > 0.0 {
        // The bed warms while time passes, and the air by the bed: in pieces.
        let pieces = ((seconds / AIR_EVERY).ceil() as u32).clamp(1, 200);
        state.air_course.clear();
        for piece in 0..=pieces {
            if piece > 0 {
                state.clock += seconds / f64::from(pieces);
            }
            warm_air(state, setup);
            state
                .air_course
                .extend(state.air.map(|air| (state.clock, air)));
        }
    }
    state.unsettle();
}

/// Brings the chamber's air up to the clock: the bed gives what its face passes on, and a heater of the
/// chamber's own as much as its thermostat lets it.
#[cold]
pub(super) fn warm_air(state: &mut State, setup: &Setup) {
    let (Some(chamber), Some(air)) = (setup.chamber, state.air) else {
        return;
    };
    let seconds = state.clock - state.air_since;
    if seconds.is_nan() || seconds <= 0.0 {
        return;
    }
    let middle = state.clock - seconds / 2.0;
    let bed = state.bed.temperature(middle).get().unwrap_or(setup.ambient);
    let heater = state.chamber.setting.target.get();
    let heater = heater.filter(|target| *target > 0.0 && setup.chamber_heater.is_some());
    let unheated = Chamber {
        heater_power: 0.0,
        ..chamber
    };
    let by_bed = unheated.at(bed, air, seconds);
    state.air = Some(match heater {
        // It carries the air no further than its target, and holds it there.
        Some(target) => by_bed.max(chamber.at(bed, air, seconds).min(target)),
        None => by_bed,
    });
    state.air_since = state.clock;
    state.air_due = state.clock + AIR_EVERY;
}

/// The hotend that a tool's heat word heats.
fn heated_by(state: &State, setup: &Setup, tool: Option<u32>) -> usize {
    if setup.one_hotend {
        0
    } else {
        tool.unwrap_or(state.conditions.tool) as usize
    }
}

fn grow(state: &mut State, setup: &Setup, tool: usize) {
    while state.hotends.len() <= tool && tool < 64 {
        let model = setup.tool(state.hotends.len() as u32).heat;
        state
            .hotends
            .push(super::Element::new(model, setup.ambient));
    }
    while state.filament.len() <= tool && tool < 64 {
        state.filament.push(Filament::default());
    }
}

/// Brings the shared conditions up to the elements.
fn refresh(state: &mut State) {
    let tool = state.hotend_in_use();
    let Some(hotend) = state.hotends.get(tool).or_else(|| state.hotends.first()) else {
        return;
    };
    let now = &state.conditions;
    if now.hotend != hotend.setting
        || now.bed != state.bed.setting
        || now.chamber != state.chamber.setting
    {
        let fresh = Conditions {
            hotend: hotend.setting.clone(),
            bed: state.bed.setting.clone(),
            chamber: state.chamber.setting.clone(),
            ..Conditions::clone(now)
        };
        state.conditions = Rc::new(fresh);
    }
    state.unsettle();
}

fn change_tool(state: &mut State, setup: &Setup, tool: u32) {
    grow(state, setup, tool as usize);
    if tool != state.conditions.tool {
        pass(state, setup, setup.tool_change);
    }
    Rc::make_mut(&mut state.conditions).tool = tool;
}

fn guard_switched(state: &mut State, guard: Guard, on: bool, line: &Line<'_>, word: usize) {
    state.guards_off.retain(|(off, _)| *off != guard);
    if !on {
        state.guards_off.push((guard, line.word(word).excerpt()));
    }
}
