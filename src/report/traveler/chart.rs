//! One plot as a drawing that stands still: text keeps its size at any width, since only the lines stretch.

use super::html::Html;
use crate::course::Way;
use crate::report::{grouped, rounded, tidy};
use std::fmt::Write as _;

/// Columns that a plot is drawn in: each keeps the least and the greatest value within it (chosen: about one
/// for two points of a wide page).
pub const COLUMNS: usize = 320;

/// Where the lowest and the highest value are drawn, in per cent from the top.
const INSET: (f64, f64) = (95.0, 12.0);

/// A limit that is this many times as high as every value is said and not drawn (chosen).
const FAR: f64 = 4.0;

/// What is written a hair past a limit is within rounding (as the requirements have it).
const ROUNDING: f64 = 0.01;

/// What lies between two places along the plot: least and greatest value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Where it begins.
    pub from: f64,
    /// Where it ends.
    pub to: f64,
    /// The least value.
    pub least: f64,
    /// The greatest.
    pub most: f64,
}

/// One line of a plot.
#[derive(Debug, Clone)]
pub struct Line {
    /// Its class in the page's style: `is` or `set`.
    pub class: &'static str,
    /// What it is.
    pub label: &'static str,
    /// Its values, in order.
    pub stretches: Vec<Stretch>,
    /// Whether a value holds until the next one; else it slopes there.
    pub steps: bool,
}

/// A limit.
#[derive(Debug, Clone, PartialEq)]
pub struct Bound {
    /// Which way it lies.
    pub way: Way,
    /// The limit.
    pub value: f64,
    /// Whose it is.
    pub whose: String,
}

impl Bound {
    /// Whether something from `least` to `most` is past it, by more than rounding.
    fn is_past(&self, least: f64, most: f64) -> bool {
        match self.way {
            Way::Most => most > self.value * (1.0 + ROUNDING),
            Way::Least => least < self.value * (1.0 - ROUNDING),
        }
    }
}

/// A plot.
#[derive(Debug, Clone)]
pub struct Chart {
    /// Its id in the page.
    pub id: &'static str,
    /// What it shows, with the unit.
    pub title: &'static str,
    /// The unit of its values.
    pub unit: &'static str,
    /// Along what: `Z`, `minute`.
    pub along: &'static str,
    /// The unit of that.
    pub along_unit: &'static str,
    /// From where to where.
    pub span: (f64, f64),
    /// Its lines; limits are held against the first.
    pub lines: Vec<Line>,
    /// Its limits.
    pub limits: Vec<Bound>,
    /// The band of a sheet.
    pub band: Option<(f64, f64, String)>,
    /// A value that the scale reaches in any case.
    pub reach: f64,
    /// The table with its values, and their columns there, the heads of rows being column 0.
    pub table: (&'static str, &'static str),
}

type Column = Option<(f64, f64)>;

impl Chart {
    /// The figure: title, drawing, what it says in words.
    pub fn write(&self, page: &mut Html) {
        let caption = self.caption();
        let (title, says) = (format!("{}-title", self.id), format!("{}-says", self.id));
        let (table, columns) = self.table;
        let attributes = [
            ("id", self.id),
            ("class", "chart"),
            ("data-table", table),
            ("data-columns", columns),
            ("data-from", &tidy(self.span.0)),
            ("data-to", &tidy(self.span.1)),
        ];
        page.within("figure", &attributes, |page| {
            page.within("h3", &[("id", &title)], |page| page.say(self.title));
            page.within("div", &[("class", "drawing")], |page| {
                let drawing = Drawing::of(self);
                drawing.scale_marks(page);
                drawing.drawing(&title, &says, page);
                drawing.along_marks(page);
            });
            page.within("figcaption", &[("id", &says)], |page| {
                page.say(&caption);
                page.say(" ");
                page.within("a", &[("href", &format!("#{table}"))], |page| {
                    page.say(&format!("All values of {}", self.id));
                });
            });
        });
    }

    fn values(&self) -> impl Iterator<Item = f64> {
        self.lines
            .iter()
            .flat_map(|line| &line.stretches)
            .flat_map(|stretch| [stretch.least, stretch.most])
            .filter(|value| value.is_finite())
    }

    /// From the lowest value drawn to the highest.
    fn scale(&self) -> (f64, f64) {
        let most = self.values().fold(self.reach, f64::max);
        let limits = self.limits.iter().map(|limit| limit.value);
        let band = self
            .band
            .iter()
            .flat_map(|(least, most, _)| [*least, *most]);
        let drawn = limits
            .chain(band)
            .filter(|value| value.is_finite() && *value <= most * FAR);
        let most = drawn.fold(most, f64::max);
        let least = self.values().fold(0.0, f64::min);
        if most > least {
            (least, most)
        } else {
            (least, least + 1.0)
        }
    }

    /// What the drawing says, in words.
    fn caption(&self) -> String {
        let mut parts: Vec<String> = Vec::new();
        for line in &self.lines {
            let known = || {
                line.stretches
                    .iter()
                    .filter(|stretch| stretch.least.is_finite() && stretch.most.is_finite())
            };
            let least = known().min_by(|one, other| one.least.total_cmp(&other.least));
            // The first of several, as with the least.
            let most = known().min_by(|one, other| other.most.total_cmp(&one.most));
            let (Some(least), Some(most)) = (least, most) else {
                parts.push(format!("{}: unknown", line.label));
                continue;
            };
            let at = |at: f64| format!("{} {}", self.along, rounded(at, 2));
            parts.push(if rounded(least.least, 2) == rounded(most.most, 2) {
                format!(
                    "{}: {} {} throughout",
                    line.label,
                    rounded(most.most, 2),
                    self.unit
                )
            } else {
                format!(
                    "{}: at most {} {} ({}), at least {} ({})",
                    line.label,
                    rounded(most.most, 2),
                    self.unit,
                    at(most.to),
                    rounded(least.least, 2),
                    at(least.to),
                )
            });
        }
        if let Some((least, most, whose)) = &self.band {
            parts.push(format!(
                "{whose}: {} to {} {}",
                tidy(*least),
                tidy(*most),
                self.unit
            ));
        }
        for limit in &self.limits {
            let stretches = self.lines.iter().take(1).flat_map(|line| &line.stretches);
            let of = stretches.clone().count();
            let past = stretches
                .filter(|stretch| limit.is_past(stretch.least, stretch.most))
                .count();
            let kept = match past {
                0 => "kept".to_owned(),
                past => format!(
                    "not kept in {} of {} stretches (the thick line)",
                    grouped(past as u64),
                    grouped(of as u64)
                ),
            };
            parts.push(format!(
                "{}: {} {} {}, {kept}",
                limit.whose,
                word(limit.way),
                tidy(limit.value),
                self.unit,
            ));
        }
        parts.join("; ") + "."
    }
}

/// Where a label stands: its lower edge in per cent from the top, at which side.
#[derive(Debug, Clone, Copy)]
struct Label {
    at: f64,
    is_right: bool,
}

/// How high a label is, in per cent, and how wide a letter is, in columns: of a plot as wide as a column of
/// the page (chosen).
const LABEL: (f64, f64) = (9.0, 6.0);

/// Looks for a place at a height where a label lies on no curve and on no other label; else where it lies on
/// the least of them.
fn place(text: &str, height: f64, taken: &[Label], curves: &[Vec<(f64, f64)>]) -> Label {
    let (tall, letter) = LABEL;
    let wide = ((text.chars().count() as f64 * letter) as usize).min(COLUMNS);
    let is_free = |at: f64, is_right: bool| {
        (tall..=98.0).contains(&at)
            && !taken
                .iter()
                .any(|label| label.is_right == is_right && (label.at - at).abs() < tall)
    };
    let covered = |at: f64, is_right: bool| {
        let from = if is_right { COLUMNS - wide } else { 0 };
        let columns = curves.iter().skip(from).take(wide);
        columns
            .filter(|column| {
                column
                    .iter()
                    .any(|(top, bottom)| *top < at + 1.0 && *bottom > at - tall)
            })
            .count()
    };
    let mut best: Option<(usize, Label)> = None;
    // Right above its line first, then farther off, the nearest first.
    for step in 0..20 {
        let off = f64::from(step / 2) * tall * if step % 2 == 0 { -1.0 } else { 1.0 };
        for is_right in [true, false] {
            let label = Label {
                at: height + off,
                is_right,
            };
            if !is_free(label.at, is_right) {
                continue;
            }
            let covers = covered(label.at, is_right);
            if best.is_none_or(|(least, _)| covers < least) {
                best = Some((covers, label));
            }
        }
        if best.is_some_and(|(covers, _)| covers == 0) {
            break;
        }
    }
    best.map_or(
        Label {
            at: height.max(tall),
            is_right: true,
        },
        |(_, label)| label,
    )
}

/// A plot while it is drawn.
struct Drawing<'a> {
    of: &'a Chart,
    /// The lowest value drawn and the highest.
    scale: (f64, f64),
}

impl<'a> Drawing<'a> {
    fn of(of: &'a Chart) -> Self {
        Self {
            of,
            scale: of.scale(),
        }
    }

    /// Per cent from the top.
    fn height(&self, value: f64) -> f64 {
        let (least, most) = self.scale;
        let share = ((value - least) / (most - least)).clamp(0.0, 1.0);
        INSET.0 - share * (INSET.0 - INSET.1)
    }

    /// Round values between the ends, for the edge.
    fn marks(&self) -> Vec<f64> {
        let (least, most) = self.scale;
        let rough = (most - least) / 4.0;
        let power = 10_f64.powf(rough.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0]
            .into_iter()
            .map(|digit| digit * power)
            .find(|step| *step >= rough)
            .unwrap_or(rough);
        let first = (least / step).ceil();
        (0..6)
            .map(|mark| (first + f64::from(mark)) * step)
            .filter(|value| *value <= most * 1.0001)
            .collect()
    }

    fn scale_marks(&self, page: &mut Html) {
        let attributes = [("class", "scale"), ("aria-hidden", "true")];
        page.within("svg", &attributes, |page| {
            for mark in self.marks() {
                let y = per_cent(self.height(mark));
                let place = [("x", "100%"), ("y", &y), ("dy", "0.3em")];
                page.within("text", &place, |page| page.say(&tidy(mark)));
            }
        });
    }

    fn along_marks(&self, page: &mut Html) {
        let attributes = [("class", "along"), ("aria-hidden", "true")];
        let (from, to) = self.of.span;
        page.within("svg", &attributes, |page| {
            for (share, class) in [(0.0, "start"), (0.5, "middle"), (1.0, "end")] {
                let at = from + (to - from) * share;
                let unit = if share == 1.0 { self.of.along_unit } else { "" };
                let text = format!("{} {unit}", rounded(at, 1));
                let x = per_cent(share * 100.0);
                let place = [("class", class), ("x", x.as_str()), ("y", "1em")];
                page.within("text", &place, |page| page.say(text.trim()));
            }
        });
    }

    fn drawing(&self, title: &str, says: &str, page: &mut Html) {
        let described = [
            ("class", "plot"),
            ("role", "img"),
            ("aria-labelledby", title),
            ("aria-describedby", says),
        ];
        page.within("svg", &described, |page| {
            for mark in self.marks() {
                level("grid", self.height(mark), page);
            }
            let stretched = [
                ("width", "100%"),
                ("height", "100%"),
                ("viewBox", "0 0 1000 1000"),
                ("preserveAspectRatio", "none"),
            ];
            page.within("svg", &stretched, |page| {
                if let Some((least, most, _)) = &self.of.band {
                    let (top, bottom) = (self.height(*most) * 10.0, self.height(*least) * 10.0);
                    let shape = [
                        ("class", "band"),
                        ("x", "0"),
                        ("width", "1000"),
                        ("y", &rounded(top, 1)),
                        ("height", &rounded((bottom - top).max(2.0), 1)),
                    ];
                    page.within("rect", &shape, |_| {});
                }
                for line in &self.of.lines {
                    self.line(line, page);
                }
            });
            for limit in &self.of.limits {
                if limit.value <= self.scale.1 {
                    level("limit", self.height(limit.value), page);
                }
            }
            self.labels(page);
            page.within(
                "line",
                &[("class", "cursor"), ("y1", "0"), ("y2", "100%")],
                |_| {},
            );
        });
    }

    /// Labels at the lines themselves, none upon another.
    fn labels(&self, page: &mut Html) {
        let mut labels: Vec<(f64, &'static str, String)> = Vec::new();
        if let Some((least, most, whose)) = &self.of.band {
            let text = format!(
                "{whose}: {} to {} {}",
                tidy(*least),
                tidy(*most),
                self.of.unit
            );
            labels.push((self.height((least + most) / 2.0), "of-band", text));
        }
        for limit in self
            .of
            .limits
            .iter()
            .filter(|limit| limit.value <= self.scale.1)
        {
            let text = format!(
                "{}: {} {} {}",
                limit.whose,
                word(limit.way),
                tidy(limit.value),
                self.of.unit
            );
            labels.push((self.height(limit.value) - 2.0, "of-limit", text));
        }
        labels.sort_by(|one, other| one.0.total_cmp(&other.0));
        let curves = self.curves();
        let mut taken: Vec<Label> = Vec::new();
        for (height, class, text) in labels {
            let label = place(&text, height, &taken, &curves);
            let (x, dx, side) = if label.is_right {
                ("100%", "-4", class.to_owned())
            } else {
                ("0", "4", format!("{class} left"))
            };
            let attributes = [
                ("class", side.as_str()),
                ("x", x),
                ("y", &per_cent(label.at)),
                ("dx", dx),
            ];
            page.within("text", &attributes, |page| page.say(&text));
            taken.push(label);
        }
    }

    /// Where the lines run, column by column: from the top, per cent, the least and the most.
    fn curves(&self) -> Vec<Vec<(f64, f64)>> {
        let mut curves: Vec<Vec<(f64, f64)>> = vec![Vec::new(); COLUMNS];
        for line in &self.of.lines {
            let columns = self.columns(line);
            for (column, into) in columns.iter().zip(&mut curves) {
                if let Some((least, most)) = column {
                    into.push((self.height(*most), self.height(*least)));
                }
            }
        }
        curves
    }

    /// Least and greatest value of each column.
    fn columns(&self, line: &Line) -> Vec<Column> {
        let (from, to) = self.of.span;
        let mut columns: Vec<Column> = vec![None; COLUMNS];
        let place = |at: f64| {
            let share = (at - from) / (to - from);
            let column = (share * COLUMNS as f64).floor();
            if column.is_finite() {
                column.clamp(0.0, COLUMNS as f64 - 1.0) as usize
            } else {
                0
            }
        };
        for stretch in &line.stretches {
            if !stretch.least.is_finite() || !stretch.most.is_finite() {
                continue;
            }
            let (first, last) = (place(stretch.from), place(stretch.to));
            // A layer ends where the next one begins: that column is the next one's.
            let last = if stretch.to > stretch.from && last > first && stretch.to < to {
                last - 1
            } else {
                last
            };
            for column in columns.iter_mut().take(last + 1).skip(first) {
                let (least, most) = column.unwrap_or((stretch.least, stretch.most));
                *column = Some((least.min(stretch.least), most.max(stretch.most)));
            }
        }
        if line.steps {
            let mut held: Column = None;
            for column in &mut columns {
                match column {
                    Some((_, most)) => held = Some((*most, *most)),
                    none => *none = held,
                }
            }
        }
        columns
    }

    fn line(&self, line: &Line, page: &mut Html) {
        let columns = self.columns(line);
        let wide = 1000.0 / COLUMNS as f64;
        let (mut upper, mut lower): (Vec<[f64; 2]>, Vec<[f64; 2]>) = (Vec::new(), Vec::new());
        let mut past = String::new();
        for (index, column) in columns.iter().enumerate() {
            let Some((least, most)) = column else {
                continue;
            };
            let (left, right) = (index as f64 * wide, (index + 1) as f64 * wide);
            let (high, low) = (self.height(*most) * 10.0, self.height(*least) * 10.0);
            let at = if line.steps {
                [left, right]
            } else {
                [(left + right) / 2.0; 2]
            };
            for x in at {
                upper.push([x, high]);
                lower.push([x, low]);
            }
            if line.class == "is" && self.is_past(*least, *most) {
                let (from, to) = (rounded(left, 1), rounded(right, 1));
                let _ = write!(past, "M{from} {}H{to}", rounded(high, 1));
            }
        }
        let is_thin = upper.iter().zip(&lower).all(|(one, other)| one == other);
        let edge = traced(&upper);
        if !is_thin {
            lower.reverse();
            let area = format!("{edge}{}Z", traced(&lower).replacen('M', "L", 1));
            shape(&format!("area {}", line.class), &area, page);
        }
        shape(line.class, &edge, page);
        if !past.is_empty() {
            shape("past", &past, page);
        }
    }

    fn is_past(&self, least: f64, most: f64) -> bool {
        self.of
            .limits
            .iter()
            .any(|limit| limit.is_past(least, most))
    }
}

const fn word(way: Way) -> &'static str {
    match way {
        Way::Most => "at most",
        Way::Least => "at least",
    }
}

fn per_cent(value: f64) -> String {
    format!("{}%", rounded(value, 2))
}

/// A level line from side to side.
fn level(class: &'static str, height: f64, page: &mut Html) {
    let y = per_cent(height);
    let ends = [
        ("class", class),
        ("x1", "0"),
        ("x2", "100%"),
        ("y1", &y),
        ("y2", &y),
    ];
    page.within("line", &ends, |_| {});
}

fn shape(class: &str, path: &str, page: &mut Html) {
    let attributes = [
        ("class", class),
        ("vector-effect", "non-scaling-stroke"),
        ("d", path),
    ];
    page.within("path", &attributes, |_| {});
}

/// A path through points; what goes straight on is said once.
fn traced(points: &[[f64; 2]]) -> String {
    let mut path = String::new();
    for (index, [x, y]) in points.iter().enumerate() {
        let before = index.checked_sub(1).and_then(|at| points.get(at));
        let after = points.get(index + 1);
        if let (Some([_, one]), Some([_, other])) = (before, after)
            && one == y
            && other == y
        {
            continue;
        }
        let letter = if index == 0 { 'M' } else { 'L' };
        let _ = write!(path, "{letter}{} {}", rounded(*x, 1), rounded(*y, 1));
    }
    path
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn chart(values: &[(f64, f64)], limits: Vec<Bound>) -> Chart {
        let stretches = values
            .iter()
            .enumerate()
            .map(|(index, (least, most))| Stretch {
                from: index as f64 * 0.2,
                to: (index + 1) as f64 * 0.2,
                least: *least,
                most: *most,
            })
            .collect();
        Chart {
            id: "flow",
            title: "Flow",
            unit: "mm³/s",
            along: "Z",
            along_unit: "mm",
            span: (0.0, values.len() as f64 * 0.2),
            lines: vec![Line {
                class: "is",
                label: "flow",
                stretches,
                steps: true,
            }],
            limits,
            band: None,
            reach: 0.0,
            table: ("values", "1"),
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 500, failure_persistence: None, ..Default::default() })]

        /// However many layers share a column, the least and the greatest value are drawn, and no value is
        /// that is not there.
        #[test]
        fn extremes_are_kept(values in prop::collection::vec((0.0_f64..20.0, 0.0_f64..5.0), 1..3000)) {
            let values: Vec<(f64, f64)> =
                values.into_iter().map(|(least, more)| (least, least + more)).collect();
            let chart = chart(&values, Vec::new());
            let drawn: Vec<(f64, f64)> = Drawing::of(&chart).columns(&chart.lines[0]).into_iter().flatten().collect();
            let least = |of: &[(f64, f64)]| of.iter().map(|pair| pair.0).fold(f64::MAX, f64::min);
            let most = |of: &[(f64, f64)]| of.iter().map(|pair| pair.1).fold(f64::MIN, f64::max);
            prop_assert_eq!(least(&drawn), least(&values));
            prop_assert_eq!(most(&drawn), most(&values));
        }

        /// Any numbers: a whole figure, and not a long one.
        #[test]
        fn any_numbers(values in prop::collection::vec((prop::num::f64::ANY, prop::num::f64::ANY), 0..2000)) {
            let mut page = Html::default();
            chart(&values, Vec::new()).write(&mut page);
            let page = page.done();
            prop_assert!(page.ends_with("</figure>"));
            prop_assert!(!page.contains("NaN") && !page.contains("inf"), "{}", page);
            prop_assert!(page.len() < 60_000, "{}", page.len());
        }
    }

    #[test]
    fn a_limit_is_drawn_as_kept_or_not() {
        for (most, kept) in [(8.0, "kept"), (8.05, "kept"), (8.2, "not kept")] {
            let limit = Bound {
                way: Way::Most,
                value: 8.0,
                whose: "material".to_owned(),
            };
            let mut page = Html::default();
            chart(&[(4.0, 4.0), (5.0, most), (3.0, 3.0)], vec![limit]).write(&mut page);
            let page = page.done();
            assert!(
                page.contains(&format!("material: at most 8 mm³/s, {kept}")),
                "{page}"
            );
            assert_eq!(
                page.contains("class=\"past\""),
                kept == "not kept",
                "{page}"
            );
        }
    }
}
