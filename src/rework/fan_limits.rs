//! Part fan settings come within the material sheet's limits, layer band by layer band.

use super::setpoint::{key, numbers};
use super::{Characteristic, Mend, Proposal, Proposals, Rework};
use crate::command::hint::PathKind;
use crate::edit::Change;
use crate::finding::Excerpt;
use crate::inspection::{End, Held, of_material};
use crate::quantity::Percent;
use crate::sheet::Material;
use crate::survey::Layer;
use std::collections::BTreeMap;

pub(super) static REWORK: Rework = Rework {
    id: "fan-limits",
    page: include_str!("fan_limits.md"),
    answers: &["fan-on-first-layers", "fan-above-sheet"],
    alters: &[Characteristic::Fan],
    is_repair: false,
    make: Some(make),
};

/// The most fan settings that are followed; a job with more is left alone.
const CAP: usize = 20_000;

struct Used {
    by: Excerpt,
    share: f64,
    tool: u32,
    on_first: bool,
    /// The first line behind the first layers that is laid under it: number and first byte.
    then: Option<(u64, u64)>,
}

struct Mending {
    held: Held,
    used: BTreeMap<u64, Used>,
}

fn make(held: &Held) -> Box<dyn Mend> {
    Box::new(Mending {
        held: held.clone(),
        used: BTreeMap::new(),
    })
}

/// How many layers count as the first ones, and the most on them.
fn first_band(material: &Material) -> Option<(u64, Percent)> {
    let most = material.fan.first_layers_most.as_ref()?.value;
    let layers = material
        .fan
        .first_layers
        .as_ref()
        .map_or(1, |cited| cited.value);
    Some((u64::from(layers), most))
}

impl Mend for Mending {
    fn layer(&mut self, layer: &Layer) {
        let plain = layer
            .part()
            // Bridges have a fan of their own.
            .filter(|stroke| stroke.hint != PathKind::Bridge);
        for stroke in plain {
            let conditions = &stroke.conditions;
            let Some(by) = conditions.fan_by.as_ref().filter(|_| conditions.fan > 0.0) else {
                continue;
            };
            let Some(material) = self.held.material(conditions.tool) else {
                continue;
            };
            if self.used.len() >= CAP && !self.used.contains_key(&key(by)) {
                continue;
            }
            let is_first = first_band(material).is_some_and(|(layers, _)| layer.number < layers);
            let used = self.used.entry(key(by)).or_insert_with(|| Used {
                by: by.clone(),
                share: conditions.fan,
                tool: conditions.tool,
                on_first: false,
                then: None,
            });
            used.on_first |= is_first;
            if !is_first && used.then.is_none() {
                used.then = Some(layer.line_of(stroke));
            }
        }
    }

    fn propose(&mut self, end: &End<'_>, proposals: &mut Proposals) {
        if self.used.len() >= CAP {
            proposals.refuse(
                REWORK.id,
                "fan-above-sheet",
                format!("the job sets the fan {CAP} times or more"),
            );
            return;
        }
        let full = end.setup.dialect.fan_full;
        for used in self.used.values() {
            let Some(material) = self.held.material(used.tool) else {
                continue;
            };
            let rest = material.fan.print.as_ref();
            let within = |most: Percent| used.share.min(most.get() / 100.0);
            let first = first_band(material).map_or(used.share, |(_, most)| within(most));
            let later = rest.map_or(used.share, |range| within(range.value.most));
            let (on_first, then) = (used.on_first, used.then);
            let wanted = if on_first { first } else { later };
            let needs_more = on_first && then.is_some() && (later - first).abs() > SLACK;
            if used.share - wanted <= SLACK {
                continue;
            }
            let requirement = if on_first {
                "fan-on-first-layers"
            } else {
                "fan-above-sheet"
            };
            let scale = |share: f64| (share * f64::from(full)).floor();
            let Some(change) = set_to(&used.by, used.share * f64::from(full), scale(wanted)) else {
                proposals.refuse(
                    REWORK.id,
                    requirement,
                    "the fan's speed does not stand behind its word, as in M106 S255, where it could be changed",
                );
                continue;
            };
            let mut changes = vec![change];
            if needs_more && let Some((line, start)) = then {
                let text = format!("M106 S{}\n", scale(later));
                changes.push(Change::new(line, start..start, text));
            }
            let cited =
                if on_first {
                    material.fan.first_layers_most.as_ref().map(|cited| {
                        of_material(material, "fan.first_layers_most", cited, cited.value)
                    })
                } else {
                    rest.map(|range| of_material(material, "fan.print", range, range.value.most))
                };
            let percent = |share: f64| format!("{:.0} %", share * 100.0);
            proposals.list.push(Proposal {
                rework: REWORK.id,
                requirement,
                old: percent(used.share),
                new: percent(wanted),
                limit: cited,
                at: Some(used.by.clone()),
                changes,
            });
        }
    }
}

/// The change that sets a fan otherwise: of its number, or behind a word alone, which is full speed.
fn set_to(by: &Excerpt, said: f64, wanted: f64) -> Option<Change> {
    let found = numbers(by, b"S", said.round());
    match found.as_slice() {
        [number] => Some(number.to(wanted)),
        [] => {
            let end = by.place.end;
            let behind = by.text.get(by.span().end..).unwrap_or_default();
            let is_alone = !by.clipped_back
                && behind
                    .iter()
                    .find(|byte| !matches!(byte, b' ' | b'\t' | b'\r' | b'\n'))
                    .is_none_or(|byte| matches!(byte, b';' | b'(' | b'*'));
            let word = by.text.get(by.span()).unwrap_or_default();
            (is_alone && word.eq_ignore_ascii_case(b"M106"))
                .then(|| Change::new(by.place.line, end..end, format!(" S{wanted}")))
        }
        _ => None,
    }
}

/// Half a step of a fan of 255 steps is rounding.
const SLACK: f64 = 0.5 / 255.0;
