//! The register: every requirement, sorted by id.

use super::{
    Requirement, bed_above_machine, bed_above_sheet, bed_below_sheet, bed_not_awaited,
    chamber_above_machine, chamber_above_sheet, chamber_not_warmed, cold_deposit, first_layer_fast,
    heater_left_on, heating_uncommanded, hotend_above_liner, hotend_above_machine,
    hotend_above_sheet, hotend_below_sheet, hotend_not_awaited, machine_short_of_sheet,
    probed_cold, setpoint_hidden,
};

/// Every requirement, sorted by id.
pub const REGISTER: &[Requirement] = &[
    bed_above_machine::REQUIREMENT,
    bed_above_sheet::REQUIREMENT,
    bed_below_sheet::REQUIREMENT,
    bed_not_awaited::REQUIREMENT,
    chamber_above_machine::REQUIREMENT,
    chamber_above_sheet::REQUIREMENT,
    chamber_not_warmed::REQUIREMENT,
    cold_deposit::REQUIREMENT,
    first_layer_fast::REQUIREMENT,
    heater_left_on::REQUIREMENT,
    heating_uncommanded::REQUIREMENT,
    hotend_above_liner::REQUIREMENT,
    hotend_above_machine::REQUIREMENT,
    hotend_above_sheet::REQUIREMENT,
    hotend_below_sheet::REQUIREMENT,
    hotend_not_awaited::REQUIREMENT,
    machine_short_of_sheet::REQUIREMENT,
    probed_cold::REQUIREMENT,
    setpoint_hidden::REQUIREMENT,
];

/// The requirement with this id.
#[must_use]
pub fn requirement(id: &str) -> Option<&'static Requirement> {
    REGISTER
        .binary_search_by(|requirement| requirement.id.cmp(id))
        .ok()
        .and_then(|at| REGISTER.get(at))
}
