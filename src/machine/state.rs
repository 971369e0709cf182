//! Everything the machine carries from one command to the next.

use super::heat::{Element, Setting};
use super::motion::Facts;
use super::setup::{Setup, Span};
use crate::command::{Guard, MotionWord, Plane};
use crate::finding::Excerpt;
use crate::physics::arc::Arc;
use std::rc::Rc;

/// Something that is known, unknown, or that a macro may have seen to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Known<T> {
    /// The job did not say.
    #[default]
    Unknown,
    /// A macro may have said; nobody here can know.
    Claimed,
    /// The job said.
    Known(T),
}

impl<T: Copy> Known<T> {
    /// The value where it is known.
    #[must_use]
    pub const fn get(self) -> Option<T> {
        match self {
            Self::Known(value) => Some(value),
            _ => None,
        }
    }

    /// Whether nothing and nobody has said anything.
    #[must_use]
    pub const fn is_unknown(self) -> bool {
        matches!(self, Self::Unknown)
    }

    /// Whether a macro may have seen to it.
    #[must_use]
    pub const fn is_claimed(self) -> bool {
        matches!(self, Self::Claimed)
    }
}

/// A mode, and whether the job declared it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Declared {
    /// The mode in force.
    pub on: bool,
    /// Whether the job said so; a macro may have.
    pub declared: Known<()>,
}

impl Declared {
    pub(super) const fn assumed(on: bool) -> Self {
        Self {
            on,
            declared: Known::Unknown,
        }
    }

    pub(super) const fn set(&mut self, on: bool) {
        self.on = on;
        self.declared = Known::Known(());
    }
}

/// What macros may have done, each with the first macro that may.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Claims {
    /// Heat, waits, homing, modes: a macro that starts a job.
    pub start: Option<Excerpt>,
    /// Heaters, motors and fans off: a macro that ends a job.
    pub end: Option<Excerpt>,
}

/// What holds while filament is laid: shared by every stroke laid under it.
#[derive(Debug, Clone, PartialEq)]
pub struct Conditions {
    /// The tool in use.
    pub tool: u32,
    /// The hotend in use.
    pub hotend: Setting,
    /// The bed.
    pub bed: Setting,
    /// The chamber.
    pub chamber: Setting,
    /// The part fans' share of full speed, 0 to 1; the strongest of them.
    pub fan: f64,
    /// The word that set it.
    pub fan_by: Option<Excerpt>,
    /// The flow factor, 1 for 100 %.
    pub flow: f64,
    /// The speed factor, 1 for 100 %.
    pub speed: f64,
}

/// The filament of one tool, pm.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Filament {
    /// Net E so far; resets are no motion.
    pub net: i64,
    /// The largest net E so far.
    pub most: i64,
}

/// The printer at one moment.
#[derive(Debug, Clone)]
pub struct State {
    /// Where the nozzle is, X, Y and Z, pm, in the machine's own coordinates.
    pub position: [i64; 3],
    /// Whether each axis' position is known.
    pub placed: [bool; 3],
    /// What a job's number lacks to the machine's own: machine = number + shift. X, Y, Z, E.
    pub shift: [i64; 4],
    /// The origins of the coordinate systems, machine coordinates, and which one is in force.
    pub(super) systems: [[i64; 3]; super::offsets::SYSTEMS],
    pub(super) system: usize,
    /// The shift that G92.2 and the end of a program lay aside, for G92.3 to apply again.
    pub(super) aside: [i64; 4],
    /// Where E stands, pm.
    pub e: i64,
    /// Filament by tool.
    pub filament: Vec<Filament>,
    /// Whether each axis was homed.
    pub homed: [Known<()>; 3],
    /// G90.
    pub absolute: Declared,
    /// M82.
    pub absolute_e: Declared,
    /// G20.
    pub inches: Declared,
    /// E words that rose and fell while nobody has declared how E is read: absolute ones rise.
    pub(super) e_unsure: Option<[u16; 2]>,
    /// Modes that a macro keeps: absolute X Y Z, absolute E, inches.
    pub(super) kept: Option<[bool; 3]>,
    /// The plane of arcs.
    pub plane: Plane,
    /// The motion mode in force.
    pub mode: MotionWord,
    /// The last arc.
    pub arc: Option<Arc>,
    /// G93.
    pub inverse_time: bool,
    /// The feed, mm/s, before the speed factor; 0 before the first F.
    pub feed: f64,
    /// The feed with the speed factor, mm/s, and seconds for a millimetre of it; 0 before the first F.
    pub(super) pace: f64,
    pub(super) per_pace: f64,
    /// The filament's diameter where E is a volume (M200), mm.
    pub volumetric: Option<f64>,
    /// The control's own retraction holds the filament back.
    pub held_back: bool,
    /// What holds while filament is laid.
    pub conditions: Rc<Conditions>,
    /// The tool chosen for the next M6.
    pub chosen: Option<u32>,
    /// The hotends by tool.
    pub hotends: Vec<Element>,
    /// The bed.
    pub bed: Element,
    /// The chamber's own heater.
    pub chamber: Element,
    pub(super) one_hotend: bool,
    /// The chamber's air as the bed and its heater warm it, °C; None where the sheet does not say
    /// enough for that.
    pub air: Option<f64>,
    pub(super) air_since: f64,
    /// The clock from which on it is brought up to it.
    pub(super) air_due: f64,
    /// What it was along the last wait, and on which clock.
    pub(super) air_course: Vec<(f64, f64)>,
    /// Seconds since the start, by feeds, dwells and waits, and an allowance for homing and probing;
    /// ramps are not in it.
    pub clock: f64,
    /// The clock when filament was last pushed, s; 0 before the first push.
    pub pushed_at: f64,
    /// Protections that are off, each with the word that switched it.
    pub guards_off: Vec<(Guard, Excerpt)>,
    /// Fans by index.
    pub fans: Vec<(u32, f64)>,
    /// The motors are off.
    pub motors_off: bool,
    /// A macro or a word has heated something.
    pub heat_said: Known<()>,
    /// What macros may have done.
    pub claims: Claims,
    /// Filament has been pushed while moving.
    pub has_deposited: bool,
    /// Something changed since filament was last pushed: the next push is looked at closely.
    pub(super) unsettled: Facts,
    /// Filament pushed since, pm.
    pub(super) fresh: i64,
    /// Where a motion may end without a closer look.
    pub(super) calm: [Span; 3],
    /// Up to these speeds in the plane and of Z no axis is asked for too much, mm/s.
    pub(super) slow: [f64; 2],
}

/// Seconds from one look at the chamber's air to the next (chosen: air and panels take minutes).
pub(super) const AIR_EVERY: f64 = 30.0;

impl State {
    /// The chamber's air on a clock no earlier than the last wait, °C; None where no model tells it.
    #[must_use]
    pub fn air_at(&self, clock: f64) -> Option<f64> {
        let later = self.air_course.partition_point(|(at, _)| *at < clock);
        let before = later.checked_sub(1).and_then(|at| self.air_course.get(at));
        match (before, self.air_course.get(later)) {
            (Some((from, one)), Some((to, other))) => {
                Some(one + (other - one) * (clock - from) / (to - from))
            }
            // The wait is over, or there was none.
            (_, None) => self.air,
            (None, Some((_, first))) => Some(*first),
        }
    }

    pub(super) fn new(setup: &Setup) -> Self {
        let ambient = setup.ambient;
        let bed = Element::new(setup.bed, ambient);
        let chamber = Element::new(
            setup
                .chamber_heater
                .unwrap_or(super::setup::HeatModel::CHAMBER),
            ambient,
        );
        let hotends: Vec<Element> = setup
            .tools
            .iter()
            .map(|tool| Element::new(tool.heat, ambient))
            .collect();
        Self {
            position: [0; 3],
            placed: [false; 3],
            shift: [0; 4],
            systems: [[0; 3]; super::offsets::SYSTEMS],
            system: 0,
            aside: [0; 4],
            e: 0,
            filament: vec![Filament::default(); setup.tools.len().max(1)],
            homed: [Known::Unknown; 3],
            absolute: Declared::assumed(true),
            absolute_e: Declared::assumed(true),
            inches: Declared::assumed(false),
            e_unsure: Some([0; 2]),
            kept: None,
            plane: Plane::Xy,
            mode: MotionWord::Straight,
            arc: None,
            inverse_time: false,
            feed: 0.0,
            pace: 0.0,
            per_pace: 0.0,
            volumetric: None,
            held_back: false,
            conditions: Rc::new(Conditions {
                tool: 0,
                hotend: Setting::default(),
                bed: Setting::default(),
                chamber: Setting::default(),
                fan: 0.0,
                fan_by: None,
                flow: 1.0,
                speed: 1.0,
            }),
            chosen: None,
            hotends,
            bed,
            one_hotend: setup.one_hotend,
            chamber,
            air: setup.chamber.map(|_| ambient),
            air_since: 0.0,
            air_due: setup.chamber.map_or(f64::INFINITY, |_| AIR_EVERY),
            air_course: Vec::new(),
            clock: 0.0,
            pushed_at: 0.0,
            guards_off: Vec::new(),
            fans: Vec::new(),
            motors_off: false,
            heat_said: Known::Unknown,
            claims: Claims::default(),
            has_deposited: false,
            fresh: 0,
            unsettled: Facts::FIRST_PUSH
                .with(Facts::FIRST_DEPOSIT)
                .with(Facts::FIRST_MOTION),
            calm: setup.calm(),
            slow: setup.slow(),
        }
    }

    /// The tool in use.
    #[must_use]
    pub fn tool(&self) -> u32 {
        self.conditions.tool
    }

    /// The index of the hotend of the tool in use.
    pub(super) fn hotend_in_use(&self) -> usize {
        if self.one_hotend {
            0
        } else {
            self.conditions.tool as usize
        }
    }

    /// The hotend of the tool in use.
    #[must_use]
    pub fn hotend(&self) -> Option<&Element> {
        self.hotends
            .get(self.hotend_in_use())
            .or_else(|| self.hotends.first())
    }

    /// The largest net E reached, over all tools, pm.
    #[must_use]
    pub fn filament_total(&self) -> i64 {
        self.filament
            .iter()
            .fold(0, |sum, tool| sum.saturating_add(tool.most))
    }
}
