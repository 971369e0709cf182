//! Carrying out a motion: the hot half of the machine.

#![allow(
    clippy::indexing_slicing,
    reason = "an axis from 0 to 2 into arrays of three or four"
)]

use super::setup::{Setup, Span};
use super::state::{Known, State};
use super::step::warm_air;
use super::{FARTHEST, MILLIMETRE, mm};
use crate::command::{Axes, MotionWord, Plane};
use crate::physics::arc::{Arc, ArcFault, from_centre, from_radius};
use crate::physics::bead::filament_area;

/// What stands out about a motion, as bits: whoever watches names the ones it wants.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Facts(u32);

impl Facts {
    /// Nothing.
    pub const NONE: Self = Self(0);
    /// The first motion of the job.
    pub const FIRST_MOTION: Self = Self(1);
    /// The first push of filament since a setpoint, a tool or the clock outside motions changed, or
    /// a push while the hotend's temperature still changes.
    pub const FIRST_PUSH: Self = Self(1 << 1);
    /// The first deposit of the job.
    pub const FIRST_DEPOSIT: Self = Self(1 << 2);
    /// The nozzle goes where the axes do not reach.
    pub const OUT_OF_REACH: Self = Self(1 << 3);
    /// The nozzle goes below the bed.
    pub const BELOW_BED: Self = Self(1 << 4);
    /// An axis is asked for more speed than it has.
    pub const OVER_SPEED: Self = Self(1 << 5);
    /// An axis moves that was not homed.
    pub const UNHOMED: Self = Self(1 << 6);
    /// The words do not describe a motion: no number, no arc.
    pub const MALFORMED: Self = Self(1 << 7);
    /// The nozzle goes outside the printable area.
    pub const OUTSIDE_AREA: Self = Self(1 << 8);
    /// An arc, in any plane.
    pub const ARC: Self = Self(1 << 9);
    /// Filament is drawn back.
    pub const DRAWN_BACK: Self = Self(1 << 10);

    /// Both together.
    #[must_use]
    pub const fn with(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Whether they share one.
    #[must_use]
    pub const fn meets(self, other: Self) -> bool {
        self.0 & other.0 != 0
    }

    const fn without(self, other: Self) -> Self {
        Self(self.0 & !other.0)
    }
}

/// One motion, carried out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Motion {
    /// The word that asked for it.
    pub word: MotionWord,
    /// From, X, Y and Z, pm.
    pub from: [i64; 3],
    /// To.
    pub to: [i64; 3],
    /// The path's length, mm.
    pub length: f64,
    /// Seconds at the commanded feed, ramps left out; 0 where no feed is known.
    pub seconds: f64,
    /// The commanded feed with the speed factor, mm/s; 0 where none is known.
    pub feed: f64,
    /// Filament moved, pm; negative is drawn back.
    pub filament: i64,
    /// Filament pushed beyond what was drawn back before, pm.
    pub pushed: i64,
    /// Whether it is an arc in the XY plane: [`State::arc`] then. Kept apart, since a motion is moved
    /// about and an arc is rare and large.
    pub is_arc: bool,
    /// What stands out.
    pub facts: Facts,
}

impl Motion {
    /// Before the first motion.
    pub(super) const NONE: Self = Self {
        word: MotionWord::Straight,
        from: [0; 3],
        to: [0; 3],
        length: 0.0,
        seconds: 0.0,
        feed: 0.0,
        filament: 0,
        pushed: 0,
        is_arc: false,
        facts: Facts::NONE,
    };

    /// Anything moves at all: a line with nothing but a feed moves nothing.
    #[inline]
    #[must_use]
    pub const fn moves(&self) -> bool {
        self.length > 0.0 || self.filament != 0
    }

    /// Filament is laid along the way.
    #[inline]
    #[must_use]
    pub const fn is_deposit(&self) -> bool {
        self.pushed > 0 && (self.from[0] != self.to[0] || self.from[1] != self.to[1] || self.is_arc)
    }

    /// The box of the path in the plane, pm; `state` is the state after the motion.
    #[inline]
    #[must_use]
    pub fn bounds(&self, state: &State) -> (Span, Span) {
        if let Some(arc) = state.arc.as_ref().filter(|_| self.is_arc) {
            let [x0, y0, x1, y1] = arc.bounds();
            return (Span::mm(x0, x1), Span::mm(y0, y1));
        }
        let along = |a: i64, b: i64| Span {
            least: a.min(b),
            most: a.max(b),
        };
        (
            along(self.from[0], self.to[0]),
            along(self.from[1], self.to[1]),
        )
    }
}

/// How far below the bed's zero a nozzle may go, pm: a first-layer trim is no crash (chosen).
pub const BED_TOLERANCE: i64 = MILLIMETRE / 20;

/// Carries out one motion.
///
/// Written into `motion` and not returned: a motion is too large to be moved at every line.
#[inline(always)]
pub(super) fn carry_out(
    state: &mut State,
    setup: &Setup,
    word: Option<MotionWord>,
    axes: &Axes,
    motion: &mut Motion,
) {
    let word = word.unwrap_or(state.mode);
    state.mode = word;
    motion.word = word;
    let mut facts = Facts::NONE;
    let inches = state.inches.on;
    if axes.lacks_number(b"XYZEFIJKR") || axes.twice(b"XYZEFIJKR") {
        facts = facts.with(Facts::MALFORMED);
    }
    let mut way = [0_i64; 3];
    for (axis, letter) in [(0, b'X'), (1, b'Y'), (2, b'Z')] {
        let from = state.position[axis];
        let mut to = from;
        if let Some(number) = axes.nano(letter) {
            let number = if inches { inch(number) } else { number };
            let goal = if state.absolute.on {
                state.placed[axis] = true;
                number.saturating_add(state.shift[axis])
            } else {
                from.saturating_add(number)
            };
            to = goal.clamp(-FARTHEST, FARTHEST);
            if state.homed[axis].is_unknown() {
                facts = facts.with(Facts::UNHOMED);
            }
        }
        state.position[axis] = to;
        motion.from[axis] = from;
        motion.to[axis] = to;
        way[axis] = to - from;
    }
    let filament = axes
        .nano(b'E')
        .map_or(0, |number| extrude(state, number, inches));
    if state.e_unsure.is_some() && filament != 0 && way[0] | way[1] != 0 {
        guess_e(state, filament);
    }
    motion.filament = filament;
    if let Some(feed) = axes.nano(b'F') {
        let feed = if inches { inch(feed) } else { feed };
        state.feed = mm(feed) / 60.0;
        state.set_pace();
    }

    let [dx, dy, dz] = way;
    motion.is_arc = false;
    let length = if matches!(word, MotionWord::Clockwise | MotionWord::Counterclockwise)
        && axes.any(b"XYZIJKR")
    {
        facts = facts.with(Facts::ARC);
        match curve(state.plane, word, &motion.from, &motion.to, axes, inches) {
            Ok(Curve { arc: found, rise }) => {
                motion.is_arc = state.plane == Plane::Xy;
                state.arc = Some(found);
                if found.drift.abs() > ARC_TOLERANCE {
                    facts = facts.with(Facts::MALFORMED);
                }
                found.length_with(rise)
            }
            Err(_) => {
                facts = facts.with(Facts::MALFORMED);
                straight(dx, dy, dz)
            }
        }
    } else if dx | dy | dz == 0 {
        0.0
    } else {
        straight(dx, dy, dz)
    };
    motion.length = length;

    motion.pushed = 0;
    if filament != 0 {
        let tool = state.conditions.tool as usize;
        if let Some(reel) = state.filament.get_mut(tool) {
            reel.net = reel.net.saturating_add(filament);
            if reel.net > reel.most {
                motion.pushed = reel.net.saturating_sub(reel.most);
                reel.most = reel.net;
            } else if filament < 0 {
                facts = facts.with(Facts::DRAWN_BACK);
            }
        }
    }

    let feed = state.pace;
    motion.feed = feed;
    motion.seconds = if state.inverse_time && axes.any(b"F") {
        // G93: F is one over the minutes the move takes (NISTIR 6556, 3.5.19).
        60.0 / axes.get(b'F').filter(|f| *f > 0.0).unwrap_or(f64::INFINITY)
    } else {
        let way = if length > 0.0 {
            length
        } else {
            mm(filament.saturating_abs())
        };
        way * state.per_pace
    };
    // The air is that at the motion's begin.
    if state.clock >= state.air_due {
        warm_air(state, setup);
    }
    state.clock += motion.seconds;
    if motion.pushed > 0 {
        state.pushed_at = state.clock;
    }

    if length > 0.0 {
        let fast = feed > state.slow[0] || (dz != 0 && feed > state.slow[1]);
        let [x, y, z] = motion.to;
        let calm = &state.calm;
        let leaves = motion.is_arc
            || x < calm[0].least
            || x > calm[0].most
            || y < calm[1].least
            || y > calm[1].most
            || z < calm[2].least
            || z > calm[2].most
            || z < -BED_TOLERANCE;
        if fast || leaves {
            facts = facts.with(limits(setup, state, motion));
        }
    }
    motion.facts = facts;
    if state.unsettled != Facts::NONE {
        unsettled(state, motion);
    }
}

/// How far start and end may differ in their distance from the centre before an arc is none, mm.
/// RS-274 has 0.002 mm (NISTIR 6556, 3.5.3.2); words with three decimals cannot always keep that on a
/// printer's short arcs, and controls take more (chosen).
const ARC_TOLERANCE: f64 = 0.05;

#[inline]
fn straight(dx: i64, dy: i64, dz: i64) -> f64 {
    let (x, y, z) = (dx as f64, dy as f64, dz as f64);
    (x * x + y * y + z * z).sqrt() * (1.0 / MILLIMETRE as f64)
}

#[cold]
fn inch(number: i64) -> i64 {
    i64::try_from(i128::from(number) * 254 / 10).unwrap_or(0)
}

/// Filament moved by an E word, pm.
#[inline]
fn extrude(state: &mut State, number: i64, inches: bool) -> i64 {
    let mut number = if inches { inch(number) } else { number };
    let moved;
    if state.absolute_e.on {
        moved = number
            .saturating_add(state.shift[3])
            .saturating_sub(state.e);
        state.e = state.e.saturating_add(moved);
    } else {
        moved = number;
        state.e = state.e.saturating_add(moved);
    }
    number = moved;
    if let Some(diameter) = state.volumetric {
        // E is a volume: mm³ over the filament's area.
        number = (number as f64 / filament_area(diameter)).round() as i64;
    }
    number
}

/// Where no word has declared how E is read, the deposit tells: absolute numbers rise from move to
/// move, relative ones are as often smaller as larger than the one before.
#[inline(never)]
fn guess_e(state: &mut State, filament: i64) {
    const ENOUGH: u16 = 24;
    let declared = matches!(state.absolute_e.declared, Known::Known(()));
    let Some([rises, falls]) = state
        .e_unsure
        .as_mut()
        .filter(|_| !declared && state.absolute_e.on)
    else {
        state.e_unsure = None;
        return;
    };
    if filament > 0 {
        *rises += 1;
    } else {
        *falls += 1;
    }
    if *rises + *falls >= ENOUGH {
        if *falls * 4 >= ENOUGH {
            state.absolute_e.on = false;
        }
        state.e_unsure = None;
    }
}

struct Curve {
    arc: Arc,
    rise: f64,
}

#[inline(never)]
fn curve(
    plane: Plane,
    word: MotionWord,
    from: &[i64; 3],
    to: &[i64; 3],
    axes: &Axes,
    inches: bool,
) -> Result<Curve, ArcFault> {
    // The axes of the plane so that the third is their right-handed normal.
    let ([a, b], third, [first, second]) = match plane {
        Plane::Xy => ([0, 1], 2, [b'I', b'J']),
        Plane::Xz => ([2, 0], 1, [b'K', b'I']),
        Plane::Yz => ([1, 2], 0, [b'J', b'K']),
    };
    let pick = |point: &[i64; 3], axis: usize| mm(point.get(axis).copied().unwrap_or(0));
    let start = [pick(from, a), pick(from, b)];
    let end = [pick(to, a), pick(to, b)];
    let scale = if inches { 25.4 } else { 1.0 };
    let clockwise = word == MotionWord::Clockwise;
    let arc = match axes.get(b'R') {
        Some(radius) => from_radius(start, end, radius * scale, clockwise)?,
        None => {
            let offset = [first, second].map(|letter| axes.get(letter).unwrap_or(0.0) * scale);
            from_centre(start, end, offset, clockwise)?
        }
    };
    Ok(Curve {
        arc,
        rise: pick(to, third) - pick(from, third),
    })
}

/// A closer look at a motion that leaves the calm box, is fast, or is an arc.
#[inline(never)]
fn limits(setup: &Setup, state: &State, motion: &Motion) -> Facts {
    let Motion {
        from,
        to,
        feed,
        length,
        is_arc,
        ..
    } = motion;
    let mut facts = Facts::NONE;
    if to[2] < -BED_TOLERANCE && state.placed[2] && to[2] < from[2] {
        facts = facts.with(Facts::BELOW_BED);
    }
    for axis in 0..3 {
        if let Some(most) = setup.axis_speed[axis] {
            let speed = feed * mm((to[axis] - from[axis]).abs()) / length;
            // A hair over is the rounding of the length.
            if speed > most * (1.0 + 1e-9) {
                facts = facts.with(Facts::OVER_SPEED);
            }
        }
    }
    let arc = state.arc.as_ref().filter(|_| *is_arc);
    if let Some(reach) = &setup.reach {
        let offset = setup
            .tools
            .get(state.conditions.tool as usize)
            .map_or([0; 3], |tool| tool.offset);
        let mut out = false;
        for axis in 0..3 {
            let at = to[axis].saturating_add(offset[axis]);
            out |= to[axis] != from[axis]
                && state.placed[axis]
                && (at < reach[axis].least || at > reach[axis].most);
        }
        if let Some(arc) = arc {
            let [x0, y0, x1, y1] = arc.bounds();
            out |= x0 < mm(reach[0].least)
                || x1 > mm(reach[0].most)
                || y0 < mm(reach[1].least)
                || y1 > mm(reach[1].most);
        }
        if out {
            facts = facts.with(Facts::OUT_OF_REACH);
        }
    }
    if let Some(area) = setup.area.filter(|_| state.placed[0] && state.placed[1]) {
        let point = |axis: usize| Span {
            least: to[axis],
            most: to[axis],
        };
        let (x, y) = arc.map_or((point(0), point(1)), |arc| {
            let [x0, y0, x1, y1] = arc.bounds();
            (Span::mm(x0, x1), Span::mm(y0, y1))
        });
        if area.outside(x, y) > AREA_GRAIN {
            facts = facts.with(Facts::OUTSIDE_AREA);
        }
    }
    facts
}

/// An arc's box comes from binary fractions: nothing below a nanometre is outside, pm.
const AREA_GRAIN: i64 = MILLIMETRE / 1_000_000;

#[inline(never)]
fn unsettled(state: &mut State, motion: &mut Motion) {
    let mut facts = Facts::NONE;
    if state.unsettled.meets(Facts::FIRST_MOTION) {
        facts = facts.with(Facts::FIRST_MOTION);
        state.unsettled = state.unsettled.without(Facts::FIRST_MOTION);
    }
    if motion.pushed > 0 && state.unsettled.meets(Facts::FIRST_PUSH) {
        facts = facts.with(Facts::FIRST_PUSH);
        // Not one small push alone: a job may begin with beads of a few micrometres of filament.
        state.fresh = state.fresh.saturating_add(motion.pushed);
        let enough = state.fresh >= MILLIMETRE / 10;
        let settled = state
            .hotend()
            .is_none_or(|hotend| hotend.is_settled(state.clock));
        if settled && enough {
            state.unsettled = state.unsettled.without(Facts::FIRST_PUSH);
        }
    }
    if motion.is_deposit() && state.unsettled.meets(Facts::FIRST_DEPOSIT) {
        facts = facts.with(Facts::FIRST_DEPOSIT);
        state.unsettled = state.unsettled.without(Facts::FIRST_DEPOSIT);
        state.has_deposited = true;
    }
    motion.facts = motion.facts.with(facts);
}

impl State {
    /// Brings what is derived from feed and speed factor up to them.
    pub(super) fn set_pace(&mut self) {
        self.pace = self.feed * self.conditions.speed;
        self.per_pace = if self.pace > 0.0 {
            1.0 / self.pace
        } else {
            0.0
        };
    }

    /// The next push of filament is looked at closely.
    pub(super) const fn unsettle(&mut self) {
        self.fresh = 0;
        self.unsettled = self.unsettled.with(Facts::FIRST_PUSH);
    }

    /// Whether the axis was homed, or a macro may have.
    #[must_use]
    pub fn is_homed(&self, axis: usize) -> bool {
        self.homed
            .get(axis)
            .is_some_and(|homed| !matches!(homed, Known::Unknown))
    }
}
