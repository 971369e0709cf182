//! Walls and infill for a terminal.

use super::summary::unknown;
use crate::report::{grouped, rounded, tidy};
use crate::survey::{WallCount, WallFigures};

/// Label and text of each entry.
pub(super) fn entries(figures: &WallFigures) -> Vec<(&'static str, String)> {
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
    entries
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
    text
}

fn infill(figures: &WallFigures) -> String {
    match &figures.infill {
        Ok(share) => format!(
            "{} % of the space within the walls",
            rounded(share * 100.0, 1)
        ),
        Err(why) => unknown(why),
    }
}
