//! What a macro may do, read from the trade words in its name and parameters.
//!
//! A macro is a whole-word command whose body lies in the control. Its parameters are read by the
//! trade's words (hotend, nozzle, extruder, tool, bed, chamber, temp); the machine sheet can say what
//! any macro does. Everything else that a macro may have done is claimed, never assumed.

use super::Line;
use super::heat::Setting;
use super::setup::Setup;
use super::state::{Known, State};
use super::step::{elements, feel, warm_air};
use crate::grammar::Kind;

/// The part a macro plays in a job, by its name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Role {
    /// It starts a job: it may heat, wait, home, level and prime.
    Start,
    /// It ends a job: it may switch heaters, fans and motors off.
    End,
    /// It heats something, nobody knows what.
    Heat,
    /// Nothing that matters here.
    #[default]
    Other,
}

/// What a macro does.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MacroEffects {
    /// Its part in the job.
    pub role: Role,
    /// The hotend's temperature, °C, and the parameter's index on the line.
    pub hotend: Option<(f64, usize)>,
    /// The bed's.
    pub bed: Option<(f64, usize)>,
    /// The chamber's.
    pub chamber: Option<(f64, usize)>,
    /// The sheet says that it homes.
    pub homes: bool,
    /// The sheet says that it feels or levels the bed.
    pub levels: bool,
    /// The sheet says that it pushes filament.
    pub primes: bool,
    /// The sheet says that it waits.
    pub waits: bool,
    /// The sheet says what it does; nothing else is claimed.
    pub is_defined: bool,
    /// Whether it leaves E absolute, where the sheet says so.
    pub absolute_e: Option<bool>,
    /// By its name it speaks of a piece of the job, or of a lamp, a fan, a mesh.
    pub is_aside: bool,
    /// By its name it keeps the modes (true) or takes them back up.
    pub keeps_modes: Option<bool>,
}

/// Words of a name that start a job.
const START: [&str; 13] = [
    "start",
    "begin",
    "init",
    "prepare",
    "preheat",
    "setup",
    "warm",
    "warmup",
    "home",
    "level",
    "calibrate",
    "prime",
    "job",
];
/// Words of a name that end a job.
const END: [&str; 10] = [
    "end", "finish", "finished", "stop", "cancel", "complete", "off", "cooldown", "shutdown",
    "done",
];
/// Words of a name that speak of a piece of the job: it starts and ends many times.
const PIECE: [&str; 3] = ["object", "layer", "tower"];
/// Words of a name that speak of something else than heat and motors: what they switch off or level
/// ends no job and heats nothing.
const OTHER: [&str; 12] = [
    "fan", "fans", "light", "lights", "led", "leds", "camera", "mesh", "filter", "sensor",
    "display", "beeper",
];
/// Words of a name that heat, or change to a tool that something else has heated.
const HEAT: [&str; 12] = [
    "heat",
    "heater",
    "temp",
    "temperature",
    "hotend",
    "bed",
    "chamber",
    "soak",
    "tool",
    "toolchange",
    "extruder",
    "nozzle",
];

pub(super) fn effects(line: &Line<'_>, setup: &Setup) -> MacroEffects {
    let mut effects = MacroEffects::default();
    let Some(name) = line.words.iter().find(|word| word.kind == Kind::Name) else {
        // M98: a file of the control's own.
        effects.role = Role::Start;
        return effects;
    };
    let name = String::from_utf8_lossy(name.bytes(line.bytes)).to_ascii_lowercase();
    if let Some(meaning) = setup
        .macros
        .iter()
        .find(|known| known.name.eq_ignore_ascii_case(&name))
    {
        let read = |told: &Option<String>| {
            let told = told.as_ref()?;
            if let Ok(fixed) = told.parse::<f64>() {
                return Some((fixed, 0));
            }
            parameters(line).find_map(|(index, key, value)| {
                key.eq_ignore_ascii_case(told)
                    .then(|| number(&value).map(|value| (value, index)))?
            })
        };
        effects.is_defined = true;
        effects.homes = meaning.homes;
        effects.waits = meaning.waits;
        effects.levels = meaning.levels;
        effects.primes = meaning.primes;
        effects.absolute_e = meaning.absolute_e;
        effects.hotend = read(&meaning.hotend);
        effects.bed = read(&meaning.bed);
        effects.chamber = read(&meaning.chamber);
        effects.role = if meaning.ends {
            Role::End
        } else if meaning.homes || effects.hotend.is_some() || effects.bed.is_some() {
            Role::Start
        } else {
            Role::Other
        };
        return effects;
    }
    let tokens: Vec<&str> = name.split(['_', '-', '.']).collect();
    let has = |words: &[&str]| tokens.iter().any(|token| words.contains(token));
    let mut told = Told::default();
    for (index, key, value) in parameters(line) {
        let Some(degrees) = number(&value).filter(|degrees| (0.0..=600.0).contains(degrees)) else {
            continue;
        };
        let Some((heated, clear)) = heated(&key.to_ascii_lowercase(), degrees) else {
            continue;
        };
        let slot = match heated {
            Heated::Hotend => &mut told.hotend,
            Heated::Bed => &mut told.bed,
            Heated::Chamber => &mut told.chamber,
        };
        // The clearest name wins, of equals the first: `EXTRUDER=0 EXTRUDER_TEMP=240` is 240 °C.
        if slot.is_none_or(|(known, ..)| clear > known) {
            *slot = Some((clear, degrees, index));
        }
    }
    let plain =
        |told: Option<(Clear, f64, usize)>| told.map(|(_, degrees, index)| (degrees, index));
    effects.hotend = plain(told.hotend);
    effects.bed = plain(told.bed);
    effects.chamber = plain(told.chamber);
    let carries = effects.hotend.is_some() || effects.bed.is_some();
    effects.keeps_modes = has(&["state"]).then_some(()).and_then(|()| {
        match (
            has(&["save", "push", "store"]),
            has(&["restore", "pop", "recall"]),
        ) {
            (true, false) => Some(true),
            (false, true) => Some(false),
            _ => None,
        }
    });
    let is_piece = has(&PIECE);
    let is_other = has(&OTHER);
    effects.is_aside = is_piece || is_other;
    effects.role = if has(&END) && !is_piece && !is_other {
        Role::End
    } else if carries || (has(&START) && !is_piece) {
        Role::Start
    } else if has(&HEAT) && !is_other {
        Role::Heat
    } else {
        Role::Other
    };
    effects
}

/// How clearly a parameter's name says that it carries a temperature, from least to most.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Clear {
    /// The place alone, with a plausible number: `BED=60`.
    Place,
    /// A temperature of nobody knows what: `TEMP=210`.
    Temperature,
    /// Both: `BED_TEMP=60`.
    Both,
}

#[derive(Default)]
struct Told {
    hotend: Option<(Clear, f64, usize)>,
    bed: Option<(Clear, f64, usize)>,
    chamber: Option<(Clear, f64, usize)>,
}

/// Words of a parameter's name that make it a temperature of something else than printing.
const ASIDE: [&str; 12] = [
    "probe", "probing", "soak", "standby", "idle", "wait", "min", "max", "limit", "delta",
    "offset", "cool",
];

enum Heated {
    Hotend,
    Bed,
    Chamber,
}

/// What a parameter's name heats, if it carries a temperature at all.
fn heated(key: &str, degrees: f64) -> Option<(Heated, Clear)> {
    let key: String = key.chars().filter(|c| !c.is_ascii_digit()).collect();
    let tokens: Vec<&str> = key
        .split(['_', '-', '.'])
        .filter(|token| !token.is_empty())
        .collect();
    if tokens.iter().any(|token| ASIDE.contains(token)) {
        return None;
    }
    let is_temperature = |token: &str| matches!(token, "temp" | "temps" | "temperature" | "t");
    let ends_so = |token: &str| token.ends_with("temp") || token.ends_with("temperature");
    let place = |token: &str| {
        if token.starts_with("chamber") {
            Some(Heated::Chamber)
        } else if token.starts_with("bed") || token.starts_with("plate") {
            Some(Heated::Bed)
        } else if ["hotend", "nozzle", "extruder", "tool"]
            .iter()
            .any(|word| token.starts_with(word))
        {
            Some(Heated::Hotend)
        } else {
            None
        }
    };
    let said = tokens.iter().any(|token| {
        is_temperature(token) && *token != "t" || (ends_so(token) && place(token).is_some())
    });
    let found = tokens.iter().find_map(|token| place(token));
    if said {
        return Some(match found {
            Some(place) => (place, Clear::Both),
            None => (Heated::Hotend, Clear::Temperature),
        });
    }
    // `BED=60`, `HOTEND=240`: the word alone, with a number that is no size and no index.
    match tokens.as_slice() {
        [one]
            if matches!(*one, "hotend" | "nozzle" | "extruder" | "bed" | "chamber")
                && (degrees == 0.0 || degrees >= 25.0) =>
        {
            found.map(|place| (place, Clear::Place))
        }
        _ => None,
    }
}

fn parameters<'a>(line: &'a Line<'_>) -> impl Iterator<Item = (usize, String, String)> + 'a {
    line.words
        .iter()
        .enumerate()
        .filter(|(_, word)| word.kind == Kind::Parameter)
        .map(|(index, word)| {
            (
                index,
                String::from_utf8_lossy(word.key(line.bytes)).into_owned(),
                String::from_utf8_lossy(word.parameter(line.bytes)).into_owned(),
            )
        })
}

/// Words in the names of parameters that set limits of motion (common practice, no source).
const LIMITS: [&str; 6] = [
    "accel",
    "acceleration",
    "velocity",
    "speed",
    "jerk",
    "corner",
];

/// The name of a macro that sets limits of motion, by the names of its parameters: what it sets only
/// its control knows.
pub(super) fn sets_limits(line: &Line<'_>) -> Option<String> {
    let name = line.words.iter().find(|word| word.kind == Kind::Name)?;
    let name = String::from_utf8_lossy(name.bytes(line.bytes)).into_owned();
    let of_heat_or_fan = |word: &str| HEAT.contains(&word) || OTHER.contains(&word);
    let lower = name.to_ascii_lowercase();
    if lower.split('_').any(of_heat_or_fan) {
        // A fan's speed is none of motion.
        return None;
    }
    let is_limit = |key: &str| {
        let key = key.to_ascii_lowercase();
        key.split('_').any(|word| LIMITS.contains(&word)) && !key.split('_').any(of_heat_or_fan)
    };
    parameters(line)
        .any(|(_, key, _)| is_limit(&key))
        .then_some(name)
}

fn number(text: &str) -> Option<f64> {
    let text = text.trim_matches('"');
    let plain = text
        .bytes()
        .all(|byte| byte.is_ascii_digit() || matches!(byte, b'.' | b'-' | b'+'));
    if plain { text.parse().ok() } else { None }
}

/// Does to the state what a macro does, or marks what it may have done.
pub(super) fn carry_out(
    state: &mut State,
    setup: &Setup,
    effects: &MacroEffects,
    line: &Line<'_>,
    word: usize,
) {
    warm_air(state, setup);
    let clock = state.clock;
    let tool = state.hotend_in_use();
    let waits = effects.waits;
    for (found, element, waits) in [
        // What heats the hotend and primes waits in between.
        (
            effects.hotend,
            state.hotends.get_mut(tool),
            waits || effects.primes,
        ),
        (effects.bed, Some(&mut state.bed), waits),
        (effects.chamber, Some(&mut state.chamber), waits),
    ] {
        let (Some((degrees, index)), Some(element)) = (found, element) else {
            continue;
        };
        if effects.is_defined && !waits {
            element.set(degrees, clock);
        } else {
            element.set_reached(degrees, clock);
        }
        element.setting = Setting {
            target: element.setting.target,
            by: Some(line.word(if index == 0 { word } else { index }).excerpt()),
            by_macro: true,
            awaited: if effects.is_defined {
                Known::Known(waits)
            } else {
                Known::Claimed
            },
        };
        state.heat_said = Known::Known(());
    }
    if let Some(on) = effects.absolute_e {
        state.absolute_e.set(on);
    }
    if effects.homes {
        state.homed = [Known::Known(()); 3];
        state.placed = [true; 3];
    }
    if effects.levels {
        feel(state, setup);
    }
    if effects.is_defined {
        // A sheet has no word for the modes that a start macro may set.
        if effects.role == Role::Start && !state.has_deposited {
            claim_modes(state);
        }
        if effects.role == Role::End {
            switch_off(state, line, word);
        }
        return;
    }
    match effects.role {
        Role::Start if !state.has_deposited => {
            for homed in &mut state.homed {
                if homed.is_unknown() {
                    *homed = Known::Claimed;
                }
            }
            claim_modes(state);
            claim_heat(state);
            if state.claims.start.is_none() {
                state.claims.start = Some(line.word(word).excerpt());
            }
        }
        Role::Heat => {
            claim_heat(state);
            if state.claims.start.is_none() {
                state.claims.start = Some(line.word(word).excerpt());
            }
        }
        Role::End => {
            if state.claims.end.is_none() {
                state.claims.end = Some(line.word(word).excerpt());
            }
        }
        Role::Start | Role::Other => {}
    }
}

/// Modes that the job did not declare, a macro may have.
fn claim_modes(state: &mut State) {
    for mode in [
        &mut state.absolute,
        &mut state.absolute_e,
        &mut state.inches,
    ] {
        if mode.declared.is_unknown() {
            mode.declared = Known::Claimed;
        }
    }
}

/// What the job did not set itself, a macro may have.
fn claim_heat(state: &mut State) {
    if state.heat_said.is_unknown() {
        state.heat_said = Known::Claimed;
    }
    let clock = state.clock;
    for element in elements(state) {
        // It may have waited, too.
        element.given_time(clock);
        let unsaid = match element.setting.target {
            Known::Unknown => true,
            // Set to 0 before the macro: so that the macro alone heats.
            Known::Known(target) => target == 0.0,
            Known::Claimed => false,
        };
        if unsaid {
            element.setting.target = Known::Claimed;
            element.setting.awaited = Known::Claimed;
        }
        if element.setting.awaited == Known::Known(false) || element.setting.awaited.is_unknown() {
            element.setting.awaited = Known::Claimed;
        }
    }
}

fn switch_off(state: &mut State, line: &Line<'_>, word: usize) {
    let clock = state.clock;
    for element in elements(state) {
        element.set(0.0, clock);
        element.setting.by = Some(line.word(word).excerpt());
    }
    state.motors_off = true;
}
