//! The tool head comes near what stands on the bed already: it is wider than its nozzle.

use super::skyline::{Skyline, Tall, micro, milli};
use super::standing::DEEPER;
use crate::machine::{MILLIMETRE, Motion, State, pm};

/// So much farther than it reaches is looked, mm: as long as the nozzle stays within what is free, no further
/// look is needed (chosen).
const AHEAD: f64 = 15.0;

/// Places along a way are looked at so far apart, mm.
const STEP: f64 = 1.0;

/// The most places looked at along one way.
const STEPS: f64 = 4096.0;

/// Cells looked at over a whole job, at most.
const LOOKS: usize = 1 << 30;

/// What of the machine moves along with the nozzle above it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reaching {
    /// The tool head.
    Head,
    /// What carries it, over the whole bed along X, or along Y.
    Rods(usize),
}

/// How far something reaches around the nozzle, and from which height above the nozzle's tip on.
#[derive(Debug, Clone, Copy)]
pub struct Reaches {
    /// What it is.
    pub what: Reaching,
    /// mm.
    pub reach: f64,
    /// mm.
    pub above: f64,
}

/// It comes nearer to what stands than it is wide.
#[derive(Debug, Clone, Copy)]
pub struct Near {
    /// What does.
    pub what: Reaching,
    /// How far from the nozzle's middle that stands, mm.
    pub apart: f64,
    /// How high it stands, and how high the nozzle is, mm.
    pub top: f64,
    /// mm.
    pub nozzle: f64,
}

/// Around a place nothing that stands higher than `than` is nearer than reach and `free` together, mm.
#[derive(Debug, Clone, Copy)]
struct Free {
    at: [f64; 2],
    than: i32,
    free: f64,
}

#[derive(Debug)]
struct Around {
    reaches: Reaches,
    above: i32,
    free: Option<Free>,
}

/// Follows the head over what stands.
#[derive(Debug)]
pub(super) struct Head {
    map: Skyline,
    around: Vec<Around>,
    looks: usize,
}

impl Head {
    pub fn new(reaches: &[Reaches]) -> Self {
        let around = |reaches: &Reaches| Around {
            reaches: *reaches,
            above: (reaches.above * 1000.0) as i32,
            free: None,
        };
        Self {
            map: Skyline::default(),
            around: reaches.iter().map(around).collect(),
            looks: LOOKS,
        }
    }

    /// Nothing stands, or nobody knows what does.
    pub fn forget(&mut self) {
        self.map.clear();
        for around in &mut self.around {
            around.free = None;
        }
    }

    /// Where a motion comes nearest to what stands, if it is too near.
    pub fn motion(&mut self, motion: &Motion, state: &State) -> [Option<Near>; 2] {
        let mut near = [None; 2];
        let low = micro(motion.from[2].min(motion.to[2]));
        let Self { map, around, looks } = self;
        for (around, near) in around.iter_mut().zip(&mut near) {
            if low.saturating_add(around.above) < map.most() {
                *near = around.along(motion, state, map, looks);
            }
        }
        if motion.is_deposit() {
            self.lay(motion, state);
        }
        near
    }

    /// How far below the top of what it goes through a level travel passes, mm; None where it goes
    /// through nothing.
    pub fn through(&mut self, motion: &Motion) -> Option<f64> {
        let ([fx, fy, fz], [tx, ty, tz]) = (motion.from, motion.to);
        let than = micro(tz.saturating_add(DEEPER));
        if fz != tz || motion.is_arc || than >= self.map.most() || self.looks == 0 {
            return None;
        }
        let (top, looked) = self.map.across([fx, fy], [tx, ty], than);
        self.looks = self.looks.saturating_sub(looked);
        Some(milli(top? - micro(tz)))
    }

    fn lay(&mut self, motion: &Motion, state: &State) {
        let ([fx, fy, _], [tx, ty, z]) = (motion.from, motion.to);
        let height = micro(z);
        for around in &mut self.around {
            if around.free.is_some_and(|free| free.than < height) {
                around.free = None;
            }
        }
        let Some(arc) = state.arc.as_ref().filter(|_| motion.is_arc) else {
            self.map.lay([fx, fy], [tx, ty], z);
            return;
        };
        let pieces = ((arc.length() / 0.5).ceil() as u32).clamp(1, 2048);
        let at = |piece: u32| arc.point(f64::from(piece) / f64::from(pieces)).map(pm);
        for piece in 0..pieces {
            self.map.lay(at(piece), at(piece + 1), z);
        }
    }
}

impl Around {
    #[inline(never)]
    fn along(
        &mut self,
        motion: &Motion,
        state: &State,
        map: &Skyline,
        looks: &mut usize,
    ) -> Option<Near> {
        let mm = |at: i64| at as f64 / MILLIMETRE as f64;
        let (from, to) = (motion.from.map(mm), motion.to.map(mm));
        let arc = state.arc.as_ref().filter(|_| motion.is_arc);
        let at = |share: f64| -> [f64; 3] {
            let [x, y] = arc.map_or_else(
                || [0, 1].map(|axis: usize| between(from, to, axis, share)),
                |arc| arc.point(share),
            );
            [x, y, between(from, to, 2, share)]
        };
        let level = arc.is_some() || from[0] != to[0] || from[1] != to[1];
        let length = if level { motion.length } else { 0.0 };
        let step = (length / STEPS).max(STEP);
        let mut nearest: Option<Near> = None;
        let mut gone = step.min(length);
        loop {
            let share = if length > 0.0 { gone / length } else { 1.0 };
            let [x, y, z] = at(share);
            let (near, free) = self.at([x, y], z, map, looks);
            if let Some(near) = near
                && nearest.is_none_or(|nearest| near.apart < nearest.apart)
            {
                nearest = Some(near);
            }
            if gone >= length {
                return nearest;
            }
            // As far as is free nothing need be looked at, but where the nozzle sinks on the way.
            let ahead = if to[2] < from[2] {
                step
            } else {
                free.max(step)
            };
            gone = (gone + ahead).min(length);
        }
    }

    /// What is too near at a place, and how far around it is free.
    fn at(
        &mut self,
        at: [f64; 2],
        z: f64,
        map: &Skyline,
        looks: &mut usize,
    ) -> (Option<Near>, f64) {
        let than = ((z * 1000.0).round() as i32).saturating_add(self.above);
        if than >= map.most() {
            return (None, 0.0);
        }
        if let Some(free) = self.free.filter(|free| free.than <= than) {
            let left = free.free - (free.at[0] - at[0]).hypot(free.at[1] - at[1]);
            if left > 0.0 {
                return (None, left);
            }
        }
        if *looks == 0 {
            return (None, 0.0);
        }
        let reach = self.reaches.reach;
        let axis = match self.reaches.what {
            Reaching::Head => None,
            Reaching::Rods(along) => Some(1 - along.min(1)),
        };
        let (tall, looked) = map.nearest(at, axis, than, reach + AHEAD);
        *looks = looks.saturating_sub(looked);
        let free = tall.map_or(AHEAD, |tall| tall.apart - reach);
        self.free = (free > 0.0).then_some(Free { at, than, free });
        let near = |Tall { apart, top }: Tall| Near {
            what: self.reaches.what,
            apart,
            top: milli(top),
            nozzle: z,
        };
        (tall.filter(|_| free < -1e-9).map(near), free.max(0.0))
    }
}

fn between(from: [f64; 3], to: [f64; 3], axis: usize, share: f64) -> f64 {
    let (from, to) = (
        from.get(axis).copied().unwrap_or_default(),
        to.get(axis).copied().unwrap_or_default(),
    );
    from + (to - from) * share
}
