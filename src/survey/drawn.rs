//! Filament that is drawn back: how often, how far, how fast, and how often over the same piece.
//!
//! Fed by motions that draw filament back alone. What lies between two of them shows in the reel: where
//! the filament stands further ahead than the last one left it, it was pushed in between, and the next
//! drawing back is another retraction; otherwise it goes on with the same one.

use crate::command::Command;
use crate::machine::{MILLIMETRE, Motion, State, Step, mm};

/// A piece of filament, pm: a retraction counts on every piece of it (chosen).
const PIECE: i64 = MILLIMETRE / 10;

/// How far behind the furthest push pieces are told apart: 64 mm. What is drawn back further, such as
/// at the end of a job, passes the drive for good.
const PIECES: usize = 640;

/// The most tools followed; the last one stands for any more.
const TOOLS: usize = 16;

/// What is drawn back over a job. Lengths are in filament, and speeds as commanded.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Retractions {
    /// How many.
    pub count: u64,
    /// Filament drawn back in all, mm.
    pub total: f64,
    /// The longest, mm, and its first line; several motions on end are one retraction.
    pub longest: Option<(f64, u64)>,
    /// The fastest, mm/s, and its line; None where no motion has a feed.
    pub fastest: Option<(f64, u64)>,
    /// How many go over one and the same piece of filament, at most. The drive grips it once on the
    /// way forward, and twice more for each.
    pub over_one_piece: u32,
    /// How many the control makes itself, by its own length and speed (G10): counted here and nowhere
    /// else.
    pub by_control: u64,
}

/// The filament of one tool.
#[derive(Debug, Clone)]
struct Reel {
    /// Net filament after the last motion that drew back, pm.
    net: i64,
    /// The retraction at hand, pm, and its first line.
    open: i64,
    line: u64,
    /// How often each of the pieces was drawn back, a ring; and the piece behind the furthest.
    pieces: Box<[u32; PIECES]>,
    ahead: i64,
}

/// Follows what is drawn back.
#[derive(Debug, Default)]
pub(super) struct Drawn {
    reels: Vec<Reel>,
    sum: Retractions,
    total: i128,
}

impl Drawn {
    /// A motion has drawn filament back; `state` is the state after it.
    pub fn motion(&mut self, motion: &Motion, state: &State, line: u64) {
        let back = motion.filament.saturating_neg();
        let tool = state.tool() as usize;
        let Some(filament) = state.filament.get(tool).filter(|_| back > 0) else {
            return;
        };
        let tool = tool.min(TOOLS - 1);
        while self.reels.len() <= tool {
            self.reels.push(Reel {
                net: i64::MAX,
                open: 0,
                line: 0,
                pieces: Box::new([0; PIECES]),
                ahead: 0,
            });
        }
        let Some(reel) = self.reels.get_mut(tool) else {
            return;
        };
        let before = filament.net.saturating_add(back);
        if before != reel.net {
            reel.open = 0;
            reel.line = line;
            self.sum.count += 1;
        }
        reel.net = filament.net;
        reel.open = reel.open.saturating_add(back);
        self.total += i128::from(back);
        if self
            .sum
            .longest
            .is_none_or(|(longest, _)| mm(reel.open) > longest)
        {
            self.sum.longest = Some((mm(reel.open), reel.line));
        }
        // A motion with a way has its feed along that; its filament goes by the time it takes.
        if motion.seconds > 0.0 {
            let speed = mm(back) / motion.seconds;
            if self.sum.fastest.is_none_or(|(fastest, _)| speed > fastest) {
                self.sum.fastest = Some((speed, line));
            }
        }
        let most = reel.pass(filament.net, before, filament.most);
        self.sum.over_one_piece = self.sum.over_one_piece.max(most);
    }

    /// The control may draw back itself.
    pub fn step(&mut self, step: &Step<'_>) {
        if step.command == Command::Retract(true) {
            self.sum.by_control += 1;
        }
    }

    pub fn finish(mut self) -> Retractions {
        self.sum.total = self.total as f64 / MILLIMETRE as f64;
        self.sum
    }
}

impl Reel {
    /// The filament from `from` to `to` passes the drive backwards, `most` being the furthest it ever
    /// was. Gives how often the piece with the most was drawn back.
    fn pass(&mut self, from: i64, to: i64, most: i64) -> u32 {
        let piece = |at: i64| at.div_euclid(PIECE);
        let ahead = piece(most) + 1;
        let fresh = ahead.saturating_sub(self.ahead).clamp(0, PIECES as i64);
        for piece in ahead - fresh..ahead {
            if let Some(count) = self.pieces.get_mut(slot(piece)) {
                *count = 0;
            }
        }
        self.ahead = ahead.max(self.ahead);
        // Whole pieces, by their middles; at least the one it ends in.
        let last = piece(to - PIECE / 2);
        let first = piece(from + PIECE / 2).min(last).max(ahead - PIECES as i64);
        let mut highest = 0;
        for piece in first..=last {
            if let Some(count) = self.pieces.get_mut(slot(piece)) {
                *count += 1;
                highest = highest.max(*count);
            }
        }
        highest
    }
}

fn slot(piece: i64) -> usize {
    piece.rem_euclid(PIECES as i64) as usize
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine::{Facts, Line, Machine, Observer, Setup};

    #[derive(Default)]
    struct Kept(Drawn);

    impl Observer for Kept {
        fn motion(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
            if motion.facts.meets(Facts::DRAWN_BACK) {
                self.0.motion(motion, state, line.number);
            }
        }
        fn step(&mut self, step: &Step<'_>, _: &State, _: &Line<'_>) {
            self.0.step(step);
        }
        fn remark(&mut self, _: &Line<'_>, _: &State) {}
    }

    fn drawn(job: &str) -> Retractions {
        let mut machine = Machine::new(Setup::default());
        let mut kept = Kept::default();
        machine.carry_out(job.as_bytes(), &mut kept);
        kept.0.finish()
    }

    #[test]
    fn retractions_are_counted_by_what_lies_between() {
        let found = drawn(
            "M83\nG1 X10 E5 F1200\nG1 E-0.5 F2400\nG1 X12 E-0.3 F1200\nG1 E0.8 F2400\nG1 X20 E1\nG1 E-2 F1800\n",
        );
        // The first goes on along a wipe: one retraction of 0.8 mm on line 3.
        assert_eq!(found.count, 2);
        assert!((found.total - 2.8).abs() < 1e-12);
        assert_eq!(found.longest, Some((2.0, 7)));
        let (fastest, line) = found.fastest.unwrap();
        assert!((fastest - 40.0).abs() < 1e-9 && line == 3);
        // The second reaches back into what the first drew back.
        assert_eq!(found.over_one_piece, 2);
    }

    #[test]
    fn the_same_piece_passes_again_and_again() {
        let cycle = "G1 E-1 F1800\nG1 E1\nG1 X1 E0.05\nG1 X0 E0.05\n";
        let job = format!("M83\nG1 X10 E5 F1200\n{}", cycle.repeat(30));
        // Pushed on by 0.1 mm between retractions of 1 mm: each piece is drawn back ten times.
        assert_eq!(drawn(&job).over_one_piece, 10);
        let still = format!(
            "M83\nG1 X10 E5 F1200\n{}",
            "G1 E-1 F1800\nG1 E1\n".repeat(30)
        );
        assert_eq!(drawn(&still).over_one_piece, 30);
    }

    #[test]
    fn nothing_absurd_is_too_much() {
        let found = drawn("M83\nG1 E-90000000 F1\nG1 E-90000000\nG10\nG11\n");
        assert_eq!((found.count, found.by_control), (1, 1));
        assert!((found.total - 1.8e8).abs() < 1.0 && found.over_one_piece == 1);
        assert_eq!(drawn("M83\nG1 E-999999999999999\n"), Retractions::default());
        assert_eq!(
            drawn("G1 X5 E2\nG92 E0\nG1 X9 E2\n"),
            Retractions::default()
        );
    }
}
