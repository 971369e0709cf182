//! The register: every requirement, sorted by id.

use super::{
    Requirement, checksum_wrong, control_lacks_word, first_layer_fast, guard_disabled,
    hotend_above_machine, hotend_below_sheet, job_cut_short, line_number_disorder, malformed_word,
    mode_undeclared, overlong_line, settings_written, state_left_changed, stops_for_person,
    unfilled_placeholder, unhomed_motion, unknown_word,
};

/// Every requirement, sorted by id.
pub const REGISTER: &[Requirement] = &[
    checksum_wrong::REQUIREMENT,
    control_lacks_word::REQUIREMENT,
    first_layer_fast::REQUIREMENT,
    guard_disabled::REQUIREMENT,
    hotend_above_machine::REQUIREMENT,
    hotend_below_sheet::REQUIREMENT,
    job_cut_short::REQUIREMENT,
    line_number_disorder::REQUIREMENT,
    malformed_word::REQUIREMENT,
    mode_undeclared::REQUIREMENT,
    overlong_line::REQUIREMENT,
    settings_written::REQUIREMENT,
    state_left_changed::REQUIREMENT,
    stops_for_person::REQUIREMENT,
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
