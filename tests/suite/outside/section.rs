//! Sections against the handbook: rectangles, circles, flanges by parallel axes, and walls around a
//! core. Computed with 30-digit arithmetic from the formulas any handbook of mechanics prints
//! (b·h³/12, π·d⁴/64, I = I_c + A·d²), apart from this code.

use super::physics::agrees;
use meltgauge::physics::section::{ACROSS_LAYERS, Section, core};

fn about_x(section: Section) -> f64 {
    section.moments().expect("an area").about_x
}

fn about_y(section: Section) -> f64 {
    section.moments().expect("an area").about_y
}

#[test]
fn handbook_sections() {
    let plate = Section::rectangle(20.0, 10.0);
    agrees("rectangle", about_x(plate), "1666.67");
    let hollow = plate - Section::rectangle(16.0, 6.0);
    agrees("hollow rectangle", about_x(hollow), "1378.67");
    agrees("circle", about_x(Section::circle(10.0)), "490.874");
    let ring = Section::circle(10.0) - Section::circle(8.0);
    agrees("annulus", about_x(ring), "289.812");
    let flange = Section::rectangle(20.0, 1.0);
    let off_centre = flange.shifted([0.0, 4.5]);
    agrees("a flange off the centre", off_centre.yy, "406.667");
    let web = Section::rectangle(1.0, 8.0);
    let beam = off_centre + flange.shifted([0.0, -4.5]) + web;
    agrees("flanges and web", about_x(beam), "856.000");
    let outer_less_sides = plate - Section::rectangle(19.0, 8.0);
    agrees(
        "the same as a difference",
        about_x(outer_less_sides),
        "856.000",
    );
}

/// Walls of 0.45 mm around 20 mm by 10 mm, with the infill as a core that counts in full or by its
/// square. The same walls, laid as beads, are the same section.
fn walled(walls: u32) -> (Section, Section) {
    let thick = 0.45 * f64::from(walls);
    let inside = Section::rectangle(20.0 - 2.0 * thick, 10.0 - 2.0 * thick);
    let mut beads = Section::default();
    for wall in 0..walls {
        let in_by = 0.45 * (f64::from(wall) + 0.5);
        let (x, y) = (10.0 - in_by, 5.0 - in_by);
        // Each side runs over one of its corners, so that every corner is filled once.
        let half = 0.225;
        for (from, to) in [
            ([-x + half, -y], [x + half, -y]),
            ([x, -y + half], [x, y + half]),
            ([x - half, y], [-x - half, y]),
            ([-x, y - half], [-x, -y - half]),
        ] {
            beads += Section::bead(from, to, 0.45);
        }
    }
    (beads, inside)
}

#[test]
fn walls_around_a_section() {
    for (walls, area, flat, upright) in [
        (1, "26.1900", "467.233", "1382.70"),
        (2, "50.7600", "830.425", "2547.15"),
        (3, "73.7100", "1105.83", "3516.89"),
        (4, "95.0400", "1308.40", "4314.16"),
        (6, "132.840", "1548.24", "5473.68"),
    ] {
        let (beads, inside) = walled(walls);
        let shell = Section::rectangle(20.0, 10.0) - inside;
        for section in [beads, shell] {
            agrees("area", section.area, area);
            agrees("about the wide side", about_x(section), flat);
            agrees("about the narrow side", about_y(section), upright);
        }
    }
}

#[test]
fn walls_around_a_core() {
    for (walls, density, area, least, most) in [
        (2, 0.0, "50.7600", "830.425", "830.425"),
        (2, 0.2, "80.6080", "863.875", "997.673"),
        (2, 0.4, "110.456", "964.224", "1164.92"),
        (2, 0.6, "140.304", "1131.47", "1332.17"),
        (4, 0.0, "95.0400", "1308.40", "1308.40"),
        (4, 0.2, "116.032", "1322.73", "1380.06"),
        (2, 1.0, "200.000", "1666.67", "1666.67"),
    ] {
        let (shell, inside) = walled(walls);
        let [bends, pulls] = core(density);
        agrees("solid area", (shell + inside.times(density)).area, area);
        agrees(
            "a core that bends",
            about_x(shell + inside.times(bends)),
            least,
        );
        agrees(
            "a core that is pulled",
            about_x(shell + inside.times(pulls)),
            most,
        );
    }
}

#[test]
fn bonds_give_before_beads() {
    let plate = Section::rectangle(20.0, 10.0).across_layers();
    const { assert!(ACROSS_LAYERS < 1.0) }
    assert!((about_x(plate) - ACROSS_LAYERS * 5000.0 / 3.0).abs() < 1e-9);
}
