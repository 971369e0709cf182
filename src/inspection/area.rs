//! Where something lies against the machine's printable area and reach.

use super::held::limit;
use crate::finding::Limit;
use crate::machine::{Area, Span, mm};
use crate::quantity::Millimetres;
use crate::sheet::Machine;

/// Which edge is passed, and where.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Past {
    /// How far beyond the edge, mm.
    pub over: f64,
    /// The coordinate, or on a round bed the distance from its centre, mm.
    pub at: f64,
    /// The edge, mm.
    pub edge: f64,
    /// X, Y or Z; None for a round bed's rim.
    pub axis: Option<char>,
    /// Whether it is the upper edge.
    pub upper: bool,
}

impl Past {
    fn new(axis: char, at: i64, edge: i64, upper: bool) -> Self {
        let over = if upper {
            at.saturating_sub(edge)
        } else {
            edge.saturating_sub(at)
        };
        Self {
            over: mm(over),
            at: mm(at),
            edge: mm(edge),
            axis: Some(axis),
            upper,
        }
    }

    /// `X 212 mm`, or `106 mm from the middle of the bed`.
    pub fn place(&self) -> String {
        let at = super::figures::tidy(self.at);
        match self.axis {
            Some(axis) => format!("{axis} {at} mm"),
            None => format!("{at} mm from the middle of the bed"),
        }
    }

    /// The edge of the printable area as a limit.
    pub fn of_area(&self, machine: &Machine) -> Option<Limit> {
        let sheet = format!("machine sheet {}", machine.name);
        let bed = &machine.bed;
        let unit = Millimetres::UNIT;
        match self.axis {
            None => {
                let cited = bed.diameter.as_ref()?;
                Some(limit(&sheet, "bed.diameter", cited, self.edge, unit))
            }
            Some(_) if self.upper => {
                let cited = bed.printable_to.as_ref()?;
                Some(limit(&sheet, "bed.printable_to", cited, self.edge, unit))
            }
            Some(_) => {
                let cited = bed.printable_from.as_ref()?;
                Some(limit(&sheet, "bed.printable_from", cited, self.edge, unit))
            }
        }
    }

    /// The end of an axis as a limit.
    pub fn of_reach(&self, machine: &Machine) -> Option<Limit> {
        let sheet = format!("machine sheet {}", machine.name);
        let (key, cited) = if self.upper {
            ("reach_to", machine.reach_to.as_ref()?)
        } else {
            ("reach_from", machine.reach_from.as_ref()?)
        };
        Some(limit(&sheet, key, cited, self.edge, Millimetres::UNIT))
    }
}

/// Every side of spans that a box passes.
fn all_past<const N: usize>(within: [Span; N], of: [Span; N]) -> impl Iterator<Item = Past> {
    let axes = within.into_iter().zip(of).zip(['X', 'Y', 'Z']);
    axes.flat_map(|((within, of), axis)| {
        [
            Past::new(axis, of.most, within.most, true),
            Past::new(axis, of.least, within.least, false),
        ]
    })
    .filter(|past| past.over > 0.0)
}

/// The side of spans that a box passes farthest, if any.
pub(super) fn past<const N: usize>(within: [Span; N], of: [Span; N]) -> Option<Past> {
    // Of two as far the first.
    all_past(within, of).reduce(|worst, past| if past.over > worst.over { past } else { worst })
}

/// How far each side of a rectangular area is passed.
#[derive(Debug, Default)]
pub(super) struct Sides(Vec<Past>);

impl Sides {
    /// Notes each side that a box passes.
    pub fn pass(&mut self, area: &Area, of_x: Span, of_y: Span) {
        let Area::Rectangle { x, y } = *area else {
            return;
        };
        for past in all_past([x, y], [of_x, of_y]) {
            let side = |known: &&mut Past| (known.axis, known.upper) == (past.axis, past.upper);
            match self.0.iter_mut().find(side) {
                Some(known) if known.over >= past.over => {}
                Some(known) => *known = past,
                None => self.0.push(past),
            }
        }
    }

    /// All but the worst, the worse first: `, and at Y 254.8 mm by 4.8 mm`.
    pub fn but_the_worst(&mut self) -> String {
        let by_how_much = |one: &Past, other: &Past| other.over.total_cmp(&one.over);
        self.0.sort_by(by_how_much);
        let rest = self.0.iter().skip(1);
        rest.map(|past| {
            format!(
                ", and at {} by {} mm",
                past.place(),
                super::figures::tidy(past.over)
            )
        })
        .collect()
    }
}

/// The edge of the printable area that a box passes farthest, if any.
pub(super) fn past_area(area: &Area, x: Span, y: Span) -> Option<Past> {
    match area {
        Area::Rectangle {
            x: within_x,
            y: within_y,
        } => past([*within_x, *within_y], [x, y]),
        Area::Disc { diameter, .. } => {
            let over = mm(area.outside(x, y));
            let radius = mm(*diameter) / 2.0;
            (over > 0.0).then_some(Past {
                over,
                at: radius + over,
                edge: radius,
                axis: None,
                upper: true,
            })
        }
    }
}

/// A span moved along.
pub(super) const fn moved(span: Span, by: i64) -> Span {
    Span {
        least: span.least.saturating_add(by),
        most: span.most.saturating_add(by),
    }
}
