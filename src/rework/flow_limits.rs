//! Nothing is laid faster than hotend and material melt.

use super::{Characteristic, Rework};
use crate::finding::Limit;
use crate::inspection::{Held, is_flow_above, lowest_flow};

pub(super) static REWORK: Rework = Rework {
    id: "flow-limits",
    page: include_str!("flow_limits.md"),
    answers: &["flow-above-hotend", "flow-above-sheet"],
    alters: &[Characteristic::Feed],
    is_repair: true,
    make: None,
};

/// The lower figure for a tool, mm³/s, and the requirement that speaks of it.
pub(super) fn limit(held: &Held, tool: u32) -> Option<(&'static str, Limit)> {
    lowest_flow(held, tool)
}

/// Whether a flow is above a limit by more than rounding.
pub(super) fn is_above(flow: f64, limit: f64) -> bool {
    is_flow_above(flow, limit)
}
