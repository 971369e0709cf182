//! What the job's numbers lack to the machine's own: coordinate systems, G92, homing.
//!
//! A number is its machine coordinate less the origin of the coordinate system in force and less what
//! G92 set (NISTIR 6556, 3.5.5, 3.5.13, 3.5.18). [`State::shift`] is the sum of both, so that a motion
//! adds one number. Origins that the control has stored are not known and count as 0.

#![allow(
    clippy::indexing_slicing,
    reason = "an axis from 0 to 2 into arrays of three or four"
)]

use super::motion::Motion;
use super::setup::Setup;
use super::state::{Known, State};
use super::step::again;
use crate::command::{Axes, MotionWord, Plane};

/// The coordinate systems of RS-274: G54 to G59, G59.1 to G59.3.
pub(super) const SYSTEMS: usize = 9;

impl State {
    /// The origin of the coordinate system in force, machine coordinates, pm.
    #[must_use]
    pub fn origin(&self) -> [i64; 3] {
        self.systems.get(self.system).copied().unwrap_or([0; 3])
    }

    /// What G92 adds to the coordinate system's origin, X, Y, Z and E, pm.
    #[must_use]
    pub fn renamed(&self) -> [i64; 4] {
        let [x, y, z] = self.origin();
        let mut by = self.shift;
        for (by, origin) in by.iter_mut().zip([x, y, z, 0]) {
            *by = by.saturating_sub(origin);
        }
        by
    }

    fn shift_by(&mut self, renamed: [i64; 4]) {
        let [x, y, z] = self.origin();
        self.shift = renamed;
        for (shift, origin) in self.shift.iter_mut().zip([x, y, z, 0]) {
            *shift = shift.saturating_add(origin);
        }
    }
}

/// A number of the job in picometres.
fn scaled(state: &State, number: i64) -> i64 {
    if state.inches.on {
        i64::try_from(i128::from(number) * 254 / 10).unwrap_or(0)
    } else {
        number
    }
}

/// G54 to G59.3: another coordinate system; what G92 set stays.
pub(super) fn select(state: &mut State, system: u8) {
    let renamed = state.renamed();
    state.system = usize::from(system).min(SYSTEMS - 1);
    state.shift_by(renamed);
}

/// `G10 L2 P1 X5`: the first system's origin lies at the machine's X5. `G10 L20 P1 X5`: it lies so
/// that the nozzle stands at X5. P0 is the system in force; what G92 set stays. L20 and P0 are common
/// practice, no source.
pub(super) fn set_coordinates(state: &mut State, axes: &Axes) {
    let whole = |letter: u8| axes.get(letter).filter(|number| number.fract() == 0.0);
    let is_here = match whole(b'L') {
        Some(2.0) => false,
        Some(20.0) => true,
        _ => return,
    };
    let system = match whole(b'P') {
        Some(0.0) => state.system,
        Some(number) if (1.0..=SYSTEMS as f64).contains(&number) => number as usize - 1,
        _ => return,
    };
    let renamed = state.renamed();
    for (axis, letter) in [(0, b'X'), (1, b'Y'), (2, b'Z')] {
        let Some(number) = axes.nano(letter) else {
            continue;
        };
        let number = scaled(state, number);
        let origin = if is_here {
            state.position[axis]
                .saturating_sub(renamed[axis])
                .saturating_sub(number)
        } else {
            number
        };
        if let Some(of_system) = state.systems.get_mut(system) {
            of_system[axis] = origin;
        }
    }
    state.shift_by(renamed);
}

/// Homes the axes named, or all; gives the seconds it takes.
pub(super) fn home(state: &mut State, setup: &Setup, axes: &Axes) -> f64 {
    let named = [b'X', b'Y', b'Z'].map(|letter| axes.named(letter));
    let all = !named.iter().any(|named| *named);
    let origin = state.origin();
    let moves = setup.dialect.g28_moves_home;
    if moves && !all {
        // RS-274: a rapid to the named point, then every axis home (NISTIR 6556, 3.5.8). The motion
        // mode in force stays, and so do offsets.
        let mode = state.mode;
        let rapid = Some(MotionWord::Rapid);
        again(state, setup, rapid, axes, &mut Motion::NONE.clone());
        state.mode = mode;
    }
    let mut seconds = 0.0;
    for (axis, named) in named.into_iter().enumerate() {
        if all || named || moves {
            state.position[axis] = setup.home[axis];
            state.placed[axis] = true;
            if !moves {
                state.shift[axis] = origin[axis];
            }
            state.homed[axis] = Known::Known(());
            seconds += setup.homing[axis];
        }
    }
    seconds
}

/// Up to this far Z may be named anew before the first deposit as a trim of the first layer, pm
/// (chosen).
const TRIM: i64 = 3 * super::MILLIMETRE;

/// G92: the present point gets other numbers.
pub(super) fn set_position(state: &mut State, axes: &Axes) {
    let bare = !axes.any(b"XYZE") && !axes.lacks_number(b"XYZE");
    let origin = state.origin();
    for (axis, letter) in [(0, b'X'), (1, b'Y'), (2, b'Z')] {
        if let Some(number) = axes.nano(letter).or(bare.then_some(0)) {
            let point = scaled(state, number).saturating_add(origin[axis]);
            let by = state.position[axis].saturating_sub(point);
            if axis == 2 && !state.has_deposited && (-TRIM..0).contains(&by) {
                // Z named higher after homing is a trim: home lies that far above the bed.
                state.position[2] = point;
                state.shift[2] = origin[2];
                continue;
            }
            state.shift[axis] = by.saturating_add(origin[axis]);
        }
    }
    if let Some(number) = axes.nano(b'E').or((bare || axes.named(b'E')).then_some(0)) {
        state.shift[3] = state.e.saturating_sub(scaled(state, number));
    }
}

/// G92.1 (forgets) and G92.2 (lays aside): the coordinate system alone counts.
pub(super) fn lay_aside(state: &mut State, forgets: bool) {
    let renamed = state.renamed();
    if forgets {
        state.aside = [0; 4];
    } else if renamed != [0; 4] {
        state.aside = renamed;
    }
    state.shift_by([0; 4]);
}

/// G92.3: what was laid aside counts again.
pub(super) fn take_up(state: &mut State) {
    if state.renamed() == [0; 4] {
        state.shift_by(state.aside);
    }
}

/// NISTIR 6556, 3.6.1: offsets as G92.2 and G54, G17, G90, G94, motion mode G1.
pub(super) fn end_program(state: &mut State) {
    lay_aside(state, false);
    select(state, 0);
    state.plane = Plane::Xy;
    state.absolute.on = true;
    state.inverse_time = false;
    state.mode = MotionWord::Straight;
}
