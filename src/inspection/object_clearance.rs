//! The tool head runs into what is printed already.

use super::figures::tidy;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Tally};
use crate::machine::Line;
use crate::sheet::RodsAlong;
use crate::survey::{Near, Reaches, Reaching};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "object-clearance",
    class: Class::Critical,
    page: include_str!("object_clearance.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

/// Moves that come too near, and the nearest of them.
#[derive(Default)]
struct Hits {
    moves: Tally,
    nearest: Option<Near>,
}

#[derive(Default)]
struct ObjectClearance {
    head: Hits,
    rods: Hits,
}

/// What the machine sheet says of the head and of what carries it.
pub(super) fn reaches(held: &Held) -> Vec<Reaches> {
    let Some(machine) = &held.machine else {
        return Vec::new();
    };
    let said = &machine.head;
    let head = said.reach.as_ref().zip(said.above.as_ref());
    let head = head.map(|(reach, above)| Reaches {
        what: Reaching::Head,
        reach: reach.value.get(),
        above: above.value.get(),
    });
    let rods = said.rods_reach.as_ref().zip(said.rods_above.as_ref());
    let rods = rods
        .zip(said.rods_along.as_ref())
        .map(|((reach, above), along)| Reaches {
            what: Reaching::Rods(match along.value {
                RodsAlong::X => 0,
                RodsAlong::Y => 1,
            }),
            reach: reach.value.get(),
            above: above.value.get(),
        });
    head.into_iter().chain(rods).collect()
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.machine()?;
    if reaches(held).is_empty() {
        return Err(
            "the machine sheet does not say head.reach and head.above, or head.rods_above, head.rods_along \
             and head.rods_reach"
                .to_owned(),
        );
    }
    Ok(Box::new(ObjectClearance::default()))
}

impl Inspection for ObjectClearance {
    fn near(&mut self, line: &Line<'_>, near: &Near) {
        let hits = match near.what {
            Reaching::Head => &mut self.head,
            Reaching::Rods(_) => &mut self.rods,
        };
        // The nearest is the worst.
        hits.moves.note(-near.apart, tidy(near.apart), &line.all());
        if hits
            .nearest
            .is_none_or(|nearest| near.apart < nearest.apart)
        {
            hits.nearest = Some(*near);
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let Some(machine) = end.held.machine.as_deref() else {
            return;
        };
        let said = &machine.head;
        for (hits, reach, key, what) in [
            (
                &mut self.head,
                &said.reach,
                "head.reach",
                "the tool head comes",
            ),
            (
                &mut self.rods,
                &said.rods_reach,
                "head.rods_reach",
                "what carries the tool head comes",
            ),
        ] {
            let (Some(near), Some(reach)) = (hits.nearest, reach) else {
                continue;
            };
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Critical,
                message: format!(
                    "{what} down to Z {} mm, {} mm from what stands {} mm tall",
                    tidy(near.nozzle),
                    tidy(near.apart),
                    tidy(near.top)
                ),
                help: "set the parts farther apart, print the tall one last, or print all of them layer by layer"
                    .to_owned(),
                limit: Some(super::held::of_machine(machine, key, reach, reach.value)),
                amount: Some(tidy(near.apart)),
                extent: std::mem::take(&mut hits.moves).close(Counts::Moves),
                related: Vec::new(),
            });
        }
    }
}
