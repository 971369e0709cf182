//! Filament is drawn back farther than the drive wants.

use super::drawn::{Beyond, Drawn, Measure, limit};
use super::{Held, Inspection, Requirement, Wants};
use crate::finding::{Class, Limit};
use crate::machine::Facts;
use crate::sheet::Drive;

/// The longest by the drive, mm (common practice, no source: 0.4 to 2 mm at the hotend, 2 to 7 mm through
/// a tube).
const fn longest(drive: Drive) -> (f64, &'static str) {
    match drive {
        Drive::Direct => (2.0, "what is usual with a drive at the hotend"),
        Drive::Remote => (7.0, "what is usual with a drive through a tube"),
    }
}

/// Lengths are differences of numbers as written, mm: a nanometre is no difference.
const GRAIN: f64 = 1e-6;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "retraction-too-long",
    class: Class::Observation,
    page: include_str!("retraction_too_long.md"),
    wants: Wants::motions(Facts::DRAWN_BACK).and(Wants::CHANGES),
    silences: &[],
    make,
};

#[allow(clippy::unnecessary_wraps, reason = "the register's form")]
fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    let measure = Measure {
        id: REQUIREMENT.id,
        of: |drawn: &Drawn| drawn.length,
        grain: GRAIN,
        limit: limit_of,
        unsaid: "neither the machine sheet says tools.drive nor the material sheet retraction.length_most",
        stated: |tool, worst, limit| {
            [
                format!("tool {tool} draws filament back by up to {worst} mm, above {limit} mm"),
                format!("draw back {limit} mm or less"),
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
        |tool| tool.retraction_most.as_ref(),
        |material| material.retraction.length_most.as_ref(),
        ["tools.retraction_most", "retraction.length_most"],
        longest,
    )
}
