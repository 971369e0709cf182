//! Hotend setpoints under which the part is laid come within the material sheet's range.

use super::setpoint::{Ahead, Outside, key, missed, put_right};
use super::{Characteristic, Mend, Proposals, Rework};
use crate::command::Command;
use crate::finding::Excerpt;
use crate::inspection::{End, Held, hotend_range, of_material};
use crate::machine::{Line, State, Step};
use crate::survey::Layer;
use std::collections::BTreeMap;

pub(super) static REWORK: Rework = Rework {
    id: "hotend-setpoints",
    page: include_str!("hotend_setpoints.md"),
    answers: &[
        "hotend-below-sheet",
        "hotend-above-sheet",
        "hotend-above-liner",
        "hotend-above-machine",
        "cold-deposit",
    ],
    alters: &[Characteristic::Heat],
    is_repair: false,
    make: Some(make),
};

/// The most setpoints that are followed; a job with more is left alone.
const CAP: usize = 10_000;

struct Used {
    by: Excerpt,
    target: f64,
    tool: u32,
    on_first: bool,
    on_others: bool,
}

struct Mending {
    held: Held,
    used: BTreeMap<u64, Used>,
    ahead: Vec<Ahead>,
}

fn make(held: &Held) -> Box<dyn Mend> {
    Box::new(Mending {
        held: held.clone(),
        used: BTreeMap::new(),
        ahead: Vec::new(),
    })
}

impl Mend for Mending {
    fn step(&mut self, step: &Step<'_>, state: &State, _: &Line<'_>) {
        if step.command.heats() || step.command == Command::Macro {
            self.ahead.resize_with(state.hotends.len(), Ahead::default);
            for (ahead, hotend) in self.ahead.iter_mut().zip(&state.hotends) {
                ahead.step(&hotend.setting);
            }
        }
    }

    fn layer(&mut self, layer: &Layer) {
        for stroke in layer.settings() {
            let setting = &stroke.conditions.hotend;
            let (Some(target), Some(by)) = (setting.target.get(), &setting.by) else {
                continue;
            };
            if target <= 0.0 || (self.used.len() >= CAP && !self.used.contains_key(&key(by))) {
                continue;
            }
            let used = self.used.entry(key(by)).or_insert_with(|| Used {
                by: by.clone(),
                target,
                tool: stroke.conditions.tool,
                on_first: false,
                on_others: false,
            });
            used.on_first |= layer.number == 0;
            used.on_others |= layer.number > 0;
        }
    }

    fn propose(&mut self, end: &End<'_>, proposals: &mut Proposals) {
        if self.used.len() >= CAP {
            proposals.refuse(
                REWORK.id,
                "hotend-below-sheet",
                format!("the job sets the hotend {CAP} times or more"),
            );
            return;
        }
        if self.used.is_empty() {
            let reason = "the job sets no hotend temperature that could be changed";
            proposals.refuse(REWORK.id, "cold-deposit", reason);
        }
        for used in self.used.values() {
            let Some(material) = self.held.material(used.tool) else {
                continue;
            };
            let ranges = [
                used.on_first.then_some(true),
                used.on_others.then_some(false),
            ];
            let mut ranges = ranges
                .into_iter()
                .flatten()
                .filter_map(|is_first| hotend_range(material, is_first));
            let Some((mut name, mut cited)) = ranges.next() else {
                continue;
            };
            let (mut least, mut most) = (cited.value.least, cited.value.most);
            for (other_name, other) in ranges {
                let both = (
                    if other.value.least > least {
                        other.value.least
                    } else {
                        least
                    },
                    if other.value.most < most {
                        other.value.most
                    } else {
                        most
                    },
                );
                // Where the two share nothing, what holds for most of the part counts.
                (least, most) = if both.0 <= both.1 {
                    both
                } else {
                    (other.value.least, other.value.most)
                };
                (name, cited) = (other_name, other);
            }
            let Some((is_below, wanted)) = missed(least, most, used.target) else {
                continue;
            };
            let ahead = self
                .ahead
                .get(used.tool as usize)
                .map(|ahead| ahead.of(&used.by, |word| self.used.contains_key(&word)))
                .unwrap_or_default();
            let outside = Outside {
                rework: REWORK.id,
                requirement: if is_below {
                    "hotend-below-sheet"
                } else {
                    "hotend-above-sheet"
                },
                by: &used.by,
                target: used.target,
                wanted,
                limit: of_material(material, name, cited, wanted),
                too_hot: too_hot(end, used.tool, wanted.get()),
                ahead: &ahead,
            };
            put_right(outside, proposals);
        }
    }
}

/// Why the machine's hotend must not be set so hot.
pub(super) fn too_hot(end: &End<'_>, tool: u32, wanted: f64) -> Option<String> {
    let tool = end.held.tool(tool)?;
    if let Some(limit) = tool
        .limit
        .as_ref()
        .filter(|limit| wanted > limit.value.get())
    {
        return Some(format!("the hotend stands no more than {}", limit.value));
    }
    let liner = tool.liner_limit().filter(|limit| wanted > limit.get())?;
    Some(format!("the hotend's liner stands no more than {liner}"))
}
