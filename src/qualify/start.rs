//! Where to start with a material on a machine, and in which order to calibrate.

use super::figures::{plain, round, tenth};
use super::{Question, flow};
use crate::quantity::{Celsius, Quantity, Range};

/// One setting to start from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Setting {
    /// What is set.
    pub what: &'static str,
    /// To what, and from which of the two sheets.
    pub value: String,
}

/// The middle of a range, but no more than a limit.
fn middle<Q: Quantity>(range: &Range<Q>, limit: Option<Q>) -> Q {
    let middle = range.middle();
    match limit {
        Some(limit) if limit < middle => limit,
        _ => middle,
    }
}

/// Settings to start from. What no sheet says is left out; nothing is a guess.
#[must_use]
pub fn start(q: &Question<'_>) -> Vec<Setting> {
    let (material, tool) = (q.material, q.tool());
    let mut settings = Vec::new();
    let mut add = |what, value: String| settings.push(Setting { what, value });
    let liner = tool.and_then(crate::sheet::Tool::liner_limit);
    let own = tool
        .and_then(|tool| tool.limit.as_ref())
        .map(|limit| limit.value);
    let limit = match (liner, own) {
        (Some(liner), Some(own)) if liner < own => Some(liner),
        (liner, own) => own.or(liner),
    };
    let degrees = |at: Celsius| format!("{} °C", at.get().round());
    if let Some(range) = &material.hotend.print {
        add(
            "hotend",
            format!(
                "{}, within {}",
                degrees(middle(&range.value, limit)),
                range.value
            ),
        );
    }
    if let Some(range) = &material.bed.print {
        let limit = q
            .machine
            .and_then(|machine| machine.bed.limit.as_ref())
            .map(|limit| limit.value);
        add(
            "bed",
            format!(
                "{}, within {}",
                degrees(middle(&range.value, limit)),
                range.value
            ),
        );
    }
    if let Some(range) = &material.chamber.print {
        add("chamber", format!("air of {}", range.value));
    }
    if let Some(range) = &material.fan.print {
        let first = material
            .fan
            .first_layers_most
            .as_ref()
            .map_or_else(String::new, |most| {
                format!("; {} at most on the first layer", plain(most.value))
            });
        add(
            "part fan",
            format!(
                "{} to {}{first}",
                plain(range.value.least),
                plain(range.value.most)
            ),
        );
    }
    if let Some(bore) = tool.and_then(|tool| tool.bore.as_ref()) {
        let bore = bore.value.get();
        add(
            "bead",
            format!(
                "{} mm wide, {} mm high",
                round(bore * flow::USUAL_WIDTH, 2),
                round(bore * flow::USUAL_HEIGHT, 2)
            ),
        );
    }
    if let Some(most) = flow::most_speed(q) {
        add(
            "speed",
            format!(
                "{} mm/s at first, {} mm/s at most for that bead",
                round(most * 0.7, 0),
                most.floor()
            ),
        );
    }
    if let Some(most) = &material.first_layer.speed_most {
        add("first layer", format!("{} at most", plain(most.value)));
    }
    if let Some(least) = &material.layer.time_least {
        add("layer time", format!("{} at least", plain(least.value)));
    }
    let lengths = [
        material.retraction.length_most.as_ref(),
        tool.and_then(|tool| tool.retraction_most.as_ref()),
    ];
    if let Some(most) = lengths
        .into_iter()
        .flatten()
        .map(|most| most.value.get())
        .reduce(f64::min)
    {
        add(
            "retraction",
            format!(
                "{} mm at first, {} mm at most",
                tenth(most / 2.0),
                tenth(most)
            ),
        );
    }
    if let Some(heat) = &material.drying.temperature {
        let time = material
            .drying
            .time
            .as_ref()
            .map_or_else(String::new, |time| format!(" for {}", time.value));
        add("drying", format!("{}{time}", plain(heat.value)));
    }
    settings
}

/// The order in which to calibrate, each step leaning on those before it (common practice, no source).
pub const ORDER: &[&str] = &[
    "dry the spool and weigh it before and after: everything else is in vain with a wet one",
    "set the gap of the first layer, at the bed's temperature",
    "hotend: print one small tower from the lower to the upper end of the range, break it by hand where it is safe, and \
     keep the temperature whose layers part last",
    "flow: measure a single wall against the width that was asked for",
    "retraction: raise it in small steps until strings stop, and no further",
    "speed: raise it until walls go dull or thin, then go back by a fifth",
    "fan: as little as overhangs allow",
    "size: measure a test part along each axis and scale by what is missing; change one thing at a time",
];
