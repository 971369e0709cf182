//! Nothing is laid faster than hotend and material melt.

use super::{Characteristic, Rework};

pub(super) static REWORK: Rework = Rework {
    id: "flow-limits",
    page: include_str!("flow_limits.md"),
    answers: &["flow-above-hotend", "flow-above-sheet"],
    alters: &[Characteristic::Feed],
    is_repair: true,
    make: None,
};
