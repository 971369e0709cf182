//! Bed setpoints under which the part is laid come within the material sheet's range.

use super::setpoint::{key, numbers};
use super::{Characteristic, Mend, Proposal, Proposals, Rework};
use crate::finding::Excerpt;
use crate::inspection::{End, Held, SENSOR_SPREAD, of_material};
use crate::survey::Layer;
use std::collections::BTreeMap;

pub(super) const REWORK: Rework = Rework {
    id: "bed-setpoints",
    page: include_str!("bed_setpoints.md"),
    answers: &["bed-below-sheet", "bed-above-sheet", "bed-above-machine"],
    alters: &[Characteristic::Heat],
    make,
};

/// The most setpoints that are followed.
const CAP: usize = 1000;

struct Mending {
    held: Held,
    used: BTreeMap<u64, (Excerpt, f64, u32)>,
}

fn make(held: &Held) -> Box<dyn Mend> {
    Box::new(Mending {
        held: held.clone(),
        used: BTreeMap::new(),
    })
}

impl Mend for Mending {
    fn layer(&mut self, layer: &Layer) {
        for stroke in layer.settings() {
            let setting = &stroke.conditions.bed;
            let (Some(target), Some(by)) = (setting.target.get(), &setting.by) else {
                continue;
            };
            if target > 0.0 && self.used.len() < CAP {
                self.used
                    .entry(key(by))
                    .or_insert_with(|| (by.clone(), target, stroke.conditions.tool));
            }
        }
    }

    fn propose(&mut self, end: &End<'_>, proposals: &mut Proposals) {
        for (by, target, tool) in self.used.values() {
            let Some(material) = self.held.material(*tool) else {
                continue;
            };
            let Some(range) = &material.bed.print else {
                continue;
            };
            let (least, most) = (range.value.least, range.value.most);
            let (requirement, wanted) = if least.get() - target > SENSOR_SPREAD {
                ("bed-below-sheet", least)
            } else if target - most.get() > SENSOR_SPREAD {
                ("bed-above-sheet", most)
            } else {
                continue;
            };
            let limit = end
                .held
                .machine
                .as_ref()
                .and_then(|machine| machine.bed.limit.as_ref());
            if let Some(limit) = limit.filter(|limit| wanted > limit.value) {
                proposals.refuse(
                    REWORK.id,
                    requirement,
                    format!("the bed stands no more than {}", limit.value),
                );
                continue;
            }
            let found = numbers(by, b"SR", *target);
            if found.is_empty() {
                proposals.refuse(
                    REWORK.id,
                    requirement,
                    "the setpoint's number does not stand where it can be changed",
                );
                continue;
            }
            proposals.list.push(Proposal {
                rework: REWORK.id,
                requirement,
                old: format!("{target} °C"),
                new: wanted.to_string(),
                limit: Some(of_material(material, "bed.print", range, wanted)),
                at: Some(by.clone()),
                changes: found.iter().map(|number| number.to(wanted.get())).collect(),
            });
        }
    }
}
