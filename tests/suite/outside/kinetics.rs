//! Ramps and corners against independently computed values.
//!
//! Marks as in [`super::physics`]: *computed* means worked out once with 30-digit arithmetic from the
//! stated formula and inputs, apart from this code.

use super::physics::agrees;
use meltgauge::physics::corner;
use meltgauge::physics::ramp::{Shape, ramp, reachable};

/// Speed over one move (computed from constant-acceleration kinematics): length, entry, exit, cruise,
/// acceleration; then peak, lengths of speeding up, cruising and slowing down, and the time.
#[test]
fn ramp_table() {
    use Shape::{Trapezoid, Triangle};
    #[rustfmt::skip]
    let table = [
        ("T1", [100.0, 0.0, 0.0, 100.0, 1000.0], Trapezoid, ["100.000", "5.00000", "90.0000", "5.00000", "1.10000"]),
        ("T2", [5.0, 0.0, 0.0, 100.0, 1000.0], Triangle, ["70.7107", "2.50000", "0.00000", "2.50000", "0.141421"]),
        ("T3", [20.0, 10.0, 5.0, 60.0, 1500.0], Trapezoid, ["60.0000", "1.16667", "17.6417", "1.19167", "0.364028"]),
        ("T4", [0.5, 20.0, 20.0, 150.0, 3000.0], Triangle, ["43.5890", "0.250000", "0.000000", "0.250000", "0.0157260"]),
        ("T5", [30.0, 0.0, 40.0, 40.0, 500.0], Trapezoid, ["40.0000", "1.60000", "28.4000", "0.00000", "0.790000"]),
        ("T6", [250.0, 0.0, 0.0, 300.0, 5000.0], Trapezoid, ["300.000", "9.00000", "232.000", "9.00000", "0.893333"]),
    ];
    for (case, [length, entry, exit, cruise, a], shape, printed) in table {
        let found = ramp(length, entry, exit, cruise, a).expect("a ramp");
        assert_eq!(found.shape, shape, "{case}");
        let figures = [
            found.peak,
            found.accelerating,
            found.cruising,
            found.braking,
            found.seconds,
        ];
        for (figure, printed) in figures.into_iter().zip(printed) {
            agrees(case, figure, printed);
        }
    }
}

/// T7 (computed): 0.2 mm are too short to stop from 50 mm/s at 1000 mm/s², which takes 1.25 mm.
#[test]
fn a_ramp_too_short_to_stop() {
    assert_eq!(ramp(0.2, 50.0, 0.0, 60.0, 1000.0), None);
    assert_eq!(ramp(1.2499, 50.0, 0.0, 60.0, 1000.0), None);
    assert!(ramp(1.25, 50.0, 0.0, 60.0, 1000.0).is_some());
    agrees(
        "from rest over 1.25 mm",
        reachable(0.0, 1.25, 1000.0),
        "50.0000",
    );
    agrees("T3, slowed within", reachable(5.0, 20.0, 1500.0), "245.000");
}

/// A corner: east, then turned by so many degrees to the left.
fn turned(degrees: f64) -> ([f64; 3], [f64; 3]) {
    let turn = degrees.to_radians();
    ([1.0, 0.0, 0.0], [turn.cos(), turn.sin(), 0.0])
}

/// Corner deviation (computed from v² = a·d·sin(θ/2)/(1 − sin(θ/2)); formula and sign convention
/// published in open planner source): turn, acceleration, deviation, speed.
#[test]
fn corner_deviation_table() {
    #[rustfmt::skip]
    let table = [
        ("J1", 90.0, 1000.0, 0.02, "6.94869"),
        ("J2", 45.0, 1000.0, 0.02, "15.5802"),
        ("J3", 135.0, 1000.0, 0.02, "3.52112"),
        ("J4", 10.0, 3000.0, 0.013, "101.044"),
        ("J5", 60.0, 2500.0, 0.05, "28.4256"),
        ("J6", 120.0, 500.0, 0.01, "2.23607"),
        ("J7", 170.0, 1000.0, 0.02, "1.38186"),
    ];
    for (case, turn, a, d, printed) in table {
        let (before, after) = turned(turn);
        agrees(case, corner::by_deviation(before, after, d, a), printed);
        let cosine = turn.to_radians().cos();
        agrees(case, corner::by_deviation_at(cosine, d, a), printed);
    }
    // The right angle in closed form: v = √((1 + √2)·a·d).
    let right = corner::by_deviation_at(0.0, 0.02, 1000.0);
    agrees("v²/(a·d)", right * right / 20.0, "2.41421");
    agrees("a·d/v²", 20.0 / (right * right), "0.414214");
}

/// Instant speed change (computed; the two rules are common practice, no source): turn, limit, speed
/// by the limit of each axis and by that of the vector.
#[test]
fn speed_change_table() {
    #[rustfmt::skip]
    let table = [
        ("V1", 90.0, 8.0, "8.00000", "5.65685"),
        ("V2", 45.0, 8.0, "11.3137", "10.4525"),
        ("V3", 135.0, 8.0, "4.68629", "4.32957"),
        ("V4", 10.0, 8.0, "46.0702", "45.8949"),
        ("V5", 60.0, 10.0, "11.5470", "10.0000"),
        ("V6", 180.0, 8.0, "4.00000", "4.00000"),
    ];
    for (case, turn, limit, by_axis, by_vector) in table {
        let (before, after) = turned(turn);
        agrees(
            case,
            corner::by_axis_change(before, after, [limit; 3]),
            by_axis,
        );
        agrees(
            case,
            corner::by_vector_change(before, after, limit),
            by_vector,
        );
        let cosine = turn.to_radians().cos();
        agrees(case, corner::by_vector_change_at(cosine, limit), by_vector);
    }
}
