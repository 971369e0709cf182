//! The values of the plots as tables, coarse enough to read: least to most of each stretch.

use super::Traveler;
use super::html::Html;
use crate::course::{Moment, Series};
use crate::report::{grouped, rounded};
use crate::survey::{Reach, Row};

/// The id of the table along the time.
pub const HEAT: &str = "values-over-time";

/// The id of the table along the height.
pub const HEIGHT: &str = "values-over-height";

/// The most rows of a table (chosen: a page of paper).
const ROWS: usize = 48;

/// Both tables.
pub fn section(traveler: &Traveler, page: &mut Html) {
    page.section("values", "Values of the plots", |page| {
        let note = "A row stands for a stretch: the least and the greatest value in it. Times are by feeds as \
                    commanded and waits as modelled.";
        page.put("p", "quiet", note);
        over_time(traveler.heat.moments(), page);
        let rows: Vec<&Row> = traveler.checked().inspected.survey.rows.iter().collect();
        over_height(&rows, page);
    });
}

fn table(
    id: &'static str,
    caption: &str,
    heads: &[&str],
    page: &mut Html,
    inside: impl FnOnce(&mut Html),
) {
    let around = [
        ("class", "scrolls"),
        ("tabindex", "0"),
        ("role", "region"),
        ("aria-label", caption),
    ];
    page.within("div", &around, |page| {
        page.within("table", &[("id", id)], |page| {
            page.put("caption", "", caption);
            page.within("thead", &[], |page| {
                page.within("tr", &[], |page| {
                    for head in heads {
                        page.within("th", &[("scope", "col")], |page| page.say(head));
                    }
                });
            });
            page.within("tbody", &[], inside);
        });
    });
}

fn row(span: (f64, f64), first: &str, cells: &[String], page: &mut Html) {
    let ends = [
        ("data-from", &*rounded(span.0, 3)),
        ("data-to", &*rounded(span.1, 3)),
    ];
    page.within("tr", &ends, |page| {
        page.within("th", &[("scope", "row")], |page| page.say(first));
        for cell in cells {
            page.put("td", "", cell);
        }
    });
}

/// Least to most of many, as text.
fn span<T>(many: &[T], decimals: usize, of: impl Fn(&T) -> Option<Reach>) -> String {
    let mut all: Option<Reach> = None;
    for one in many {
        Reach::join(&mut all, of(one));
    }
    let Some(Reach { least, most }) = all else {
        return "–".to_owned();
    };
    let (least, most) = (rounded(least, decimals), rounded(most, decimals));
    if least == most {
        most
    } else {
        format!("{least} to {most}")
    }
}

fn over_time(moments: &[Moment], page: &mut Html) {
    if moments.is_empty() {
        return;
    }
    let heads = [
        "minutes",
        "hotend modelled, °C",
        "hotend set, °C",
        "bed modelled, °C",
        "bed set, °C",
        "chamber air modelled, °C",
        "chamber set, °C",
    ];
    table(HEAT, "Heat over time", &heads, page, |page| {
        let mut rows: Vec<((f64, f64), Vec<String>)> = Vec::new();
        for chunk in moments.chunks(moments.len().div_ceil(ROWS).max(1)) {
            let (Some(first), Some(last)) = (chunk.first(), chunk.last()) else {
                continue;
            };
            let minutes = (first.from / 60.0, last.to / 60.0);
            let of = |series: fn(&Moment) -> &Series| {
                [
                    span(chunk, 1, |moment| series(moment).is),
                    span(chunk, 0, |moment| series(moment).set),
                ]
            };
            let cells = [
                of(|moment| &moment.hotend),
                of(|moment| &moment.bed),
                of(|moment| &moment.chamber),
            ]
            .concat();
            match rows.last_mut() {
                // Where nothing changes one row says it.
                Some((span, known)) if *known == cells => span.1 = minutes.1,
                _ => rows.push((minutes, cells)),
            }
        }
        for (minutes, cells) in &rows {
            let (from, to) = (rounded(minutes.0, 1), rounded(minutes.1, 1));
            let name = if from == to {
                from
            } else {
                format!("{from} to {to}")
            };
            row(*minutes, &name, cells, page);
        }
    });
}

fn over_height(rows: &[&Row], page: &mut Html) {
    if rows.is_empty() {
        return;
    }
    let heads = [
        "layers",
        "Z, mm",
        "filament, mm",
        "quickest layer, s",
        "flow over a second, mm³/s",
        "part fan, %",
        "hotend set, °C",
        "bed set, °C",
        "bead, mm",
    ];
    let exact = |value: Option<f64>| {
        value.map(|value| Reach {
            least: value,
            most: value,
        })
    };
    table(HEIGHT, "Layers over height", &heads, page, |page| {
        let mut below = 0.0;
        for chunk in rows.chunks(rows.len().div_ceil(ROWS).max(1)) {
            let (Some(first), Some(last)) = (chunk.first(), chunk.last()) else {
                continue;
            };
            let (from, to) = (first.number + 1, last.number + last.layers);
            let name = if from == to {
                grouped(from)
            } else {
                format!("{} to {}", grouped(from), grouped(to))
            };
            let top = chunk.iter().fold(last.z, |most, row| most.max(row.z));
            let filament: f64 = chunk.iter().map(|row| row.filament).sum();
            let cells = [
                span(chunk, 3, |row| exact(Some(row.z))),
                rounded(filament, 1),
                // The first layer's time is that of heating and homing.
                span(chunk, 1, |row| {
                    exact(row.quickest.filter(|_| row.number > 0))
                }),
                span(chunk, 1, |row| exact(row.sustained_flow)),
                span(chunk, 0, |row| exact(Some(row.fan * 100.0))),
                span(chunk, 0, |row| row.hotend),
                span(chunk, 0, |row| row.bed),
                span(chunk, 2, |row| {
                    row.bead().map(|bead| Reach {
                        least: bead.least,
                        most: bead.most,
                    })
                }),
            ];
            row((below, top), &name, &cells, page);
            below = top;
        }
    });
}
