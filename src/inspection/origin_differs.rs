//! The whole job lies as if the machine had another origin.

use super::area::moved;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Excerpt, Extent, Finding, Mark};
use crate::machine::{Area, Setup, Span, mm};
use crate::survey::Layer;

/// How much of the part lies beyond the edge on both axes, at least: a part in the middle of another
/// origin's bed lies half outside, one that was pushed over the edge a little (chosen).
const SHARE: i64 = 5;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "origin-differs",
    class: Class::Major,
    page: include_str!("origin_differs.md"),
    wants: Wants::LAYERS,
    // Travel that its shift explains is kept silent by travel-outside-reach itself.
    silences: &["deposit-outside-area"],
    make,
};

struct OriginDiffers {
    setup: Setup,
    first: Option<Excerpt>,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.machine()?;
    let setup = held.setup();
    if setup.area.is_none() {
        return Err("the machine sheet does not say where the bed is printable".to_owned());
    }
    Ok(Box::new(OriginDiffers { setup, first: None }))
}

/// The bed's box.
fn bed(area: &Area) -> [Span; 2] {
    match area {
        Area::Rectangle { x, y } => [*x, *y],
        Area::Disc { centre, diameter } => centre.map(|centre| Span {
            least: centre - diameter / 2,
            most: centre + diameter / 2,
        }),
    }
}

/// Half the bed up or down on both axes, where the part lies beyond the edge on both now and within
/// the area then.
pub(super) fn shift(area: &Area, part: [Span; 2]) -> Option<[i64; 2]> {
    let bed = bed(area);
    let half = area.size().map(|size| size / 2);
    let much = |over: i64, of: &Span| over > 0 && over >= of.length() / SHARE;
    let is_low = part
        .iter()
        .zip(&bed)
        .all(|(of, bed)| much(bed.least.saturating_sub(of.least), of));
    let is_high = part
        .iter()
        .zip(&bed)
        .all(|(of, bed)| much(of.most.saturating_sub(bed.most), of));
    let by = if is_low {
        half
    } else if is_high {
        half.map(|half| -half)
    } else {
        return None;
    };
    let ([x, y], [by_x, by_y]) = (part, by);
    (area.outside(moved(x, by_x), moved(y, by_y)) == 0).then_some(by)
}

impl Inspection for OriginDiffers {
    fn layer(&mut self, layer: &Layer) {
        if self.first.is_some() {
            return;
        }
        if let Some(outside) = layer.part().find_map(|stroke| stroke.outside.as_ref()) {
            let mut at = Excerpt::default();
            layer.show(outside.at).write(&mut at);
            self.first = Some(at);
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let (Some(area), Some([x, y, _]), Some(first), Some(machine)) = (
            self.setup.area,
            end.totals.part,
            self.first.take(),
            end.held.machine.as_deref(),
        ) else {
            return;
        };
        let Some([by_x, _]) = shift(&area, [x, y]) else {
            return;
        };
        let other = if by_x > 0 {
            "in the middle of the bed"
        } else {
            "at a corner of the bed"
        };
        let span = |span: Span| {
            let tidy = |at| super::figures::tidy(mm(at));
            format!("{} to {} mm", tidy(span.least), tidy(span.most))
        };
        let [bed_x, bed_y] = bed(&area);
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Major,
            message: format!(
                "the part lies at X {}, Y {}, as if the origin were {other}; {} prints at X {}, \
                 Y {}",
                span(x),
                span(y),
                machine.name,
                span(bed_x),
                span(bed_y)
            ),
            help: "slice the job for this machine's origin, or correct the sheet's printable area"
                .to_owned(),
            limit: super::area::past_area(&area, x, y).and_then(|past| past.of_area(machine)),
            amount: None,
            extent: Extent::once(first),
            related: Vec::new(),
        });
    }
}
