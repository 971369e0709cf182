//! Bed setpoints under which the part is laid come within the material sheet's range.

use super::setpoint::{Ahead, Outside, key, missed, put_right};
use super::{Characteristic, Mend, Proposals, Rework};
use crate::command::Command;
use crate::finding::Excerpt;
use crate::inspection::{End, Held, of_material};
use crate::machine::{Line, State, Step};
use crate::survey::Layer;
use std::collections::BTreeMap;

pub(super) static REWORK: Rework = Rework {
    id: "bed-setpoints",
    page: include_str!("bed_setpoints.md"),
    answers: &["bed-below-sheet", "bed-above-sheet", "bed-above-machine"],
    alters: &[Characteristic::Heat],
    is_repair: false,
    make: Some(make),
};

/// The most setpoints that are followed; a job with more is left alone.
const CAP: usize = 1000;

struct Mending {
    held: Held,
    used: BTreeMap<u64, (Excerpt, f64, u32)>,
    ahead: Ahead,
}

fn make(held: &Held) -> Box<dyn Mend> {
    Box::new(Mending {
        held: held.clone(),
        used: BTreeMap::new(),
        ahead: Ahead::default(),
    })
}

impl Mend for Mending {
    fn step(&mut self, step: &Step<'_>, state: &State, _: &Line<'_>) {
        if step.command.heats() || step.command == Command::Macro {
            self.ahead.step(&state.bed.setting);
        }
    }

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
        if self.used.len() >= CAP {
            let reason = format!("the job sets the bed {CAP} times or more");
            proposals.refuse(REWORK.id, "bed-below-sheet", reason);
            return;
        }
        if self.used.is_empty() {
            let reason = "the job sets no bed temperature that could be changed";
            proposals.refuse(REWORK.id, "bed-below-sheet", reason);
        }
        for (by, target, tool) in self.used.values() {
            let Some(material) = self.held.material(*tool) else {
                continue;
            };
            let Some(range) = &material.bed.print else {
                continue;
            };
            let Some((is_below, wanted)) = missed(range.value.least, range.value.most, *target)
            else {
                continue;
            };
            let ahead = self.ahead.of(by, |word| self.used.contains_key(&word));
            let outside = Outside {
                rework: REWORK.id,
                requirement: if is_below {
                    "bed-below-sheet"
                } else {
                    "bed-above-sheet"
                },
                by,
                target: *target,
                wanted,
                limit: of_material(material, "bed.print", range, wanted),
                too_hot: too_hot(end, wanted.get()),
                ahead: &ahead,
            };
            put_right(outside, proposals);
        }
    }
}

/// Why the machine's bed must not be set so hot.
pub(super) fn too_hot(end: &End<'_>, wanted: f64) -> Option<String> {
    let limit = end.held.machine.as_ref()?.bed.limit.as_ref()?;
    (wanted > limit.value.get()).then(|| format!("the bed stands no more than {}", limit.value))
}
