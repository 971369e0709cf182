//! The air around the filament gets so warm that it softens before the hotend.

use super::air::{Air, UNTOLD};
use super::figures::{tenth, tools_used};
use super::held::{SENSOR_SPREAD, of_material};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, NotHeld, Tally};
use crate::machine::Setup;
use crate::sheet::ChamberKind;
use crate::survey::Layer;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "enclosure-too-warm",
    class: Class::Major,
    page: include_str!("enclosure_too_warm.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

struct EnclosureTooWarm {
    held: Held,
    setup: Setup,
    is_closed: bool,
    air: Air,
    warm: Vec<(u32, Tally)>,
    unknown: Option<&'static str>,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.says("chamber.jams_above", |material| {
        material.chamber.jams_above.as_ref()
    })?;
    let kind = held.machine()?.chamber.kind.as_ref();
    let kind = kind.ok_or("the machine sheet does not say chamber.kind")?;
    Ok(Box::new(EnclosureTooWarm {
        held: held.clone(),
        setup: held.setup(),
        is_closed: kind.value != ChamberKind::None,
        air: Air::default(),
        warm: Vec::new(),
        unknown: None,
    }))
}

impl Inspection for EnclosureTooWarm {
    fn layer(&mut self, layer: &Layer) {
        if !self.is_closed {
            return;
        }
        for stroke in layer.settings() {
            let chamber = &stroke.conditions.chamber;
            let Some(air) = self.air.at(stroke, &self.setup) else {
                self.unknown = Some(UNTOLD);
                return;
            };
            if chamber.target.is_claimed() {
                self.unknown = Some("a macro may have warmed the chamber");
            }
            let tool = self.held.alike(stroke.conditions.tool);
            let limit = self.held.material(tool);
            let Some(limit) = limit.and_then(|m| m.chamber.jams_above.as_ref()) else {
                continue;
            };
            if air > limit.value.get() + SENSOR_SPREAD {
                super::by_tool(&mut self.warm, tool).note(air, air, &layer.show(stroke.start));
                break;
            }
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let can_jam = |tool: u32| {
            let material = end.held.material(tool);
            material.is_some_and(|material| material.chamber.jams_above.is_some())
        };
        if let Some(reason) = self.unknown.filter(|_| self.warm.is_empty())
            && tools_used(end.state).into_iter().any(can_jam)
        {
            report.not_held.push(NotHeld {
                requirement: REQUIREMENT.id,
                reason: reason.to_owned(),
            });
        }
        for (tool, tally) in std::mem::take(&mut self.warm) {
            let Some(material) = end.held.material(tool) else {
                continue;
            };
            let Some(limit) = &material.chamber.jams_above else {
                continue;
            };
            let air = tenth(tally.worst().unwrap_or_default());
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Major,
                message: format!(
                    "the closed chamber warms to {air} °C by its model, {} K above the {} from which {} \
                     softens before the hotend and jams",
                    tenth(air - limit.value.get()),
                    limit.value,
                    material.name
                ),
                help: "open door or lid while it prints, or print on a cooler bed".to_owned(),
                limit: Some(of_material(
                    material,
                    "chamber.jams_above",
                    limit,
                    limit.value,
                )),
                amount: Some(air),
                extent: tally.close(Counts::Layers),
                related: Vec::new(),
            });
        }
    }
}
