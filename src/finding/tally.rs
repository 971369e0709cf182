//! Counting without keeping: how often, where first, where last, where worst.

use super::{Excerpt, Place};
use serde::Serialize;

/// The worst occurrence so far.
#[derive(Debug, Clone, PartialEq)]
pub struct Worst {
    /// How bad: larger is worse.
    pub badness: f64,
    /// The job's value there, in the limit's unit.
    pub amount: f64,
    /// Where.
    pub at: Excerpt,
}

/// Something that can say where it stands and show its line.
///
/// A tally asks for the line only where it keeps it, so that a million occurrences cost a million
/// comparisons and not a million copies.
pub trait Mark {
    /// The place of the words in question.
    fn place(&self) -> Place;
    /// Writes place and line into `into`, reusing its buffer.
    fn write(&self, into: &mut Excerpt);
}

impl Mark for Excerpt {
    fn place(&self) -> Place {
        self.place
    }

    fn write(&self, into: &mut Excerpt) {
        into.place = self.place;
        into.text_start = self.text_start;
        into.text.clear();
        into.text.extend_from_slice(&self.text);
        into.clipped_front = self.clipped_front;
        into.clipped_back = self.clipped_back;
    }
}

/// How often something occurred, and where. Does not depend on the order of noting: ties go to the
/// lowest place.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Tally {
    count: u64,
    first: Option<Excerpt>,
    last: Option<Excerpt>,
    worst: Option<Worst>,
}

/// What a count is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub enum Counts {
    /// Places in the job: where one alone is shown, or none.
    Places,
    /// Lines.
    Lines,
    /// Words of a line.
    Words,
    /// Words that set something, however long that holds.
    Settings,
    /// Moves.
    Moves,
    /// Strokes: unbroken deposit under the same conditions.
    Strokes,
    /// Stretches of several layers.
    Stretches,
    /// Layers.
    Layers,
}

impl Counts {
    /// The word for several of them.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Places => "places",
            Self::Lines => "lines",
            Self::Words => "words",
            Self::Settings => "settings",
            Self::Moves => "moves",
            Self::Strokes => "strokes",
            Self::Stretches => "stretches",
            Self::Layers => "layers",
        }
    }
}

/// A closed tally: at least one occurrence.
#[derive(Debug, Clone, PartialEq)]
pub struct Extent {
    /// How many occurrences; 0 where the finding is about the job as a whole.
    pub count: u64,
    /// Of what.
    pub counts: Counts,
    /// The first, by place in the job.
    pub first: Option<Excerpt>,
    /// The last.
    pub last: Option<Excerpt>,
    /// The worst.
    pub worst: Option<Worst>,
}

impl Extent {
    /// The extent of a finding about the whole job, which has no place in it.
    #[must_use]
    pub const fn whole_job() -> Self {
        Self {
            count: 0,
            counts: Counts::Places,
            first: None,
            last: None,
            worst: None,
        }
    }

    /// The line that tells most of it: the worst, else the first; None where it has no place.
    #[must_use]
    pub fn telling_line(&self) -> Option<u64> {
        let worst = self.worst.as_ref().filter(|worst| worst.badness > 0.0);
        let at = worst.map(|worst| &worst.at).or(self.first.as_ref())?;
        Some(at.place.line)
    }

    /// The extent of something that happens once, at `at`.
    #[must_use]
    pub fn once(at: Excerpt) -> Self {
        Self {
            count: 1,
            counts: Counts::Places,
            first: Some(at.clone()),
            last: Some(at),
            worst: None,
        }
    }
}

impl Tally {
    /// Counts one occurrence at `mark`, as bad as `badness` (larger is worse), where the job's
    /// value is `amount`.
    pub fn note(&mut self, badness: f64, amount: f64, mark: &impl Mark) {
        self.count += 1;
        let place = mark.place();
        keep(&mut self.first, mark, |kept| place < kept.place);
        keep(&mut self.last, mark, |kept| place > kept.place);
        match &mut self.worst {
            Some(worst) => {
                if badness > worst.badness || (badness == worst.badness && place < worst.at.place) {
                    worst.badness = badness;
                    worst.amount = amount;
                    mark.write(&mut worst.at);
                }
            }
            none => {
                let mut at = Excerpt::default();
                mark.write(&mut at);
                *none = Some(Worst {
                    badness,
                    amount,
                    at,
                });
            }
        }
    }

    /// As [`Tally::note`] for several occurrences, of which the worst is at `mark`; 0 is taken for 1.
    pub fn note_many(&mut self, many: u64, badness: f64, amount: f64, mark: &impl Mark) {
        self.note(badness, amount, mark);
        self.count += many.saturating_sub(1);
    }

    /// As [`Tally::note`], but an occurrence at the very place noted last is the same one: a setpoint
    /// that holds for a thousand strokes is one.
    pub fn note_once(&mut self, badness: f64, amount: f64, mark: &impl Mark) {
        if self
            .last
            .as_ref()
            .is_none_or(|last| last.place != mark.place())
        {
            self.note(badness, amount, mark);
        }
    }

    /// The occurrence noted last goes on at `mark`: its end and its worst, not its count.
    pub fn go_on(&mut self, badness: f64, amount: f64, mark: &impl Mark) {
        let count = self.count;
        self.note(badness, amount, mark);
        self.count = count.max(1);
    }

    /// Counts one occurrence that is neither better nor worse than the others.
    pub fn mark(&mut self, mark: &impl Mark) {
        self.note(0.0, 0.0, mark);
    }

    /// How many occurrences.
    #[must_use]
    pub const fn count(&self) -> u64 {
        self.count
    }

    /// Whether nothing was noted.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.count == 0
    }

    /// The job's value at the worst occurrence.
    #[must_use]
    pub fn worst(&self) -> Option<f64> {
        self.worst.as_ref().map(|worst| worst.amount)
    }

    /// Adds another tally's occurrences to this one's; the result is as if all had been noted here.
    pub fn merge(&mut self, other: Self) {
        self.count += other.count;
        if let Some(first) = other.first {
            keep(&mut self.first, &first, |kept| first.place < kept.place);
        }
        if let Some(last) = other.last {
            keep(&mut self.last, &last, |kept| last.place > kept.place);
        }
        if let Some(worst) = other.worst {
            let worse = self.worst.as_ref().is_none_or(|kept| {
                worst.badness > kept.badness
                    || (worst.badness == kept.badness && worst.at.place < kept.at.place)
            });
            if worse {
                self.worst = Some(worst);
            }
        }
    }

    /// Closes the tally; `counts` says what its occurrences are.
    #[must_use]
    pub fn close(self, counts: Counts) -> Extent {
        Extent {
            count: self.count,
            counts,
            first: self.first,
            last: self.last,
            worst: self.worst,
        }
    }
}

fn keep(slot: &mut Option<Excerpt>, mark: &impl Mark, better: impl Fn(&Excerpt) -> bool) {
    match slot {
        Some(kept) => {
            if better(kept) {
                mark.write(kept);
            }
        }
        none => {
            let mut excerpt = Excerpt::default();
            mark.write(&mut excerpt);
            *none = Some(excerpt);
        }
    }
}
