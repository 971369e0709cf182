//! The nozzle's hardness and bore, and the filament's diameter.

use super::figures::plain;
use super::{Point, Question, Side, Standing};

/// Filament that is this much thicker or thinner than the drive expects is another size, mm: 1.75
/// and 2.85 are the two there are (common practice).
const SAME_DIAMETER: f64 = 0.1;

/// What an abrasive filament wants.
pub const HARD: &str = "a hard nozzle";

/// Whether the nozzle stands the filament.
pub(super) fn hardness(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "nozzle-hardness";
    let machine = q.machine?;
    let Some(abrasive) = &q.material.nozzle.abrasive else {
        return Some(Point::unsaid(ID, "material sheet", "nozzle.abrasive"));
    };
    let need = if abrasive.value { HARD } else { "any nozzle" };
    let needs = Side::material(q.material, "nozzle.abrasive", abrasive, need);
    let key = q.tool_key("nozzle_material");
    let Some(nozzle) = q.tool().and_then(|tool| tool.nozzle_material.as_ref()) else {
        return Some(if abrasive.value {
            Point::unsaid(ID, "machine sheet", &key)
                .needs(needs)
                .action(
                    "look what the nozzle is made of: hardened steel, carbide or ruby stands it",
                )
        } else {
            Point::new(ID, Standing::Fits, "a nozzle of any material will do").needs(needs)
        });
    };
    let has = Side::machine(machine, &key, nozzle, nozzle.value.word().replace('-', " "));
    let point = if !abrasive.value {
        Point::new(ID, Standing::Fits, "a nozzle of any material will do")
    } else if nozzle.value.hard() {
        Point::new(ID, Standing::Fits, "the nozzle stands the fibre")
    } else {
        Point::new(
            ID,
            Standing::Change,
            "the filling wears this nozzle out, often within one spool: the bore widens, and beads and flow go wrong",
        )
        .action("fit a nozzle of hardened steel, carbide or ruby")
    };
    Some(point.needs(needs).has(has))
}

/// Whether the bore is wide enough for the filling.
pub(super) fn bore(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "nozzle-bore";
    let machine = q.machine?;
    let smallest = q.material.nozzle.smallest.as_ref()?;
    let text = format!("{} or wider", plain(smallest.value));
    let needs = Side::material(q.material, "nozzle.smallest", smallest, text);
    let key = q.tool_key("bore");
    let Some(bore) = q.tool().and_then(|tool| tool.bore.as_ref()) else {
        return Some(Point::unsaid(ID, "machine sheet", &key).needs(needs));
    };
    let room = (bore.value - smallest.value).get();
    let point = if room < 0.0 {
        Point::new(ID, Standing::Change, "so narrow a bore clogs").action(format!(
            "fit a nozzle with a bore of {} or more",
            plain(smallest.value)
        ))
    } else if room == 0.0 {
        Point::new(
            ID,
            Standing::Fits,
            "it passes; a size wider clogs less and its broader beads bond better, at the cost of detail",
        )
    } else {
        Point::new(ID, Standing::Fits, "the filling passes the bore")
    };
    let has = Side::machine(machine, &key, bore, plain(bore.value));
    Some(point.needs(needs).has(has).by(room, "mm"))
}

/// Whether the filament goes into the drive.
pub(super) fn diameter(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "filament-diameter";
    let machine = q.machine?;
    // A material as such comes in any diameter; only a spool's sheet says one.
    let filament = q.material.filament_diameter.as_ref()?;
    let needs = Side::material(
        q.material,
        "filament_diameter",
        filament,
        plain(filament.value),
    );
    let key = q.tool_key("filament_diameter");
    let Some(drive) = q.tool().and_then(|tool| tool.filament_diameter.as_ref()) else {
        return Some(Point::unsaid(ID, "machine sheet", &key).needs(needs));
    };
    let apart = (filament.value - drive.value).get().abs();
    let point = if apart > SAME_DIAMETER {
        Point::new(
            ID,
            Standing::Stops,
            "the filament does not go into this drive",
        )
        .action(format!(
            "order the material as {} filament",
            plain(drive.value)
        ))
    } else {
        Point::new(ID, Standing::Fits, "the filament goes into the drive")
    };
    Some(
        point
            .needs(needs)
            .has(Side::machine(machine, &key, drive, plain(drive.value))),
    )
}
