//! The part's first layer is laid no faster than the material sheet allows.

use super::{Characteristic, Rework};
use crate::finding::Limit;
use crate::inspection::{Held, of_material};

pub(super) static REWORK: Rework = Rework {
    id: "first-layer-speed",
    page: include_str!("first_layer_speed.md"),
    answers: &["first-layer-fast"],
    alters: &[Characteristic::Feed],
    is_repair: false,
    make: None,
};

/// Whether any material's sheet says how fast.
pub(super) fn says(held: &Held) -> bool {
    held.says("first_layer.speed_most", |material| {
        material.first_layer.speed_most.as_ref()
    })
    .is_ok()
}

/// The most for a tool, mm/s.
pub(super) fn limit(held: &Held, tool: u32) -> Option<Limit> {
    let material = held.material(tool)?;
    let limit = material.first_layer.speed_most.as_ref()?;
    Some(of_material(
        material,
        "first_layer.speed_most",
        limit,
        limit.value,
    ))
}
