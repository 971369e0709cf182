//! Hotend, bed and chamber along the time of a job: as commanded, and as the model of the heaters has them.

use crate::inspection::{End, Tap};
use crate::machine::{Element, Line, Motion, State, Step};
use crate::survey::Reach;

/// The most moments kept; past it neighbours are taken together (chosen: finer than any screen).
pub const MOMENT_CAP: usize = 2048;

/// Seconds between moments where nothing is commanded, before any are taken together (chosen).
const EVERY: f64 = 2.0;

/// Moments within one wait (chosen: enough to draw how an element warms).
const WITHIN_WAIT: u32 = 12;

/// One heating element at a moment, °C; None where it is not known.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Series {
    /// As commanded; 0 is off.
    pub set: Option<Reach>,
    /// As the model has it.
    pub is: Option<Reach>,
}

/// A moment of a job, or several neighbours past the cap.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Moment {
    /// Seconds into the job, by feeds as commanded and waits as modelled.
    pub from: f64,
    /// Where it ends: `from`, but for several taken together.
    pub to: f64,
    /// The hotend in use.
    pub hotend: Series,
    /// The bed.
    pub bed: Series,
    /// The chamber: its heater as commanded, its air as modelled.
    pub chamber: Series,
}

/// Collects moments while a job goes by.
#[derive(Debug)]
pub struct Heat {
    moments: Vec<Moment>,
    every: f64,
    next: f64,
    cap: usize,
}

impl Default for Heat {
    fn default() -> Self {
        Self {
            moments: Vec::new(),
            every: EVERY,
            next: 0.0,
            cap: MOMENT_CAP,
        }
    }
}

impl Series {
    fn of(element: &Element, clock: f64) -> Self {
        Self {
            set: one(element.setting.target.get()),
            is: one(element.temperature(clock).get()),
        }
    }

    fn join(&mut self, other: &Self) {
        Reach::join(&mut self.set, other.set);
        Reach::join(&mut self.is, other.is);
    }
}

fn one(value: Option<f64>) -> Option<Reach> {
    value.map(|value| Reach {
        least: value,
        most: value,
    })
}

impl Moment {
    fn join(&mut self, next: &Self) {
        self.from = self.from.min(next.from);
        self.to = self.to.max(next.to);
        self.hotend.join(&next.hotend);
        self.bed.join(&next.bed);
        self.chamber.join(&next.chamber);
    }
}

impl Heat {
    /// As by default, with another cap, which is even.
    #[cfg(test)]
    fn with_cap(cap: usize) -> Self {
        Self {
            cap,
            ..Self::default()
        }
    }

    /// The moments, in the order of the job.
    #[must_use]
    pub fn moments(&self) -> &[Moment] {
        &self.moments
    }

    /// Notes what is so `before` seconds before now: nothing was commanded since.
    #[cold]
    fn note(&mut self, state: &State, before: f64) {
        let clock = state.clock - before;
        self.moments.push(Moment {
            from: clock,
            to: clock,
            hotend: state
                .hotend()
                .map(|hotend| Series::of(hotend, clock))
                .unwrap_or_default(),
            bed: Series::of(&state.bed, clock),
            chamber: Series {
                set: one(state.chamber.setting.target.get()),
                is: one(state.air_at(clock)),
            },
        });
        self.next = state.clock + self.every;
        if self.moments.len() >= self.cap {
            self.every *= 2.0;
            let mut coarse = Vec::with_capacity(self.cap);
            for pair in self.moments.chunks(2) {
                let mut joined = Moment::default();
                if let [first, rest @ ..] = pair {
                    joined = *first;
                    rest.iter().for_each(|next| joined.join(next));
                }
                coarse.push(joined);
            }
            self.moments = coarse;
        }
    }
}

impl Tap for Heat {
    #[inline]
    fn motion(&mut self, _motion: &Motion, state: &State, _line: &Line<'_>) {
        if state.clock >= self.next {
            self.note(state, 0.0);
        }
    }

    fn step(&mut self, step: &Step<'_>, state: &State, _line: &Line<'_>) {
        // A dwell of a moment, or one of a million of them, is seen with the motions around it.
        if step.seconds >= self.every {
            for part in (1..=WITHIN_WAIT).rev() {
                let share = f64::from(part) / f64::from(WITHIN_WAIT);
                self.note(state, step.seconds * share);
            }
            self.note(state, 0.0);
        } else if step.command.heats() || state.clock >= self.next {
            self.note(state, 0.0);
        }
    }

    fn conclude(&mut self, end: &End<'_>) {
        self.note(end.state, 0.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inspection::{Held, Round};
    use crate::sheet::library;
    use std::sync::Arc;

    fn heat_of(job: &str, cap: usize) -> Vec<Moment> {
        let held = Held {
            machine: Some(Arc::new(library::machine("closed-hardened").unwrap())),
            ..Held::default()
        };
        let mut round = Round::tapped(held, Heat::with_cap(cap));
        round.take(job.as_bytes());
        round.finish_tapped().1.moments().to_vec()
    }

    /// A long job with one short peak.
    fn job() -> String {
        let mut job = "G21\nG90\nM83\nM190 S60\nM109 S210\nG28\nG1 X10 Y10 Z0.2 F6000\n".to_owned();
        for move_ in 0..4000 {
            if move_ == 1777 {
                job += "M109 S255\nM109 R210\n";
            }
            job += if move_ % 2 == 0 {
                "G1 X90 E3 F1800\n"
            } else {
                "G1 X10 E3\n"
            };
        }
        job
    }

    #[test]
    fn coarse_moments_keep_extremes_and_order() {
        let (fine, coarse) = (heat_of(&job(), 1 << 20), heat_of(&job(), 64));
        assert!(
            fine.len() > 1000 && coarse.len() <= 64,
            "{} {}",
            fine.len(),
            coarse.len()
        );
        let most = |of: &[Moment]| {
            of.iter()
                .filter_map(|moment| moment.hotend.set)
                .map(|set| set.most)
                .fold(0.0, f64::max)
        };
        assert_eq!(most(&fine), 255.0);
        assert_eq!(most(&coarse), 255.0);
        for moments in [&fine, &coarse] {
            for pair in moments.windows(2) {
                assert!(pair[0].to <= pair[1].from + 1e-9, "{pair:?}");
            }
        }
        let (first, last) = (fine[0], *fine.last().unwrap());
        assert!((coarse[0].from - first.from).abs() < 1e-9);
        assert!((coarse.last().unwrap().to - last.to).abs() < 1e-9);
    }

    #[test]
    fn a_wait_is_drawn_as_it_warms() {
        let moments = heat_of(&job(), 1 << 20);
        let warming: Vec<f64> = moments
            .iter()
            .filter_map(|moment| moment.bed.is)
            .map(|is| is.most)
            .take_while(|is| *is < 58.0)
            .collect();
        assert!(warming.len() >= 8, "{warming:?}");
        assert!(
            warming.windows(2).all(|pair| pair[0] <= pair[1]),
            "{warming:?}"
        );
    }
}
