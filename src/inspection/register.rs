//! The register: every requirement, sorted by id.

use super::{
    Requirement, axis_too_fast, below_bed, deposit_outside_area, fan_above_sheet, fan_below_sheet,
    fan_on_first_layers, filament_diameter_mismatch, first_layer_fast, first_layer_tall,
    home_over_part, hotend_above_machine, hotend_below_sheet, material_differs, nozzle_differs,
    nozzle_narrow, nozzle_soft, origin_differs, origin_shifted, tool_absent, travel_outside_reach,
};

/// Every requirement, sorted by id.
pub const REGISTER: &[Requirement] = &[
    axis_too_fast::REQUIREMENT,
    below_bed::REQUIREMENT,
    deposit_outside_area::REQUIREMENT,
    fan_above_sheet::REQUIREMENT,
    fan_below_sheet::REQUIREMENT,
    fan_on_first_layers::REQUIREMENT,
    filament_diameter_mismatch::REQUIREMENT,
    first_layer_fast::REQUIREMENT,
    first_layer_tall::REQUIREMENT,
    home_over_part::REQUIREMENT,
    hotend_above_machine::REQUIREMENT,
    hotend_below_sheet::REQUIREMENT,
    material_differs::REQUIREMENT,
    nozzle_differs::REQUIREMENT,
    nozzle_narrow::REQUIREMENT,
    nozzle_soft::REQUIREMENT,
    origin_differs::REQUIREMENT,
    origin_shifted::REQUIREMENT,
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
