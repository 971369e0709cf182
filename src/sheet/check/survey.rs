//! Contradictions among the keys that the survey of a job is held against.

use super::{Clash, clash, order, positive, value};
use crate::quantity::{Percent, Quantity, Seconds};
use crate::sheet::cited::Cited;
use crate::sheet::{Machine, MachineHead, Material, Tool};

/// The longest allowance for homing an axis, probing or a tool change (chosen: an hour is a slip of
/// the unit).
const ALLOWANCE_MOST: Seconds = Seconds::new(3600.0);

const HELP: &str = "correct the one that is wrong";

/// The first contradiction of a material sheet.
pub(super) fn material(sheet: &Material) -> Option<Clash> {
    let (layer, bead, first) = (&sheet.layer, &sheet.bead, &sheet.first_layer);
    let retraction = &sheet.retraction;
    [
        ("layer.height_least_share", &layer.height_least_share),
        ("layer.height_most_share", &layer.height_most_share),
        ("bead.width_least_share", &bead.width_least_share),
        ("bead.width_most_share", &bead.width_most_share),
        ("first_layer.width_most_share", &first.width_most_share),
    ]
    .into_iter()
    .find_map(|(key, share)| positive(key, share.as_ref()))
    .or_else(|| positive("layer.time_most", layer.time_most.as_ref()))
    .or_else(|| positive("layer.speed_floor", layer.speed_floor.as_ref()))
    .or_else(|| positive("retraction.speed_most", retraction.speed_most.as_ref()))
    .or_else(|| positive("spool.mass", sheet.spool.mass.as_ref()))
    .or_else(|| not_negative("retraction.length_most", retraction.length_most.as_ref()))
    .or_else(|| within_bore("layer.height_least_share", &layer.height_least_share))
    .or_else(|| within_bore("layer.height_most_share", &layer.height_most_share))
    .or_else(|| {
        order(
            ("layer.time_least", value(&layer.time_least)),
            ("layer.time_most", value(&layer.time_most)),
            HELP,
        )
    })
    .or_else(|| {
        order(
            ("layer.height_least_share", value(&layer.height_least_share)),
            ("layer.height_most_share", value(&layer.height_most_share)),
            HELP,
        )
    })
    .or_else(|| {
        order(
            ("bead.width_least_share", value(&bead.width_least_share)),
            ("bead.width_most_share", value(&bead.width_most_share)),
            HELP,
        )
    })
    .or_else(|| {
        order(
            ("bead.width_least_share", value(&bead.width_least_share)),
            (
                "first_layer.width_most_share",
                value(&first.width_most_share),
            ),
            HELP,
        )
    })
    .or_else(|| {
        order(
            ("spool.left", value(&sheet.spool.left)),
            ("spool.mass", value(&sheet.spool.mass)),
            "write the filament alone, without the spool",
        )
    })
}

/// The first contradiction of a machine sheet.
pub(super) fn machine(sheet: &Machine) -> Option<Clash> {
    let allowance = &sheet.allowance;
    sheet
        .tools
        .iter()
        .enumerate()
        .find_map(|(index, this)| tool(index, this))
        .or_else(|| {
            [
                ("allowance.homing.x", &allowance.homing.x),
                ("allowance.homing.y", &allowance.homing.y),
                ("allowance.homing.z", &allowance.homing.z),
                ("allowance.probing", &allowance.probing),
                ("allowance.tool_change", &allowance.tool_change),
            ]
            .into_iter()
            .find_map(|(key, time)| passing(key, time.as_ref()))
        })
        .or_else(|| head(&sheet.head))
        .or_else(|| {
            let held = sheet.control.acceleration;
            [
                ("print", held.print),
                ("travel", held.travel),
                ("retract", held.retract),
            ]
            .into_iter()
            .find_map(|(word, rate)| {
                let key = format!("control.acceleration.{word}");
                positive(&key, rate.map(Cited::chosen).as_ref())
            })
        })
}

/// The head has a size, and lies below what carries it.
fn head(head: &MachineHead) -> Option<Clash> {
    let lacks = |key: &str, others: &str| {
        let message = format!("says nothing without {others}");
        clash(key, None, message, "say all of them, or leave it out")
    };
    let has_rods = [
        head.rods_above.is_some(),
        head.rods_along.is_some(),
        head.rods_reach.is_some(),
    ];
    positive("head.reach", head.reach.as_ref())
        .or_else(|| not_negative("head.above", head.above.as_ref()))
        .or_else(|| positive("head.rods_above", head.rods_above.as_ref()))
        .or_else(|| positive("head.rods_reach", head.rods_reach.as_ref()))
        .or_else(|| {
            order(
                ("head.above", value(&head.above)),
                ("head.rods_above", value(&head.rods_above)),
                "the rods carry the head: they lie above its lowest part",
            )
        })
        .or_else(|| match (&head.reach, &head.above) {
            (Some(_), None) => lacks("head.reach", "`head.above`"),
            (None, Some(_)) => lacks("head.above", "`head.reach`"),
            _ => None,
        })
        .or_else(|| match has_rods {
            [true, true, true] | [false, false, false] => None,
            [true, ..] => lacks("head.rods_above", "`head.rods_along` and `head.rods_reach`"),
            [_, true, _] => lacks("head.rods_along", "`head.rods_above` and `head.rods_reach`"),
            [.., true] => lacks("head.rods_reach", "`head.rods_above` and `head.rods_along`"),
        })
}

fn tool(index: usize, tool: &Tool) -> Option<Clash> {
    let key = |field: &str| format!("tools[{index}].{field}");
    not_negative(&key("retraction_most"), tool.retraction_most.as_ref()).or_else(|| {
        positive(
            &key("retraction_speed_most"),
            tool.retraction_speed_most.as_ref(),
        )
    })
}

/// A figure that may be zero.
fn not_negative<T: Quantity>(key: &str, figure: Option<&Cited<T>>) -> Option<Clash> {
    let value = figure?.value;
    (value.figure() < 0.0).then(|| {
        clash(
            key,
            None,
            format!("{value} is no possible {}", T::WHAT),
            "write zero or more",
        )
    })?
}

/// A layer is no taller than the bore it comes from is wide.
fn within_bore(key: &str, share: &Option<Cited<Percent>>) -> Option<Clash> {
    let share = value(share).filter(|share| share.get() > 100.0)?;
    clash(
        key,
        None,
        format!("{share} is taller than the bore is wide"),
        "write 100 % or less",
    )
}

fn passing(key: &str, time: Option<&Cited<Seconds>>) -> Option<Clash> {
    let time = time?.value;
    (time > ALLOWANCE_MOST).then(|| {
        clash(
            key,
            None,
            format!("{time} is more than the {ALLOWANCE_MOST} that are allowed for"),
            "check the unit",
        )
    })?
}
