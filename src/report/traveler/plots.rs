//! What the job does over its time and its height.

use super::Traveler;
use super::chart::{Bound, Chart, Line, Stretch};
use super::html::Html;
use super::values::{HEAT, HEIGHT};
use crate::course::{Moment, Series, Way};
use crate::report::terminal::survey::tools;
use crate::report::{Checked, lasting};
use crate::sheet::{ChamberKind, Material, Tool};
use crate::survey::{Reach, Row};

/// The plots, or why one is not there.
pub fn section(traveler: &Traveler, page: &mut Html) {
    page.section("plots", "Over time and height", |page| {
        page.put("p", "quiet", &clocks(traveler));
        page.within("div", &[("class", "charts")], |page| {
            heat(traveler, page);
            along_height(traveler.checked(), page);
        });
    });
}

/// Which clock the plots go by, where it is another than the head's.
fn clocks(traveler: &Traveler) -> String {
    let mut note = "Heat over the minutes of the job, by feeds as commanded and waits as the heaters are modelled"
        .to_owned();
    let end = traveler.heat.moments().last().map(|moment| moment.to);
    let time = traveler.checked().inspected.survey.time.as_ref();
    if let (Some(end), Ok(time)) = (end, time) {
        note.push_str(&format!(
            ": the job ends at {} so, and with ramps and corners it takes {}",
            lasting(end),
            lasting(time.seconds())
        ));
    }
    note.push_str(". The rest over its height. Dotted is what is commanded, dashed a limit.");
    note
}

/// A plot that cannot be drawn says why in its place.
fn missing(id: &'static str, title: &str, why: &str, page: &mut Html) {
    page.within("figure", &[("id", id), ("class", "chart none")], |page| {
        page.put("h3", "", title);
        page.put("figcaption", "", &format!("Not drawn: {why}."));
    });
}

fn heat(traveler: &Traveler, page: &mut Html) {
    let checked = traveler.checked();
    let moments = traveler.heat.moments();
    let materials: Vec<&Material> = tools(checked)
        .filter_map(|tool| checked.held.material(tool))
        .collect();
    // A band is that of one material; where tools lay several there is none that holds for all.
    let material = match materials.as_slice() {
        [one, rest @ ..] if rest.iter().all(|other| other.name == one.name) => Some(*one),
        _ => None,
    };
    let of = |get: fn(&Material) -> Option<(f64, f64)>| {
        let material = material?;
        let (least, most) = get(material)?;
        Some((least, most, format!("sheet {}", material.name)))
    };
    let hotend = of(|material| {
        let range = &material.hotend.print.as_ref()?.value;
        Some((range.least.get(), range.most.get()))
    });
    let bed = of(|material| {
        let range = &material.bed.print.as_ref()?.value;
        Some((range.least.get(), range.most.get()))
    });
    let chamber = of(|material| {
        let range = &material.chamber.print.as_ref()?.value;
        Some((range.least.get(), range.most.get()))
    });
    type Of = fn(&Moment) -> &Series;
    let plots: [(_, _, Of, _, &'static str); 3] = [
        (
            "hotend",
            "Hotend in °C",
            |moment| &moment.hotend,
            hotend,
            "1 2",
        ),
        ("bed", "Bed in °C", |moment| &moment.bed, bed, "3 4"),
        (
            "chamber",
            "Chamber in °C",
            |moment| &moment.chamber,
            chamber,
            "5 6",
        ),
    ];
    let machine = checked.held.machine.as_ref();
    let kind = machine.and_then(|machine| machine.chamber.kind.as_ref());
    let is_open = kind.is_some_and(|kind| kind.value == ChamberKind::None);
    for (id, title, series, band, column) in plots {
        let line = |class, label, steps, get: fn(&Series) -> Option<Reach>| Line {
            class,
            label,
            steps,
            stretches: moments
                .iter()
                .filter_map(|moment| {
                    let reach = get(series(moment))?;
                    Some(Stretch {
                        from: moment.from / 60.0,
                        to: moment.to / 60.0,
                        least: reach.least,
                        most: reach.most,
                    })
                })
                .collect(),
        };
        let modelled = line("is", "modelled", false, |series| series.is);
        let commanded = line("set", "commanded", true, |series| series.set);
        let lines: Vec<Line> = [modelled, commanded]
            .into_iter()
            .filter(|line| !line.stretches.is_empty())
            .collect();
        let (Some(first), Some(last)) = (moments.first(), moments.last()) else {
            missing(id, title, "the job has no moments", page);
            continue;
        };
        if lines.is_empty() {
            let why = match id {
                "chamber" if is_open => "the machine is an open frame",
                "chamber" => {
                    "the job sets none, and the machine sheet does not say enough for a model"
                }
                _ => "the job sets none",
            };
            missing(id, title, why, page);
            continue;
        }
        Chart {
            id,
            title,
            unit: "°C",
            along: "minute",
            along_unit: "min",
            span: (
                first.from / 60.0,
                (last.to / 60.0).max(first.from / 60.0 + 0.01),
            ),
            lines,
            limits: Vec::new(),
            band,
            reach: 0.0,
            table: (HEAT, column),
        }
        .write(page);
    }
}

/// One figure of a row: least and greatest.
type Of = fn(&Row) -> Option<(f64, f64)>;

fn along_height(checked: &Checked, page: &mut Html) {
    let rows: Vec<&Row> = checked.inspected.survey.rows.iter().collect();
    let plots: [(_, _, _, _, Of, Vec<Bound>, f64, &'static str); 3] = [
        (
            "fan",
            "Part fan in %",
            "%",
            "part fan",
            |row| Some((row.fan * 100.0, row.fan * 100.0)),
            Vec::new(),
            100.0,
            "5",
        ),
        (
            "flow",
            "Sustained melt flow in mm³/s",
            "mm³/s",
            "flow over a second",
            |row| row.sustained_flow.map(|flow| (flow, flow)),
            flow_limits(checked),
            0.0,
            "4",
        ),
        (
            "layer-time",
            "Layer time in s, the first layer and the last left out",
            "s",
            "layer time",
            |row| row.quickest.map(|time| (time, time)),
            time_limits(checked),
            0.0,
            "3",
        ),
    ];
    for (id, title, unit, label, of, limits, reach, column) in plots {
        // The first layer's time is that of heating and homing; upon the last one nothing is laid.
        let is_time = id == "layer-time" && rows.len() > 2;
        let skipped = usize::from(is_time);
        let count = rows.len() - usize::from(is_time);
        let mut below = 0.0;
        let mut stretches = Vec::new();
        for (index, row) in rows.iter().take(count).enumerate() {
            let from = row.z.min(below);
            below = row.z;
            if index < skipped {
                continue;
            }
            if let Some((least, most)) = of(row) {
                stretches.push(Stretch {
                    from: from.max(0.0),
                    to: row.z,
                    least,
                    most,
                });
            }
        }
        let (Some(first), Some(last)) = (stretches.first(), stretches.last()) else {
            let why = match &checked.inspected.survey.time {
                Err(why) if id != "fan" => why.as_ref(),
                _ => "the job lays no layer",
            };
            missing(id, title, why, page);
            continue;
        };
        let highest = stretches.iter().fold(last.to, |most, one| most.max(one.to));
        Chart {
            id,
            title,
            unit,
            along: "Z",
            along_unit: "mm",
            span: (first.from, highest.max(first.from + 0.01)),
            lines: vec![Line {
                class: "is",
                label,
                stretches,
                steps: true,
            }],
            limits,
            band: fan_band(checked).filter(|_| id == "fan"),
            reach,
            table: (HEIGHT, column),
        }
        .write(page);
    }
}

/// The fan's range, where one material is laid.
fn fan_band(checked: &Checked) -> Option<(f64, f64, String)> {
    let mut materials = tools(checked).filter_map(|tool| checked.held.material(tool));
    let first = materials.next()?;
    if materials.any(|other| other.name != first.name) {
        return None;
    }
    let range = &first.fan.print.as_ref()?.value;
    let name = format!("sheet {}", first.name);
    Some((range.least.get(), range.most.get(), name))
}

/// The lowest figure of hotends and of materials.
fn flow_limits(checked: &Checked) -> Vec<Bound> {
    let held = &checked.held;
    let hotend = |tool: &Tool| Some(tool.melt_rate.as_ref()?.value.get());
    let sheet = |material: &Material| Some(material.flow.most.as_ref()?.value.get());
    let lowest = |of: Vec<f64>| of.into_iter().reduce(f64::min);
    let hotends = lowest(
        tools(checked)
            .filter_map(|tool| hotend(held.tool(tool)?))
            .collect(),
    );
    let sheets = lowest(
        tools(checked)
            .filter_map(|tool| sheet(held.material(tool)?))
            .collect(),
    );
    let bound = |value: Option<f64>, whose: &str| {
        value.map(|value| Bound {
            way: Way::Most,
            value,
            whose: whose.to_owned(),
        })
    };
    [bound(hotends, "hotend"), bound(sheets, "material")]
        .into_iter()
        .flatten()
        .collect()
}

/// The longest of the least layer times.
fn time_limits(checked: &Checked) -> Vec<Bound> {
    tools(checked)
        .filter_map(|tool| {
            let least = checked.held.material(tool)?.layer.time_least.as_ref()?;
            Some(least.value.get())
        })
        .reduce(f64::max)
        .map(|value| Bound {
            way: Way::Least,
            value,
            whose: "to cool".to_owned(),
        })
        .into_iter()
        .collect()
}
