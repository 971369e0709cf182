//! The part begins before its hotend has come to its setpoint, and the job never waited for it.

use super::figures::tenth;
use super::heat::not_awaited;
use super::held::SENSOR_SPREAD;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Excerpt, Extent, Finding, Mark};
use crate::survey::Layer;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "hotend-not-awaited",
    class: Class::Minor,
    page: include_str!("hotend_not_awaited.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

#[derive(Default)]
struct HotendNotAwaited {
    /// Tools whose first deposit for the part has been seen.
    seen: Vec<u32>,
    short: Vec<Short>,
}

/// A heater that is short of its setpoint as the part begins.
pub(super) struct Short {
    /// The setpoint, °C.
    pub(super) target: f64,
    /// The temperature by the model, °C.
    pub(super) now: f64,
    /// The word that set it.
    pub(super) by: Excerpt,
    /// Where the part begins.
    pub(super) begins: Excerpt,
}

impl Short {
    /// If it is short by more than sensors wander.
    pub(super) fn of(target: f64, now: f64, by: &Excerpt, begins: &impl Mark) -> Option<Self> {
        let now = tenth(now);
        (target - now > SENSOR_SPREAD).then(|| {
            let mut at = Excerpt::default();
            begins.write(&mut at);
            Self {
                target,
                now,
                by: by.clone(),
                begins: at,
            }
        })
    }

    /// The finding on it.
    pub(super) fn finding(self, requirement: &'static str, what: &str, word: &str) -> Finding {
        let Self {
            target,
            now,
            by,
            begins,
        } = self;
        Finding {
            requirement,
            class: Class::Minor,
            message: format!(
                "the part begins with the {what} at {now} °C by the heating model, {} K short of \
                 the {target} °C it is set to",
                tenth(target - now)
            ),
            help: format!("wait for the {what} before the part begins (`{word} S{target}`)"),
            limit: None,
            amount: Some(now),
            extent: Extent::once(by),
            related: vec![(begins, "the part begins here".to_owned())],
        }
    }
}

fn make(_: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(HotendNotAwaited::default()))
}

impl Inspection for HotendNotAwaited {
    fn layer(&mut self, layer: &Layer) {
        for stroke in layer.settings() {
            let tool = stroke.conditions.tool;
            if self.seen.contains(&tool) {
                continue;
            }
            self.seen.push(tool);
            let setting = &stroke.conditions.hotend;
            if let (Some(target), Some(now), Some(by)) =
                (not_awaited(setting), stroke.hotend.get(), &setting.by)
            {
                let begins = layer.show(stroke.start);
                self.short.extend(Short::of(target, now, by, &begins));
            }
        }
    }

    fn conclude(&mut self, _: &End<'_>, report: &mut Report) {
        for short in std::mem::take(&mut self.short) {
            report
                .findings
                .push(short.finding(REQUIREMENT.id, "hotend", "M109"));
        }
    }
}
