//! One more wall against denser infill: of a stated section, and of a job's own.

use super::figures::{round, tenth};
use super::{OF_JOB, Point, Question, Side, Standing};
use crate::physics::section::{ACROSS_LAYERS, Section};
use crate::quantity::Millimetres;
use crate::survey::{Carried, Stiffness, Told};

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

/// What carries a load along an axis in a job's part.
#[derive(Debug, Clone, Copy)]
pub struct OfJob<'a> {
    /// The job's name.
    pub job: &'a str,
    /// The axis, 0 to 2.
    pub along: usize,
    /// What its survey tells.
    pub carried: &'a Told<Carried>,
}

/// What least and most come to, as per cent more than `base`; -0 is 0.
fn span([one, other]: [f64; 2], base: f64) -> String {
    let [one, other] = [one, other].map(|share| ((share - base) * 100.0).round() + 0.0);
    if one == other {
        round(one, 0)
    } else {
        format!(
            "{} to {}",
            round(one.min(other), 0),
            round(one.max(other), 0)
        )
    }
}

/// Least and most of bending about both axes.
fn bending(stiff: &Stiffness) -> [f64; 2] {
    let all = stiff.bending.as_flattened();
    let least = all.iter().copied().fold(f64::INFINITY, f64::min);
    [least, all.iter().copied().fold(0.0, f64::max)]
}

/// What carries a load along an axis in the job's part, and what would carry more.
pub(super) fn of_job(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "strength-of-job";
    let OfJob {
        job,
        along,
        carried,
    } = q.of_job?;
    let axis = ["X", "Y", "Z"].get(along)?;
    let carried = match carried {
        Ok(carried) => carried,
        Err(why) => {
            let says = format!("what carries a load along {axis} cannot be told: {why}");
            return Some(
                Point::new(ID, Standing::Unknown, says)
                    .action("ask with --section, --walls and --infill for the section that counts"),
            );
        }
    };
    let has = Side {
        text: format!("{} mm² at the least section", round(carried.weakest, 0)),
        whose: format!("{OF_JOB}{job}, by its motion"),
        source: None,
        mark: None,
    };
    let mut says = format!(
        "loaded along {axis} the part is {} % as stiff in tension as a solid of its outline, and {} % in bending",
        span(carried.of_solid.tension, 0.0),
        span(bending(&carried.of_solid), 0.0)
    );
    if along == 2 {
        says += &format!(
            ", layer bonds counted as {} % as stiff as beads (common practice)",
            round(100.0 * ACROSS_LAYERS, 0)
        );
    }
    let gain = |stiff: &Stiffness| {
        format!(
            "{} % in tension and {} % in bending",
            span(stiff.tension, 1.0),
            span(bending(stiff), 1.0)
        )
    };
    says += &match (&carried.one_more_wall, &carried.denser) {
        (Some(wall), Some((denser, density))) => format!(
            "; one wall more adds {}, the same mass as infill of {} % adds {}",
            gain(wall),
            round(100.0 * density, 0),
            gain(denser)
        ),
        (Some(wall), None) => format!("; one wall more adds {}", gain(wall)),
        (None, _) => "; it is solid, or too thin for one wall more".to_owned(),
    };
    let action = match (&carried.one_more_wall, along) {
        (_, 2) => {
            "lay the part so that the load runs along its layers: they part first; none of this proves that it holds"
        }
        (None, _) => {
            "make the section larger where it bends, or take a stiffer material; none of this proves that it holds"
        }
        (Some(_), _) => {
            "add walls before infill, and take infill that bears in three directions; stiffness is not strength, \
                         and none of this proves that it holds"
        }
    };
    Some(Point::new(ID, Standing::Told, says).has(has).action(action))
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

    #[test]
    fn a_jobs_own_section_speaks_for_its_axis() {
        let stiff = |least: f64, most: f64| Stiffness {
            tension: [least, most],
            bending: [[least + 0.1, most + 0.1], [least, most]],
        };
        let carried = Carried {
            of_solid: stiff(0.4, 0.5),
            slice: 1.0,
            weakest: 59.4,
            one_more_wall: Some(stiff(1.03, 1.05)),
            denser: Some((stiff(1.03, 1.04), 0.3)),
        };
        let ask = |along: usize, carried: &Told<Carried>| {
            let material = crate::sheet::library::material("PETG").unwrap();
            let application = crate::sheet::Application::default();
            let question = Question {
                of_job: Some(OfJob {
                    job: "`lid.gcode`",
                    along,
                    carried,
                }),
                ..Question::new(&material, None, &application)
            };
            of_job(&question).unwrap()
        };
        let along = ask(0, &Ok(carried));
        assert_eq!(
            along.says,
            "loaded along X the part is 40 to 50 % as stiff in tension as a solid of its outline, and 40 to 60 % in \
             bending; one wall more adds 3 to 5 % in tension and 3 to 15 % in bending, the same mass as infill of 30 % \
             adds 3 to 4 % in tension and 3 to 14 % in bending"
        );
        assert!(along.action.unwrap().starts_with("add walls before infill"));
        assert_eq!(along.has.unwrap().text, "59 mm² at the least section");
        let across = ask(2, &Ok(carried));
        assert!(across.says.contains("along Z") && across.says.contains("85 % as stiff as beads"));
        assert!(across.action.unwrap().contains("they part first"));
        let thin = Carried {
            one_more_wall: None,
            denser: None,
            ..carried
        };
        assert!(
            ask(1, &Ok(thin))
                .says
                .ends_with("too thin for one wall more")
        );
        let open = ask(1, &Err("it has more sections than are kept".into()));
        assert_eq!(open.standing, Standing::Unknown);
    }
}
