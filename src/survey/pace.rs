//! How long strokes take and what flows meanwhile: planned moves, counted towards the strokes they
//! belong to.
//!
//! Moves are planned later than they are laid. A stroke that ends leaves a boundary, the number of
//! the move behind it; when the planner has passed that move, the stroke's pace is known.

use crate::machine::planner::{Kind, Planned};
use std::collections::VecDeque;

/// What is told of a stroke, and of the way to it, once its moves are planned.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Pace {
    /// Seconds in which filament is laid.
    pub print: f64,
    /// Seconds on the way.
    pub travel: f64,
    /// Seconds in which filament alone moves.
    pub retract: f64,
    /// Seconds spent waiting for heat.
    pub heating: f64,
    /// Seconds spent homing, probing, dwelling, changing tools.
    pub waiting: f64,
    /// The highest flow, mm³/s.
    pub peak_flow: f64,
    /// The highest mean flow over any whole second that ends in it, mm³/s.
    pub sustained_flow: f64,
    /// The highest speed while filament is laid, mm/s.
    pub speed: f64,
}

impl Pace {
    /// Seconds in all.
    #[must_use]
    pub fn seconds(&self) -> f64 {
        self.print + self.travel + self.retract + self.heating + self.waiting
    }

    /// Seconds in motion.
    #[must_use]
    pub fn moving(&self) -> f64 {
        self.print + self.travel + self.retract
    }

    /// Takes another stretch into this one.
    pub fn add(&mut self, other: &Self) {
        self.print += other.print;
        self.travel += other.travel;
        self.retract += other.retract;
        self.heating += other.heating;
        self.waiting += other.waiting;
        self.peak_flow = self.peak_flow.max(other.peak_flow);
        self.sustained_flow = self.sustained_flow.max(other.sustained_flow);
        self.speed = self.speed.max(other.speed);
    }
}

/// Strokes whose paces are on the way.
#[derive(Debug, Default)]
pub(super) struct Paces {
    /// Moves counted so far: the number of the next one.
    moves: u64,
    /// Moves planned so far.
    planned: u64,
    /// Where strokes end that are not planned yet.
    ends: VecDeque<u64>,
    /// The stretch at hand.
    open: Pace,
    /// Stretches that are known, in order.
    known: VecDeque<Pace>,
    second: Second,
    total: Pace,
}

impl Paces {
    /// A motion that moves anything has been seen.
    #[inline]
    pub const fn count(&mut self) {
        self.moves += 1;
    }

    /// What was seen so far belongs to a stretch of its own.
    pub fn end(&mut self) {
        self.ends.push_back(self.moves);
    }

    /// How many stretches are known and not taken.
    pub fn known(&self) -> usize {
        self.known.len()
    }

    /// The next known stretch.
    pub fn next(&mut self) -> Option<Pace> {
        self.known.pop_front()
    }

    /// All of the job so far.
    pub fn total(&mut self) -> Pace {
        self.close();
        self.total
    }

    /// The printer stands still and time passes.
    pub fn pass(&mut self, seconds: f64, is_heating: bool) {
        self.close();
        for pace in [&mut self.open, &mut self.total] {
            if is_heating {
                pace.heating += seconds;
            } else {
                pace.waiting += seconds;
            }
        }
        self.second.pass(seconds);
    }

    /// Takes planned moves.
    pub fn take(&mut self, planned: &Planned<'_>) {
        let count = planned.seconds.len();
        let mut from = 0;
        while from < count {
            self.close();
            let to = match self.ends.front() {
                Some(end) => ((end - planned.first) as usize).min(count),
                None => count,
            };
            self.stretch(planned, from..to);
            self.planned += (to - from) as u64;
            from = to;
        }
        self.close();
    }

    /// Closes the stretches that end where planning stands.
    pub fn close(&mut self) {
        while self.ends.front().is_some_and(|end| *end <= self.planned) {
            self.ends.pop_front();
            self.known.push_back(std::mem::take(&mut self.open));
        }
    }

    fn stretch(&mut self, planned: &Planned<'_>, range: std::ops::Range<usize>) {
        let (Some(kind), Some(seconds), Some(peak)) = (
            planned.kind.get(range.clone()),
            planned.seconds.get(range.clone()),
            planned.peak.get(range.clone()),
        ) else {
            return;
        };
        let (Some(volume), Some(flow), Some(rate)) = (
            planned.volume.get(range.clone()),
            planned.flow.get(range.clone()),
            planned.rate.get(range),
        ) else {
            return;
        };
        let mut by_kind = [0.0; 3];
        let (mut most_flow, mut most_speed) = (0.0, 0.0);
        let mut sustained = 0.0;
        let rows = kind
            .iter()
            .zip(seconds)
            .zip(peak)
            .zip(volume)
            .zip(flow)
            .zip(rate);
        for (((((kind, seconds), peak), volume), flow), rate) in rows {
            if let Some(sum) = by_kind.get_mut(*kind as usize) {
                *sum += seconds;
            }
            if *kind == Kind::Print && *peak > most_speed {
                most_speed = *peak;
            }
            if *flow > most_flow {
                most_flow = *flow;
            }
            let mean = self.second.add(*seconds, *volume, *rate);
            if mean > sustained {
                sustained = mean;
            }
        }
        let [print, travel, retract] = by_kind;
        let pace = Pace {
            print,
            travel,
            retract,
            heating: 0.0,
            waiting: 0.0,
            peak_flow: most_flow,
            sustained_flow: sustained,
            speed: most_speed,
        };
        self.open.add(&pace);
        self.total.add(&pace);
    }
}

/// The last second: what flowed in it.
#[derive(Debug, Default)]
struct Second {
    /// Stretches of even flow: seconds, mm³, mm³/s.
    parts: VecDeque<(f64, f64, f64)>,
    seconds: f64,
    volume: f64,
}

/// Shorter stretches are taken together, so that a second has no more than two thousand, s.
const GRAIN: f64 = 1.0 / 2048.0;

impl Second {
    /// Takes a stretch; gives the highest mean over any whole second that ends within it, mm³/s. The
    /// mean over a second is greatest where the second begins or ends with a stretch.
    #[inline]
    fn add(&mut self, seconds: f64, volume: f64, rate: f64) -> f64 {
        self.seconds += seconds;
        self.volume += volume;
        let mut rate = rate;
        match self.parts.back_mut() {
            Some(last) if last.0 + seconds < GRAIN => {
                last.0 += seconds;
                last.1 += volume;
                last.2 = last.1 / last.0;
                rate = last.2;
            }
            _ => self.parts.push_back((seconds, volume, rate)),
        }
        let mut most: f64 = 0.0;
        while let Some(&(first, laid, even)) = self.parts.front() {
            let over = self.seconds - 1.0;
            if over < first {
                // The second that ends here begins within the first stretch.
                most = most.max(self.volume - even * over.max(0.0));
                break;
            }
            self.seconds -= first;
            self.volume -= laid;
            self.parts.pop_front();
            // The second that begins behind it ends within the last stretch.
            most = most.max(self.volume - rate * (self.seconds - 1.0));
        }
        if self.parts.is_empty() {
            // Rounding does not pile up over a job.
            self.seconds = 0.0;
            self.volume = 0.0;
        }
        most
    }

    fn pass(&mut self, seconds: f64) {
        if seconds > 0.0 {
            self.add(seconds, 0.0, 0.0);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn most(parts: &[(f64, f64)]) -> f64 {
        let mut second = Second::default();
        parts.iter().fold(0.0, |most: f64, (seconds, rate)| {
            most.max(second.add(*seconds, seconds * rate, *rate))
        })
    }

    /// The same by trying every start of a second on a fine grid.
    fn tried(parts: &[(f64, f64)]) -> f64 {
        let end: f64 = parts.iter().map(|part| part.0).sum();
        let laid_until = |until: f64| {
            let (mut at, mut laid) = (0.0, 0.0);
            for (seconds, rate) in parts {
                laid += (until - at).clamp(0.0, *seconds) * rate;
                at += seconds;
            }
            laid
        };
        let steps = 20_000;
        (0..=steps).fold(0.0, |most: f64, step| {
            let to = end * f64::from(step) / f64::from(steps);
            most.max(laid_until(to) - laid_until((to - 1.0).max(0.0)))
        })
    }

    #[test]
    fn the_mean_over_a_second() {
        // Half a second of 10 mm³/s in a stretch of nothing.
        assert!((most(&[(2.0, 0.0), (0.5, 10.0), (2.0, 0.0)]) - 5.0).abs() < 1e-12);
        // Long and even.
        assert!((most(&[(3.0, 7.0)]) - 7.0).abs() < 1e-12);
        // Before a second has passed the rest of it counts as nothing.
        assert!((most(&[(0.25, 8.0)]) - 2.0).abs() < 1e-12);
        // The greatest second begins with a stretch and ends within the next.
        assert!((most(&[(5.0, 0.0), (0.6, 10.0), (5.0, 2.0)]) - 6.8).abs() < 1e-12);
    }

    proptest::proptest! {
        #[test]
        fn as_by_trying_every_second(
            parts in proptest::collection::vec((0.001_f64..1.5, 0.0_f64..20.0), 1..12)
        ) {
            let (ours, tried) = (most(&parts), tried(&parts));
            proptest::prop_assert!(ours >= tried - 1e-9, "{ours} below {tried}");
            proptest::prop_assert!(ours <= tried + 0.05, "{ours} above {tried}");
        }
    }
}
