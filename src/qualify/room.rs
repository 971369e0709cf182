//! Whether the part has room on the machine.

use super::figures::round;
use super::{Point, Question, Side, Standing};
use crate::quantity::Millimetres;

/// Common practice leaves this much at each side, mm, for brim, skirt and purge line (5 to 10 mm).
const EDGE: f64 = 5.0;

/// The part's size against the printable area and height.
pub(super) fn build_volume(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "build-volume";
    let machine = q.machine?;
    let size = q.application.part.size.as_ref()?;
    let needs = Side::asked(q.application, "part.size", size, by(size.value));
    let area = machine.bed.printable_box();
    let (Some([left, front, right, back]), Some(height)) = (area, &machine.height) else {
        let key = if area.is_none() {
            "bed.printable_from and bed.printable_to"
        } else {
            "height"
        };
        return Some(Point::unsaid(ID, "machine sheet", key).needs(needs));
    };
    let room = [right - left, back - front, height.value];
    let has = match (&machine.bed.diameter, &machine.bed.printable_to) {
        (Some(across), _) => {
            let [across_mm, high] = [across.value, height.value].map(|side| round(side.get(), 1));
            let text = format!("{across_mm} mm across, {high} mm high");
            Side::machine(machine, "bed.diameter", across, text)
        }
        (None, Some(to)) => Side::machine(machine, "bed.printable_to", to, by(room)),
        (None, None) => return None,
    };
    let round_bed = machine.bed.diameter.is_some();
    let spare = spare(size.value, room, round_bed);
    let point = if spare >= EDGE {
        Point::new(ID, Standing::Fits, "the part has room as it lies")
    } else if spare >= 0.0 {
        Point::new(
            ID,
            Standing::Trial,
            "the part has room, but hardly any is left for brim, skirt and purge line",
        )
        .action("look where the slicing program puts them, and inspect the job")
    } else {
        let says = format!("the part is {} mm too large as it lies", round(-spare, 1));
        let action = if lies_otherwise(size.value, room, round_bed) {
            "lay the part another way, with the load along the layers; or split it and join it"
        } else {
            "split the part and join it, or take a larger machine"
        };
        Point::new(ID, Standing::Stops, says).action(action)
    };
    Some(point.needs(needs).has(has).by(spare, "mm"))
}

fn by(size: [Millimetres; 3]) -> String {
    let [x, y, z] = size.map(|side| round(side.get(), 1));
    format!("{x} by {y} by {z} mm")
}

/// What is left at the tightest side, mm; on the bed it is shared by two sides. A quarter turn on the
/// bed is free.
fn spare(size: [Millimetres; 3], room: [Millimetres; 3], is_round: bool) -> f64 {
    let [x, y, z] = size.map(Millimetres::get);
    let [wide, deep, high] = room.map(Millimetres::get);
    let flat = if is_round {
        (wide - x.hypot(y)) / 2.0
    } else {
        let lies = |x: f64, y: f64| (wide - x).min(deep - y) / 2.0;
        lies(x, y).max(lies(y, x))
    };
    // Nothing is laid beside the part above the bed: its height has only to fit.
    if z > high { flat.min(high - z) } else { flat }
}

fn lies_otherwise(size: [Millimetres; 3], room: [Millimetres; 3], is_round: bool) -> bool {
    let [x, y, z] = size;
    [[x, z, y], [y, z, x]]
        .into_iter()
        .any(|turned| spare(turned, room, is_round) >= 0.0)
}
