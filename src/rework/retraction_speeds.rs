//! Filament is drawn back no faster than the drive wants.

use super::{Characteristic, Rework};

pub(super) static REWORK: Rework = Rework {
    id: "retraction-speeds",
    page: include_str!("retraction_speeds.md"),
    answers: &["retraction-too-fast"],
    alters: &[Characteristic::Retraction],
    is_repair: true,
    make: None,
};
