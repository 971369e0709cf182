//! The first layer and the heights that findings lie at, seen from above and drawn by margin.

use super::Traveler;
use super::html::{Html, sentence};
use crate::course::{Measure, Plan, PlanStroke, Way, measure_of};
use crate::finding::Finding;
use crate::machine::{Area, Span, mm};
use crate::report::{Checked, grouped, rounded, tidy};
use crate::survey::Deposit;
use std::fmt::Write as _;

/// The most views (chosen: a page's worth).
const VIEWS: usize = 6;

/// The most points drawn in one view (chosen: some 60 kB).
const POINTS: usize = 8000;

/// Requirements whose views show the bed, and what of a path lies beyond it.
const OUTSIDE: [&str; 2] = ["deposit-outside-area", "origin-differs"];

/// Units along the longer side of a view: what is nearer to each other cannot be seen apart (chosen).
const UNITS: f64 = 1000.0;

/// What is written a hair past a limit is within rounding (as the requirements have it).
const ROUNDING: f64 = 0.01;

/// Kinds of stroke, from the worst: their class in the page's style and their words.
const KINDS: [(&str, &str); 6] = [
    ("past", "past the limit"),
    ("near", "less than 10 % from it"),
    ("fair", "10 to 30 % from it"),
    ("free", "more than 30 % from it"),
    ("plain", "part"),
    ("other", "not the part: purge, skirt, support"),
];

/// What a view shows.
struct View<'a> {
    plan: &'a Plan,
    measure: Measure,
    way: Way,
    limit: Option<(f64, &'static str, String)>,
    finding: Option<&'a Finding>,
    /// The first line of the stroke in which the finding's line lies.
    told: Option<u64>,
    /// The printable area, where it is what the view is about.
    bed: Option<Area>,
}

/// The views.
pub fn section(traveler: &Traveler, page: &mut Html) {
    let checked = traveler.checked();
    let views = views(traveler);
    page.section("plans", "Seen from above", |page| {
        if views.is_empty() {
            let text = match checked.inspected.survey.layers {
                Ok(0) | Err(_) => "Nothing is drawn: the job lays no layer that could be told.",
                Ok(_) => "Nothing is drawn: the job could not be read once more.",
            };
            page.put("p", "", text);
        }
        page.within("div", &[("class", "views")], |page| {
            for (index, view) in views.iter().enumerate() {
                write(index, view, page);
            }
        });
    });
}

fn views(traveler: &Traveler) -> Vec<View<'_>> {
    let checked = traveler.checked();
    let mut views: Vec<View<'_>> = Vec::new();
    for finding in &checked.inspected.findings {
        let Some((measure, way)) = measure_of(finding.requirement) else {
            continue;
        };
        let Some(plan) = finding
            .extent
            .telling_line()
            .and_then(|line| traveler.plans.iter().find(|plan| plan.has(line)))
        else {
            continue;
        };
        let is_there = views
            .iter()
            .any(|view| std::ptr::eq(view.plan, plan) && view.measure == measure);
        if is_there || views.len() >= VIEWS {
            continue;
        }
        let line = finding.extent.telling_line();
        let begins = plan.strokes.iter().map(|stroke| stroke.line);
        let told = begins.filter(|begin| Some(*begin) <= line).max();
        let limit = finding
            .limit
            .as_ref()
            .map(|limit| (limit.value, limit.unit, limit.whose.clone()));
        let bed =
            Some(checked.held.setup().area).filter(|_| OUTSIDE.contains(&finding.requirement));
        views.push(View {
            plan,
            bed: bed.flatten(),
            measure,
            way,
            limit,
            finding: Some(finding),
            told,
        });
    }
    if let Some(plan) = traveler.plans.iter().find(|plan| has_part(plan))
        && !views.iter().any(|view| std::ptr::eq(view.plan, plan))
    {
        views.truncate(VIEWS - 1);
        views.insert(0, first_layer(checked, plan));
    }
    // What is laid before the part has the number of its first layer.
    views.sort_by_key(|view| (view.plan.number, view.plan.lines));
    views
}

fn has_part(plan: &Plan) -> bool {
    let mut strokes = plan.strokes.iter();
    strokes.any(|stroke| stroke.deposit == Deposit::Part)
}

/// The first layer is held against how fast it may go down.
fn first_layer<'a>(checked: &Checked, plan: &'a Plan) -> View<'a> {
    let limit = checked
        .inspected
        .uses
        .tools
        .iter()
        .filter_map(|tool| {
            let material = checked.held.material(*tool)?;
            let most = material.first_layer.speed_most.as_ref()?.value.get();
            let whose = format!("material sheet {}, first_layer.speed_most", material.name);
            Some((most, "mm/s", whose))
        })
        .min_by(|one, other| one.0.total_cmp(&other.0));
    View {
        plan,
        measure: Measure::Feed,
        way: Way::Most,
        limit,
        finding: None,
        told: None,
        bed: None,
    }
}

impl View<'_> {
    fn value(&self, stroke: &PlanStroke) -> Option<f64> {
        match self.measure {
            Measure::Flow => stroke.flow,
            Measure::Feed => Some(stroke.feed),
            Measure::Width => stroke.width,
            Measure::Fan => Some(stroke.fan * 100.0),
            Measure::Time => self.plan.seconds,
            Measure::Height => Some(self.plan.height),
            Measure::Place => None,
        }
    }

    /// The kind of a stroke, by its place in [`KINDS`].
    fn kind(&self, stroke: &PlanStroke) -> usize {
        if stroke.deposit != Deposit::Part {
            return 5;
        }
        if self.bed.is_some() {
            return 4;
        }
        if self.measure == Measure::Place {
            return if self.told == Some(stroke.line) { 0 } else { 4 };
        }
        let (Some(value), Some((limit, ..))) = (self.value(stroke), &self.limit) else {
            return 4;
        };
        let room = match self.way {
            Way::Most => limit - value,
            Way::Least => value - limit,
        };
        match room / limit.abs().max(1e-9) {
            past if past < -ROUNDING => 0,
            near if near < 0.1 => 1,
            fair if fair < 0.3 => 2,
            _ => 3,
        }
    }

    const fn words(&self) -> &'static str {
        match self.measure {
            Measure::Flow => "sustained melt flow",
            Measure::Feed => "commanded speed",
            Measure::Width => "width of beads",
            Measure::Fan => "part fan",
            Measure::Time => "time of the layer",
            Measure::Height => "height of the layer",
            Measure::Place => "where it lies",
        }
    }

    fn title(&self) -> String {
        let layer = if !has_part(self.plan) {
            "Beside the part".to_owned()
        } else if self.plan.number == 0 {
            "First layer".to_owned()
        } else {
            format!("Layer {}", grouped(self.plan.number + 1))
        };
        format!("{layer}, Z {} mm: {}", tidy(self.plan.z), self.words())
    }

    fn says(&self) -> String {
        let mut text = match &self.limit {
            _ if self.measure == Measure::Place => String::new(),
            Some((limit, unit, whose)) => {
                let way = match self.way {
                    Way::Most => "at most",
                    Way::Least => "at least",
                };
                format!("Limit: {way} {} {unit} ({whose}). ", tidy(*limit))
            }
            None => "No sheet gives a limit. ".to_owned(),
        };
        if let Some(finding) = self.finding {
            text.push_str(&format!(
                "{}: {}",
                finding.requirement,
                sentence(&finding.message)
            ));
        }
        text.trim().to_owned()
    }
}

/// From millimetres to units, Y upwards.
struct Frame {
    least: [f64; 2],
    size: [f64; 2],
    scale: f64,
}

impl Frame {
    fn of(view: &View<'_>) -> Option<Self> {
        let (mut least, mut most) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        let points = view.plan.strokes.iter().flat_map(|stroke| &stroke.points);
        let points = points.map(|at| at.map(f64::from));
        let corners = view.bed.iter().flat_map(corners);
        for place in points.chain(corners) {
            for (axis, at) in place.into_iter().enumerate() {
                if let (Some(low), Some(high)) = (least.get_mut(axis), most.get_mut(axis)) {
                    *low = low.min(at);
                    *high = high.max(at);
                }
            }
        }
        let [width, depth] = [most[0] - least[0], most[1] - least[1]];
        let longest = width.max(depth);
        if !longest.is_finite() {
            return None;
        }
        // Beads lie half their width beyond their paths.
        let edge = (longest * 0.01).max(0.5);
        let longest = longest + 2.0 * edge;
        Some(Self {
            least: [least[0] - edge, least[1] - edge],
            size: [width + 2.0 * edge, depth + 2.0 * edge],
            scale: UNITS / longest,
        })
    }

    /// How long a bar to measure by is, mm: 1, 2 or 5 with noughts, about a fifth of the view.
    fn bar(&self) -> f64 {
        let most = self.size[0] / 4.0;
        let power = 10_f64.powf(most.log10().floor());
        [5.0, 2.0, 1.0]
            .into_iter()
            .map(|digit| digit * power)
            .find(|length| *length <= most)
            .unwrap_or(power)
    }

    fn place(&self, [x, y]: [f32; 2]) -> [i32; 2] {
        let across = (f64::from(x) - self.least[0]) * self.scale;
        let down = (self.size[1] - (f64::from(y) - self.least[1])) * self.scale;
        [across.round() as i32, down.round() as i32]
    }
}

/// The corners of a bed's box, mm.
fn corners(area: &Area) -> [[f64; 2]; 2] {
    match area {
        Area::Rectangle { x, y } => [[mm(x.least), mm(y.least)], [mm(x.most), mm(y.most)]],
        Area::Disc { centre, diameter } => {
            let [x, y] = centre.map(mm);
            let radius = mm(*diameter) / 2.0;
            [[x - radius, y - radius], [x + radius, y + radius]]
        }
    }
}

/// Whether a place lies on a bed, within a micrometre.
fn is_on(area: &Area, [x, y]: [f32; 2]) -> bool {
    let at = |at: f32| Span::mm(f64::from(at), f64::from(at));
    area.outside(at(x), at(y)) < 1_000_000
}

/// A bed's edge as a path.
fn edge(area: &Area, frame: &Frame) -> String {
    let [low, high] = corners(area).map(|at| frame.place(at.map(|at| at as f32)));
    let (left, bottom, right, top) = (low[0], low[1], high[0], high[1]);
    match area {
        Area::Rectangle { .. } => format!("M{left} {bottom}H{right}V{top}H{left}Z"),
        Area::Disc { .. } => {
            let (radius, middle) = ((right - left) / 2, (top + bottom) / 2);
            format!(
                "M{left} {middle}A{radius} {radius} 0 1 0 {right} {middle}A{radius} {radius} 0 1 0 {left} {middle}Z"
            )
        }
    }
}

/// What of a stroke lies beyond the bed, and how long that is, mm.
fn beyond(stroke: &PlanStroke, area: &Area, frame: &Frame, into: &mut String) -> f64 {
    let (mut length, mut before) = (0.0, None);
    for pair in stroke.points.windows(2) {
        let [from, to] = pair else { continue };
        if is_on(area, *from) && is_on(area, *to) {
            before = None;
            continue;
        }
        length += f64::from((to[0] - from[0]).hypot(to[1] - from[1]));
        let ([x, y], [to_x, to_y]) = (frame.place(*from), frame.place(*to));
        if before != Some([x, y]) {
            let _ = write!(into, "M{x} {y}");
        }
        if into.len() < BEYOND {
            let _ = write!(into, "L{to_x} {to_y}");
        }
        before = Some([to_x, to_y]);
    }
    length
}

/// The most bytes of what is drawn beyond a bed (chosen).
const BEYOND: usize = 40_000;

/// A stroke's path without points nearer to each other than `grain` units.
fn path(stroke: &PlanStroke, frame: &Frame, grain: i32) -> Vec<[i32; 2]> {
    let mut kept: Vec<[i32; 2]> = Vec::new();
    let last = stroke.points.len().saturating_sub(1);
    for (index, point) in stroke.points.iter().enumerate() {
        let at = frame.place(*point);
        let is_near = kept.last().is_some_and(|before| {
            let [x, y] = [at[0] - before[0], at[1] - before[1]];
            x.abs().max(y.abs()) < grain.max(1)
        });
        if !is_near || (index == last && kept.last() != Some(&at)) || kept.is_empty() {
            kept.push(at);
        }
    }
    // A stroke of a hair is a dot, and is seen.
    if let [one] = kept[..] {
        kept.push([one[0] + 1, one[1]]);
    }
    kept
}

/// What is drawn of each kind, how long it is in mm, and how many strokes are not drawn.
struct Drawn {
    paths: [String; KINDS.len()],
    lengths: [f64; KINDS.len()],
    counts: [u64; KINDS.len()],
    left_out: u64,
}

fn drawn(view: &View<'_>, frame: &Frame) -> Drawn {
    let mut strokes: Vec<(usize, &PlanStroke)> = view
        .plan
        .strokes
        .iter()
        .map(|stroke| (view.kind(stroke), stroke))
        .collect();
    // What cannot be drawn any more is what matters least: the free and short ones.
    strokes.sort_by(|(kind, one), (other_kind, other)| {
        kind.cmp(other_kind)
            .then(other.length.total_cmp(&one.length))
    });
    let mut drawn = Drawn {
        paths: Default::default(),
        lengths: [0.0; KINDS.len()],
        counts: [0; KINDS.len()],
        left_out: 0,
    };
    let count = |grain: i32| -> usize {
        let points = strokes
            .iter()
            .map(|(_, stroke)| path(stroke, frame, grain).len());
        points.sum()
    };
    let grain = [1, 2, 4, 8]
        .into_iter()
        .find(|grain| count(*grain) <= POINTS)
        .unwrap_or(8);
    let mut points = 0;
    let mut outside = (0.0, 0, String::new());
    for (kind, stroke) in strokes {
        let (Some(length), Some(number), Some(into)) = (
            drawn.lengths.get_mut(kind),
            drawn.counts.get_mut(kind),
            drawn.paths.get_mut(kind),
        ) else {
            continue;
        };
        *length += stroke.length;
        *number += 1;
        if let Some(area) = view.bed.as_ref().filter(|_| kind == 4) {
            let mut path = String::new();
            let length = beyond(stroke, area, frame, &mut path);
            if length > 0.0 {
                outside.0 += length;
                outside.1 += 1;
                if outside.2.len() < BEYOND {
                    outside.2.push_str(&path);
                }
            }
        }
        let path = path(stroke, frame, grain);
        points += path.len();
        if points > POINTS {
            drawn.left_out += 1;
            continue;
        }
        let mut before = [0, 0];
        for (index, [x, y]) in path.into_iter().enumerate() {
            let _ = if index == 0 {
                write!(into, "M{x} {y}")
            } else {
                let [right, down] = [x - before[0], y - before[1]];
                let space = if down < 0 { "" } else { " " };
                write!(into, "l{right}{space}{down}")
            };
            before = [x, y];
        }
    }
    let [length, ..] = &mut drawn.lengths;
    *length += outside.0;
    let [count, ..] = &mut drawn.counts;
    *count += outside.1;
    let [path, ..] = &mut drawn.paths;
    path.push_str(&outside.2);
    drawn
}

fn write(index: usize, view: &View<'_>, page: &mut Html) {
    let Some(frame) = Frame::of(view) else {
        return;
    };
    let drawn = drawn(view, &frame);
    let title = format!("view-{index}-title");
    page.within("figure", &[("class", "view")], |page| {
        page.within("h3", &[("id", &title)], |page| page.say(&view.title()));
        let [width, depth] = frame.size.map(|side| side * frame.scale);
        // A bead as wide as it is, but never so thin that it is not seen.
        let widths = view.plan.strokes.iter().filter_map(|stroke| stroke.width);
        let widest = widths.fold(0.0_f64, f64::max);
        let bead = (widest * 0.8 * frame.scale).clamp(2.0, 14.0);
        let attributes = [
            ("role", "img"),
            ("aria-labelledby", title.as_str()),
            ("viewBox", &format!("0 0 {width:.0} {depth:.0}")),
            ("stroke-width", &rounded(bead, 1)),
        ];
        page.within("svg", &attributes, |page| {
            // The worst lies on top.
            for ((class, _), path) in KINDS.iter().zip(&drawn.paths).rev() {
                if !path.is_empty() {
                    page.within("path", &[("class", *class), ("d", path)], |_| {});
                }
            }
            if let Some(area) = &view.bed {
                let edge = edge(area, &frame);
                page.within("path", &[("class", "bed"), ("d", &edge)], |_| {});
            }
            let bar = format!("M24 {:.0}h{:.0}", depth - 24.0, frame.bar() * frame.scale);
            // Seen upon a part too.
            page.within("path", &[("class", "under"), ("d", &bar)], |_| {});
            page.within("path", &[("class", "bar"), ("d", &bar)], |_| {});
        });
        page.within("figcaption", &[], |page| {
            page.say(&view.says());
            legend(view, &drawn, page);
            let ends = |axis: usize| -> String {
                let least = frame.least.get(axis).copied().unwrap_or_default();
                let size = frame.size.get(axis).copied().unwrap_or_default();
                format!("{} to {}", rounded(least, 1), rounded(least + size, 1))
            };
            let mut note = format!(
                "The view goes over X {} and Y {} mm; the bar at its foot is {} mm long.",
                ends(0),
                ends(1),
                tidy(frame.bar())
            );
            if view.bed.is_some() {
                note.push_str(" Dashed is the printable area.");
            }
            let missing = drawn.left_out + view.plan.left_out;
            if missing > 0 {
                note.push_str(&format!(
                    " {} of the freest and shortest strokes are not drawn.",
                    grouped(missing)
                ));
            }
            page.put("p", "quiet", &note);
        });
    });
}

/// What is drawn in words: the kinds, their lengths, their values.
fn legend(view: &View<'_>, drawn: &Drawn, page: &mut Html) {
    page.within("ul", &[("class", "legend")], |page| {
        for (kind, (class, words)) in KINDS.iter().enumerate() {
            let count = drawn.counts.get(kind).copied().unwrap_or_default();
            if count == 0 {
                continue;
            }
            let length = drawn.lengths.get(kind).copied().unwrap_or_default();
            let words = match kind {
                0 if view.bed.is_some() => "outside the printable area",
                0 if view.measure == Measure::Place => "where the finding lies",
                _ => words,
            };
            page.within("li", &[], |page| {
                let key = [
                    ("class", "key"),
                    ("aria-hidden", "true"),
                    ("viewBox", "0 0 24 8"),
                ];
                page.within("svg", &key, |page| {
                    page.within("path", &[("class", *class), ("d", "M1 4H23")], |_| {});
                });
                page.say(&format!(
                    "{words}: {} stroke{}, {} mm{}",
                    grouped(count),
                    if count == 1 { "" } else { "s" },
                    grouped(length.round().max(0.0) as u64),
                    reach(view, kind)
                ));
            });
        }
    });
}

/// The values of one kind, least to most.
fn reach(view: &View<'_>, kind: usize) -> String {
    let unit = view.limit.as_ref().map_or("", |(_, unit, _)| unit);
    let values = view
        .plan
        .strokes
        .iter()
        .filter(|stroke| view.kind(stroke) == kind && stroke.deposit == Deposit::Part)
        .filter_map(|stroke| view.value(stroke));
    let least = values.clone().fold(f64::INFINITY, f64::min);
    let most = values.fold(f64::NEG_INFINITY, f64::max);
    if !least.is_finite() || !most.is_finite() {
        return String::new();
    }
    let (least, most) = (rounded(least, 2), rounded(most, 2));
    if least == most {
        format!(", at {most} {unit}")
    } else {
        format!(", at {least} to {most} {unit}")
    }
}
