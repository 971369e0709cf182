//! The table of layers: for a terminal as wide as it is, and as comma-separated values.

use super::paint::{Look, Tone};
use super::standard::csv::field;
use super::{grouped, rounded};
use crate::survey::{Reach, Row, Rows};
use std::fmt::Write as _;

/// One column: two words of heading, its unit, and what stands in it.
struct Column {
    head: [&'static str; 2],
    unit: &'static str,
    of: fn(&Row) -> String,
}

const fn column(head: [&'static str; 2], unit: &'static str, of: fn(&Row) -> String) -> Column {
    Column { head, unit, of }
}

/// Every column, the most wanted first: where the terminal is narrow the last ones are left out.
const COLUMNS: [Column; 14] = [
    column(["", "layer"], "", number),
    column(["", "Z"], "mm", |row| rounded(row.z, 3)),
    column(["", "time"], "s", |row| one(row.seconds, 1)),
    column(["", "filament"], "mm", |row| rounded(row.filament, 1)),
    column(["flow over", "1 s"], "mm³/s", |row| {
        one(row.sustained_flow, 1)
    }),
    column(["flow", "peak"], "mm³/s", |row| one(row.peak_flow, 1)),
    column(["", "speed"], "mm/s", |row| reach(row.speed, 0)),
    column(["", "fan"], "%", |row| rounded(row.fan * 100.0, 0)),
    column(["bead", "width"], "mm", |row| {
        one(row.bead().map(|bead| bead.usual), 2)
    }),
    column(["", "height"], "mm", |row| reach(row.height, 3)),
    column(["", "hotend"], "°C", |row| reach(row.hotend, 0)),
    column(["", "bed"], "°C", |row| reach(row.bed, 0)),
    column(["over-", "hang"], "°", |row| one(row.overhang, 0)),
    column(["over", "nothing"], "mm³", |row| one(row.unsupported, 1)),
];

/// Columns that are there only where a row has something in them, by their last word.
const WALLS_ONLY: [&str; 2] = ["hang", "nothing"];

/// The number of a row's layers, counted from 1.
fn number(row: &Row) -> String {
    let first = row.number + 1;
    if row.layers > 1 {
        format!("{first}-{}", row.number + row.layers)
    } else {
        first.to_string()
    }
}

fn one(figure: Option<f64>, decimals: usize) -> String {
    figure.map_or_else(|| "?".to_owned(), |figure| rounded(figure, decimals))
}

fn reach(reach: Option<Reach>, decimals: usize) -> String {
    let Some(Reach { least, most }) = reach else {
        return "?".to_owned();
    };
    let (least, most) = (rounded(least, decimals), rounded(most, decimals));
    if least == most {
        most
    } else {
        format!("{least}-{most}")
    }
}

/// The table as lines, with as many columns as fit.
#[must_use]
pub fn table(rows: &Rows, look: &Look) -> String {
    let has_walls = rows.iter().any(|row| row.overhang.is_some());
    let columns = || {
        let asked = |column: &&Column| has_walls || !WALLS_ONLY.contains(&column.head[1]);
        COLUMNS.iter().filter(asked)
    };
    let cells: Vec<Vec<String>> = columns()
        .map(|column| rows.iter().map(column.of).collect())
        .collect();
    let mut widths = Vec::new();
    let mut taken = 0;
    for (column, cells) in columns().zip(&cells) {
        let wide = |text: &str| text.chars().count();
        let words = column.head.iter().chain([&column.unit]);
        let width = words
            .map(|text| wide(text))
            .chain(cells.iter().map(|cell| wide(cell)))
            .max()
            .unwrap_or_default();
        taken += width + 2;
        if taken > look.width {
            break;
        }
        widths.push(width);
    }
    let mut text = String::new();
    let mut line = |tone: Tone, cell: &dyn Fn(usize) -> String| {
        let mut line = String::new();
        for (at, width) in widths.iter().enumerate() {
            let _ = write!(line, "  {:>width$}", cell(at));
        }
        let line = line.trim_end();
        if !line.is_empty() {
            let _ = writeln!(text, "{}", look.paint(tone, line));
        }
    };
    let heading = |at: usize, word: fn(&Column) -> &'static str| {
        COLUMNS.get(at).map(word).unwrap_or_default().to_owned()
    };
    line(Tone::Bold, &|at| heading(at, |column| column.head[0]));
    line(Tone::Bold, &|at| heading(at, |column| column.head[1]));
    line(Tone::Dim, &|at| heading(at, |column| column.unit));
    for row in 0..rows.iter().count() {
        line(Tone::Plain, &|at| {
            let cell = cells.get(at).and_then(|cells| cells.get(row));
            cell.cloned().unwrap_or_default()
        });
    }
    let mut notes = Vec::new();
    let left_out: Vec<String> = columns()
        .skip(widths.len())
        .map(|column| column.head.join(" ").trim_start().to_owned())
        .collect();
    if !left_out.is_empty() {
        notes.push(format!(
            "no room for {}: --format csv has them",
            left_out.join(", ")
        ));
    }
    if rows.each() > 1 {
        notes.push(format!(
            "a row stands for {} layers: times are sums, extremes are kept",
            grouped(rows.each())
        ));
    }
    for note in notes {
        for line in super::paint::wrap(&note, look.width.saturating_sub(2)) {
            let _ = writeln!(text, "  {}", look.paint(Tone::Dim, &line));
        }
    }
    text
}

/// The heading of the comma-separated values (RFC 4180), each column with its unit; with a line ending.
pub const CSV_HEAD: &str = "job,layer,layers,z [mm],height least [mm],height most [mm],time [s],quickest [s],\
filament [mm],speed least [mm/s],speed most [mm/s],flow peak [mm³/s],flow over 1 s [mm³/s],bead least [mm],\
bead usual [mm],bead most [mm],fan [%],hotend least [°C],hotend most [°C],bed least [°C],bed most [°C],\
overhang [°],over nothing [mm³]\n";

/// The rows of a job as comma-separated values; what is not known is empty. Layers count from 1.
#[must_use]
pub fn csv(job: &str, rows: &Rows) -> String {
    let mut text = String::new();
    let job = field(job);
    for row in rows.iter() {
        let known = |figure: Option<f64>| {
            figure
                .filter(|figure| figure.is_finite())
                .map(|figure| rounded(figure, 3))
                .unwrap_or_default()
        };
        let ends = |reach: Option<Reach>| {
            let [least, most] = [
                reach.map(|reach| reach.least),
                reach.map(|reach| reach.most),
            ];
            format!("{},{}", known(least), known(most))
        };
        let bead = row.bead();
        let _ = writeln!(
            text,
            "{job},{},{},{},{},{},{},{},{},{},{},{},{},{},{},{},{},{},{}",
            row.number + 1,
            row.layers,
            known(Some(row.z)),
            ends(row.height),
            known(row.seconds),
            known(row.quickest),
            known(Some(row.filament)),
            ends(row.speed),
            known(row.peak_flow),
            known(row.sustained_flow),
            known(bead.map(|bead| bead.least)),
            known(bead.map(|bead| bead.usual)),
            known(bead.map(|bead| bead.most)),
            known(Some(row.fan * 100.0)),
            ends(row.hotend),
            ends(row.bed),
            known(row.overhang),
            known(row.unsupported),
        );
    }
    text
}
