//! How much is laid at each size, where the limit is known only when the job has ended.

use crate::finding::{Counts, Excerpt, Extent, Mark, Worst};
use std::collections::BTreeMap;

/// The most sizes kept apart; what is larger counts as the largest.
const MOST: u32 = 4000;

/// One size.
#[derive(Debug, Clone)]
struct Bin {
    weight: f64,
    volume: f64,
    count: u64,
    most: f64,
    first: Excerpt,
}

/// Weights by size, each to one grain.
#[derive(Debug, Clone, Default)]
pub(super) struct Bins {
    bins: BTreeMap<u32, Bin>,
}

/// What lies beyond a limit.
#[derive(Debug, Clone, Default)]
pub(super) struct Beyond {
    pub weight: f64,
    pub volume: f64,
    pub count: u64,
    first: Option<Excerpt>,
    worst: Option<(f64, Excerpt)>,
}

impl Beyond {
    fn add(&mut self, bin: &Bin) {
        self.weight += bin.weight;
        self.volume += bin.volume;
        self.count += bin.count;
        if self
            .first
            .as_ref()
            .is_none_or(|first| bin.first.place < first.place)
        {
            self.first = Some(bin.first.clone());
        }
    }

    /// The size farthest beyond the limit.
    pub fn worst(&self) -> f64 {
        self.worst.as_ref().map_or(0.0, |(size, _)| *size)
    }

    /// As a finding's extent.
    pub fn extent(self, counts: Counts) -> Extent {
        let worst = self.worst.map(|(amount, at)| Worst {
            badness: 0.0,
            amount,
            at,
        });
        Extent {
            count: self.count,
            counts,
            last: None,
            first: self.first,
            worst,
        }
    }
}

/// A size in grains.
fn grains(size: f64, grain: f64) -> u32 {
    ((size / grain).round().max(0.0) as u32).min(MOST)
}

impl Bins {
    /// Takes what is laid at one size; `grain` is the difference that counts.
    pub fn note(&mut self, size: f64, grain: f64, (weight, volume): (f64, f64), at: &impl Mark) {
        let bin = self.bins.entry(grains(size, grain)).or_insert_with(|| {
            let mut first = Excerpt::default();
            at.write(&mut first);
            Bin {
                weight: 0.0,
                volume: 0.0,
                count: 0,
                most: 0.0,
                first,
            }
        });
        bin.weight += weight;
        bin.volume += volume;
        bin.count += 1;
        bin.most = bin.most.max(size);
    }

    /// All of it.
    pub fn all(&self) -> Beyond {
        self.sum(self.bins.iter())
    }

    /// What is larger than the limit by a grain or more.
    pub fn above(&self, limit: f64, grain: f64) -> Beyond {
        let mut beyond = self.sum(self.bins.range(grains(limit, grain).saturating_add(1)..));
        beyond.worst = self
            .bins
            .last_key_value()
            .filter(|_| beyond.count > 0)
            .map(|(_, bin)| (bin.most, bin.first.clone()));
        beyond
    }

    /// What is smaller than the limit by a grain or more, and not smaller than `from`.
    pub fn below(&self, from: f64, limit: f64, grain: f64) -> Beyond {
        let (from, limit) = (grains(from, grain), grains(limit, grain));
        let range = || self.bins.range(from.min(limit)..limit);
        let mut beyond = self.sum(range());
        beyond.worst = range().next().map(|(_, bin)| (bin.most, bin.first.clone()));
        beyond
    }

    /// The size of the greatest weight, in grains.
    pub fn usual(&self) -> Option<u32> {
        self.bins
            .iter()
            .max_by(|one, other| one.1.weight.total_cmp(&other.1.weight))
            .map(|(size, _)| *size)
    }

    /// Sizes that have at least this share of the weight, in grains.
    pub fn sizes(&self, share: f64) -> impl Iterator<Item = u32> {
        let least = self.all().weight * share;
        self.bins
            .iter()
            .filter(move |(_, bin)| bin.weight >= least)
            .map(|(size, _)| *size)
    }

    fn sum<'a>(&'a self, bins: impl Iterator<Item = (&'a u32, &'a Bin)>) -> Beyond {
        let mut beyond = Beyond::default();
        for (_, bin) in bins {
            beyond.add(bin);
        }
        beyond
    }
}

/// One of the bins by tool in a list.
#[allow(clippy::indexing_slicing, reason = "an entry just found or pushed")]
pub(super) fn of_tool<T: Default>(list: &mut Vec<(u32, T)>, tool: u32) -> &mut T {
    let index = match list.iter().position(|(of, _)| *of == tool) {
        Some(index) => index,
        None => {
            list.push((tool, T::default()));
            list.len() - 1
        }
    };
    &mut list[index].1
}
