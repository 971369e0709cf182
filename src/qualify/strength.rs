//! A stated section: one more wall against denser infill.

use super::figures::{round, tenth};
use super::{Point, Question, Side, Standing};
use crate::physics::section::Section;
use crate::quantity::Millimetres;

/// The width of a wall's bead where nobody says one, mm (within 100 to 150 % of a 0.4 mm bore; chosen).
const USUAL_BEAD: f64 = 0.45;

/// What is asked about a section.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Build {
    /// Width and height of a rectangular section, mm; it bends across its height.
    pub section: [f64; 2],
    /// Walls.
    pub walls: u32,
    /// Infill, in % of solid.
    pub infill: f64,
}

/// Area of material, in mm² of solid, and bending stiffness as a second moment, in mm⁴ of solid.
struct Solid {
    area: f64,
    moment: f64,
}

/// A shell of `walls` beads with a core that counts by its share: its modulus is at most the share of the
/// solid's, which overstates open infill (L. J. Gibson, M. F. Ashby, *Cellular Solids*, 1997, memory).
fn solid(build: Build, bead: f64) -> Option<Solid> {
    let [width, height] = build.section;
    let shell = 2.0 * bead * f64::from(build.walls);
    if shell > width || shell > height {
        return None;
    }
    let whole = Section::rectangle(width, height);
    let core = Section::rectangle(width - shell, height - shell);
    let share = build.infill / 100.0;
    Some(Solid {
        area: whole.area - core.area * (1.0 - share),
        moment: whole.yy - core.yy * (1.0 - share),
    })
}

/// How much stiffer one more wall makes the section, against infill for the same material.
pub(super) fn strength(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "strength";
    let build = q.build?;
    let bead = q
        .application
        .print
        .bead
        .as_ref()
        .map_or(USUAL_BEAD, |bead| bead.value.map(Millimetres::get)[0]);
    let [width, height] = build.section;
    let needs = Side {
        text: format!(
            "{} by {} mm, {} walls, {} % infill",
            round(width, 2),
            round(height, 2),
            build.walls,
            tenth(build.infill)
        ),
        whose: super::AS_ASKED.to_owned(),
        source: None,
        mark: None,
    };
    let more = Build {
        walls: build.walls + 1,
        ..build
    };
    let (Some(now), Some(walls)) = (solid(build, bead), solid(more, bead)) else {
        let says = "the section is too thin for more walls: it is solid already, or nearly so";
        return Some(
            Point::new(ID, Standing::Told, says)
                .needs(needs)
                .action("make the section higher where it bends, or take a stiffer material"),
        );
    };
    // The infill that takes as much material as the wall.
    let shell = 2.0 * bead * f64::from(build.walls);
    let core = (width - shell) * (height - shell);
    let infill = build.infill + 100.0 * (walls.area - now.area) / core;
    let denser = solid(
        Build {
            infill: infill.min(100.0),
            ..build
        },
        bead,
    )?;
    let gain = |of: &Solid| round(100.0 * (of.moment / now.moment - 1.0), 0);
    let says = format!(
        "one wall more takes {} % more material and makes it {} % stiffer in bending; the same material as infill \
         ({} % instead of {} %) makes it {} % stiffer at most",
        round(100.0 * (walls.area / now.area - 1.0), 0),
        gain(&walls),
        round(infill.min(100.0), 0),
        tenth(build.infill),
        gain(&denser)
    );
    Some(Point::new(ID, Standing::Told, says).needs(needs).action(
        "add walls before infill, take infill that bears in three directions, and lay the part so that the load runs \
         along its layers, which part first; a larger bore bonds better at the cost of detail; none of this proves that \
         it holds",
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// References 8 (computed): 0.45 mm walls around 20 by 10 mm, the core counted by its share.
    #[test]
    fn walls_and_infill_of_a_section() {
        for (walls, infill, area, moment) in [
            (2, 0.0, 50.7600, 830.425),
            (2, 20.0, 80.6080, 997.673),
            (2, 40.0, 110.456, 1164.92),
            (2, 60.0, 140.304, 1332.17),
            (4, 0.0, 95.0400, 1308.40),
            (4, 20.0, 116.032, 1380.06),
            (2, 100.0, 200.0, 1666.67),
        ] {
            let build = Build {
                section: [20.0, 10.0],
                walls,
                infill,
            };
            let solid = solid(build, 0.45).unwrap();
            assert!((solid.area / area - 1.0).abs() < 5e-6, "{} mm²", solid.area);
            assert!(
                (solid.moment / moment - 1.0).abs() < 5e-6,
                "{} mm⁴",
                solid.moment
            );
        }
        let thin = Build {
            section: [20.0, 2.0],
            walls: 3,
            infill: 20.0,
        };
        assert!(solid(thin, 0.45).is_none());
    }
}
