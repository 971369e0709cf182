//! The register: every requirement, sorted by id.

use super::{
    Requirement, axis_too_fast, bed_above_machine, bed_above_sheet, bed_below_sheet,
    bed_not_awaited, below_bed, chamber_above_machine, chamber_above_sheet, chamber_not_warmed,
    checksum_wrong, cold_deposit, control_lacks_word, deposit_outside_area, enclosure_missing,
    enclosure_too_warm, fan_above_sheet, fan_below_sheet, fan_on_first_layers,
    filament_diameter_mismatch, first_layer_fast, first_layer_tall, flow_above_hotend,
    flow_above_sheet, guard_disabled, heater_left_on, heating_uncommanded, home_over_part,
    hotend_above_liner, hotend_above_machine, hotend_above_sheet, hotend_below_sheet,
    hotend_not_awaited, job_cut_short, layer_too_quick, layer_too_slow, line_number_disorder,
    machine_short_of_sheet, malformed_word, material_differs, mode_undeclared, moves_too_dense,
    nozzle_differs, nozzle_narrow, nozzle_soft, origin_differs, origin_shifted, overlong_line,
    probed_cold, setpoint_hidden, settings_written, spool_short, state_left_changed,
    stops_for_person, tool_absent, travel_outside_reach, unfilled_placeholder, unhomed_motion,
    unknown_word,
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
    checksum_wrong::REQUIREMENT,
    cold_deposit::REQUIREMENT,
    control_lacks_word::REQUIREMENT,
    deposit_outside_area::REQUIREMENT,
    enclosure_missing::REQUIREMENT,
    enclosure_too_warm::REQUIREMENT,
    fan_above_sheet::REQUIREMENT,
    fan_below_sheet::REQUIREMENT,
    fan_on_first_layers::REQUIREMENT,
    filament_diameter_mismatch::REQUIREMENT,
    first_layer_fast::REQUIREMENT,
    first_layer_tall::REQUIREMENT,
    flow_above_hotend::REQUIREMENT,
    flow_above_sheet::REQUIREMENT,
    guard_disabled::REQUIREMENT,
    heater_left_on::REQUIREMENT,
    heating_uncommanded::REQUIREMENT,
    home_over_part::REQUIREMENT,
    hotend_above_liner::REQUIREMENT,
    hotend_above_machine::REQUIREMENT,
    hotend_above_sheet::REQUIREMENT,
    hotend_below_sheet::REQUIREMENT,
    hotend_not_awaited::REQUIREMENT,
    job_cut_short::REQUIREMENT,
    layer_too_quick::REQUIREMENT,
    layer_too_slow::REQUIREMENT,
    line_number_disorder::REQUIREMENT,
    machine_short_of_sheet::REQUIREMENT,
    malformed_word::REQUIREMENT,
    material_differs::REQUIREMENT,
    mode_undeclared::REQUIREMENT,
    moves_too_dense::REQUIREMENT,
    nozzle_differs::REQUIREMENT,
    nozzle_narrow::REQUIREMENT,
    nozzle_soft::REQUIREMENT,
    origin_differs::REQUIREMENT,
    origin_shifted::REQUIREMENT,
    overlong_line::REQUIREMENT,
    probed_cold::REQUIREMENT,
    setpoint_hidden::REQUIREMENT,
    settings_written::REQUIREMENT,
    spool_short::REQUIREMENT,
    state_left_changed::REQUIREMENT,
    stops_for_person::REQUIREMENT,
    tool_absent::REQUIREMENT,
    travel_outside_reach::REQUIREMENT,
    unfilled_placeholder::REQUIREMENT,
    unhomed_motion::REQUIREMENT,
    unknown_word::REQUIREMENT,
];

/// The requirement with this id.
#[must_use]
pub fn requirement(id: &str) -> Option<&'static Requirement> {
    REGISTER
        .binary_search_by(|requirement| requirement.id.cmp(id))
        .ok()
        .and_then(|at| REGISTER.get(at))
}
