//! The register: every requirement, sorted by id.

use super::{
    Requirement, axis_too_fast, bed_above_machine, bed_above_sheet, bed_below_sheet,
    bed_not_awaited, below_bed, chamber_above_machine, chamber_above_sheet, chamber_not_warmed,
    cold_deposit, deposit_outside_area, fan_above_sheet, fan_below_sheet, fan_on_first_layers,
    filament_diameter_mismatch, first_layer_fast, first_layer_tall, heater_left_on,
    heating_uncommanded, home_over_part, hotend_above_liner, hotend_above_machine,
    hotend_above_sheet, hotend_below_sheet, hotend_not_awaited, machine_short_of_sheet,
    material_differs, nozzle_differs, nozzle_narrow, nozzle_soft, origin_differs, origin_shifted,
    probed_cold, setpoint_hidden, tool_absent, travel_outside_reach,
};

/// Every requirement, sorted by id.
pub const REGISTER: &[Requirement] = &[
    axis_too_fast::REQUIREMENT,
    bed_above_machine::REQUIREMENT,
    bed_above_sheet::REQUIREMENT,
    bed_below_sheet::REQUIREMENT,
    bed_not_awaited::REQUIREMENT,
    below_bed::REQUIREMENT,
    chamber_above_machine::REQUIREMENT,
    chamber_above_sheet::REQUIREMENT,
    chamber_not_warmed::REQUIREMENT,
    cold_deposit::REQUIREMENT,
    deposit_outside_area::REQUIREMENT,
    fan_above_sheet::REQUIREMENT,
    fan_below_sheet::REQUIREMENT,
    fan_on_first_layers::REQUIREMENT,
    filament_diameter_mismatch::REQUIREMENT,
    first_layer_fast::REQUIREMENT,
    first_layer_tall::REQUIREMENT,
    heater_left_on::REQUIREMENT,
    heating_uncommanded::REQUIREMENT,
    home_over_part::REQUIREMENT,
    hotend_above_liner::REQUIREMENT,
    hotend_above_machine::REQUIREMENT,
    hotend_above_sheet::REQUIREMENT,
    hotend_below_sheet::REQUIREMENT,
    hotend_not_awaited::REQUIREMENT,
    machine_short_of_sheet::REQUIREMENT,
    material_differs::REQUIREMENT,
    nozzle_differs::REQUIREMENT,
    nozzle_narrow::REQUIREMENT,
    nozzle_soft::REQUIREMENT,
    origin_differs::REQUIREMENT,
    origin_shifted::REQUIREMENT,
    probed_cold::REQUIREMENT,
    setpoint_hidden::REQUIREMENT,
    tool_absent::REQUIREMENT,
    travel_outside_reach::REQUIREMENT,
];

/// The requirement with this id.
#[must_use]
pub fn requirement(id: &str) -> Option<&'static Requirement> {
    REGISTER
        .binary_search_by(|requirement| requirement.id.cmp(id))
        .ok()
        .and_then(|at| REGISTER.get(at))
}
