//! What a job does, as digests: two jobs with the same digest do the same.

use crate::command::Command;
use crate::machine::{Motion, Setting, State, Step};

/// What a rework may promise to keep.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Characteristic {
    /// Where the nozzle goes.
    Path,
    /// What filament is laid where.
    Deposit,
    /// What filament is drawn back and pushed again, where and how fast.
    Retraction,
    /// What hotend, bed and chamber are set to, and what is awaited.
    Heat,
    /// What the fans are set to.
    Fan,
    /// At what feeds filament is laid.
    Feed,
    /// At what feeds all else moves.
    Travel,
}

impl Characteristic {
    /// All of them.
    pub const ALL: [Self; 7] = [
        Self::Path,
        Self::Deposit,
        Self::Retraction,
        Self::Heat,
        Self::Fan,
        Self::Feed,
        Self::Travel,
    ];

    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Path => "path",
            Self::Deposit => "deposit",
            Self::Heat => "heat",
            Self::Fan => "fan",
            Self::Retraction => "retraction",
            Self::Feed => "feed",
            Self::Travel => "travel",
        }
    }
}

/// A rolling digest of whole numbers in their order: two lanes of 64 bits, each mixed by a
/// multiplication. It tells mistakes apart, not attacks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Digest([u64; 2]);

impl Default for Digest {
    fn default() -> Self {
        Self([0x243f_6a88_85a3_08d3, 0x1319_8a2e_0370_7344])
    }
}

impl Digest {
    #[inline]
    fn add(&mut self, number: i64) {
        let [a, b] = &mut self.0;
        *a = (*a ^ number as u64)
            .wrapping_mul(0x9e37_79b9_7f4a_7c15)
            .rotate_left(29);
        *b = (*b)
            .rotate_left(31)
            .wrapping_add(number as u64)
            .wrapping_mul(0xd6e8_feb8_6659_fd93);
    }
}

/// What a job does.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Trace {
    path: Digest,
    deposit: Digest,
    heat: Digest,
    fan: Digest,
    retraction: Digest,
    feed: Digest,
    travel: Digest,
    /// Where it stands still once the first filament is pushed, and for how long.
    stops: Digest,
    /// Whether it waits for heat there.
    pub(super) waits_late: bool,
    /// The feed of the last motions that lay filament and of the last that do not, and how many follow
    /// each other at it.
    runs: [(u64, u64); 2],
    /// Motions in which anything moves.
    pub moves: u64,
    /// Moves that push filament.
    pub pushes: u64,
    /// Filament pushed, pm.
    pub pushed: i64,
}

impl Trace {
    /// Whether two jobs are alike in this.
    #[must_use]
    pub fn is_like(&self, other: &Self, characteristic: Characteristic) -> bool {
        match characteristic {
            Characteristic::Path => self.path == other.path && self.moves == other.moves,
            Characteristic::Deposit => self.deposit == other.deposit && self.pushed == other.pushed,
            Characteristic::Heat => self.heat == other.heat,
            Characteristic::Fan => self.fan == other.fan,
            Characteristic::Retraction => self.retraction == other.retraction,
            Characteristic::Feed => self.feed == other.feed && self.runs[0] == other.runs[0],
            Characteristic::Travel => self.travel == other.travel && self.runs[1] == other.runs[1],
        }
    }

    /// Whether two jobs that move alike take their time alike, up to the waits before anything is laid.
    #[must_use]
    pub fn stands_like(&self, other: &Self) -> bool {
        self.stops == other.stops
    }

    #[inline]
    pub(super) fn motion(&mut self, motion: &Motion, state: &State) {
        if !motion.moves() {
            return;
        }
        self.moves += 1;
        let ([x, y, z], [from_x, from_y, from_z]) = (motion.to, motion.from);
        let [x, y, z] = [x - from_x, y - from_y, z - from_z];
        self.path.add(level(x, y));
        if z != 0 {
            // With the moves before it: none else tells which of them rise.
            self.path.add(self.moves as i64);
            self.path.add(z);
        }
        if let Some(arc) = state.arc.as_ref().filter(|_| motion.is_arc) {
            for number in [arc.centre[0], arc.centre[1], arc.sweep] {
                self.path.add(number.to_bits() as i64);
            }
            self.path.add(i64::from(arc.clockwise));
        }
        self.deposit.add(motion.pushed);
        let again = motion.filament - motion.pushed;
        if again != 0 {
            // Drawn back, or pushed again: both with the moves before them.
            self.retraction.add(self.moves as i64);
            self.retraction.add(again);
        }
        let feed = motion.feed.to_bits();
        if motion.is_deposit() {
            run(&mut self.runs[0], &mut self.feed, feed);
        } else if motion.length > 0.0 {
            run(&mut self.runs[1], &mut self.travel, feed);
        } else {
            self.retraction.add(feed as i64);
        }
        if motion.pushed > 0 {
            self.pushes += 1;
            self.pushed = self.pushed.saturating_add(motion.pushed);
        }
    }

    pub(super) fn step(&mut self, step: &Step<'_>, state: &State) {
        if step.seconds > 0.0 && self.pushes > 0 {
            self.stops.add(self.moves as i64);
            self.stops.add(step.seconds.to_bits() as i64);
            self.waits_late |= step.command.heats();
        }
        // Each with the moves before it: the same setting elsewhere is another.
        if let Command::Fan { share, index } = step.command {
            self.fan.add(self.moves as i64);
            self.fan.add(i64::from(index));
            self.fan.add(share.to_bits() as i64);
        }
        if step.command.heats() || step.command == Command::Macro {
            let of = |setting: &Setting| setting.target.get().unwrap_or(-1.0).to_bits() as i64;
            self.heat.add(self.moves as i64);
            for hotend in &state.hotends {
                self.heat.add(of(&hotend.setting));
            }
            self.heat.add(of(&state.bed.setting));
            self.heat.add(of(&state.chamber.setting));
        }
        if let Command::Retract(back) = step.command {
            self.retraction.add(self.moves as i64);
            self.retraction.add(i64::from(back) - 7);
        }
        if let Command::FlowFactor { .. } = step.command {
            self.deposit.add(state.conditions.flow.to_bits() as i64);
        }
    }
}

/// Both level axes as one number.
#[inline]
fn level(x: i64, y: i64) -> i64 {
    x.wrapping_mul(0x2545_f491_4f6c_dd1d)
        .wrapping_add(y.rotate_left(32))
}

/// Another motion at a feed: feeds are counted as long as they stay, and digested when they change.
#[inline]
fn run(run: &mut (u64, u64), digest: &mut Digest, feed: u64) {
    if run.0 == feed {
        run.1 += 1;
        return;
    }
    digest.add(run.1 as i64);
    digest.add(feed as i64);
    *run = (feed, 1);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inspection::{Held, Round};
    use crate::rework::{Mending, Wanted};

    fn of(job: &str) -> Trace {
        let held = Held::default();
        let mending = Mending::new(&held, &Wanted::default());
        let mut round = Round::tapped(held, mending);
        round.take(job.as_bytes());
        let (inspected, mending) = round.finish_tapped();
        mending.done(&inspected.findings).trace
    }

    #[test]
    fn each_digest_sees_its_own() {
        use Characteristic::{Deposit, Fan, Feed, Heat, Path, Retraction, Travel};
        let base = "G28\nM104 S200\nM106 S128\nG1 X10 Y10 F1200\nG1 X20 E1\nG2 X30 Y10 I5 J0 E2\n\
                    G1 E1.5 F1800\nG0 X40 F6000\nG1 E2 F900\nG1 X50 E3 F600\n";
        let trace = of(base);
        for (from, to, seen) in [
            ("S200", "S210", &[Heat][..]),
            ("S128", "S127", &[Fan]),
            // The first deposit has the travel's feed.
            ("F1200", "F1201", &[Feed, Travel]),
            ("F600\n", "F601\n", &[Feed]),
            ("F6000", "F6001", &[Travel]),
            ("F1800", "F1801", &[Retraction]),
            ("F900", "F901", &[Retraction]),
            // Drawn back less, and pushed again by less.
            ("E1.5", "E1.6", &[Retraction]),
            ("E3", "E3.0001", &[Deposit]),
            ("X20 E1", "X20 E1.0001", &[Deposit]),
            ("X20 E1", "X20.001 E1", &[Path]),
            ("I5", "I5.01", &[Path]),
            ("G28\n", "G28 ; home\n", &[]),
            // The same words behind a move.
            (
                "M104 S200\nM106 S128\nG1 X10 Y10 F1200\n",
                "G1 X10 Y10 F1200\nM104 S200\nM106 S128\n",
                &[Heat, Fan],
            ),
        ] {
            let other = of(&base.replace(from, to));
            for characteristic in Characteristic::ALL {
                assert_eq!(
                    trace.is_like(&other, characteristic),
                    !seen.contains(&characteristic),
                    "{from} {to} {characteristic:?}"
                );
            }
        }
    }
}
