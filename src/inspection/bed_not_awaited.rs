//! The part begins before the bed has come to its setpoint, and the job never waited for it.

use super::heat::not_awaited;
use super::hotend_not_awaited::Short;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::Class;
use crate::survey::Layer;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "bed-not-awaited",
    class: Class::Minor,
    page: include_str!("bed_not_awaited.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

#[derive(Default)]
struct BedNotAwaited {
    has_begun: bool,
    short: Option<Short>,
}

fn make(_: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(BedNotAwaited::default()))
}

impl Inspection for BedNotAwaited {
    fn layer(&mut self, layer: &Layer) {
        if self.has_begun {
            return;
        }
        let Some(stroke) = layer.settings().next() else {
            return;
        };
        self.has_begun = true;
        let setting = &stroke.conditions.bed;
        if let (Some(target), Some(now), Some(by)) =
            (not_awaited(setting), stroke.bed.get(), &setting.by)
        {
            self.short = Short::of(target, now, by, &layer.show(stroke.start));
        }
    }

    fn conclude(&mut self, _: &End<'_>, report: &mut Report) {
        if let Some(short) = self.short.take() {
            report
                .findings
                .push(short.finding(REQUIREMENT.id, "bed", "M190"));
        }
    }
}
