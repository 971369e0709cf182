//! Layers are laid slowly enough to cool before the next one lies on them.

use super::feeds::Entry;
use super::{Characteristic, Rework};
use crate::finding::Limit;
use crate::inspection::{Held, of_material};

pub(super) static REWORK: Rework = Rework {
    id: "layer-time",
    page: include_str!("layer_time.md"),
    answers: &["layer-too-quick"],
    alters: &[Characteristic::Feed],
    is_repair: true,
    make: None,
};

/// Below this the hot nozzle lingers over a small tip and cooks it, mm/s, where no sheet says a
/// `layer.speed_floor` (chosen).
const FLOOR: f64 = 10.0;

/// Whether any material's sheet says how long a layer needs.
pub(super) fn says(held: &Held) -> bool {
    held.says("layer.time_least", |material| {
        material.layer.time_least.as_ref()
    })
    .is_ok()
}

/// The least time of a layer, s.
pub(super) fn limit(held: &Held, tool: u32) -> Option<Limit> {
    let material = held.material(tool)?;
    let limit = material.layer.time_least.as_ref()?;
    Some(of_material(
        material,
        "layer.time_least",
        limit,
        limit.value,
    ))
}

/// The speed that nothing is slowed below, mm/s.
pub(super) fn floor(held: &Held, tool: u32) -> f64 {
    let floor = held
        .material(tool)
        .and_then(|material| material.layer.speed_floor.as_ref());
    floor.map_or(FLOOR, |floor| floor.value.get())
}

/// A speed brought down to its share, but not below the floor; what is slower than that stays.
pub(super) fn slowed(speed: f64, share: f64, floor: f64) -> f64 {
    (speed * share).max(speed.min(floor))
}

/// The share of its speeds at which a part's layer takes at least so many seconds, ramps left out; none
/// where it would have to go below the floor.
pub(super) fn share(entries: &[Entry], seconds: f64, floor: f64) -> Option<f64> {
    let takes = |share: f64| -> f64 {
        let laid = entries
            .iter()
            .filter(|entry| entry.is_part && entry.speed() > 0.0);
        laid.map(|entry| entry.length / slowed(entry.speed(), share, floor))
            .sum()
    };
    if takes(0.0) < seconds {
        return None;
    }
    let (mut slow, mut fast) = (0.0, 1.0);
    // To a millionth of the speed, on the slow side.
    for _ in 0..20 {
        let middle = f64::midpoint(slow, fast);
        if takes(middle) < seconds {
            fast = middle;
        } else {
            slow = middle;
        }
    }
    Some(slow)
}

/// Why layers are left as quick as they are.
pub(super) fn too_small(held: &Held, tool: u32, count: u64) -> String {
    let floor = floor(held, tool);
    let layers = match count {
        1 => "a layer is so small that it".to_owned(),
        count => format!("{count} layers are so small that each"),
    };
    format!(
        "{layers} would have to be laid slower than {floor} mm/s, at which the hot nozzle lingers and cooks \
         the tip: print two of them at a time, or cool with more fan where the sheet allows it"
    )
}
