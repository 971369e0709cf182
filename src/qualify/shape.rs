//! Size and finish: how much smaller it comes out, and what can be done to it afterwards.

use super::figures::round;
use super::{Point, Question, Side, Standing};
use crate::quantity::{Percent, Range};

/// By how much to draw it larger so that it shrinks to size: 1/(1 − s).
fn scale(shrinkage: Percent) -> f64 {
    1.0 / (1.0 - shrinkage.get() / 100.0)
}

fn scales(range: &Range<Percent>) -> String {
    let [least, most] = [range.least, range.most].map(|share| round(scale(share), 4));
    if least == most {
        least
    } else {
        format!("{least} to {most}")
    }
}

/// Shrinkage as a scale for each axis, and allowances for holes and fits.
pub(super) fn shrinkage(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "shrinkage";
    let sheet = &q.material.shrinkage;
    let Some(plane) = &sheet.plane else {
        // Only where a part with a size is asked about is silence worth a word.
        return q
            .application
            .part
            .size
            .is_some()
            .then(|| Point::unsaid(ID, "material sheet", "shrinkage.plane"));
    };
    let mut says = format!("scale X and Y by {}", scales(&plane.value));
    if let Some(height) = &sheet.height {
        says.push_str(&format!(" and Z by {}", scales(&height.value)));
    }
    if let Some(size) = &q.application.part.size {
        let longest = size.value.iter().map(|side| side.get()).fold(0.0, f64::max);
        let [least, most] = [plane.value.least, plane.value.most]
            .map(|share| round(longest * share.get() / 100.0, 2));
        says.push_str(&format!(
            "; {} mm come out {least} to {most} mm short",
            round(longest, 1)
        ));
    }
    if let Some(hole) = &sheet.hole {
        says.push_str(&format!(
            "; draw holes {} to {} mm wider",
            hole.value.least.get(),
            hole.value.most.get()
        ));
    }
    if let Some(fit) = &sheet.fit {
        says.push_str(&format!(
            "; leave {} to {} mm between parts that slide",
            fit.value.least.get(),
            fit.value.most.get()
        ));
    }
    let text = format!("{} smaller in the plane", plane.value);
    Some(
        Point::new(ID, Standing::Told, says)
            .has(Side::material(q.material, "shrinkage.plane", plane, text))
            .action("print one test part and measure it before a tight fit"),
    )
}

/// What finishing does and does not help (common practice, no source).
const FINISHES: &[(&str, &str)] = &[
    (
        "anneal",
        "annealing takes out stress and lets it hold its shape in more heat; it shrinks and warps the part, so try one first",
    ),
    ("sand", "sanding smooths and does not make stronger"),
    (
        "paint",
        "paint keeps light off and some water out; it does not make stronger",
    ),
    (
        "coat",
        "a coat slows water and does not stop it, and does not make the layers bond",
    ),
    (
        "seal",
        "sealing closes pores between layers; it makes no part safe under pressure",
    ),
    (
        "solvent",
        "solvent smoothing closes the skin and softens edges; solvents burn and harm, and local rules come first",
    ),
    (
        "condition",
        "conditioning gives polyamide its water at once: tougher, softer, a little larger",
    ),
    (
        "insert",
        "inserts pressed in hot hold better in more walls, not in more infill",
    ),
    ("dye", "dyeing colours and changes nothing else"),
    (
        "machine",
        "machining opens the infill unless the walls are thick",
    ),
];

/// What can be done after printing.
pub(super) fn finishing(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "finishing";
    if !q.wants_finish {
        return None;
    }
    let list = &q.material.finishing;
    if list.is_empty() {
        return Some(Point::unsaid(ID, "material sheet", "finishing"));
    }
    let what: Vec<&str> = FINISHES
        .iter()
        .filter(|(word, _)| list.iter().any(|said| said.to_lowercase().contains(word)))
        .map(|(_, says)| *says)
        .collect();
    let mut says = format!("the sheet names: {}", list.join("; "));
    if !what.is_empty() {
        says = format!("{says}. {}", what.join(". "));
    }
    let seals = list.iter().any(|said| {
        ["seal", "coat", "paint"]
            .iter()
            .any(|word| said.contains(word))
    });
    if !seals {
        says.push_str(". Sealing and coating it does not name");
    }
    let mut point = Point::new(ID, Standing::Told, says);
    point.has = Some(Side {
        text: list.join("; "),
        whose: format!("material sheet {}, finishing", q.material.name),
        source: None,
        mark: None,
    });
    Some(point)
}
