//! Walls and infill for a terminal.

use super::names;
use super::summary::unknown;
use crate::command::hint::PathKind;
use crate::physics::section::ACROSS_LAYERS;
use crate::report::{grouped, kinds, rounded, tidy};
use crate::survey::walls::Shown;
use crate::survey::{
    COUNTED, Carried, Densities, LEANS, ObjectFigures, Overhang, Stiffness, Told, WallCount,
    WallFigures,
};

/// Label and text of each entry.
pub(in crate::report) fn entries(figures: &WallFigures) -> Vec<(&'static str, String)> {
    let mut entries = vec![("walls", walls(figures)), ("infill", infill(figures))];
    match &figures.solid_layers {
        Ok([bottom, top]) => entries.push((
            "solid",
            format!(
                "{} layer{} at the bottom, {} on top",
                grouped(*bottom),
                if *bottom == 1 { "" } else { "s" },
                grouped(*top)
            ),
        )),
        Err(_) if figures.walls.is_err() => {}
        Err(why) => entries.push(("solid", unknown(why))),
    }
    if let Ok(contact) = figures.contact
        && contact > 0.0
    {
        let mut text = format!("{} mm² of the bed", rounded(contact, 0));
        if figures.has_brim() {
            text += " without its brim";
        }
        // What is lower than it is wide stands firmly.
        if let Ok([short, long]) = figures.height_to_base
            && short >= 1.0
        {
            text += &format!(
                "; {} times as high as the base's shorter side, {} times its longer one",
                rounded(short, 1),
                rounded(long, 1)
            );
        }
        entries.push(("contact", text));
    }
    if figures.objects.len() > 1 {
        entries.push(("objects", objects(figures)));
    }
    entries.extend(names::entry(figures).map(|text| ("names", text)));
    if let Ok(overhang) = &figures.overhang {
        entries.push(("overhang", lean(overhang)));
    }
    entries.extend(over_nothing(figures).map(|text| ("hanging", text)));
    if let Some(first) = figures.in_air.first().map(|island| island.at) {
        entries.push((
            "in the air",
            format!(
                "{} island{} begin{} over nothing, the first at Z {} mm (line\u{a0}{})",
                figures.in_air.len(),
                if figures.in_air.len() == 1 { "" } else { "s" },
                if figures.in_air.len() == 1 { "s" } else { "" },
                tidy(first.z),
                grouped(first.line)
            ),
        ));
    }
    if let Some(share) = figures.agreement() {
        entries.push(("comments", comments(figures, share)));
    }
    entries
}

/// Objects told of on a terminal, at most (chosen).
const OBJECTS: usize = 8;

/// How many, whether together, and each one's walls and infill.
fn objects(figures: &WallFigures) -> String {
    let objects = &figures.objects;
    let is_after = |pair: &[ObjectFigures]| match pair {
        [one, other] => other.lines[0] > one.lines[1],
        _ => false,
    };
    let how = match objects.windows(2).filter(|pair| is_after(pair)).count() {
        0 => "printed together",
        count if count + 1 == objects.len() => "printed one after another",
        _ => "some printed together, some one after another",
    };
    let mut text = format!("{}, {how}", grouped(objects.len() as u64));
    for (object, number) in objects.iter().zip(1..=OBJECTS) {
        let [[left, right], [front, back], [low, high]] = object.bounds;
        let middle = |least: f64, most: f64| tidy(((least + most) * 5.0).round() / 10.0);
        text += &format!(
            "{} {number} at X {} Y {}: {} by {} by {} mm, {} layer{}",
            if number == 1 { ":" } else { ";" },
            middle(left, right),
            middle(front, back),
            rounded(right - left, 1),
            rounded(back - front, 1),
            rounded(high - low, 1),
            grouped(object.layers),
            if object.layers == 1 { "" } else { "s" },
        );
        if let Ok(walls) = &object.walls {
            let plural = if walls.usual == 1 { "" } else { "s" };
            text += &format!(", {} wall{plural}", walls.usual);
        }
        if let Ok(share) = object.infill {
            text += &format!(", {} % infill", rounded(share * 100.0, 0));
        }
        if let Some(names) = names::of_object(object, figures) {
            text += &format!(", {names}");
        }
    }
    if objects.len() > OBJECTS {
        text += "; the record has the rest";
    }
    text
}

fn lean(overhang: &Overhang) -> String {
    let Overhang {
        steepest,
        at,
        beyond,
    } = *overhang;
    if steepest < 1.0 {
        return "none: outlines stand upright or lean in".to_owned();
    }
    let mut text = format!(
        "at most {}° from upright, at Z {} mm (line\u{a0}{})",
        rounded(steepest, 0),
        tidy(at.z),
        grouped(at.line)
    );
    if steepest > LEANS {
        let share = rounded(beyond * 100.0, 1);
        let share = if share == "0" || share == "0.0" {
            "hardly any".to_owned()
        } else {
            format!("{share} %")
        };
        text += &format!(
            "; {share} of the outline leans out further than {LEANS}°, the usual limit without a support \
             (common practice)"
        );
    }
    text
}

/// What lies over nothing, where anything does.
fn over_nothing(figures: &WallFigures) -> Option<String> {
    let (bridged, open) = (
        *figures.bridged.as_ref().ok()?,
        *figures.unsupported.as_ref().ok()?,
    );
    let mut parts = Vec::new();
    if open >= 0.05 {
        let at = figures.unsupported_at.map_or_else(String::new, |at| {
            format!(
                ", first at Z {} mm (line\u{a0}{})",
                tidy(at.z),
                grouped(at.line)
            )
        });
        parts.push(format!("{} mm³ over nothing{at}", rounded(open, 1)));
    }
    if bridged >= 0.05 {
        parts.push(format!(
            "{} mm³ over gaps, at rest on both sides",
            rounded(bridged, 1)
        ));
    }
    (!parts.is_empty()).then(|| parts.join("; "))
}

/// Kinds of paths that comments name otherwise, and what motion shows of each, at most; each from this share of
/// what they name on (chosen: a hundredth is what a seam or a corner comes to).
const KINDS: usize = 3;
const KIND_FROM: f64 = 0.01;

/// Where comments and motion part.
fn comments(figures: &WallFigures, share: f64) -> String {
    let mut text = format!(
        "name what motion shows in {} % of what they name",
        rounded(share * 100.0, 0)
    );
    let mut parted: Vec<(PathKind, Vec<&str>, Shown)> = Vec::new();
    for (said, class, shown) in figures.disagreements() {
        let word = kinds::shown(class);
        match parted.iter_mut().find(|(kind, ..)| *kind == said) {
            Some((_, words, all)) => {
                all.volume += shown.volume;
                if shown.first.line < all.first.line {
                    all.first = shown.first;
                }
                words.push(word);
            }
            None => parted.push((said, vec![word], shown)),
        }
    }
    parted.sort_by(|(.., one), (.., other)| other.volume.total_cmp(&one.volume));
    let differs: f64 = parted.iter().map(|(.., all)| all.volume).sum();
    let least = KIND_FROM * differs / (1.0 - share);
    let told = parted.iter().filter(|(.., all)| all.volume >= least);
    for ((said, words, all), number) in told.zip(0..KINDS) {
        text += &format!(
            "{} {} what it shows as {}, first at Z {} mm (line\u{a0}{})",
            if number == 0 { "; they call" } else { ";" },
            kinds::said(*said),
            words
                .get(..words.len().min(KINDS))
                .unwrap_or_default()
                .join(" or "),
            tidy(all.first.z),
            grouped(all.first.line)
        );
    }
    text
}

/// The axes, and the two that a part loaded along each is bent about.
const AXES: [(&str, [&str; 2]); 3] = [("X", ["Y", "Z"]), ("Y", ["X", "Z"]), ("Z", ["X", "Y"])];

/// Label and text for loads along the axes asked for, 0 to 2.
pub(in crate::report) fn loads(figures: &WallFigures, axes: &[usize]) -> Vec<(String, String)> {
    let Some(carried) = &figures.carried else {
        return Vec::new();
    };
    let mut entries = Vec::new();
    for axis in axes {
        let (Some(told), Some((name, about))) = (carried.get(*axis), AXES.get(*axis)) else {
            continue;
        };
        let text = match told {
            Ok(carried) => load(carried, *about, *axis == 2),
            Err(why) => unknown(why),
        };
        entries.push((format!("load {name}"), text));
    }
    if !entries.is_empty() {
        entries.push((
            "caution".to_owned(),
            "stiffness is not strength: where a part breaks is decided by notches, layer bonds and \
             faults. For parts that carry people or loads that matter, defer to tests and to whoever \
             answers for the design"
                .to_owned(),
        ));
    }
    entries
}

fn load(carried: &Carried, about: [&str; 2], across_layers: bool) -> String {
    let per_cent = |[least, most]: [f64; 2], base: f64| {
        let [least, most] = [least, most].map(|share| rounded((share - base) * 100.0, 0));
        if least == most {
            most
        } else {
            format!("{least} to {most}")
        }
    };
    let each = |stiff: &Stiffness, base: f64| {
        let [first, second] = stiff.bending;
        format!(
            "pulled {} %, bent about {} {} %, about {} {} %",
            per_cent(sorted(stiff.tension), base),
            about[0],
            per_cent(sorted(first), base),
            about[1],
            per_cent(sorted(second), base)
        )
    };
    let mut text = format!(
        "stiffness of a solid of the same outline: {}; least section, ends left out, {} mm² of slices \
         {} mm thick",
        each(&carried.of_solid, 0.0),
        rounded(carried.weakest, 0),
        rounded(carried.slice, 2)
    );
    if across_layers {
        text += &format!(
            "; layer bonds counted as {} % as stiff as beads (common practice)",
            rounded(ACROSS_LAYERS * 100.0, 0)
        );
    }
    if let Some(wall) = &carried.one_more_wall {
        text += &format!(". One more wall adds: {}", each(wall, 1.0));
    }
    if let Some((denser, density)) = &carried.denser {
        text += &format!(
            ". The same mass as infill of {} % adds: {}",
            rounded(density * 100.0, 0),
            each(denser, 1.0)
        );
    }
    text
}

const fn sorted([one, other]: [f64; 2]) -> [f64; 2] {
    if one <= other {
        [one, other]
    } else {
        [other, one]
    }
}

fn walls(figures: &WallFigures) -> String {
    let count = match &figures.walls {
        Ok(count) => count,
        Err(why) => return unknown(why),
    };
    let WallCount {
        usual, least, most, ..
    } = *count;
    let mut text = usual.to_string();
    if let Ok(width) = figures.wall_bead {
        text += &format!(", outermost beads {} mm wide", rounded(width, 2));
        if let Some(diameter) = figures.assumed_diameter {
            text += &format!(
                " if the filament is {} mm, which nobody states",
                tidy(diameter)
            );
        }
    }
    if least < usual || most > usual {
        text += &format!(
            "; along {} % of the outline, {least} to {most} elsewhere",
            rounded(count.share * 100.0, 0)
        );
        if least < usual {
            text += &format!(
                ", {least} first at Z {} mm (line\u{a0}{})",
                tidy(count.least_at.z),
                grouped(count.least_at.line)
            );
        }
    }
    if let Ok(room) = &figures.room {
        text += &if room.least == room.usual {
            format!("; room for {} more", or_more(room.usual))
        } else {
            format!(
                "; room for {} more at most places, {} at the narrowest",
                or_more(room.usual),
                or_more(room.least)
            )
        };
    }
    text
}

/// Counts past the last that is told apart are taken together.
fn or_more(walls: u32) -> String {
    if walls >= COUNTED {
        format!("{COUNTED} or")
    } else {
        walls.to_string()
    }
}

fn infill(figures: &WallFigures) -> String {
    match &figures.infill {
        Ok(share) => {
            let mut text = format!(
                "{} % of the space within the walls",
                rounded(share * 100.0, 1)
            );
            if let Ok(ways) = figures.bears {
                text += match ways {
                    1 => ", bears one way",
                    2 => ", bears two ways",
                    _ => ", bears three ways",
                };
            }
            let thins = |told: &Told<Densities>, how: &str| {
                let of = told.as_ref().ok().filter(|of| of.differ())?;
                let [dense, thin] = [of.dense, of.thin].map(|share| rounded(share * 100.0, 0));
                Some(format!("; {how}: from {dense} % to {thin} %"))
            };
            text.extend(thins(&figures.inwards, "thins from the walls inwards"));
            text.extend(thins(&figures.upwards, "thins with height"));
            text
        }
        Err(why) => unknown(why),
    }
}
