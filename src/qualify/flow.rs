//! How fast it can be laid: the lower of what the material and the hotend melt.

use super::figures::{plain, round, tenth};
use super::{Point, Question, Side, Standing};
use crate::physics::bead;
use crate::quantity::{CubicMillimetresPerSecond, Millimetres};

/// The width of a bead where nobody says, as a share of the bore (within 100 to 150 %, common
/// practice; chosen).
pub(super) const USUAL_WIDTH: f64 = 1.125;

/// Its height, as a share of the bore (within 25 to 75 %, common practice; chosen).
pub(super) const USUAL_HEIGHT: f64 = 0.5;

/// The flow that both stand, and whose figure it is.
struct Lower {
    flow: CubicMillimetresPerSecond,
    side: Side,
}

fn lower(q: &Question<'_>) -> Option<Lower> {
    let melts = q.machine.and_then(|machine| {
        let rate = q.tool()?.melt_rate.as_ref()?;
        let key = q.tool_key("melt_rate");
        Some(Lower {
            flow: rate.value,
            side: Side::machine(machine, &key, rate, plain(rate.value)),
        })
    });
    let flows = q.material.flow.most.as_ref().map(|most| {
        let at = q
            .material
            .flow
            .at
            .map_or_else(String::new, |at| format!(" at {}", q.heat(at)));
        let text = format!("{}{at}", plain(most.value));
        Lower {
            flow: most.value,
            side: Side::material(q.material, "flow.most", most, text),
        }
    });
    match (melts, flows) {
        (Some(melts), Some(flows)) if melts.flow < flows.flow => Some(melts),
        (melts, flows) => flows.or(melts),
    }
}

/// Width and height of the bead, as asked or as usual for the bore.
fn stated_bead(q: &Question<'_>) -> Option<([f64; 2], bool)> {
    if let Some(bead) = &q.application.print.bead {
        return Some((bead.value.map(Millimetres::get), true));
    }
    let bore = q.tool()?.bore.as_ref()?.value.get();
    Some(([bore * USUAL_WIDTH, bore * USUAL_HEIGHT], false))
}

/// The largest speed for the bead that is asked or usual, mm/s.
pub(super) fn most_speed(q: &Question<'_>) -> Option<f64> {
    let ([width, height], _) = stated_bead(q)?;
    bead::speed(lower(q)?.flow.get(), bead::area(width, height)?)
}

/// The largest speed for a bead, and the wanted speed against it.
pub(super) fn melt_rate(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "melt-rate";
    q.machine?;
    let Some(lower) = lower(q) else {
        let key = q.tool_key("melt_rate");
        return Some(Point::unsaid(
            ID,
            "material sheet, and the machine sheet,",
            &format!("flow.most and {key}"),
        ));
    };
    let Some(([width, height], is_asked)) = stated_bead(q) else {
        let key = q.tool_key("bore");
        return Some(Point::unsaid(ID, "machine sheet", &key).has(lower.side));
    };
    let bead = format!("{} by {} mm", round(width, 3), round(height, 3));
    let most = bead::area(width, height).and_then(|area| bead::speed(lower.flow.get(), area));
    let Some(most) = most else {
        let says = format!("{bead} is no bead: it is narrower than it is high");
        return Some(Point::new(ID, Standing::Unknown, says).has(lower.side));
    };
    let whole = most.floor();
    let of = if is_asked {
        ""
    } else {
        ", the usual one for this bore,"
    };
    let wider = q
        .material
        .flow
        .bore
        .as_ref()
        .zip(q.tool().and_then(|tool| tool.bore.as_ref()))
        .filter(|(stated, bore)| bore.value.get() > stated.value.get() + 1e-6)
        .map_or_else(String::new, |(stated, _)| {
            format!(
                "; the sheet's figure is for a bore of {}, a wider one lets more through",
                plain(stated.value)
            )
        });
    let Some(speed) = &q.application.print.speed else {
        let says = format!(
            "at {} a bead of {bead}{of} goes down at up to {whole} mm/s{wider}",
            plain(lower.flow)
        );
        return Some(Point::new(ID, Standing::Told, says).has(lower.side));
    };
    let needs = Side::asked(q.application, "print.speed", speed, plain(speed.value));
    let room = most - speed.value.get();
    let point = if room >= 0.0 {
        let says = format!("a bead of {bead}{of} melts at that speed; the most is {whole} mm/s");
        Point::new(ID, Standing::Fits, says)
    } else {
        let flow = bead::area(width, height).unwrap_or_default() * speed.value.get();
        let says = format!(
            "a bead of {bead}{of} would take {} mm³/s at that speed, more than melts: it under-extrudes \
             and bonds badly{wider}",
            tenth(flow)
        );
        Point::new(ID, Standing::Change, says).action(format!(
            "print at {whole} mm/s or slower, or lay a thinner bead"
        ))
    };
    Some(point.needs(needs).has(lower.side).by(room, "mm/s"))
}
