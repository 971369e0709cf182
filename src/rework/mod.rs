//! Rework: putting right in a job what can be put right while the part stays the same.
//!
//! One plan, one splice, one proof; never a loop. A rework goes along with the round past every
//! requirement, proposes edits on the original bytes, and the result goes past every requirement
//! again: the same path, the same deposit, nothing new that would hold the job, and nothing left to
//! rework. What is not proven is not written.
//!
//! One rework, three places: `<id>.rs`, `<id>.md` and one line in the register.
//!
//! Absent here: files. Whoever calls brings the bytes twice and takes the result.

mod bed_setpoints;
mod chamber_warm_up;
mod checksums;
mod fan_limits;
mod feeds;
mod first_layer_speed;
mod flow_limits;
mod heaters_off;
mod hotend_setpoints;
mod layer_time;
mod proof;
mod retraction_lengths;
mod retraction_speeds;
mod run;
mod setpoint;
mod trace;
mod wait_for_heat;

pub use proof::{Proof, Unproven, prove};
pub use run::{Done, First, rework_bytes};
pub use trace::{Characteristic, Trace};

use crate::command::hint::Key;
use crate::edit::{Change, Draft, Plan};
use crate::finding::{Class, Excerpt, Finding, Limit};
use crate::inspection::{End, Held, Tap};
use crate::machine::{Line, Motion, State, Step};
use crate::survey::Layer;

type Make = fn(&Held) -> Box<dyn Mend>;

/// A rework in the register.
#[derive(Debug, Clone, Copy)]
pub struct Rework {
    /// Its id: what it puts right.
    pub id: &'static str,
    /// Its page.
    pub page: &'static str,
    /// Requirements whose findings it answers.
    pub answers: &'static [&'static str],
    /// What it changes beside words: everything else is proven to stay.
    pub alters: &'static [Characteristic],
    /// Whether it alters the print, and is done only where repairs are asked for.
    pub is_repair: bool,
    /// None where it lowers feeds, for which one walk does all.
    make: Option<Make>,
}

/// What is to be done.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Wanted {
    /// The reworks and repairs by id; all where it is empty.
    pub only: Vec<String>,
    /// Whether repairs are done too.
    pub repair: bool,
}

impl Wanted {
    fn has(&self, rework: &Rework) -> bool {
        (self.repair || !rework.is_repair)
            && (self.only.is_empty() || self.only.iter().any(|id| id == rework.id))
    }
}

/// All of them, sorted by id.
pub static REWORKS: &[&Rework] = &[
    &bed_setpoints::REWORK,
    &chamber_warm_up::REWORK,
    &checksums::REWORK,
    &fan_limits::REWORK,
    &first_layer_speed::REWORK,
    &flow_limits::REWORK,
    &heaters_off::REWORK,
    &hotend_setpoints::REWORK,
    &layer_time::REWORK,
    &retraction_lengths::REWORK,
    &retraction_speeds::REWORK,
    &wait_for_heat::REWORK,
];

/// The rework with this id.
#[must_use]
pub fn rework(id: &str) -> Option<&'static Rework> {
    REWORKS.iter().copied().find(|rework| rework.id == id)
}

/// Goes along with a round and proposes what to change.
trait Mend {
    /// Whether it still wants to see motions: most want none, the others only until the part begins.
    fn follows(&self) -> bool {
        false
    }
    fn motion(&mut self, _motion: &Motion, _state: &State, _line: &Line<'_>) {}
    fn step(&mut self, _step: &Step<'_>, _state: &State, _line: &Line<'_>) {}
    fn remark(&mut self, _line: &Line<'_>, _state: &State) {}
    fn layer(&mut self, _layer: &Layer) {}
    /// The job has ended.
    fn propose(&mut self, end: &End<'_>, proposals: &mut Proposals);
    /// What was found is known, and why no rework of the material's figures is done, where none is.
    fn settle(
        &mut self,
        _findings: &[Finding],
        _barred: Option<&'static str>,
        _proposals: &mut Proposals,
    ) {
    }
}

/// One thing to put right, by one change or by several that belong together.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// The rework that proposes it.
    pub rework: &'static str,
    /// The requirement it answers.
    pub requirement: &'static str,
    /// What the job says now, with its unit.
    pub old: String,
    /// What it will say.
    pub new: String,
    /// The limit, and whose figure it is.
    pub limit: Option<Limit>,
    /// The place it is about, where there is one.
    pub at: Option<Excerpt>,
    /// The bytes to change.
    pub changes: Vec<Change>,
}

/// Something that a rework leaves alone, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    /// The rework.
    pub rework: &'static str,
    /// The requirement it would answer.
    pub requirement: &'static str,
    /// Why not: lower case, no final stop.
    pub reason: String,
}

/// What the reworks propose.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Proposals {
    /// What to put right.
    pub list: Vec<Proposal>,
    /// Waits that are needed only where a setpoint is raised.
    if_raised: Vec<Proposal>,
    /// What is left alone.
    pub refusals: Vec<Refusal>,
    /// Line numbers and checksums are stated anew from the first line on.
    pub restate: bool,
}

impl Proposals {
    /// Whether they change nothing.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.list.is_empty() && !self.restate
    }

    fn refuse(
        &mut self,
        rework: &'static str,
        requirement: &'static str,
        reason: impl Into<String>,
    ) {
        let refusal = Refusal {
            rework,
            requirement,
            reason: reason.into(),
        };
        if !self.refusals.contains(&refusal) {
            self.refusals.push(refusal);
        }
    }

    /// The plan: one group of edits a proposal, in their order. Proposals whose bytes an earlier one
    /// changes are taken out and said.
    #[must_use]
    pub fn plan(&mut self) -> Plan {
        loop {
            let mut draft = Draft::default();
            for proposal in &self.list {
                draft.propose(proposal.changes.iter().cloned());
            }
            let plan = draft.settle();
            // Groups count as the list does: without the refused ones they are counted anew.
            let Some(&last) = plan.refused().last() else {
                return plan;
            };
            let Proposal {
                rework,
                requirement,
                ..
            } = self.list.remove(last);
            self.refuse(rework, requirement, "another rework changes the same words");
        }
    }

    /// What the proposals change beside words.
    #[must_use]
    pub fn alters(&self, characteristic: Characteristic) -> bool {
        self.list.iter().any(|proposal| {
            rework(proposal.rework).is_some_and(|rework| rework.alters.contains(&characteristic))
        })
    }
}

/// All reworks on their way along a job.
pub struct Mending {
    ids: Vec<&'static str>,
    mends: Vec<Box<dyn Mend>>,
    /// Whether repairs are asked for.
    repair: bool,
    trace: Trace,
    is_numbered: bool,
    /// Whether any of them still wants to see motions.
    is_followed: bool,
    /// Whether the job says that it is for a material it is held against.
    names_material: bool,
    proposals: Proposals,
}

impl std::fmt::Debug for Mending {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Mending")
            .field("trace", &self.trace)
            .finish_non_exhaustive()
    }
}

/// What came of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Mended {
    /// What to change.
    pub proposals: Proposals,
    /// What the job does.
    pub trace: Trace,
    /// Whether its lines have numbers or checksums.
    pub is_numbered: bool,
}

impl Mending {
    /// Those of the register that are wanted.
    #[must_use]
    pub fn new(held: &Held, wanted: &Wanted) -> Self {
        let of_wanted = || REWORKS.iter().filter(|rework| wanted.has(rework));
        let ids = of_wanted().map(|rework| rework.id).collect();
        let mut mends: Vec<Box<dyn Mend>> = of_wanted()
            .filter_map(|rework| Some((rework.make?)(held)))
            .collect();
        if let Some(feeds) = feeds::Feeds::new(held, |rework| wanted.has(rework)) {
            mends.push(Box::new(feeds));
        }
        Self {
            ids,
            mends,
            repair: wanted.repair,
            trace: Trace::default(),
            is_numbered: false,
            is_followed: true,
            names_material: false,
            proposals: Proposals::default(),
        }
    }

    /// What is proposed, now that the round has ended. A job that was plainly sliced for another
    /// material is left alone: `findings` say so.
    #[must_use]
    pub fn done(self, findings: &[Finding]) -> Mended {
        let Self {
            ids,
            mut mends,
            repair,
            mut proposals,
            trace,
            is_numbered,
            names_material,
            ..
        } = self;
        // A rework answers findings; where there is none nothing is put right.
        let answers = |id: &str| {
            rework(id).is_some_and(|rework| {
                findings
                    .iter()
                    .any(|finding| rework.answers.contains(&finding.requirement))
            })
        };
        let (kept, left): (Vec<_>, Vec<_>) = proposals
            .list
            .drain(..)
            .partition(|proposal| answers(proposal.rework));
        proposals.list = kept;
        let is_wait = |proposal: &Proposal| proposal.rework == wait_for_heat::REWORK.id;
        proposals.if_raised.extend(left.into_iter().filter(is_wait));
        proposals.refusals.retain(|refusal| answers(refusal.rework));
        let barred = for_another(findings, &proposals, names_material);
        if let Some(reason) = barred {
            let (left, kept): (Vec<_>, Vec<_>) = proposals
                .list
                .drain(..)
                .partition(|proposal| OF_MATERIAL.contains(&proposal.rework));
            proposals.list = kept;
            for proposal in left {
                proposals.refuse(proposal.rework, proposal.requirement, reason);
            }
        }
        for mend in &mut mends {
            mend.settle(findings, barred, &mut proposals);
        }
        wait_for_heat::follow(&mut proposals);
        if repair {
            never(findings, &mut proposals);
        }
        // A finding that a rework answers is never passed over in silence.
        for finding in findings {
            let answering: Vec<&'static str> = ids
                .iter()
                .copied()
                .filter(|id| {
                    rework(id).is_some_and(|rework| rework.answers.contains(&finding.requirement))
                })
                .collect();
            let is_said = proposals.restate && answering.contains(&"checksums")
                || proposals
                    .list
                    .iter()
                    .any(|one| answering.contains(&one.rework))
                || proposals
                    .refusals
                    .iter()
                    .any(|one| answering.contains(&one.rework));
            if let Some(id) = answering.first().filter(|_| !is_said) {
                let reason = "no change that this rework may make puts it right";
                proposals.refuse(id, finding.requirement, reason);
            }
        }
        Mended {
            proposals,
            trace,
            is_numbered,
        }
    }
}

/// Reworks whose figures are the material's, or that wait for such: no help where the job is for another
/// one.
const OF_MATERIAL: [&str; 8] = [
    "bed-setpoints",
    "chamber-warm-up",
    "fan-limits",
    "first-layer-speed",
    "flow-limits",
    "hotend-setpoints",
    "layer-time",
    "wait-for-heat",
];

/// Stands for a rework where none may answer a requirement.
pub const NO_REWORK: &str = "none";

/// What no change of a job puts right, and never will: said where repairs are asked for.
const NEVER: [(&str, &str); 2] = [
    (
        "nozzle-soft",
        "no change of a job makes a soft nozzle hard: fit one that stands this material",
    ),
    (
        "material-differs",
        "no change of a job makes it one for another material: slice it again",
    ),
];

fn never(findings: &[Finding], proposals: &mut Proposals) {
    for (requirement, reason) in NEVER {
        if findings.iter().any(|one| one.requirement == requirement) {
            proposals.refuse(NO_REWORK, requirement, reason);
        }
    }
}

/// Why a job was plainly sliced for another material, where it was: it says so; or it names none, and
/// neither its hotend nor its bed, or its flow, fits this one.
fn for_another(
    findings: &[Finding],
    proposals: &Proposals,
    names_material: bool,
) -> Option<&'static str> {
    let has = |ids: &[&str]| {
        findings
            .iter()
            .any(|finding| ids.contains(&finding.requirement))
    };
    if findings
        .iter()
        .any(|finding| finding.requirement == "material-differs" && finding.class >= Class::Major)
    {
        return Some("the job was sliced for another material: slice it again for this one");
    }
    let colder = has(&["cold-deposit"])
        && proposals
            .list
            .iter()
            .any(|one| one.rework == hotend_setpoints::REWORK.id);
    let hotend = colder || has(&["hotend-below-sheet", "hotend-above-sheet"]);
    let bed_or_flow = has(&["bed-below-sheet", "bed-above-sheet", "flow-above-sheet"]);
    (!names_material && hotend && bed_or_flow).then_some(
        "the job names no material, and its hotend and its bed or flow do not fit this one, as if it was \
         sliced for another: slice it again for this one",
    )
}

impl Mending {
    #[inline(never)]
    fn follow(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        self.is_followed = false;
        for mend in &mut self.mends {
            if mend.follows() {
                mend.motion(motion, state, line);
                self.is_followed = true;
            }
        }
    }
}

impl Tap for Mending {
    #[inline]
    fn motion(&mut self, motion: &Motion, state: &State, line: &Line<'_>) {
        self.trace.motion(motion, state);
        if self.is_followed {
            self.follow(motion, state, line);
        }
    }

    fn step(&mut self, step: &Step<'_>, state: &State, line: &Line<'_>) {
        self.trace.step(step, state);
        for mend in &mut self.mends {
            mend.step(step, state, line);
        }
    }

    fn remark(&mut self, line: &Line<'_>, state: &State) {
        self.is_numbered |= line.words.is_numbered();
        for mend in &mut self.mends {
            mend.remark(line, state);
        }
    }

    fn layer(&mut self, layer: &Layer) {
        for mend in &mut self.mends {
            mend.layer(layer);
        }
    }

    fn conclude(&mut self, end: &End<'_>) {
        let said = end.declared.get(Key::Material).map_or("", |(said, _)| said);
        self.names_material = said
            .split([',', ';'])
            .map(|word| word.trim_matches(|letter: char| letter == '"' || letter.is_whitespace()))
            .any(|word| end.held.each_material().any(|one| one.answers_to(word)));
        for mend in &mut self.mends {
            mend.propose(end, &mut self.proposals);
        }
    }
}
