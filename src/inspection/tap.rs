//! Whoever goes along with a round.

use super::End;
use crate::machine::{Line, Motion, State, Step};
use crate::survey::Layer;

/// Whoever goes along with a round and sees all of it; nobody by default.
pub trait Tap {
    /// A motion has been carried out.
    #[inline]
    fn motion(&mut self, _motion: &Motion, _state: &State, _line: &Line<'_>) {}
    /// Another command has taken effect.
    fn step(&mut self, _step: &Step<'_>, _state: &State, _line: &Line<'_>) {}
    /// A line that is no plain motion, before its commands.
    fn remark(&mut self, _line: &Line<'_>, _state: &State) {}
    /// A layer is closed, and its deposit told apart.
    fn layer(&mut self, _layer: &Layer) {}
    /// The job has ended.
    fn conclude(&mut self, _end: &End<'_>) {}
}

impl Tap for () {}

/// Both go along, the first one first.
impl<A: Tap, B: Tap> Tap for (A, B) {
    #[inline]
    fn motion(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        self.0.motion(motion, state, line);
        self.1.motion(motion, state, line);
    }

    fn step(&mut self, step: &Step<'_>, state: &State, line: &Line<'_>) {
        self.0.step(step, state, line);
        self.1.step(step, state, line);
    }

    fn remark(&mut self, line: &Line<'_>, state: &State) {
        self.0.remark(line, state);
        self.1.remark(line, state);
    }

    fn layer(&mut self, layer: &Layer) {
        self.0.layer(layer);
        self.1.layer(layer);
    }

    fn conclude(&mut self, end: &End<'_>) {
        self.0.conclude(end);
        self.1.conclude(end);
    }
}
