//! The part fan by bands of layers: its mean weighted by filament, bridges apart.

use super::again::{self, Stored};
use super::figures::tenth;
use super::held::of_material;
use super::{End, Held, Report, Requirement};
use crate::command::hint::PathKind;
use crate::finding::{Counts, Excerpt, Finding, Mark, NotHeld, Tally};
use crate::quantity::{Percent, Range};
use crate::sheet::{Cited, Material};
use crate::survey::{Layer, Stroke};

/// Within this of a limit nothing is said, percentage points: one step of a fan word's 255 (chosen).
pub(super) const GRAIN: f64 = 0.5;

/// Layers in a band (chosen).
const BAND: u32 = 10;

/// The share of a band's filament that is left out at the end that would cry: bridges, overhangs and
/// small features have a fan of their own on good jobs (chosen: about one layer of ten, and half
/// again).
const LEFT_OUT: f64 = 0.15;

/// Layers after the first ones on which a fan may still be on its way up (chosen).
const RAMP: u64 = 4;

/// Counts the part's layers from the bed up; the next of several objects begins anew.
#[derive(Debug, Default)]
pub(super) struct Levels {
    level: Option<u64>,
    top: i64,
}

impl Levels {
    /// The level of a layer of the part, from 0.
    pub fn of(&mut self, layer: &Layer) -> u64 {
        let level = match self.level {
            None => 0,
            Some(_) if layer.z < self.top && layer.height >= layer.z => 0,
            Some(level) if layer.z > self.top => level + 1,
            Some(level) => level,
        };
        self.top = layer.z;
        self.level = Some(level);
        level
    }
}

/// How many layers of a material count as the first ones.
pub(super) fn first_layers(material: &Material) -> u64 {
    let said = material.fan.first_layers.as_ref();
    said.map_or(1, |said| u64::from(said.value))
}

/// Which end of the sheet's range is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Edge {
    /// The upper one.
    Most,
    /// The lower one.
    Least,
}

impl Edge {
    /// What the means of plain deposit and of bridges are called among the values held.
    const fn names(self) -> [&'static str; 2] {
        match self {
            Self::Most => ["fan.most", "fan.bridge_most"],
            Self::Least => ["fan.least", "fan.bridge_least"],
        }
    }
}

/// Filament by fan share in steps of 255.
#[derive(Debug, Clone)]
struct Band {
    filament: Vec<f64>,
    layers: u32,
    at: Option<Excerpt>,
}

impl Band {
    fn new() -> Self {
        Self {
            filament: vec![0.0; 256],
            layers: 0,
            at: None,
        }
    }

    fn join(&mut self, other: Self) {
        for (sum, more) in self.filament.iter_mut().zip(other.filament) {
            *sum += more;
        }
        self.layers += other.layers;
        self.at = self.at.take().or(other.at);
    }

    /// The mean, per cent, without what is left out at one end.
    fn mean(&self, end: Edge) -> Option<f64> {
        let total: f64 = self.filament.iter().sum();
        let mut left_out = total * LEFT_OUT;
        let (mut sum, mut weight) = (0.0, 0.0);
        let mut steps: Vec<(usize, f64)> = self.filament.iter().copied().enumerate().collect();
        if end == Edge::Most {
            steps.reverse();
        }
        for (step, filament) in steps {
            let out = filament.min(left_out);
            left_out -= out;
            sum += step as f64 / 2.55 * (filament - out);
            weight += filament - out;
        }
        (weight > 0.0).then(|| sum / weight)
    }
}

/// One tool's plain deposit, or its bridges.
#[derive(Debug)]
struct Group {
    /// The tool.
    tool: u32,
    /// Whether these are its bridges.
    bridge: bool,
    open: Band,
    before: Option<Band>,
    /// Where a band lies outside the sheet's range.
    outside: Tally,
    /// The mean farthest outside, per cent.
    worst: f64,
    /// The mean nearest to that end of the range, or farthest outside, per cent.
    extreme: Option<f64>,
    unsaid: bool,
}

/// The part fan held against one end of the sheet's range.
#[derive(Debug)]
pub(super) struct Bands {
    held: Held,
    end: Edge,
    levels: Levels,
    groups: Vec<Group>,
}

/// The range for a material's plain deposit or its bridges, and its key.
fn range(material: &Material, bridge: bool) -> Option<(&'static str, &Cited<Range<Percent>>)> {
    if bridge {
        material
            .fan
            .bridge
            .as_ref()
            .map(|range| ("fan.bridge", range))
    } else {
        material
            .fan
            .print
            .as_ref()
            .map(|range| ("fan.print", range))
    }
}

impl Bands {
    pub fn new(held: &Held, end: Edge) -> Self {
        Self {
            held: held.clone(),
            end,
            levels: Levels::default(),
            groups: Vec::new(),
        }
    }

    pub fn layer(&mut self, layer: &Layer) {
        if !layer.has_part() {
            return;
        }
        let level = self.levels.of(layer);
        let mut touched = Vec::new();
        for stroke in layer.part() {
            let added = self.add(level, layer, stroke);
            touched.extend(added.filter(|index| !touched.contains(index)));
        }
        for index in touched {
            let Some(group) = self.groups.get_mut(index) else {
                continue;
            };
            group.open.layers += 1;
            // Bridges are few: one band for the whole job.
            if group.open.layers == BAND && !group.bridge {
                let full = std::mem::replace(&mut group.open, Band::new());
                if let Some(before) = group.before.replace(full) {
                    settle(&self.held, self.end, group, before);
                }
            }
        }
    }

    fn add(&mut self, level: u64, layer: &Layer, stroke: &Stroke) -> Option<usize> {
        let conditions = &stroke.conditions;
        let material = self.held.material(conditions.tool)?;
        let first = first_layers(material);
        let ramp = if self.end == Edge::Least { RAMP } else { 0 };
        if level < first + ramp {
            return None;
        }
        let bridge = stroke.hint == PathKind::Bridge;
        let (_, range) = range(material, bridge)?;
        let known = self
            .groups
            .iter()
            .position(|group| group.tool == conditions.tool && group.bridge == bridge);
        let index = known.unwrap_or(self.groups.len());
        if known.is_none() {
            self.groups.push(Group {
                tool: conditions.tool,
                bridge,
                open: Band::new(),
                before: None,
                outside: Tally::default(),
                worst: 0.0,
                extreme: None,
                unsaid: false,
            });
        }
        let group = self.groups.get_mut(index)?;
        let step = (conditions.fan * 255.0).round().clamp(0.0, 255.0) as usize;
        if let Some(sum) = group.open.filament.get_mut(step) {
            *sum += stroke.pushed as f64;
        }
        group.unsaid |= conditions.fan_by.is_none();
        if group.open.at.is_none() && over(self.end, &range.value, conditions.fan * 100.0) > 0.0 {
            group.open.at = Some(conditions.fan_by.clone().unwrap_or_else(|| {
                let mut at = Excerpt::default();
                layer.show(stroke.start).write(&mut at);
                at
            }));
        }
        Some(index)
    }

    /// States what was found, as findings of `requirement` in its class.
    pub fn state(&mut self, requirement: &Requirement, end: &End<'_>, report: &mut Report) {
        let mut groups = match self.groups(end) {
            Ok(groups) => groups,
            Err(reason) => {
                report.not_held.push(NotHeld {
                    requirement: requirement.id,
                    reason: reason.to_owned(),
                });
                return;
            }
        };
        for (name, bridge) in self.end.names().into_iter().zip([false, true]) {
            let group = groups.iter().find(|group| group.bridge == bridge);
            report
                .values
                .push((name, group.and_then(|group| group.extreme)));
        }
        groups.retain(|group| !group.outside.is_empty());
        for group in groups {
            let Some(material) = end.held.material(group.tool) else {
                continue;
            };
            let Some((key, range)) = range(material, group.bridge) else {
                continue;
            };
            let what = if group.bridge {
                "bridges"
            } else {
                "a stretch of the part"
            };
            let worst = tenth(group.worst);
            let (limit, side, help) = match self.end {
                Edge::Most => (
                    range.value.most,
                    "above",
                    "or below; cooled too hard, the layers bond badly",
                ),
                Edge::Least => (
                    range.value.least,
                    "below",
                    "or more, so that each layer sets before the next is laid on it",
                ),
            };
            report.findings.push(Finding {
                requirement: requirement.id,
                class: requirement.class,
                message: format!(
                    "the part fan runs at {worst} % on average over {what}, {side} the {limit} \
                     that {} wants",
                    material.name
                ),
                help: format!("set the part fan to {limit} {help}"),
                limit: Some(of_material(material, key, range, limit)),
                amount: Some(worst),
                extent: group.outside.close(Counts::Stretches),
                related: Vec::new(),
            });
        }
    }

    /// The groups, with what of them lies outside the range, or why that cannot be told.
    fn groups(&mut self, end: &End<'_>) -> Result<Vec<Group>, &'static str> {
        if self.groups.is_empty() {
            return Err("no deposit of the part lies above its first layers");
        }
        let mut groups = std::mem::take(&mut self.groups);
        // What no word set, a macro may have.
        if end.state.claims.start.is_some() && groups.iter().any(|group| group.unsaid) {
            return Err("a macro may have set the fan");
        }
        for group in &mut groups {
            let mut open = std::mem::replace(&mut group.open, Band::new());
            if let Some(mut before) = group.before.take() {
                if open.layers < BAND / 2 {
                    before.join(open);
                    open = before;
                } else {
                    settle(&self.held, self.end, group, before);
                }
            }
            settle(&self.held, self.end, group, open);
        }
        Ok(groups)
    }
}

/// How far a share lies outside the end of the range that is held, in percentage points.
fn over(end: Edge, range: &Range<Percent>, share: f64) -> f64 {
    match end {
        Edge::Most => share - range.most.get(),
        Edge::Least => range.least.get() - share,
    }
}

/// Holds one whole band.
fn settle(held: &Held, end: Edge, group: &mut Group, band: Band) {
    let material = held.material(group.tool);
    let range = material.and_then(|material| range(material, group.bridge));
    let (Some((_, range)), Some(mean)) = (range, band.mean(end)) else {
        return;
    };
    group.extreme = match end {
        Edge::Most => again::above(group.extreme, mean),
        Edge::Least => again::below(group.extreme, mean),
    };
    let Some(at) = &band.at else { return };
    let over_by = over(end, &range.value, mean);
    if over_by > GRAIN {
        if group.outside.is_empty() || over_by > over(end, &range.value, group.worst) {
            group.worst = mean;
        }
        group.outside.note_once(over_by, mean, at);
    }
}

/// Whether a finding is stated under a sheet. A mean this far outside is made of shares outside.
pub(super) fn anew(stored: &Stored<'_>, end: Edge, material: &Material) -> Option<bool> {
    let mut is_found = false;
    for (name, bridge) in end.names().into_iter().zip([false, true]) {
        if let Some(mean) = stored.value(name)? {
            let (_, range) = range(material, bridge)?;
            is_found |= over(end, &range.value, mean) > GRAIN;
        }
    }
    Some(is_found)
}
