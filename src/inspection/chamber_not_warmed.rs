//! The part begins in a chamber that is not as warm as its material needs.

use super::figures::tenth;
use super::held::{SENSOR_SPREAD, of_material};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Excerpt, Extent, Finding, Mark, NotHeld};
use crate::machine::Known;
use crate::sheet::{ChamberKind, Material};
use crate::survey::{Layer, Stroke};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "chamber-not-warmed",
    class: Class::Major,
    page: include_str!("chamber_not_warmed.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

struct ChamberNotWarmed {
    begun: Option<Result<Begun, &'static str>>,
}

/// The chamber as the part begins.
struct Begun {
    air: f64,
    at: Excerpt,
    by: Option<Excerpt>,
}

/// The material that needs the warmest chamber, of those that need one, and what it needs.
pub(crate) fn neediest(held: &Held) -> Option<(&Material, f64)> {
    held.each_material()
        .filter(|material| {
            material
                .chamber
                .required
                .as_ref()
                .is_some_and(|yes| yes.value)
        })
        .filter_map(|material| Some((material, material.chamber.print.as_ref()?.value.least.get())))
        .max_by(|(_, one), (_, other)| one.total_cmp(other))
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.says("chamber.required", |material| {
        material.chamber.required.as_ref()
    })?;
    let chamber = &held.machine()?.chamber;
    if let Some((_, least)) = neediest(held) {
        match chamber.kind.as_ref().map(|kind| kind.value) {
            None => return Err("the machine sheet does not say chamber.kind".to_owned()),
            Some(ChamberKind::None) => return Err("the machine has no chamber".to_owned()),
            Some(_) => {}
        }
        let limit = chamber.limit.as_ref().map(|limit| limit.value.get());
        if limit.is_some_and(|limit| limit < least - SENSOR_SPREAD) {
            return Err("the machine's chamber does not reach what the material needs".to_owned());
        }
    }
    Ok(Box::new(ChamberNotWarmed { begun: None }))
}

/// How warm the air is: what was waited for, or what the model says, the warmer of the two.
fn air(stroke: &Stroke) -> Result<f64, &'static str> {
    let setting = &stroke.conditions.chamber;
    if setting.target.is_claimed() || setting.awaited.is_claimed() {
        return Err("a macro may have warmed the chamber");
    }
    let awaited = setting
        .target
        .get()
        .filter(|target| *target > 0.0 && setting.awaited == Known::Known(true));
    match (awaited, stroke.air) {
        (Some(target), air) => Ok(target.max(air.unwrap_or(target))),
        (None, Some(air)) => Ok(air),
        (None, None) => {
            Err("the machine sheet does not say chamber.wall_conductance and chamber.contents")
        }
    }
}

impl Inspection for ChamberNotWarmed {
    fn layer(&mut self, layer: &Layer) {
        if self.begun.is_some() {
            return;
        }
        let Some(stroke) = layer.settings().next() else {
            return;
        };
        self.begun = Some(air(stroke).map(|air| {
            let mut at = Excerpt::default();
            layer.show(stroke.start).write(&mut at);
            let by = stroke.conditions.chamber.by.clone();
            Begun { air, at, by }
        }));
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let (Some((material, _)), Some(begun)) = (neediest(end.held), self.begun.take()) else {
            return;
        };
        let Some(range) = &material.chamber.print else {
            return;
        };
        let Begun { air, at, by } = match begun {
            Ok(begun) => begun,
            Err(reason) => {
                report.not_held.push(NotHeld {
                    requirement: REQUIREMENT.id,
                    reason: reason.to_owned(),
                });
                return;
            }
        };
        let (air, least) = (tenth(air), range.value.least);
        let under = least.get() - air;
        if under <= SENSOR_SPREAD {
            return;
        }
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Major,
            message: format!(
                "the part begins with the chamber at {air} °C, {} K below the {least} that {} needs",
                tenth(under),
                material.name
            ),
            help: format!(
                "wait for the chamber (`M191 S{}`), or where only the bed warms it, heat the bed and \
                 dwell before the part begins",
                least.get()
            ),
            limit: Some(of_material(material, "chamber.print", range, least)),
            amount: Some(air),
            extent: Extent::once(at),
            related: by
                .map(|by| (by, "the chamber is set here".to_owned()))
                .into_iter()
                .collect(),
        });
    }
}
