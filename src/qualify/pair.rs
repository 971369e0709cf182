//! Two materials in one hotend: support, and the change from one to the other.

use super::figures::plain;
use super::{Point, Question, Side, Standing};
use crate::sheet::library;

/// What supports it.
pub(super) fn support(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "support";
    q.machine?;
    let list = &q.material.supports;
    let first = list.first()?;
    let tools = q.machine?.tools.len();
    let own = *first == q.material.name;
    let soluble = list.iter().find(|name| **name != q.material.name);
    let says = match (own, soluble, tools) {
        (false, Some(other), 2..) => {
            format!("{} supports it from the second tool", with_heat(q, other))
        }
        (false, Some(other), _) => format!(
            "{} would support it, from a second tool; with one tool support it with itself, and leave a gap",
            with_heat(q, other)
        ),
        _ => "support it with itself, and leave a gap".to_owned(),
    };
    let mut point = Point::new(ID, Standing::Told, says);
    point.has = Some(Side {
        text: list.join(", or "),
        whose: format!("material sheet {}, supports", q.material.name),
        source: None,
        mark: None,
    });
    Some(point)
}

fn with_heat(q: &Question<'_>, name: &str) -> String {
    match library::material(name)
        .ok()
        .and_then(|sheet| sheet.hotend.print)
    {
        Some(range) => format!("{name} ({})", q.heats(&range.value)),
        None => name.to_owned(),
    }
}

/// How to change over from what was in the nozzle before.
pub(super) fn changeover(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "changeover";
    let before = q.before?;
    let (old, new) = (
        before.hotend.print.as_ref(),
        q.material.hotend.print.as_ref(),
    );
    let (Some(old), Some(new)) = (old, new) else {
        let silent = if old.is_none() {
            &before.name
        } else {
            &q.material.name
        };
        return Some(Point::new(
            ID,
            Standing::Unknown,
            format!("the material sheet {silent} does not say hotend.print"),
        ));
    };
    let (least, most) = (
        if old.value.least > new.value.least {
            old.value.least
        } else {
            new.value.least
        },
        if old.value.most < new.value.most {
            old.value.most
        } else {
            new.value.most
        },
    );
    let how = if least <= most {
        format!(
            "at {}, where both flow",
            q.heats(&crate::quantity::Range { least, most })
        )
    } else if old.value.least > new.value.least {
        format!(
            "flush hot first: push {} out at {}, then let it cool to {} while {} flows",
            before.name,
            q.heat(old.value.least),
            q.heat(new.value.most),
            q.material.name
        )
    } else {
        format!(
            "push {} out at {} at most, then heat to {} and go on",
            before.name,
            q.heat(old.value.most),
            q.heat(new.value.least)
        )
    };
    let flush = q.material.changeover.flush.as_ref();
    let much = match flush {
        Some(flush) => format!("{} clear the nozzle", plain(flush.value)),
        None => {
            "the sheet does not say how much clears the nozzle: go on until the strand is clean"
                .to_owned()
        }
    };
    let mut point = Point::new(ID, Standing::Told, format!("{how}; {much}"))
        .needs(Side::material(
            before,
            "hotend.print",
            old,
            format!("{} out", q.heats(&old.value)),
        ))
        .has(Side::material(
            q.material,
            "hotend.print",
            new,
            format!("{} in", q.heats(&new.value)),
        ));
    if old.value.most < new.value.least {
        point = point.action(format!(
            "clear all of {} before you heat above {}: what stays chars, and some materials give off harmful fumes",
            before.name,
            q.heat(old.value.most)
        ));
    }
    Some(point)
}
