//! Moves come faster than the control can plan them.

use super::figures::tenth;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Limit, Tally};
use crate::survey::Layer;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "moves-too-dense",
    class: Class::Minor,
    page: include_str!("moves_too_dense.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

/// A control reads some moves ahead and does not run dry before it has fallen behind by so many
/// (chosen: queues of 16 to 64 moves are common practice).
const QUEUE: f64 = 32.0;

struct MovesTooDense {
    most: f64,
    dense: Tally,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    let most = held.machine()?.control.segments_per_second;
    let most = most.ok_or("the machine sheet does not say control.segments_per_second")?;
    held.timed()?;
    Ok(Box::new(MovesTooDense {
        most: f64::from(most),
        dense: Tally::default(),
    }))
}

impl Inspection for MovesTooDense {
    fn layer(&mut self, layer: &Layer) {
        for stroke in &layer.strokes {
            let Some(pace) = &stroke.pace else { continue };
            let moves = f64::from(stroke.moves);
            if moves - self.most * pace.print > QUEUE && pace.print > 0.0 {
                let rate = moves / pace.print;
                self.dense
                    .note(rate, rate.round(), &layer.show(stroke.start));
            }
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        if super::is_untimed(REQUIREMENT.id, end, report) || self.dense.is_empty() {
            return;
        }
        let Some(machine) = end.held.machine.as_deref() else {
            return;
        };
        let rate = self.dense.worst().unwrap_or_default();
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Minor,
            message: format!(
                "{rate} moves a second come in one stroke, {} times the {} that the control plans",
                tenth(rate / self.most),
                self.most
            ),
            help: "let the slicing program simplify curves to longer moves, or lay them slower: a \
                   control that runs out of moves stops and leaves blobs"
                .to_owned(),
            limit: Some(Limit {
                value: self.most,
                unit: "1/s",
                whose: format!(
                    "machine sheet {}, control.segments_per_second",
                    machine.name
                ),
                source: machine.source.clone(),
                mark: machine.mark.unwrap_or_default(),
            }),
            amount: Some(rate),
            extent: std::mem::take(&mut self.dense).close(Counts::Strokes),
            related: Vec::new(),
        });
    }
}
