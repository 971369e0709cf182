//! THE round: the job goes past every requirement once.

use super::silence::silence;
use super::{
    Declared, End, Held, Inspected, Inspection, OF_TIME, REGISTER, Report, Requirement, Tap, Uses,
    object_clearance,
};
use crate::command::hint::{self, Hint, Key, PathKind};
use crate::command::mark;
use crate::command::{Ahead, Command};
use crate::finding::{Class, Excerpt, NotHeld};
use crate::grammar::Kind;
use crate::machine::planner::Planned;
use crate::machine::{Facts, Line, Machine, Motion, Observer, Setup, State, Step};
use crate::survey::{Apart, Ended, Figures, Layer, LayerSink, Layers, Near};
use crate::text::Blocks;

struct Pass {
    id: &'static str,
    silences: &'static [&'static str],
    inspection: Box<dyn Inspection>,
}

/// The passes, and who wants which event.
struct Passes<T> {
    tap: T,
    passes: Vec<Pass>,
    motion: Vec<(Facts, usize)>,
    motion_facts: Facts,
    step: Vec<usize>,
    heat: Vec<usize>,
    change: Vec<usize>,
    fault: Vec<usize>,
    layer: Vec<usize>,
    numbered: Vec<usize>,
    braced: Vec<usize>,
    long: Vec<usize>,
    fan: (f64, f64),
    feed_most: f64,
    tools: Vec<u32>,
    figures: Figures,
}

impl<T> Passes<T> {
    fn each(
        &mut self,
        list: impl Fn(&Self) -> &[usize],
        mut tell: impl FnMut(&mut dyn Inspection),
    ) {
        for index in 0..list(self).len() {
            let Some(&pass) = list(self).get(index) else {
                continue;
            };
            if let Some(pass) = self.passes.get_mut(pass) {
                tell(pass.inspection.as_mut());
            }
        }
    }
}

impl<T: Tap> LayerSink for Passes<T> {
    fn layer(&mut self, layer: &Layer) {
        self.figures.layer(layer);
        self.tap.layer(layer);
        for stroke in layer.part() {
            if stroke.feed > self.feed_most {
                self.feed_most = stroke.feed;
            }
            if layer.number > 0 {
                let pushed = stroke.pushed as f64;
                self.fan.0 += stroke.conditions.fan * pushed;
                self.fan.1 += pushed;
            }
            let tool = stroke.conditions.tool;
            if !self.tools.contains(&tool) && self.tools.len() < 16 {
                self.tools.push(tool);
            }
        }
        self.each(|passes| &passes.layer, |inspection| inspection.layer(layer));
    }

    fn through(&mut self, line: &Line<'_>, depth: f64) {
        self.each(
            |passes| &passes.layer,
            |inspection| inspection.through(line, depth),
        );
    }

    fn near(&mut self, line: &Line<'_>, near: &Near) {
        self.each(
            |passes| &passes.layer,
            |inspection| inspection.near(line, near),
        );
    }

    fn swept(&mut self, line: u64) {
        self.each(|passes| &passes.layer, |inspection| inspection.swept(line));
    }
}

/// Collects while the machine works.
struct Watch<T> {
    layers: Layers,
    passes: Passes<T>,
    declared: Declared,
    uses: Uses,
    /// The hint in force before a comment behind a command.
    lent: Option<PathKind>,
    motions: u64,
    known: u64,
    faulty: u64,
    ends_with_line_end: bool,
    unended: Option<Excerpt>,
    longest_line: usize,
}

/// One job on its way past every requirement. Bytes come in pieces; memory does not grow with them.
pub struct Round<T = ()> {
    held: Held,
    machine: Machine,
    blocks: Blocks,
    watch: Watch<T>,
    not_held: Vec<NotHeld>,
    bytes: u64,
}

impl<T> std::fmt::Debug for Round<T> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Round")
            .field("bytes", &self.bytes)
            .finish_non_exhaustive()
    }
}

impl Round {
    /// A round past every requirement in the register.
    #[must_use]
    pub fn new(held: Held) -> Self {
        Self::tapped(held, ())
    }

    /// Ends the job and states what was found.
    #[must_use]
    pub fn finish(self) -> Inspected {
        self.finish_tapped().0
    }
}

impl<T: Tap> Round<T> {
    /// A round past every requirement, which `tap` goes along with.
    #[must_use]
    pub fn tapped(held: Held, tap: T) -> Self {
        let setup = held.setup();
        Self::past(REGISTER.iter(), held, setup, tap)
    }

    /// As [`Round::tapped`], past all requirements but those that somebody knows the job to fulfil. Where
    /// all that are held against times are among them, no move is planned, and no time told.
    #[must_use]
    pub fn sparing(fulfilled: &[&str], held: Held, tap: T) -> Self {
        let asked = |requirement: &&Requirement| !fulfilled.contains(&requirement.id);
        let mut setup = held.setup();
        if OF_TIME.iter().all(|id| fulfilled.contains(id)) {
            setup.rates = Err("it was told before");
        }
        Self::past(REGISTER.iter().filter(asked), held, setup, tap)
    }

    /// A round past no requirement: only `tap` sees the job.
    #[must_use]
    pub fn unheld(held: Held, tap: T) -> Self {
        let setup = held.setup();
        Self::past([].iter(), held, setup, tap)
    }

    /// Who goes along.
    #[must_use]
    pub const fn tap(&self) -> &T {
        &self.watch.passes.tap
    }

    fn past<'a>(
        requirements: impl Iterator<Item = &'a Requirement>,
        held: Held,
        setup: Setup,
        tap: T,
    ) -> Self {
        let mut passes = Passes {
            tap,
            passes: Vec::new(),
            motion: Vec::new(),
            motion_facts: Figures::WANTS,
            step: Vec::new(),
            heat: Vec::new(),
            change: Vec::new(),
            fault: Vec::new(),
            layer: Vec::new(),
            numbered: Vec::new(),
            braced: Vec::new(),
            long: Vec::new(),
            fan: (0.0, 0.0),
            feed_most: 0.0,
            tools: Vec::new(),
            figures: Figures::new(&held.materials, held.machine.as_ref())
                .with_walls(held.walls, held.sections),
        };
        let mut not_held = Vec::new();
        let mut reaches = Vec::new();
        for requirement in requirements {
            if requirement.id == object_clearance::REQUIREMENT.id {
                reaches = object_clearance::reaches(&held);
            }
            match (requirement.make)(&held) {
                Ok(inspection) => {
                    let index = passes.passes.len();
                    let wants = requirement.wants;
                    if wants.motion != Facts::NONE {
                        passes.motion.push((wants.motion, index));
                        passes.motion_facts = passes.motion_facts.with(wants.motion);
                    }
                    for (wanted, list) in [
                        (wants.step, &mut passes.step),
                        (wants.heat && !wants.step, &mut passes.heat),
                        (wants.change && !wants.step, &mut passes.change),
                        (wants.fault, &mut passes.fault),
                        (wants.layer, &mut passes.layer),
                        (wants.numbered, &mut passes.numbered),
                        (wants.braced, &mut passes.braced),
                        (wants.long, &mut passes.long),
                    ] {
                        if wanted {
                            list.push(index);
                        }
                    }
                    passes.passes.push(Pass {
                        id: requirement.id,
                        silences: requirement.silences,
                        inspection,
                    });
                }
                Err(reason) => not_held.push(NotHeld {
                    requirement: requirement.id,
                    reason,
                }),
            }
        }
        let longest_line = setup.longest_line;
        let walls = held.walls || held.sections;
        let mut layers = Layers::new(setup.rates.is_ok()).with_beads(walls);
        if walls || !reaches.is_empty() {
            layers = layers.with_head(&reaches);
        }
        Self {
            held,
            blocks: Blocks::default(),
            watch: Watch {
                layers,
                passes,
                declared: Declared::default(),
                uses: Uses::default(),
                lent: None,
                motions: 0,
                known: 0,
                faulty: 0,
                ends_with_line_end: true,
                unended: None,
                longest_line,
            },
            machine: Machine::new(setup),
            not_held,
            bytes: 0,
        }
    }

    /// The buffer to append the next piece to; then call [`Round::go_on`].
    pub const fn buffer(&mut self) -> &mut Vec<u8> {
        self.blocks.buffer()
    }

    /// Carries out the lines that are whole.
    pub fn go_on(&mut self) {
        self.carry_out(false);
    }

    /// Whether something is asked for that takes long, and may be done on another thread.
    #[must_use]
    pub const fn may_part(&self) -> bool {
        self.watch.passes.figures.has_walls()
    }

    /// Gives that away, for whoever has a thread for it; what comes out stays the same. [`Round::join`] takes it
    /// back.
    pub fn part(&mut self) -> Option<Apart> {
        self.watch.passes.figures.part()
    }

    /// Takes back what [`Round::part`] gave away.
    pub fn join(&mut self) {
        self.watch.passes.figures.join();
    }

    /// Whether the bytes can be no job, so that the rest need not be read: a line without an end.
    #[must_use]
    pub const fn is_hopeless(&self) -> bool {
        self.blocks.has_cut()
    }

    /// The lines that are whole, cut from the job somewhere else from here on; [`Round::give_back`] ends that.
    pub fn lend(&mut self) -> Blocks {
        std::mem::take(&mut self.blocks)
    }

    /// Takes back what was lent, with what is left of the job in it.
    pub fn give_back(&mut self, blocks: Blocks) {
        self.blocks = blocks;
    }

    /// Carries out whole lines, which may have been read ahead.
    pub fn take_whole(&mut self, block: &[u8], ahead: Option<&Ahead>) {
        self.bytes += block.len() as u64;
        self.watch.ends_with_line_end = matches!(block.last(), Some(b'\n' | b'\r'));
        match ahead {
            Some(ahead) => self.machine.carry_out_ahead(block, ahead, &mut self.watch),
            None => self.machine.carry_out(block, &mut self.watch),
        }
    }

    /// Takes a piece.
    pub fn take(&mut self, piece: &[u8]) {
        let Self {
            machine,
            watch,
            blocks,
            bytes,
            ..
        } = self;
        blocks.pass(piece, |block| {
            carry_out(machine, watch, bytes, block, false)
        });
    }

    fn carry_out(&mut self, at_end: bool) {
        let Self {
            machine,
            watch,
            blocks,
            bytes,
            ..
        } = self;
        blocks.give(at_end, |block| {
            carry_out(machine, watch, bytes, block, at_end)
        });
    }

    /// Ends the job, states what was found and gives the tap back.
    #[must_use]
    pub fn finish_tapped(mut self) -> (Inspected, T) {
        self.carry_out(true);
        let Self {
            held,
            mut machine,
            blocks,
            mut watch,
            mut not_held,
            bytes,
        } = self;
        machine.finish(&mut watch);
        let totals = watch.layers.finish(&mut watch.passes);
        let no_job = if blocks.has_cut() {
            Some("a line is longer than 1 MiB")
        } else if watch.known == 0 && watch.motions == 0 {
            Some("not one line of it is a command")
        } else if watch.faulty * 2 > machine.lines() {
            Some("most of its lines are no commands")
        } else {
            None
        };
        let declared_diameter = watch
            .declared
            .number(Key::FilamentDiameter)
            .map(|(mm, _)| mm);
        let walls = watch.passes.figures.walls(declared_diameter);
        let mut report = Report::default();
        let mut silences: Vec<(&'static str, &'static [&'static str])> = Vec::new();
        if no_job.is_none() {
            let end = End {
                held: &held,
                state: machine.state(),
                setup: machine.setup(),
                totals: &totals,
                untimed: machine.untimed(),
                declared: &watch.declared,
                lines: machine.lines(),
                bytes,
                program_end: machine.end().line,
                ends_with_line_end: watch.ends_with_line_end,
                // Behind the program's end nothing can be cut off.
                unended: watch
                    .unended
                    .as_ref()
                    .filter(|_| machine.end().line.is_none()),
                motions: watch.motions,
                walls: walls.as_ref(),
            };
            watch.passes.tap.conclude(&end);
            for pass in &mut watch.passes.passes {
                let before = report.findings.len();
                pass.inspection.conclude(&end, &mut report);
                // An observation explains nothing away, but for the one that says what is hidden.
                let speaks = report.findings.iter().skip(before).any(|finding| {
                    finding.class > Class::Observation || pass.id == "setpoint-hidden"
                });
                if speaks && !pass.silences.is_empty() {
                    silences.push((pass.id, pass.silences));
                }
            }
        }
        if no_job.is_none() && held.each_material().next().is_some() {
            for tool in watch
                .passes
                .tools
                .iter()
                .filter(|tool| held.material(**tool).is_none())
            {
                report.not_held.push(NotHeld {
                    requirement: "material-differs",
                    reason: format!(
                        "no material is named for tool {tool}: no material sheet was held against \
                         what it lays"
                    ),
                });
            }
        }
        silence(&mut report, &silences);
        // Of several tools nobody could tell whose value it is.
        if super::figures::tools_used(machine.state()) != [0] {
            report.values.clear();
        }
        not_held.append(&mut report.not_held);
        not_held.sort();
        not_held.dedup();
        let mut findings = report.findings;
        findings.sort_by_key(|finding| {
            let place = finding.extent.first.as_ref().map(|first| first.place);
            (std::cmp::Reverse(finding.class), finding.requirement, place)
        });
        let Watch {
            passes,
            uses,
            declared,
            motions,
            ..
        } = watch;
        let tap = passes.tap;
        let inspected = Inspected {
            lines: machine.lines(),
            bytes,
            ends_on: machine.end().line,
            unread: machine.end().unread,
            findings,
            not_held,
            values: report.values.into_iter().collect(),
            survey: passes.figures.finish(Ended {
                state: machine.state(),
                totals: &totals,
                untimed: machine.untimed(),
                own_limits: machine.own_limits(),
                declared_diameter,
                motions,
                walls,
            }),
            uses: Uses {
                tools: passes.tools,
                fan_mean: (passes.fan.1 > 0.0).then(|| passes.fan.0 / passes.fan.1),
                feed_most: passes.feed_most,
                ..uses
            },
            declared,
            no_job,
        };
        (inspected, tap)
    }
}

/// Carries out a block of whole lines.
fn carry_out<T: Tap>(
    machine: &mut Machine,
    watch: &mut Watch<T>,
    bytes: &mut u64,
    block: &[u8],
    at_end: bool,
) {
    *bytes += block.len() as u64;
    watch.ends_with_line_end = matches!(block.last(), Some(b'\n' | b'\r'));
    machine.carry_out(block, watch);
    if at_end && !watch.ends_with_line_end {
        let start = memchr::memrchr2(b'\n', b'\r', block).map_or(0, |end| end + 1);
        let line = block.get(start..).unwrap_or_default();
        let line_start = *bytes - line.len() as u64;
        let from = line.len().saturating_sub(1);
        let last = Excerpt::new(machine.lines(), line_start, line, from..line.len());
        watch.unended = Some(last);
    }
}

impl<T: Tap> Observer for Watch<T> {
    #[inline]
    fn motion(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        self.passes.tap.motion(motion, state, line);
        self.motions += 1;
        if motion.facts.meets(self.passes.motion_facts) {
            if motion.facts.meets(Figures::WANTS) {
                self.passes.figures.motion(motion, state, line.number);
            }
            for index in 0..self.passes.motion.len() {
                let Some(&(wanted, pass)) = self.passes.motion.get(index) else {
                    continue;
                };
                if !motion.facts.meets(wanted) {
                    continue;
                }
                if let Some(pass) = self.passes.passes.get_mut(pass) {
                    pass.inspection.motion(motion, state, line);
                }
            }
        }
        self.layers.motion(motion, state, line, &mut self.passes);
        if self.lent.is_some() {
            self.give_back();
        }
    }

    fn planned(&mut self, planned: &Planned<'_>) {
        self.layers.planned(planned, &mut self.passes);
    }

    fn step(&mut self, step: &Step<'_>, state: &State, line: &Line<'_>) {
        self.passes.tap.step(step, state, line);
        if step.seconds > 0.0 {
            self.layers.pass(step.seconds, step.command.heats());
        }
        match step.command {
            Command::Tool(_) | Command::ChangeTool => self.layers.tool_changed(),
            Command::Unknown(..) | Command::Macro => self.layers.forget_standing(),
            Command::Stop(_) => {
                self.layers.forget_standing();
                self.known += 1;
            }
            Command::SetPosition | Command::SetCoordinates | Command::SelectCoordinates(_) => {
                self.layers.interrupt();
                self.known += 1;
            }
            _ => self.known += 1,
        }
        self.passes.figures.step(step, state, line.number);
        self.uses.note(step, state, line);
        self.passes.each(
            |passes| &passes.step,
            |inspection| inspection.step(step, state, line),
        );
        if !matches!(
            step.command,
            Command::Idle | Command::Fan { .. } | Command::Dwell(_) | Command::Limits(_)
        ) {
            self.passes.each(
                |passes| &passes.change,
                |inspection| inspection.step(step, state, line),
            );
        }
        if matches!(
            step.command,
            Command::Hotend { .. }
                | Command::Bed { .. }
                | Command::Chamber { .. }
                | Command::Probe
                | Command::Macro
        ) {
            self.passes.each(
                |passes| &passes.heat,
                |inspection| inspection.step(step, state, line),
            );
        }
    }

    fn remark(&mut self, line: &Line<'_>, state: &State) {
        self.passes.tap.remark(line, state);
        if line.words.is_faulty() {
            self.faulty += u64::from(begins_astray(line));
            self.passes.each(
                |passes| &passes.fault,
                |inspection| inspection.fault(line, state),
            );
        }
        let passes = &mut self.passes;
        if line.words.is_numbered() {
            passes.each(|passes| &passes.numbered, |each| each.numbered(line));
        }
        if line.words.is_braced() {
            passes.each(|passes| &passes.braced, |each| each.braced(line));
        }
        if line.bytes.len() > self.longest_line {
            passes.each(|passes| &passes.long, |each| each.long(line));
        }
        if passes.figures.has_walls() {
            mark::read(line.words, line.bytes, &mut |form, says| {
                self.layers
                    .under(passes.figures.mark(form, says, line.number));
            });
        }
        let has_command = line
            .words
            .iter()
            .any(|word| matches!(word.kind, Kind::Number | Kind::Bare | Kind::Name));
        for (index, word) in line.words.iter().enumerate() {
            if !matches!(word.kind, Kind::Comment | Kind::Remark) {
                continue;
            }
            hint::read(word.bytes(line.bytes), &mut |hint| match hint {
                Hint::Path(kind) if has_command => {
                    self.lent.get_or_insert(self.layers.hinted());
                    self.layers.hint(kind);
                }
                Hint::Path(kind) => self.layers.hint(kind),
                Hint::Setting(key, value) => {
                    self.declared.add(key, value, line.word(index).excerpt());
                }
                Hint::Layer { .. } => self.layers.layer_said(),
            });
        }
    }
}

/// Whether a line begins with bytes that are no part of the language: prose, or data.
fn begins_astray(line: &Line<'_>) -> bool {
    line.words
        .first()
        .is_some_and(|word| word.kind == Kind::Stray)
}

impl<T> Watch<T> {
    /// A comment behind a command names that line's deposit, not all that follows.
    #[cold]
    fn give_back(&mut self) {
        if let Some(kind) = self.lent.take() {
            self.layers.restore(kind);
        }
    }
}

/// Carries a whole job that is in memory past every requirement.
#[must_use]
pub fn inspect(job: &[u8], held: Held) -> Inspected {
    let mut round = Round::new(held);
    for piece in job.chunks(crate::text::PIECE) {
        round.take(piece);
    }
    round.finish()
}
