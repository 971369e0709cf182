//! Rows of an answer: as a table, as comma-separated values, or a JSON object a line.

use crate::audit::Cell;
use crate::cli::console::{Closed, Console};
use crate::report::paint::{Look, Tone, cut};
use crate::report::record::harmless;
use crate::text::clean;

/// How rows are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, clap::ValueEnum)]
pub(in crate::cli) enum Format {
    /// For a person
    #[default]
    Table,
    /// Comma-separated values
    Csv,
    /// One JSON object a row and line
    Record,
    /// Parquet, a table for engines
    #[cfg(feature = "parquet")]
    Parquet,
}

/// After how many rows the columns of a table are as wide as they will be (chosen).
const LOOKED_AT: usize = 500;

/// The widest column of a table (chosen: wide enough for most paths).
const WIDEST: usize = 72;

/// The longest bar (chosen).
const LONGEST_BAR: usize = 24;

/// Where rows go.
pub(super) struct Rows<'a> {
    console: &'a Console,
    format: Format,
    /// The name of the column that bars show.
    bar: Option<&'static str>,
    names: Vec<String>,
    /// Rows of a table whose columns are not measured yet.
    waiting: Vec<Vec<Cell>>,
    widths: Vec<usize>,
    most: f64,
    count: u64,
}

impl<'a> Rows<'a> {
    pub(super) fn new(console: &'a Console, format: Format, bar: Option<&'static str>) -> Self {
        Self {
            console,
            format,
            bar,
            names: Vec::new(),
            waiting: Vec::new(),
            widths: Vec::new(),
            most: 0.0,
            count: 0,
        }
    }

    pub(super) fn head(&mut self, names: &[String]) -> Result<(), Closed> {
        self.names = names
            .iter()
            .map(|name| clean(name.as_bytes()).into_owned())
            .collect();
        if self.format == Format::Csv {
            let fields = names.iter().map(|name| field(name));
            return self
                .console
                .write(&(fields.collect::<Vec<_>>().join(",") + "\n"));
        }
        Ok(())
    }

    pub(super) fn row(&mut self, cells: Vec<Cell>) -> Result<(), Closed> {
        self.count += 1;
        match self.format {
            Format::Csv => {
                let fields = cells.iter().map(|cell| match cell {
                    Cell::Text(text) => field(text),
                    other => plain(other),
                });
                self.console
                    .write(&(fields.collect::<Vec<_>>().join(",") + "\n"))
            }
            Format::Record => {
                let pairs = self.names.iter().zip(&cells).map(|(name, cell)| {
                    let name = serde_json::Value::from(name.as_str());
                    format!("{name}:{}", json(cell))
                });
                let line = format!("{{{}}}", pairs.collect::<Vec<_>>().join(","));
                self.console.write(&(harmless(&line) + "\n"))
            }
            // That is no text, and goes its own way.
            #[cfg(feature = "parquet")]
            Format::Parquet => Ok(()),
            Format::Table if self.widths.is_empty() => {
                self.waiting.push(cells);
                if self.waiting.len() < LOOKED_AT {
                    return Ok(());
                }
                self.measured()
            }
            Format::Table => {
                let line = self.line(&cells, &self.console.out);
                self.console.write(&line)
            }
        }
    }

    pub(super) fn end(mut self) -> Result<(), Closed> {
        if self.format == Format::Table && self.widths.is_empty() {
            self.measured()?;
        }
        if self.format == Format::Table && self.count == 0 {
            return self.console.write("no rows\n");
        }
        Ok(())
    }

    /// Measures the columns, and writes what waited for that.
    fn measured(&mut self) -> Result<(), Closed> {
        let waiting = std::mem::take(&mut self.waiting);
        let width = |column: usize, name: &String| {
            let cells = waiting.iter().filter_map(|row| row.get(column));
            let cells = cells.map(|cell| shown(cell).chars().count());
            cells
                .max()
                .unwrap_or(0)
                .max(name.chars().count())
                .min(WIDEST)
        };
        self.widths = self
            .names
            .iter()
            .enumerate()
            .map(|(at, name)| width(at, name))
            .collect();
        if let Some(at) = self.barred() {
            let numbers = waiting.iter().filter_map(|row| number(row.get(at)?));
            self.most = numbers.fold(0.0, f64::max);
        }
        if waiting.is_empty() {
            return Ok(());
        }
        let look = &self.console.out;
        let head: Vec<Cell> = self
            .names
            .iter()
            .map(|name| Cell::Text(name.clone()))
            .collect();
        let is_number = |column: usize| {
            let mut cells = waiting.iter().filter_map(|row| row.get(column));
            cells.all(|cell| !matches!(cell, Cell::Text(_)))
        };
        let cells = head
            .iter()
            .zip(&self.widths)
            .enumerate()
            .map(|(at, (cell, width))| {
                let name = cut(&shown(cell), *width);
                if is_number(at) {
                    format!("{name:>width$}")
                } else {
                    format!("{name:<width$}")
                }
            });
        let mut text = look.paint(Tone::Dim, cells.collect::<Vec<_>>().join("  ").trim_end());
        text.push('\n');
        for row in &waiting {
            text.push_str(&self.line(row, look));
        }
        self.console.write(&text)
    }

    fn barred(&self) -> Option<usize> {
        let bar = self.bar?;
        self.names.iter().position(|name| name == bar)
    }

    fn line(&self, cells: &[Cell], look: &Look) -> String {
        let mut line = String::new();
        for (cell, width) in cells.iter().zip(&self.widths) {
            let text = cut(&shown(cell), *width);
            let text = match cell {
                Cell::Text(_) | Cell::Null => format!("{text:<width$}"),
                _ => format!("{text:>width$}"),
            };
            line.push_str(&text);
            line.push_str("  ");
        }
        let bar = self.barred().and_then(|at| number(cells.get(at)?));
        if let Some(value) = bar.filter(|_| self.most > 0.0) {
            let length = (value / self.most * LONGEST_BAR as f64).ceil();
            line.push_str(&look.paint(Tone::Note, &"#".repeat(length.max(0.0) as usize)));
        }
        line.truncate(line.trim_end().len());
        line.push('\n');
        line
    }
}

fn number(cell: &Cell) -> Option<f64> {
    match cell {
        Cell::Whole(number) => Some(*number as f64),
        Cell::Real(number) => Some(*number),
        Cell::Null | Cell::Text(_) => None,
    }
}

/// A number as it is written; nothing for nothing.
fn plain(cell: &Cell) -> String {
    match cell {
        Cell::Null => String::new(),
        Cell::Whole(number) => number.to_string(),
        Cell::Real(number) => number.to_string(),
        Cell::Text(text) => text.clone(),
    }
}

/// A cell that may be shown on a terminal.
fn shown(cell: &Cell) -> String {
    clean(plain(cell).as_bytes()).into_owned()
}

fn json(cell: &Cell) -> String {
    let value = match cell {
        Cell::Null => serde_json::Value::Null,
        Cell::Whole(number) => (*number).into(),
        Cell::Real(number) => (*number).into(),
        Cell::Text(text) => text.as_str().into(),
    };
    value.to_string()
}

/// A text as a field of comma-separated values (RFC 4180, published). One that a table program would
/// take for a formula gets a `'` in front (common practice, no source); control bytes are shown as
/// pictures.
fn field(text: &str) -> String {
    let text = clean(text.as_bytes());
    let is_formula = text.starts_with(['=', '+', '-', '@', '\t', '\r']);
    let text = if is_formula {
        format!("'{text}")
    } else {
        text.into_owned()
    };
    if text.contains(['"', ',', '\n', '\r', '\'']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fields_are_quoted_and_no_formula() {
        for (text, is) in [
            ("lid.gcode", "lid.gcode"),
            ("a,b", "\"a,b\""),
            ("a \"b\"", "\"a \"\"b\"\"\""),
            ("=1+1", "\"'=1+1\""),
            ("@SUM(A1)", "\"'@SUM(A1)\""),
            ("-lid", "\"'-lid\""),
            ("a\u{1b}[2Jb", "a\u{241b}[2Jb"),
        ] {
            assert_eq!(field(text), is);
        }
    }
}
