//! Filament is drawn back no faster than the drive wants.

use super::{Characteristic, Rework};
use crate::finding::Limit;
use crate::inspection::{Held, retraction_speed};

pub(super) static REWORK: Rework = Rework {
    id: "retraction-speeds",
    page: include_str!("retraction_speeds.md"),
    answers: &["retraction-too-fast"],
    alters: &[Characteristic::Retraction],
    is_repair: true,
    make: None,
};

/// The fastest for a tool, mm/s.
pub(super) fn limit(held: &Held, tool: u32) -> Option<Limit> {
    retraction_speed(held, tool)
}
