//! The register: every requirement, sorted by id.

use super::{Requirement, first_layer_fast, hotend_above_machine, hotend_below_sheet};

/// Every requirement, sorted by id.
pub const REGISTER: &[Requirement] = &[
    first_layer_fast::REQUIREMENT,
    hotend_above_machine::REQUIREMENT,
    hotend_below_sheet::REQUIREMENT,
];

/// The requirement with this id.
#[must_use]
pub fn requirement(id: &str) -> Option<&'static Requirement> {
    REGISTER
        .binary_search_by(|requirement| requirement.id.cmp(id))
        .ok()
        .and_then(|at| REGISTER.get(at))
}
