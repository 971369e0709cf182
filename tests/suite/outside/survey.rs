//! Whole jobs against worked figures: flow, volume, mass and cost of filament. The figures are plane
//! geometry and products (known formulas, worked apart with a calculator): area πd²/4, Q = A·ΔE/Δt,
//! mass = density × volume.

use crate::jobs::{machine, material};
use meltgauge::inspection::{Held, inspect};
use meltgauge::survey::{Survey, price, weigh};
use std::sync::Arc;

/// A machine that reaches every speed at once, as the worked figures have it: accelerations as high as
/// a sheet takes them.
const AT_ONCE: [&str; 4] = [
    "acceleration.x = \"100000 mm/s²\"",
    "acceleration.y = \"100000 mm/s²\"",
    "acceleration.e = \"100000 mm/s²\"",
    "control.acceleration = { print = \"100000 mm/s²\", travel = \"100000 mm/s²\", retract = \"100000 mm/s²\" }",
];

fn surveyed(job: &str, material_keys: &[&str], machine_name: &str) -> Survey {
    let keys = |keys: &[&str]| keys.iter().map(|key| (*key).to_owned()).collect::<Vec<_>>();
    let held = Held {
        materials: vec![Some(Arc::new(material("PLA", &keys(material_keys))))],
        machine: Some(Arc::new(machine(machine_name, &keys(&AT_ONCE)))),
        ..Held::default()
    };
    let inspected = inspect(job.as_bytes(), held);
    assert_eq!(inspected.no_job, None);
    inspected.survey
}

fn near(found: f64, expected: f64, part: f64, what: &str) {
    assert!(
        (found - expected).abs() <= part * expected,
        "{what}: {found} and not {expected}"
    );
}

/// A job of one move: its time, volume and flow.
#[test]
fn one_move_by_its_worked_figures() {
    // Before the move there is nothing but its modes; a first Z says where it lies.
    let head = "M83\nG1 Z0.2 F600\n";
    for (what, lines, seconds, volume, flow) in [
        ("Q1", "G1 X50 E2.5 F3000", 1.0, 6.01320, 6.01320),
        ("Q2", "G1 X30 Y40 E1.8 F2400", 1.25, 4.32951, 3.46361),
        ("Q8", "M221 S95\nG1 X50 E2.5 F3000", 1.0, 5.71254, 5.71254),
        ("Q9", "M220 S50\nG1 X50 E2.5 F3000", 2.0, 6.01320, 3.00660),
        ("Q10", "G20\nG1 X2 E0.1 F120", 1.0, 6.10942, 6.10942),
        // The same filament as Q1 by its volume.
        (
            "M200",
            "M200 D1.75\nG1 X50 E6.0132 F3000",
            1.0,
            6.01320,
            6.01320,
        ),
    ] {
        let survey = surveyed(&format!("{head}{lines}\n"), &[], "open-lined");
        let time = survey.time.clone().unwrap();
        near(time.print, seconds, 2e-3, &format!("{what}: printing, s"));
        near(
            survey.volume_mm3.clone().unwrap(),
            volume,
            1e-5,
            &format!("{what}: volume"),
        );
        let found = survey.flow.clone().unwrap();
        near(found.peak, flow, 1e-5, &format!("{what}: peak flow"));
        near(
            found.sustained,
            flow,
            2e-3,
            &format!("{what}: flow over a second"),
        );
        let filament = match what {
            "Q10" => 2.54,
            "Q2" => 1.8,
            _ => 2.5,
        };
        near(
            survey.filament_mm,
            filament,
            1e-5,
            &format!("{what}: filament"),
        );
        // What the flow factor takes shows in the second number alone.
        let factor = if what == "Q8" { 0.95 } else { 1.0 };
        near(
            survey.filament_factored_mm,
            filament * factor,
            1e-5,
            &format!("{what}: factored"),
        );
        near(
            survey.filament_part_mm,
            filament * factor,
            1e-5,
            &format!("{what}: part"),
        );
    }
}

/// Beads of known width: the flow at a speed, and the filament and the width back (Q3, Q4, Q7, B1, B5).
#[test]
fn a_bead_by_its_worked_figures() {
    for (what, bead, speed, by_mm, flow) in [
        ("Q3", [0.45, 0.2], 60.0, 0.033_848_8, 4.88496),
        ("Q4", [0.6, 0.3], 80.0, 0.066_805_4, 12.8549),
        // As fast as 8 mm³/s allow (Q5, Q6).
        ("Q5", [0.45, 0.2], 98.2609, 0.033_848_8, 8.0),
        ("Q6", [0.6, 0.3], 49.7866, 0.066_805_4, 8.0),
    ] {
        let [width, height] = bead;
        let job = format!(
            "M83\nG1 Z{height} F600\nG1 X100 E{} F{}\n",
            100.0 * by_mm,
            speed * 60.0
        );
        let survey = surveyed(&job, &[], "open-lined");
        near(survey.flow.clone().unwrap().peak, flow, 1e-5, what);
        let found = survey.bead.clone().unwrap();
        near(found.usual, width, 1e-5, what);
        assert_eq!(
            (found.least, found.most),
            (found.usual, found.usual),
            "{what}"
        );
        near(
            survey.bead_share.clone().unwrap().most,
            width / 0.4,
            1e-5,
            what,
        );
        near(survey.first_layer_mm.unwrap(), height, 1e-9, what);
        near(survey.first_layer_speed.clone().unwrap(), speed, 1e-5, what);
        near(survey.filament_mm, 100.0 * by_mm, 1e-6, what);
    }
    // Q7: a hundred millimetres of it.
    assert!((100.0 * 0.033_848_8 - 3.38488_f64).abs() < 1e-5);
}

/// Metres of filament by their worked mass and cost (M1 to M4).
#[test]
fn mass_and_cost_by_their_worked_figures() {
    for (what, metres, on, density, kilogram, volume, mass, cost) in [
        (
            "M1",
            10.0,
            "open-lined",
            1.24,
            25,
            24052.8,
            29.8255,
            0.745_637,
        ),
        ("M2", 10.0, "open-lined", 1.0, 60, 24052.8, 24.0528, 1.44317),
        ("M3", 3.5, "large-285", 1.14, 45, 22327.9, 25.4538, 1.14542),
        (
            "M4",
            123.456,
            "open-lined",
            1.05,
            30,
            296_946.0,
            311.794,
            9.35381,
        ),
    ] {
        let mut job = String::from("M83\nG1 Z0.2 F3000\n");
        for step in 0..100 {
            let x = if step % 2 == 0 { 100 } else { 0 };
            job += &format!("G1 X{x} E{:.6}\n", metres * 10.0);
        }
        let survey = surveyed(
            &job,
            &[
                &format!("density = \"{density} g/cm³\""),
                &format!("price = \"{kilogram} EUR/kg\""),
                "spool.left = \"40 g\"",
            ],
            on,
        );
        near(survey.filament_mm, metres * 1000.0, 1e-9, what);
        near(survey.volume_mm3.clone().unwrap(), volume, 5e-6, what);
        near(survey.mass_g.clone().unwrap(), mass, 5e-6, what);
        let found = survey.cost.clone().unwrap();
        near(found.amount, cost, 5e-6, what);
        assert_eq!(found.currency, "EUR");
        let [tool] = survey.tools.as_slice() else {
            panic!("{what}: {} tools", survey.tools.len())
        };
        assert_eq!(tool.spool_left, Ok(40.0), "{what}");
    }
}

/// The same job in another material: the volume stays, the mass does not.
#[test]
fn another_material_weighs_otherwise() {
    let job = "M83\nG1 Z0.2 F3000\nG1 X100 E10000\n";
    let survey = surveyed(job, &["density = \"1.24 g/cm³\""], "open-lined");
    let volume = survey.volume_mm3.clone().unwrap();
    let light = material("PLA", &["density = \"1.00 g/cm³\"".to_owned()]);
    let (heavy, light_g) = (
        survey.mass_g.clone().unwrap(),
        weigh(volume, &light).unwrap(),
    );
    // 19.3548 % less (worked: 1 - 1.00 / 1.24).
    near(1.0 - light_g / heavy, 0.193_548, 1e-5, "lighter by");
    let why = price(volume, &light).unwrap_err();
    assert!(why.contains("does not say price"), "{why}");
    let silent = meltgauge::sheet::Material::default();
    assert!(weigh(volume, &silent).unwrap_err().contains("density"));
}
