//! Contradictions: values that cannot be, or cannot both hold, in one sheet.

mod application;
mod survey;

pub(super) use application::application;

use super::cited::Cited;
use super::{BedShape, ChamberKind, CorneringKind, Machine, Material, Tool};
use crate::quantity::{Millimetres, Percent, Quantity, Range};
use std::fmt::Display;

/// Two values that cannot both hold, or one that cannot be.
pub(super) struct Clash {
    pub key: String,
    pub other: Option<String>,
    pub message: String,
    pub help: String,
}

fn clash(
    key: impl Into<String>,
    other: Option<&str>,
    message: String,
    help: &str,
) -> Option<Clash> {
    Some(Clash {
        key: key.into(),
        other: other.map(str::to_owned),
        message,
        help: help.to_owned(),
    })
}

/// `low` must not be above `high`.
fn order<T: PartialOrd + Display>(
    low: (&str, Option<T>),
    high: (&str, Option<T>),
    help: &str,
) -> Option<Clash> {
    let (Some(least), Some(most)) = (low.1, high.1) else {
        return None;
    };
    if least <= most {
        return None;
    }
    clash(
        low.0,
        Some(high.0),
        format!("{least} is above {most} at `{}`", high.0),
        help,
    )
}

/// A figure that must be above zero.
fn positive<T: Quantity>(key: &str, figure: Option<&Cited<T>>) -> Option<Clash> {
    let value = figure?.value;
    (value.figure() <= 0.0).then(|| {
        clash(
            key,
            None,
            format!("{value} is no possible {}", T::WHAT),
            "write a figure above zero",
        )
    })?
}

fn full(key: &str, share: Option<Percent>) -> Option<Clash> {
    let share = share.filter(|share| share.get() > 100.0)?;
    clash(
        key,
        None,
        format!("{share} is more than full speed"),
        "write 0 % to 100 %",
    )
}

fn value<T: Copy>(cited: &Option<Cited<T>>) -> Option<T> {
    cited.as_ref().map(|cited| cited.value)
}

fn least<T: Copy>(cited: &Option<Cited<Range<T>>>) -> Option<T> {
    cited.as_ref().map(|cited| cited.value.least)
}

fn most<T: Copy>(cited: &Option<Cited<Range<T>>>) -> Option<T> {
    cited.as_ref().map(|cited| cited.value.most)
}

const HEAT: &str = "correct the one that is wrong";

/// The first contradiction of a material sheet.
pub(super) fn material(sheet: &Material) -> Option<Clash> {
    let (hotend, chamber, fan) = (&sheet.hotend, &sheet.chamber, &sheet.fan);
    let floor = value(&hotend.extrusion_floor);
    positive("filament_diameter", sheet.filament_diameter.as_ref())
        .or_else(|| positive("nozzle.smallest", sheet.nozzle.smallest.as_ref()))
        .or_else(|| positive("flow.most", sheet.flow.most.as_ref()))
        .or_else(|| positive("flow.bore", sheet.flow.bore.as_ref()))
        .or_else(|| {
            positive(
                "first_layer.speed_most",
                sheet.first_layer.speed_most.as_ref(),
            )
        })
        .or_else(|| {
            positive(
                "first_layer.height_most_share",
                sheet.first_layer.height_most_share.as_ref(),
            )
        })
        .or_else(|| {
            order(
                ("hotend.extrusion_floor", floor),
                ("hotend.print", least(&hotend.print)),
                HEAT,
            )
        })
        .or_else(|| {
            order(
                ("hotend.extrusion_floor", floor),
                ("hotend.first_layer", least(&hotend.first_layer)),
                HEAT,
            )
        })
        .or_else(|| {
            order(
                ("bed.print", most(&sheet.bed.print)),
                ("hotend.print", least(&hotend.print)),
                HEAT,
            )
        })
        .or_else(|| {
            order(
                ("chamber.print", most(&chamber.print)),
                ("chamber.softening", value(&chamber.softening)),
                HEAT,
            )
        })
        .or_else(|| {
            order(
                ("chamber.print", most(&chamber.print)),
                ("chamber.jams_above", value(&chamber.jams_above)),
                HEAT,
            )
        })
        .or_else(|| {
            order(
                ("chamber.softening", value(&chamber.softening)),
                ("hotend.print", least(&hotend.print)),
                HEAT,
            )
        })
        .or_else(|| {
            order(
                ("drying.temperature", value(&sheet.drying.temperature)),
                ("hotend.print", least(&hotend.print)),
                HEAT,
            )
        })
        .or_else(|| {
            order(
                ("service.continuous", value(&sheet.service.continuous)),
                ("service.short_term", value(&sheet.service.short_term)),
                HEAT,
            )
        })
        .or_else(|| {
            order(
                ("service.continuous", value(&sheet.service.continuous)),
                (
                    "service.continuous_upper",
                    value(&sheet.service.continuous_upper),
                ),
                HEAT,
            )
        })
        .or_else(|| full("fan.first_layers_most", value(&fan.first_layers_most)))
        .or_else(|| full("fan.print", most(&fan.print)))
        .or_else(|| full("fan.bridge", most(&fan.bridge)))
        .or_else(|| {
            full(
                "drying.highest_moisture",
                value(&sheet.drying.highest_moisture),
            )
            .map(|clash| Clash {
                message: clash.message.replace("full speed", "all of it"),
                ..clash
            })
        })
        .or_else(|| survey::material(sheet))
        .or_else(|| deflection(sheet))
}

/// A greater stress bends a bar at no higher temperature.
fn deflection(sheet: &Material) -> Option<Clash> {
    let points = &sheet.service.heat_deflection;
    for (index, point) in points.iter().enumerate() {
        let key = format!("service.heat_deflection[{index}]");
        if point.stress.get() <= 0.0 {
            return clash(
                format!("{key}.stress"),
                None,
                "a bar without load does not bend".into(),
                "write the bending stress",
            );
        }
        for (before, other) in points.iter().enumerate().take(index) {
            let higher = (point.stress.get() - other.stress.get())
                * (point.temperature.value - other.temperature.value).get();
            if higher > 0.0 {
                let message = format!(
                    "{} at {} does not fit {} at {}: more load bends at a lower temperature",
                    point.temperature.value, point.stress, other.temperature.value, other.stress
                );
                let against = format!("service.heat_deflection[{before}].temperature");
                return clash(format!("{key}.temperature"), Some(&against), message, HEAT);
            }
        }
    }
    None
}

/// The first contradiction of a machine sheet.
pub(super) fn machine(sheet: &Machine) -> Option<Clash> {
    area(sheet)
        .or_else(|| reach(sheet))
        .or_else(|| positive("height", sheet.height.as_ref()))
        .or_else(|| chamber(sheet))
        .or_else(|| {
            sheet
                .tools
                .iter()
                .enumerate()
                .find_map(|(index, this)| tool(index, this))
        })
        .or_else(|| axes(sheet))
        .or_else(|| survey::machine(sheet))
        .or_else(|| control(sheet))
}

fn area(sheet: &Machine) -> Option<Clash> {
    let bed = &sheet.bed;
    if let (Some(from), Some(to)) = (&bed.printable_from, &bed.printable_to)
        && from
            .value
            .iter()
            .zip(&to.value)
            .any(|(from, to)| from >= to)
    {
        let message = "the printable area has no size".to_owned();
        return clash(
            "bed.printable_from",
            Some("bed.printable_to"),
            message,
            "write the lower left and the upper right corner",
        );
    }
    let round = value(&bed.shape).is_some_and(|shape| shape == BedShape::Circle);
    let square = value(&bed.shape).is_some_and(|shape| shape == BedShape::Rectangle);
    if square && bed.diameter.is_some() || bed.diameter.is_some() && bed.printable_from.is_some() {
        let other = if square {
            "bed.shape"
        } else {
            "bed.printable_from"
        };
        return clash(
            "bed.diameter",
            Some(other),
            "a rectangle has no diameter".into(),
            "keep the diameter or the corners",
        );
    }
    if round && bed.printable_from.is_some() {
        return clash(
            "bed.printable_from",
            Some("bed.shape"),
            "a circle has no corners".into(),
            "write `diameter` and `centre`",
        );
    }
    positive("bed.diameter", bed.diameter.as_ref())
        .or_else(|| positive("bed.time_constant", bed.time_constant.as_ref()))
}

fn reach(sheet: &Machine) -> Option<Clash> {
    let names = ["X", "Y", "Z"];
    let help = "the reach holds the printable area; correct the one that is wrong";
    if let (Some(from), Some(to)) = (&sheet.reach_from, &sheet.reach_to)
        && let Some((axis, _)) = names
            .iter()
            .zip(from.value.iter().zip(&to.value))
            .find(|(_, (from, to))| from >= to)
    {
        return clash(
            "reach_from",
            Some("reach_to"),
            format!("the reach in {axis} has no length"),
            help,
        );
    }
    let [left, front, right, back] = sheet.bed.printable_box()?;
    let inner = |key: &str, low: Millimetres, high: Millimetres, other: &str| {
        (low > high).then(|| {
            clash(
                key,
                Some(other),
                format!("{low} leaves out part of the printable area, {high}"),
                help,
            )
        })?
    };
    let (from, to) = (value(&sheet.reach_from), value(&sheet.reach_to));
    let beyond = |key: &str, high: Millimetres, low: Millimetres, other: &str| {
        (high < low).then(|| {
            clash(
                key,
                Some(other),
                format!("{high} leaves out part of the printable area, {low}"),
                help,
            )
        })?
    };
    from.and_then(|[x, y, _]| {
        inner("reach_from", x, left, "bed.printable_from")
            .or_else(|| inner("reach_from", y, front, "bed.printable_from"))
    })
    .or_else(|| {
        let [x, y, z] = to?;
        beyond("reach_to", x, right, "bed.printable_to")
            .or_else(|| beyond("reach_to", y, back, "bed.printable_to"))
            .or_else(|| beyond("reach_to", z, value(&sheet.height)?, "height"))
    })
}

fn chamber(sheet: &Machine) -> Option<Clash> {
    let chamber = &sheet.chamber;
    let kind = value(&chamber.kind)?;
    let help = "correct the kind, or leave the other out";
    if kind != ChamberKind::Heated
        && chamber
            .power
            .as_ref()
            .is_some_and(|power| power.value.get() > 0.0)
    {
        return clash(
            "chamber.power",
            Some("chamber.kind"),
            format!("a chamber of kind `{kind}` has no heater"),
            help,
        );
    }
    if kind == ChamberKind::None && chamber.limit.is_some() {
        return clash(
            "chamber.limit",
            Some("chamber.kind"),
            "an open frame has no chamber".into(),
            help,
        );
    }
    None
}

fn tool(index: usize, tool: &Tool) -> Option<Clash> {
    let key = |field: &str| format!("tools[{index}].{field}");
    if tool.liner_limit.is_some() && value(&tool.lined) == Some(false) {
        let message = "a tool without a liner has no liner limit".to_owned();
        return clash(
            key("liner_limit"),
            Some(&key("lined")),
            message,
            "write `lined = true`, or leave the limit out",
        );
    }
    positive(&key("bore"), tool.bore.as_ref())
        .or_else(|| positive(&key("filament_diameter"), tool.filament_diameter.as_ref()))
        .or_else(|| positive(&key("melt_rate"), tool.melt_rate.as_ref()))
        .or_else(|| positive(&key("time_constant"), tool.time_constant.as_ref()))
        .or_else(|| {
            let (bore, filament) = (value(&tool.bore), value(&tool.filament_diameter));
            order(
                (&key("bore"), bore),
                (&key("filament_diameter"), filament),
                "a nozzle is narrower than its filament",
            )
        })
}

fn axes(sheet: &Machine) -> Option<Clash> {
    let (speed, acceleration) = (&sheet.speed, &sheet.acceleration);
    let speeds = [
        ("x", &speed.x),
        ("y", &speed.y),
        ("z", &speed.z),
        ("e", &speed.e),
    ];
    let rates = [
        ("x", &acceleration.x),
        ("y", &acceleration.y),
        ("z", &acceleration.z),
        ("e", &acceleration.e),
    ];
    speeds
        .iter()
        .find_map(|(axis, figure)| positive(&format!("speed.{axis}"), figure.as_ref()))
        .or_else(|| {
            rates.iter().find_map(|(axis, figure)| {
                positive(&format!("acceleration.{axis}"), figure.as_ref())
            })
        })
}

fn control(sheet: &Machine) -> Option<Clash> {
    let control = &sheet.control;
    if ![1, 100, 255].contains(&control.fan_full) {
        let message = format!("{} is no scale of a fan", control.fan_full);
        return clash("control.fan_full", None, message, "write 255, 100 or 1");
    }
    if control.longest_line == Some(0) || control.segments_per_second == Some(0) {
        let key = if control.longest_line == Some(0) {
            "longest_line"
        } else {
            "segments_per_second"
        };
        return clash(
            format!("control.{key}"),
            None,
            "0 is no limit".into(),
            "leave it out where it is not known",
        );
    }
    for (key, limit) in [
        ("longest_dwell", control.longest_dwell),
        ("idle_timeout", control.idle_timeout),
    ] {
        if limit.is_some_and(|limit| limit.get() < 1.0) {
            return clash(
                format!("control.{key}"),
                None,
                "less than a second is no limit".into(),
                "leave it out where it is not known",
            );
        }
    }
    if let Some(word) = control
        .known_words
        .iter()
        .find(|word| control.lacks_words.contains(word))
    {
        let message = format!("`{word}` is both known and lacking");
        return clash(
            "control.known_words",
            Some("control.lacks_words"),
            message,
            "keep it in one of the two",
        );
    }
    let rule = control.cornering?;
    let said = match rule.kind {
        CorneringKind::Deviation => rule.deviation.is_some(),
        CorneringKind::Vector => rule.speed.is_some(),
        CorneringKind::PerAxis => rule.x.is_some() && rule.y.is_some(),
    };
    if said {
        return None;
    }
    let help = "give `deviation` for deviation, `speed` for vector, `x` and `y` for per-axis";
    clash(
        "control.cornering",
        None,
        format!("the rule `{}` lacks its figure", rule.kind),
        help,
    )
}
