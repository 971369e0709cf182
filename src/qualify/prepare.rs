//! What is made ready before the print: surface, fan, drying, and how long the spool may stand open.

use super::figures::plain;
use super::{Point, Question, Side, Standing};
use crate::inspection::SENSOR_SPREAD;
use crate::quantity::{Hours, Range};

/// The build surface against those that the material sticks to.
pub(super) fn surface(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "surface";
    let machine = q.machine?;
    if q.material.surfaces.is_empty() {
        return Some(Point::unsaid(ID, "material sheet", "surfaces"));
    }
    let needs = Side {
        text: q.material.surfaces.join(", or "),
        whose: format!("material sheet {}, surfaces", q.material.name),
        source: None,
        mark: None,
    };
    let Some(surface) = &machine.bed.surface else {
        return Some(Point::unsaid(ID, "machine sheet", "bed.surface").needs(needs));
    };
    let has = Side::machine(machine, "bed.surface", surface, surface.value.clone());
    let bare = surface.value.to_lowercase();
    let named = |with: bool| {
        q.material.surfaces.iter().find(|listed| {
            let listed = listed.to_lowercase();
            match listed.split_once(" with ") {
                Some((base, _)) => with && base == bare,
                None => !with && listed == bare,
            }
        })
    };
    let point = if let Some(listed) = named(false) {
        Point::new(
            ID,
            Standing::Fits,
            format!("{} sticks to {listed}", q.material.name),
        )
    } else if let Some(listed) = named(true) {
        let (_, with) = listed.split_once(" with ").unwrap_or_default();
        Point::new(
            ID,
            Standing::Change,
            format!(
                "{} holds on {} only with {with}",
                q.material.name, surface.value
            ),
        )
        .action(format!("put {with} on, and renew it"))
    } else {
        let says = format!(
            "the sheet does not name {} among the surfaces that {} sticks to",
            surface.value, q.material.name
        );
        let action = format!("use {}", q.material.surfaces.join(", or "));
        Point::new(ID, Standing::Change, says).action(action)
    };
    Some(point.needs(needs).has(has))
}

/// How the part fan is to run.
pub(super) fn fan(q: &Question<'_>) -> Option<Point> {
    let print = q.material.fan.print.as_ref()?;
    let first = q
        .material
        .fan
        .first_layers
        .as_ref()
        .zip(q.material.fan.first_layers_most.as_ref());
    let mut says = if print.value.most.get() <= 0.0 {
        "the part fan stays off".to_owned()
    } else {
        format!("the part fan runs at {}", range(&print.value))
    };
    if let Some((layers, most)) = first.filter(|_| print.value.most.get() > 0.0) {
        let of = match layers.value {
            1 => "first layer".to_owned(),
            many => format!("first {many} layers"),
        };
        says = if most.value.get() <= 0.0 {
            format!("{says}, and stays off on the {of}")
        } else {
            format!("{says}, and at {} at most on the {of}", plain(most.value))
        };
    }
    let needs = Side::material(q.material, "fan.print", print, range(&print.value));
    Some(Point::new("fan", Standing::Told, says).needs(needs))
}

fn range<T: crate::quantity::Quantity>(range: &Range<T>) -> String {
    if range.least == range.most {
        plain(range.most)
    } else {
        format!("{} to {}", plain(range.least), plain(range.most))
    }
}

/// The dryer against the drying that the sheet asks for.
pub(super) fn drying(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "drying";
    let sheet = &q.material.drying;
    let dryer = &q.application.dryer;
    let Some(heat) = &sheet.temperature else {
        return Some(Point::unsaid(ID, "material sheet", "drying.temperature"));
    };
    let is_required = sheet
        .required
        .as_ref()
        .is_some_and(|required| required.value);
    let time = sheet.time.as_ref().map(|time| range::<Hours>(&time.value));
    let how = match &time {
        Some(time) => format!("{} for {time}", q.heat(heat.value)),
        None => q.heat(heat.value),
    };
    let needs = Side::material(q.material, "drying.temperature", heat, how.clone());
    let Some(own) = q.dryer() else {
        let (standing, says) = if is_required {
            (
                Standing::Change,
                format!("{} does not print well before it is dried", q.material.name),
            )
        } else {
            (
                Standing::Told,
                format!(
                    "{} need not be dried when fresh; a spool that stood open may need it",
                    q.material.name
                ),
            )
        };
        let when = if is_required {
            ""
        } else {
            "if it stood open, "
        };
        return Some(Point::new(ID, standing, says).needs(needs).action(format!(
            "{when}dry it at {how}, in a dryer made for it and never in an oven that is used for food, and not \
             unwatched unless local fire rules allow it"
        )));
    };
    let (has, side) = (own.at, own.side);
    let room = (has - heat.value).get();
    // The filament sticks together, or the spool it is wound on gives way: the lower one caps the dryer.
    let softening = [
        (
            "the filament itself softens and sticks together",
            &q.material.chamber.softening,
        ),
        ("the spool itself softens", &q.material.spool.softening),
    ]
    .into_iter()
    .filter_map(|(what, softens)| Some((what, softens.as_ref()?.value)))
    .min_by(|one, other| one.1.get().total_cmp(&other.1.get()));
    let point = if let Some((what, at)) = softening.filter(|(_, at)| has >= *at) {
        let says = format!("at {} {what} ({})", q.heat(has), q.heat(at));
        Point::new(ID, Standing::Change, says).action(format!("dry it at {how}"))
    } else if room > SENSOR_SPREAD {
        Point::new(
            ID,
            Standing::Trial,
            "the dryer is hotter than the sheet asks; spools and windings soften first",
        )
        .action(format!("set it to {how}"))
    } else if room < -SENSOR_SPREAD {
        let says = "the dryer is cooler than the sheet asks: it takes longer and ends wetter";
        Point::new(
            ID,
            if is_required {
                Standing::Trial
            } else {
                Standing::Told
            },
            says,
        )
        .action("dry much longer, and weigh the spool until it loses no more")
    } else if let Some((given, wanted)) = dryer.time.as_ref().zip(sheet.time.as_ref()) {
        if given.value < wanted.value.least {
            let says = format!("{} is too short", plain(given.value));
            Point::new(ID, Standing::Change, says).action(format!("dry it at {how}"))
        } else {
            Point::new(ID, Standing::Fits, "the drying is what the sheet asks")
        }
    } else {
        Point::new(ID, Standing::Fits, "the dryer reaches what the sheet asks")
            .action(format!("dry it at {how}"))
    };
    Some(point.needs(needs).has(side).by(room, "K"))
}

/// How long the print takes against how long an open spool stays printable.
pub(super) fn exposure(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "exposure";
    let time = q.application.print.time.as_ref()?;
    if q.application.room.humidity.is_some() && !q.material.water.equilibrium.is_empty() {
        // The hours of the room that is asked about rule: `exposure-in-room`.
        return None;
    }
    let needs = Side::asked(
        q.application,
        "print.time",
        time,
        format!("{} of printing", plain(time.value)),
    );
    let Some(exposure) = &q.material.exposure else {
        return Some(Point::unsaid(ID, "material sheet", "exposure").needs(needs));
    };
    let room = (exposure.value - time.value).get();
    let has = Side::material(
        q.material,
        "exposure",
        exposure,
        format!("{} in room air", plain(exposure.value)),
    );
    let point = if room < 0.0 {
        Point::new(
            ID,
            Standing::Change,
            "the spool takes up too much water before the print ends",
        )
        .action("print from a closed box with desiccant, or from the dryer")
    } else {
        Point::new(ID, Standing::Fits, "a dry spool stays printable to the end")
    };
    Some(point.needs(needs).has(has).by(room, "h"))
}
