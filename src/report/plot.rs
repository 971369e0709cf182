//! A small plot over the height of a job, in plain characters for a terminal.
//!
//! Height runs from left to right, the value upwards from zero. However many points there are, no
//! extreme is lost: a column shows all that lies in it, from the least to the greatest value (`#`).
//! What is past the limit ends in `!`.

use std::fmt::Write as _;

/// The narrowest that the plot itself is drawn, in characters (chosen).
const NARROWEST: usize = 20;

/// A limit to draw.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Bound {
    /// Values may not be above it.
    Most(f64),
    /// Values may not be below it.
    Least(f64),
}

impl Bound {
    const fn value(self) -> f64 {
        match self {
            Self::Most(value) | Self::Least(value) => value,
        }
    }

    const fn words(self) -> &'static str {
        match self {
            Self::Most(_) => "at most",
            Self::Least(_) => "at least",
        }
    }
}

/// What to plot over the height.
#[derive(Debug, Clone, Copy)]
pub struct Plot<'a> {
    /// What the values are, with their unit: `melt flow in mm³/s`.
    pub title: &'a str,
    /// Height in mm and value, in any order. A point stands for the height from the one below up to
    /// its own, as a layer does. Points that are no finite numbers are left out.
    pub points: &'a [(f64, f64)],
    /// The limit, if there is one.
    pub limit: Option<Bound>,
    /// A value that the scale reaches in any case: 100 for per cent.
    pub reach: Option<f64>,
}

/// The values of one column, or none.
type Column = Option<(f64, f64)>;

impl Plot<'_> {
    /// The plot as lines, each ended, at most `width` characters wide (but never narrower than is
    /// readable) and `rows` rows high (two at least), title and heights apart. Empty where there is
    /// nothing to plot.
    #[must_use]
    pub fn drawn(&self, width: usize, rows: usize) -> String {
        let mut points: Vec<(f64, f64)> = self
            .points
            .iter()
            .copied()
            .filter(|(height, value)| height.is_finite() && value.is_finite())
            .collect();
        points.sort_by(|one, other| one.0.total_cmp(&other.0));
        let (Some(first), Some(last)) = (points.first(), points.last()) else {
            return String::new();
        };
        let heights = (first.0, last.0);
        let scale = self.scale(&points, rows.max(2));
        let (top, bottom) = (brief(scale.most), brief(scale.least));
        let gutter = top.len().max(bottom.len());
        // Label, blank, edge.
        let across = width.saturating_sub(gutter + 2).max(NARROWEST);
        let columns = columns(&points, heights, across);
        let limit = self.limit.filter(|limit| limit.value().is_finite());
        let line = limit.map(|limit| scale.row(limit.value()));

        let mut text = self.title.to_owned();
        if let Some(limit) = limit {
            let _ = write!(text, ", {} {} (---)", limit.words(), brief(limit.value()));
        }
        text.push('\n');
        for row in (0..scale.rows).rev() {
            let label = match row {
                0 => bottom.as_str(),
                row if row + 1 == scale.rows => top.as_str(),
                _ => "",
            };
            let cells: String = columns
                .iter()
                .map(|column| cell(*column, row, &scale, limit, line))
                .collect();
            let _ = writeln!(text, "{label:>gutter$} |{}", cells.trim_end());
        }
        let (from, to) = (
            format!("{} mm", brief(heights.0)),
            format!("{} mm", brief(heights.1)),
        );
        let between = across.saturating_sub(from.len() + to.len());
        let _ = match first.0 < last.0 {
            true => writeln!(text, "{:gutter$}  {from}{:between$}{to}", "", ""),
            false => writeln!(text, "{:gutter$}  {from}", ""),
        };
        text
    }

    fn scale(&self, points: &[(f64, f64)], rows: usize) -> Scale {
        let limit = self.limit.map(Bound::value);
        let (mut least, mut most) = (0.0_f64, 0.0_f64);
        for value in points
            .iter()
            .map(|point| point.1)
            .chain(limit)
            .chain(self.reach)
            .filter(|value| value.is_finite())
        {
            least = least.min(value);
            most = most.max(value);
        }
        if least >= most {
            most = least + 1.0;
        }
        Scale { least, most, rows }
    }
}

/// From values to rows.
struct Scale {
    least: f64,
    most: f64,
    rows: usize,
}

impl Scale {
    /// The row of a value, 0 at the bottom.
    fn row(&self, value: f64) -> usize {
        place(value, (self.least, self.most), self.rows)
    }
}

/// Which of `count` places in a line a figure has between two ends; the first where they are one.
fn place(figure: f64, (from, to): (f64, f64), count: usize) -> usize {
    let last = count.saturating_sub(1);
    // Halved before the difference is taken, so that it cannot overflow.
    let share = (0.5 * figure - 0.5 * from) / (0.5 * to - 0.5 * from);
    if !share.is_finite() {
        return 0;
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "within a terminal's width, and a cast saturates"
    )]
    let place = (share * last as f64).round() as usize;
    place.min(last)
}

/// The least and the greatest value in each column.
fn columns(points: &[(f64, f64)], heights: (f64, f64), count: usize) -> Vec<Column> {
    let mut columns: Vec<Column> = vec![None; count];
    let mut next = 0;
    for (height, value) in points {
        let at = place(*height, heights, count);
        // From the column after the point below; the same column where several points share it.
        for column in columns.iter_mut().take(at + 1).skip(next.min(at)) {
            let (least, most) = column.unwrap_or((*value, *value));
            *column = Some((least.min(*value), most.max(*value)));
        }
        next = at + 1;
    }
    columns
}

fn cell(
    column: Column,
    row: usize,
    scale: &Scale,
    limit: Option<Bound>,
    line: Option<usize>,
) -> char {
    if let Some((least, most)) = column {
        let (low, high) = (scale.row(least), scale.row(most));
        let past = match limit {
            Some(Bound::Most(limit)) => most > limit && row == high,
            Some(Bound::Least(limit)) => least < limit && row == low,
            None => false,
        };
        if past {
            return '!';
        }
        if (low..=high).contains(&row) {
            return '#';
        }
    }
    if line == Some(row) { '-' } else { ' ' }
}

/// A figure for the edge of a plot: about three digits.
fn brief(figure: f64) -> String {
    let decimals = match figure.abs() {
        large if large >= 99.95 => 0,
        middle if middle >= 9.995 => 1,
        _ => 2,
    };
    let text = format!("{figure:.decimals$}");
    if !text.contains('.') {
        return text;
    }
    let text = text.trim_end_matches('0').trim_end_matches('.');
    match text {
        "-0" => "0".to_owned(),
        text => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn plot<'a>(title: &'a str, points: &'a [(f64, f64)], limit: Option<Bound>) -> Plot<'a> {
        Plot {
            title,
            points,
            limit,
            reach: None,
        }
    }

    /// A vase: the flow rises to its belly and falls again, with one burst.
    fn vase() -> Vec<(f64, f64)> {
        (1..=200)
            .map(|layer| {
                let height = 0.2 * f64::from(layer);
                let burst = if layer == 150 { 6.0 } else { 0.0 };
                (height, 4.0 + 5.0 * (height * 0.08).sin() + burst)
            })
            .collect()
    }

    #[test]
    fn flow_over_the_height() {
        let points = vase();
        insta::assert_snapshot!(plot("melt flow in mm³/s", &points, Some(Bound::Most(8.0))).drawn(70, 7), @r"
        melt flow in mm³/s, at most 8 (---)
        13.4 |                                               !
             |                                               #
             |-----------------#!!!!!!!!!!!!!!!!!!!!!!!!!!##-#----------------
             |      ############                           ###########
             |#######                                                 ########
             |
           0 |
              0.2 mm                                                     40 mm
        ");
    }

    #[test]
    fn layer_times_against_the_least() {
        let points: Vec<(f64, f64)> = (1..=12)
            .map(|layer| (0.3 * f64::from(layer), f64::from(layer * 37 % 23)))
            .collect();
        insta::assert_snapshot!(plot("layer time in s", &points, Some(Bound::Least(8.0))).drawn(60, 6), @r"
        layer time in s, at least 8 (---)
        20 |      #####                    #####
           |#                    #####                    #####
           |           #####                    #####
           |--------------------------!!!!!--------------------!!!!!
           | !!!!!                                   !!!!!
         0 |                !!!!!
            0.3 mm                                            3.6 mm
        ");
    }

    #[test]
    fn a_fan_that_is_off_then_on() {
        let points = [(0.2, 0.0), (0.4, 0.0), (0.6, 40.0), (30.0, 40.0)];
        let fan = Plot {
            reach: Some(100.0),
            ..plot("part fan in %", &points, None)
        };
        insta::assert_snapshot!(fan.drawn(60, 5), @r"
        part fan in %
        100 |
            |
            | ######################################################
            |
          0 |#
             0.2 mm                                            30 mm
        ");
    }

    #[test]
    fn one_layer_and_nothing() {
        insta::assert_snapshot!(plot("layer time in s", &[(0.2, 0.0)], None).drawn(40, 2), @r"
        layer time in s
        1 |
        0 |#
           0.2 mm
        ");
        assert_eq!(
            plot("nothing", &[], Some(Bound::Most(8.0))).drawn(80, 6),
            ""
        );
        let unknown = [(0.2, f64::NAN), (f64::INFINITY, 1.0)];
        assert_eq!(plot("unknown", &unknown, None).drawn(80, 6), "");
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 1000, failure_persistence: None, ..Default::default() })]

        /// Any points: no panic, no line too wide, and a column past the limit exactly where a value
        /// is.
        #[test]
        fn any_points(
            points in prop::collection::vec((prop::num::f64::ANY, prop::num::f64::ANY), 0..50),
            limit in prop::num::f64::ANY,
            width in 0_usize..120,
            rows in 0_usize..12,
        ) {
            for bound in [Bound::Most(limit), Bound::Least(limit)] {
                let drawn = plot("x", &points, Some(bound)).drawn(width, rows);
                // A figure of three hundred digits has its own width.
                let label = drawn.lines().filter_map(|line| line.find('|')).max().unwrap_or(0);
                for line in drawn.lines().filter(|line| line.contains('|')) {
                    prop_assert!(line.chars().count() <= width.max(label + 1 + NARROWEST), "{drawn}");
                }
            }
        }

        /// However many points share a column, each extreme is drawn: past the limit by a hair is
        /// seen, at the limit is not.
        #[test]
        fn no_extreme_is_lost(count in 2_u32..3000, share in 0.0..1.0_f64, width in 30_usize..100) {
            let at = (f64::from(count) * share).floor();
            let points = |peak: f64| -> Vec<(f64, f64)> {
                (0..count)
                    .map(|layer| {
                        let layer = f64::from(layer);
                        (layer, if layer == at { peak } else { 5.0 })
                    })
                    .collect()
            };
            for (most, least, seen) in [(8.0, 2.0, false), (8.000_001, 1.999_999, true)] {
                let high = points(most);
                prop_assert_eq!(plot("x", &high, Some(Bound::Most(8.0))).drawn(width, 6).contains('!'), seen);
                let low = points(least);
                prop_assert_eq!(plot("x", &low, Some(Bound::Least(2.0))).drawn(width, 6).contains('!'), seen);
            }
        }
    }

    #[test]
    fn figures_at_the_edge_are_short() {
        for (figure, text) in [
            (0.0, "0"),
            (-0.001, "0"),
            (0.2, "0.2"),
            (9.994, "9.99"),
            (9.996, "10"),
            (12.34, "12.3"),
            (99.96, "100"),
            (1200.0, "1200"),
            (-3.5, "-3.5"),
        ] {
            assert_eq!(brief(figure), text);
        }
    }
}
