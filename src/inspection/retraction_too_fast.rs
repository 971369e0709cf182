//! Filament is drawn back faster than the drive wants.

use super::drawn::{Beyond, Drawn, Measure, limit};
use super::{Held, Inspection, Requirement, Wants};
use crate::finding::{Class, Limit};
use crate::machine::Facts;
use crate::sheet::Drive;

/// The fastest by the drive, mm/s (common practice, no source: 25 to 45 mm/s at the hotend, 40 to 60 mm/s
/// through a tube).
const fn usual(drive: Drive) -> (f64, &'static str) {
    match drive {
        Drive::Direct => (45.0, "what is usual with a drive at the hotend"),
        Drive::Remote => (60.0, "what is usual with a drive through a tube"),
    }
}

/// A feed of `F2700` is 45 mm/s but for rounding, mm/s.
const GRAIN: f64 = 1e-6;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "retraction-too-fast",
    class: Class::Observation,
    page: include_str!("retraction_too_fast.md"),
    wants: Wants::motions(Facts::DRAWN_BACK).and(Wants::CHANGES),
    silences: &[],
    make,
};

#[allow(clippy::unnecessary_wraps, reason = "the register's form")]
fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    let measure = Measure {
        id: REQUIREMENT.id,
        of: |drawn: &Drawn| drawn.speed,
        grain: GRAIN,
        limit: limit_of,
        unsaid: "neither the machine sheet says tools.drive nor the material sheet retraction.speed_most",
        stated: |tool, worst, limit| {
            [
                format!(
                    "tool {tool} draws filament back at up to {worst} mm/s, above {limit} mm/s"
                ),
                format!("draw back at {limit} mm/s or less"),
            ]
        },
    };
    Ok(Beyond::boxed(held, measure))
}

/// The limit of a tool.
pub(crate) fn limit_of(held: &Held, tool: u32) -> Option<Limit> {
    limit(
        held,
        tool,
        |tool| tool.retraction_speed_most.as_ref(),
        |material| material.retraction.speed_most.as_ref(),
        ["tools.retraction_speed_most", "retraction.speed_most"],
        usual,
    )
}
