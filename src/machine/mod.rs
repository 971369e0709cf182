//! The printer as the job sees it: modes, position, heat over time, fans and clock, moved one
//! command at a time.
//!
//! Lengths are i64 picometres, so that sums of a million moves are exact. Every part of the state is
//! known, unknown, or claimed by a macro.
//!
//! Absent here: any requirement. The machine says what a job does, not whether that is right.

mod follow;
mod from_sheet;
mod heat;
mod macros;
mod motion;
mod offsets;
pub mod planner;
mod setup;
mod state;
mod step;

pub use heat::{Element, Setting};
pub use macros::{MacroEffects, Role};
pub use motion::{BED_TOLERANCE, Facts, Motion};
pub use setup::{Area, HeatModel, MacroMeaning, Setup, Span, ToolSetup};
pub use state::{Claims, Conditions, Declared, Known, State};

use crate::command::{Ahead, Axes, Command, Commands, MotionWord, read_plain_motion};
use crate::finding::{Excerpt, Mark, Place};
use crate::grammar::{Kind, Word, Words, read_line};
use planner::{Planned, Planner};
use std::cell::OnceCell;

/// Picometres in a millimetre.
pub const MILLIMETRE: i64 = 1_000_000_000;

/// The farthest an axis is followed, pm: two thousand kilometres, so that no difference of two places
/// overflows.
pub const FARTHEST: i64 = 2_000_000_000_000_000_000;

/// Picometres as millimetres.
#[must_use]
#[inline]
pub fn mm(picometres: i64) -> f64 {
    picometres as f64 / MILLIMETRE as f64
}

/// Millimetres as picometres, to the nearest.
#[must_use]
pub fn pm(millimetres: f64) -> i64 {
    let farthest = FARTHEST as f64;
    (millimetres * MILLIMETRE as f64)
        .round()
        .clamp(-farthest, farthest) as i64
}

/// One line while it is being carried out.
#[derive(Debug, Clone, Copy)]
pub struct Line<'a> {
    /// Its number, from 1.
    pub number: u64,
    /// Its first byte, in unpacked bytes from the start of the job.
    pub start: u64,
    /// Its bytes with its line ending.
    pub bytes: &'a [u8],
    /// Its parts.
    pub words: &'a Parts<'a>,
}

/// The parts of a line: read already, or when somebody asks for them. Nearly every line is a motion
/// that nobody asks about.
#[derive(Debug)]
pub struct Parts<'a> {
    read: Option<&'a Words>,
    bytes: &'a [u8],
    late: OnceCell<Words>,
}

impl<'a> Parts<'a> {
    const fn read(words: &'a Words) -> Self {
        Self {
            read: Some(words),
            bytes: &[],
            late: OnceCell::new(),
        }
    }

    const fn unread(bytes: &'a [u8]) -> Self {
        Self {
            read: None,
            bytes,
            late: OnceCell::new(),
        }
    }
}

impl std::ops::Deref for Parts<'_> {
    type Target = Words;

    fn deref(&self) -> &Words {
        match self.read {
            Some(words) => words,
            None => self.late.get_or_init(|| {
                let mut words = Words::default();
                read_line(self.bytes, &mut words);
                words
            }),
        }
    }
}

impl<'a> Line<'a> {
    /// One of its words as a place to show.
    #[must_use]
    pub fn word(&self, index: usize) -> At<'a> {
        let span = self.words.get(index).map_or(0..0, Word::span);
        At {
            line: *self,
            start: span.start,
            end: span.end,
        }
    }

    /// The word with this letter as a place to show, or the whole line.
    #[must_use]
    pub fn letter(&self, letter: u8) -> At<'a> {
        match self.words.iter().position(|word| word.letter == letter) {
            Some(index) => self.word(index),
            None => self.all(),
        }
    }

    /// The line's words from first to last as a place to show, without its comment.
    #[must_use]
    pub fn all(&self) -> At<'a> {
        if self.words.read.is_none() {
            // A plain line has nothing before its words and nothing but its ending behind them.
            return At {
                line: *self,
                start: 0,
                end: self.bytes.trim_ascii_end().len(),
            };
        }
        let mut spans = self
            .words
            .iter()
            .filter(|word| !matches!(word.kind, Kind::End | Kind::Comment))
            .map(Word::span);
        let first = spans.next().unwrap_or(0..0);
        let end = spans.next_back().map_or(first.end, |last| last.end);
        At {
            line: *self,
            start: first.start,
            end,
        }
    }
}

/// A place on a line at hand.
#[derive(Debug, Clone, Copy)]
pub struct At<'a> {
    line: Line<'a>,
    start: usize,
    end: usize,
}

impl At<'_> {
    /// The place with its line, to keep.
    #[must_use]
    pub fn excerpt(&self) -> Excerpt {
        let mut excerpt = Excerpt::default();
        self.write(&mut excerpt);
        excerpt
    }
}

impl Mark for At<'_> {
    fn place(&self) -> Place {
        Place {
            line: self.line.number,
            start: self.line.start + self.start as u64,
            end: self.line.start + self.end as u64,
        }
    }

    fn write(&self, into: &mut Excerpt) {
        into.set(
            self.line.number,
            self.line.start,
            self.line.bytes,
            self.start..self.end,
        );
    }
}

/// A command that is not a motion has taken effect.
#[derive(Debug)]
pub struct Step<'a> {
    /// What was asked for.
    pub command: Command,
    /// The word that asks for it, by its index on the line.
    pub word: usize,
    /// The line's numbers.
    pub axes: &'a Axes,
    /// What a macro does, where the command is one.
    pub effects: Option<&'a MacroEffects>,
    /// Seconds the command took, where that is known.
    pub seconds: f64,
}

/// Whoever watches the machine.
pub trait Observer {
    /// A motion has been carried out; `state` is the state after it.
    fn motion(&mut self, motion: &Motion, state: &State, line: &Line<'_>);
    /// Another command has taken effect; `state` is the state after it.
    fn step(&mut self, step: &Step<'_>, state: &State, line: &Line<'_>);
    /// Moves whose real speeds and times are settled: later than their motions by the planner's
    /// window, in the same order. Only where the machine's limits of motion are known.
    fn planned(&mut self, _planned: &Planned<'_>) {}
    /// A line was read that holds a comment, a fault, a line number, braces or no motion, or that is
    /// longer than the control's longest line. Called before its commands.
    fn remark(&mut self, line: &Line<'_>, state: &State);
}

/// A printer at work on a job.
#[derive(Debug)]
pub struct Machine {
    setup: Setup,
    state: State,
    words: Words,
    axes: Axes,
    motion: Motion,
    planner: Option<Planner>,
    /// The section of the filament in use times the flow factor, mm².
    melt: f64,
    /// Motions at a feed that no line has set.
    unfed: u64,
    /// The first macro that sets limits of motion.
    own_limits: Option<String>,
    commands: Commands,
    /// Whether the last motion was a plain line: the next one most likely is, too.
    is_plain: bool,
    lines: u64,
    bytes: u64,
    end: ProgramEnd,
}

/// The end of the program, on a control that ends it.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct ProgramEnd {
    /// The line that ends it.
    pub line: Option<u64>,
    /// Lines behind it that hold more than a comment: they are not carried out.
    pub unread: u64,
    /// A fence has opened it.
    fenced: bool,
}

impl Machine {
    /// A printer that was just switched on.
    #[must_use]
    pub fn new(setup: Setup) -> Self {
        let state = State::new(&setup);
        Self {
            planner: setup.rates.ok().map(Planner::new),
            melt: setup.tool(0).filament_area,
            unfed: 0,
            own_limits: None,
            setup,
            state,
            words: Words::default(),
            axes: Axes::default(),
            motion: Motion::NONE,
            commands: Commands::new(),
            is_plain: true,
            lines: 0,
            bytes: 0,
            end: ProgramEnd::default(),
        }
    }

    /// The state as it stands.
    #[must_use]
    pub const fn state(&self) -> &State {
        &self.state
    }

    /// The setup it works under.
    #[must_use]
    pub const fn setup(&self) -> &Setup {
        &self.setup
    }

    /// How many lines were carried out, or passed over behind the program's end.
    #[must_use]
    pub const fn lines(&self) -> u64 {
        self.lines
    }

    /// Where the program ended, and what stands behind.
    #[must_use]
    pub const fn end(&self) -> ProgramEnd {
        self.end
    }

    /// Why no time can be told, where none can.
    #[must_use]
    pub const fn untimed(&self) -> Option<&'static str> {
        match self.setup.rates {
            Err(reason) => Some(reason),
            Ok(_) if self.unfed > 0 => Some("a motion goes at a feed that no line has set"),
            Ok(_) => None,
        }
    }

    /// A macro that sets limits of motion, which only its control knows: they are not followed, and
    /// the sheet's hold.
    #[must_use]
    pub fn own_limits(&self) -> Option<&str> {
        self.own_limits.as_deref()
    }

    /// The job has ended: plans what is still under way, up to a standstill.
    pub fn finish(&mut self, observer: &mut impl Observer) {
        self.stop(observer);
    }

    /// Carries out whole lines.
    pub fn carry_out(&mut self, block: &[u8], observer: &mut impl Observer) {
        let longest = self.setup.longest_line;
        self.carry_out_by(block, observer, |rest, axes, is_plain| {
            let (motion, after) = is_plain.then(|| read_plain_motion(rest, axes)).flatten()?;
            let len = rest.len() - after.len();
            (len <= longest).then_some((motion, len))
        });
    }

    /// Carries out whole lines that were read ahead, to the same effect.
    pub fn carry_out_ahead(&mut self, block: &[u8], ahead: &Ahead, observer: &mut impl Observer) {
        let longest = self.setup.longest_line;
        let mut reader = ahead.from_start();
        self.carry_out_by(block, observer, |_, axes, _| {
            let (len, motion) = reader.next(axes)?;
            Some((motion?, len)).filter(|_| len <= longest)
        });
    }

    /// Carries out whole lines. `plain` is asked once for each line, and says of one that is a plain
    /// motion its word and its length, its numbers being in the axes.
    #[inline(always)]
    fn carry_out_by(
        &mut self,
        block: &[u8],
        observer: &mut impl Observer,
        mut plain: impl FnMut(&[u8], &mut Axes, bool) -> Option<(Option<MotionWord>, usize)>,
    ) {
        if self.end.line.is_some() {
            self.pass_over(block, observer);
            return;
        }
        let mut words = std::mem::take(&mut self.words);
        let mut rest = block;
        while !rest.is_empty() {
            let plain = plain(rest, &mut self.axes, self.is_plain);
            let len = match plain {
                Some((_, len)) => len,
                None => rest.len() - read_line(rest, &mut words).len(),
            };
            let (bytes, after) = rest.split_at_checked(len).unwrap_or((rest, &[]));
            self.lines += 1;
            let parts = match plain {
                Some(_) => Parts::unread(bytes),
                None => Parts::read(&words),
            };
            let line = Line {
                number: self.lines,
                start: self.bytes,
                bytes,
                words: &parts,
            };
            match plain {
                Some((motion, _)) => self.motion(motion, &line, observer),
                None => {
                    self.line(&line, observer);
                    if self.end.line.is_some() {
                        self.bytes += len as u64;
                        self.words = words;
                        self.pass_over(after, observer);
                        return;
                    }
                }
            }
            self.bytes += len as u64;
            rest = after;
        }
        self.words = words;
    }
}
