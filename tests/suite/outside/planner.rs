//! A second planner, slow and obvious, to hold the project's own against.
//!
//! It was written from the rules below and shares no code with the project: the whole job is in
//! memory, look-ahead is two passes over all of it, and the time of a move is summed up over small
//! steps of its path until halving them changes nothing.
//!
//! The rules:
//!
//! - A move's path is its way in X, Y and Z; where it has none, its way in E. Neither: it takes no
//!   time and is passed over.
//! - Its speed is lowered until no axis, E included, exceeds its own; its acceleration likewise.
//! - At the junction of two moves both go at one path speed, which is at most either's speed and what
//!   [`Cornering`] allows. A job begins and ends at rest, and stops where a move says so.
//! - From one junction to the next, v² changes by at most 2·a·L, both ways.
//! - At any place of a move the speed is the greatest that the move's own speed, speeding up from its
//!   entry and slowing down to its exit allow.

/// One move of a job.
#[derive(Debug, Clone, Copy)]
pub struct Move {
    /// How far X goes, in mm.
    pub dx: f64,
    /// How far Y goes, in mm.
    pub dy: f64,
    /// How far Z goes, in mm.
    pub dz: f64,
    /// How far the filament goes, in mm.
    pub de: f64,
    /// The speed asked for along the path, in mm/s.
    pub speed: f64,
    /// The acceleration asked for along the path, in mm/s².
    pub acceleration: f64,
    /// Whether everything stands still before it.
    pub stop_before: bool,
}

/// How speed through a corner is limited.
#[derive(Debug, Clone, Copy)]
pub enum Cornering {
    /// By a circle that passes the corner at this distance in mm, under the smaller acceleration of
    /// the two moves. A junction with a move of the filament alone is a full stop.
    Deviation(f64),
    /// By the change of each axis's speed in mm/s: X, Y, Z, E. Holds for moves of the filament alone
    /// as for any other.
    PerAxis([f64; 4]),
    /// By the change of the velocity in X, Y and Z as a vector, in mm/s. A junction with a move of
    /// the filament alone is a full stop.
    Vector(f64),
}

/// What the machine allows; an axis without a limit has infinity.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// The fastest X, Y, Z and E may go, in mm/s.
    pub speed: [f64; 4],
    /// The greatest acceleration of X, Y, Z and E, in mm/s².
    pub acceleration: [f64; 4],
    /// How speed through corners is limited.
    pub cornering: Cornering,
}

/// Seconds that each move takes.
pub fn times(moves: &[Move], limits: &Limits) -> Vec<f64> {
    let mut times = vec![0.0; moves.len()];
    for leg in legs(moves, limits) {
        times[leg.of] = seconds(leg.length, leg.entry, leg.exit, leg.speed, leg.acceleration);
    }
    times
}

/// A move that goes somewhere, as it is carried out.
#[derive(Debug, Clone, Copy)]
struct Leg {
    /// Which of the moves it is.
    of: usize,
    /// For one millimetre of path: X, Y, Z, E.
    direction: [f64; 4],
    filament_alone: bool,
    stop_before: bool,
    length: f64,
    speed: f64,
    acceleration: f64,
    entry: f64,
    exit: f64,
}

fn legs(moves: &[Move], limits: &Limits) -> Vec<Leg> {
    let mut legs: Vec<Leg> = Vec::new();
    let mut stop_before = false;
    for (of, this) in moves.iter().enumerate() {
        stop_before |= this.stop_before;
        let travel = (this.dx * this.dx + this.dy * this.dy + this.dz * this.dz).sqrt();
        let filament_alone = travel == 0.0;
        let length = if filament_alone {
            this.de.abs()
        } else {
            travel
        };
        if length == 0.0 {
            continue;
        }
        let direction = [this.dx, this.dy, this.dz, this.de].map(|way| way / length);
        let mut speed = this.speed;
        let mut acceleration = this.acceleration;
        for (axis, share) in direction.into_iter().enumerate() {
            let share = share.abs();
            if share > 0.0 {
                speed = speed.min(limits.speed[axis] / share);
                acceleration = acceleration.min(limits.acceleration[axis] / share);
            }
        }
        legs.push(Leg {
            of,
            direction,
            filament_alone,
            stop_before,
            length,
            speed,
            acceleration,
            entry: 0.0,
            exit: 0.0,
        });
        stop_before = false;
    }
    if legs.is_empty() {
        return legs;
    }
    // Speeds at the junctions: one before each leg, and one after the last.
    let count = legs.len();
    let mut junctions = vec![0.0; count + 1];
    for at in 1..count {
        junctions[at] = corner(&legs[at - 1], &legs[at], &limits.cornering);
    }
    for at in (0..count).rev() {
        let within = reach(junctions[at + 1], &legs[at]);
        junctions[at] = f64::min(junctions[at], within);
    }
    for at in 0..count {
        let within = reach(junctions[at], &legs[at]);
        junctions[at + 1] = f64::min(junctions[at + 1], within);
    }
    for (at, leg) in legs.iter_mut().enumerate() {
        leg.entry = junctions[at];
        leg.exit = junctions[at + 1];
    }
    legs
}

/// The speed at the other end of a leg that starts, or ends, at this one.
fn reach(speed: f64, leg: &Leg) -> f64 {
    (speed.powi(2) + 2.0 * leg.acceleration * leg.length).sqrt()
}

fn corner(before: &Leg, after: &Leg, rule: &Cornering) -> f64 {
    if after.stop_before {
        return 0.0;
    }
    let (u, w) = (before.direction, after.direction);
    let filament_alone = before.filament_alone || after.filament_alone;
    let allowed = match rule {
        Cornering::Deviation(_) | Cornering::Vector(_) if filament_alone => 0.0,
        Cornering::Deviation(deviation) => {
            // Through the angle itself: 0 straight on, π on a reversal.
            let turn = turn(u, w);
            let half = (std::f64::consts::PI - turn) / 2.0;
            let radius = deviation * half.sin() / (1.0 - half.sin());
            (before.acceleration.min(after.acceleration) * radius).sqrt()
        }
        Cornering::PerAxis(limits) => {
            let mut allowed = f64::INFINITY;
            for axis in 0..4 {
                // v·|w − u| ≤ J
                if w[axis] != u[axis] {
                    allowed = allowed.min(limits[axis] / (w[axis] - u[axis]).abs());
                }
            }
            allowed
        }
        Cornering::Vector(limit) => limit / (2.0 * (turn(u, w) / 2.0).sin()),
    };
    allowed.min(before.speed).min(after.speed)
}

/// The angle in radians between two directions in X, Y and Z, from their cross and dot product.
fn turn(u: [f64; 4], w: [f64; 4]) -> f64 {
    let cross = [
        u[1] * w[2] - u[2] * w[1],
        u[2] * w[0] - u[0] * w[2],
        u[0] * w[1] - u[1] * w[0],
    ];
    let dot = u[0] * w[0] + u[1] * w[1] + u[2] * w[2];
    let sine = (cross[0].powi(2) + cross[1].powi(2) + cross[2].powi(2)).sqrt();
    sine.atan2(dot)
}

/// Seconds for a length: the sum of ds / v(s), with twice as many steps each time until twice in a
/// row the sum changes by less than a part in a hundred thousand.
///
/// The steps are short at both ends, s = L·(1 − cos πp)/2 with p in equal steps, for at rest 1/v has
/// no bound.
fn seconds(length: f64, entry: f64, exit: f64, speed: f64, acceleration: f64) -> f64 {
    let speed_at = |gone: f64| {
        let up = (entry * entry + 2.0 * acceleration * gone).sqrt();
        let down = (exit * exit + 2.0 * acceleration * (length - gone)).sqrt();
        speed.min(up).min(down)
    };
    let sum = |steps: u32| {
        let mut total = 0.0;
        for step in 0..steps {
            let turned = std::f64::consts::PI * (f64::from(step) + 0.5) / f64::from(steps);
            let gone = length * (1.0 - turned.cos()) / 2.0;
            let way = length * turned.sin() / 2.0 * std::f64::consts::PI / f64::from(steps);
            total += way / speed_at(gone);
        }
        total
    };
    let mut steps = 16;
    let mut last = sum(steps);
    let mut settled = 0;
    while settled < 2 {
        steps *= 2;
        assert!(
            steps <= 1 << 22,
            "{length} {entry} {exit} {speed} {acceleration}"
        );
        let finer = sum(steps);
        if (finer - last).abs() <= 1e-5 * finer {
            settled += 1;
        } else {
            settled = 0;
        }
        last = finer;
    }
    last
}

mod itself {
    use super::super::physics::agrees;
    use super::*;

    const OPEN: Limits = Limits {
        speed: [f64::INFINITY; 4],
        acceleration: [f64::INFINITY; 4],
        cornering: Cornering::Deviation(0.02),
    };

    fn go(dx: f64, dy: f64, speed: f64, acceleration: f64) -> Move {
        Move {
            dx,
            dy,
            dz: 0.0,
            de: 0.0,
            speed,
            acceleration,
            stop_before: false,
        }
    }

    fn total(moves: &[Move], limits: &Limits) -> f64 {
        times(moves, limits).iter().sum()
    }

    fn close(found: f64, expected: f64) {
        assert!(
            (found - expected).abs() <= 1e-5 * expected,
            "{found} is not {expected}"
        );
    }

    /// Constant-acceleration profiles (computed): T1, T2 and T6 from rest to rest.
    #[test]
    fn single_moves() {
        for (length, speed, acceleration, printed) in [
            (100.0, 100.0, 1000.0, "1.10000"),
            (5.0, 100.0, 1000.0, "0.141421"),
            (250.0, 300.0, 5000.0, "0.893333"),
        ] {
            let found = times(&[go(length, 0.0, speed, acceleration)], &OPEN);
            agrees("alone", found[0], printed);
        }
    }

    /// T3, T4 and T5 (computed) enter or leave at speed.
    #[test]
    fn moves_between_others() {
        for (case, length, entry, exit, speed, a, printed) in [
            ("T3", 20.0, 10.0, 5.0, 60.0, 1500.0, "0.364028"),
            ("T4", 0.5, 20.0, 20.0, 150.0, 3000.0, "0.0157260"),
            ("T5", 30.0, 0.0, 40.0, 40.0, 500.0, "0.790000"),
        ] {
            agrees(case, seconds(length, entry, exit, speed, a), printed);
        }
    }

    /// Two long moves with a turn: the speed at the junction against the tables, and the whole time
    /// against the textbook's trapezoids with that speed.
    fn cornered(case: &str, turn: f64, acceleration: f64, cornering: Cornering, printed: &str) {
        let (length, speed) = (60.0, 150.0);
        let angle = f64::to_radians(turn);
        let moves = [
            go(length, 0.0, speed, acceleration),
            go(
                length * angle.cos(),
                length * angle.sin(),
                speed,
                acceleration,
            ),
        ];
        let limits = Limits { cornering, ..OPEN };
        agrees(case, legs(&moves, &limits)[1].entry, printed);
        let corner: f64 = printed.parse().expect("a figure");
        let peak = speed.min((acceleration * length + corner * corner / 2.0).sqrt());
        let changing = (2.0 * peak * peak - corner * corner) / (2.0 * acceleration);
        let each = (2.0 * peak - corner) / acceleration + (length - changing) / peak;
        close(total(&moves, &limits), 2.0 * each);
    }

    /// Corner deviation (computed): J1–J7.
    #[test]
    fn corners_by_deviation() {
        for (case, turn, a, d, printed) in [
            ("J1", 90.0, 1000.0, 0.02, "6.94869"),
            ("J2", 45.0, 1000.0, 0.02, "15.5802"),
            ("J3", 135.0, 1000.0, 0.02, "3.52112"),
            ("J4", 10.0, 3000.0, 0.013, "101.044"),
            ("J5", 60.0, 2500.0, 0.05, "28.4256"),
            ("J6", 120.0, 500.0, 0.01, "2.23607"),
            ("J7", 170.0, 1000.0, 0.02, "1.38186"),
        ] {
            cornered(case, turn, a, Cornering::Deviation(d), printed);
        }
    }

    /// Instant speed change (computed; the rules are common practice, no source): V1–V6.
    #[test]
    fn corners_by_speed_change() {
        for (case, turn, limit, by_axis, by_vector) in [
            ("V1", 90.0, 8.0, "8.00000", "5.65685"),
            ("V2", 45.0, 8.0, "11.3137", "10.4525"),
            ("V3", 135.0, 8.0, "4.68629", "4.32957"),
            ("V4", 10.0, 8.0, "46.0702", "45.8949"),
            ("V5", 60.0, 10.0, "11.5470", "10.0000"),
            ("V6", 180.0, 8.0, "4.00000", "4.00000"),
        ] {
            cornered(case, turn, 1000.0, Cornering::PerAxis([limit; 4]), by_axis);
            cornered(case, turn, 1000.0, Cornering::Vector(limit), by_vector);
        }
    }

    /// T1 in a thousand pieces, and in pieces that shrink to a micrometre, is still 1.1 s.
    #[test]
    fn a_straight_way_in_pieces() {
        let even = vec![go(0.06, 0.08, 100.0, 1000.0); 1000];
        let mut shrinking = Vec::new();
        let mut left: f64 = 100.0;
        while left > 1e-3 {
            shrinking.push(go(0.0, left / 2.0, 100.0, 1000.0));
            left /= 2.0;
        }
        shrinking.push(go(0.0, left, 100.0, 1000.0));
        for cornering in [
            Cornering::Deviation(0.02),
            Cornering::PerAxis([8.0; 4]),
            Cornering::Vector(8.0),
        ] {
            let limits = Limits { cornering, ..OPEN };
            close(total(&even, &limits), 1.1);
            close(total(&shrinking, &limits), 1.1);
        }
    }

    /// Braking begins many moves ahead: the last of a hundred straight pieces ends at rest, and the
    /// pieces before it take longer the nearer they are to the end.
    #[test]
    fn braking_reaches_back() {
        let moves = vec![go(0.1, 0.0, 100.0, 1000.0); 100];
        let found = times(&moves, &OPEN);
        for (at, pair) in found[50..].windows(2).enumerate() {
            assert!(pair[1] > pair[0], "{at}: {pair:?}");
        }
        // Half the way under 1000 mm/s² either way: 2·√(10/1000) s.
        close(found.iter().sum(), 0.2);
    }

    /// An axis holds back the whole move: 3-4-5 in X and Z, and a filament that is fed quickly.
    #[test]
    fn axes_hold_back() {
        let slow_z = Limits {
            speed: [200.0, 200.0, 8.0, 60.0],
            acceleration: [1500.0, 1500.0, 80.0, 3000.0],
            ..OPEN
        };
        let ramp = Move {
            dx: 30.0,
            dz: 40.0,
            ..go(0.0, 0.0, 150.0, 1000.0)
        };
        // Z at 8 mm/s and 80 mm/s²: the path at 10 and 100.
        close(total(&[ramp], &slow_z), 50.0 / 10.0 + 10.0 / 100.0);
        let fed = Move {
            dx: 10.0,
            de: 20.0,
            ..go(0.0, 0.0, 150.0, 1000.0)
        };
        // E at 60 mm/s: the path at 30; at its 1000 mm/s² E gains 2000, which it may.
        close(total(&[fed], &slow_z), 10.0 / 30.0 + 30.0 / 1000.0);
        let drawn = Move {
            de: -3.0,
            ..go(0.0, 0.0, 100.0, 1000.0)
        };
        // Alone, the filament's own way counts: √(1000·3) = 54.8 mm/s stays below 60.
        close(total(&[drawn], &slow_z), 2.0 * (3.0_f64 / 1000.0).sqrt());
    }

    /// What stands still: marked stops, moves of the filament under the deviation rule, and entries
    /// that go nowhere, which hand their stop on.
    #[test]
    fn stops() {
        let east = go(10.0, 0.0, 50.0, 1000.0);
        let alone = total(&[east], &OPEN);
        let through = total(&[east, east], &OPEN);
        close(through, 20.0 / 50.0 + 50.0 / 1000.0);
        let stopped = Move {
            stop_before: true,
            ..east
        };
        close(total(&[east, stopped], &OPEN), 2.0 * alone);
        let nowhere = go(0.0, 0.0, 50.0, 1000.0);
        close(total(&[east, nowhere, east], &OPEN), through);
        let dwell = Move {
            stop_before: true,
            ..nowhere
        };
        let found = times(&[east, dwell, east], &OPEN);
        close(found.iter().sum(), 2.0 * alone);
        assert_eq!(found[1], 0.0);
        let draw = Move {
            de: -1.0,
            ..go(0.0, 0.0, 40.0, 1000.0)
        };
        let draws = 2.0 * (1.0_f64 / 1000.0).sqrt();
        for cornering in [Cornering::Deviation(0.02), Cornering::Vector(8.0)] {
            let limits = Limits { cornering, ..OPEN };
            close(total(&[east, draw, east], &limits), 2.0 * alone + draws);
        }
        // By axis: X changes by all of the speed, E too, so the lesser limit decides.
        let limits = Limits {
            cornering: Cornering::PerAxis([8.0, 8.0, 8.0, 5.0]),
            ..OPEN
        };
        assert_eq!(legs(&[east, draw, east], &limits)[1].entry, 5.0);
        assert!(times(&[], &OPEN).is_empty());
        assert_eq!(times(&[nowhere], &OPEN), [0.0]);
    }

    /// Speeds by k and accelerations by k² take a k-th (corner deviation keeps its length).
    #[test]
    fn scaling() {
        let zigzag = |k: f64| -> Vec<Move> {
            (0..40)
                .map(|at| {
                    let angle = f64::from(at * at) * 0.37;
                    let length = 0.2 + f64::from(at % 7);
                    go(
                        length * angle.cos(),
                        length * angle.sin(),
                        k * (20.0 + f64::from(at)),
                        k * k * 800.0,
                    )
                })
                .collect()
        };
        close(total(&zigzag(1.0), &OPEN), 3.0 * total(&zigzag(3.0), &OPEN));
        let mut back = zigzag(1.0);
        back.reverse();
        for this in &mut back {
            (this.dx, this.dy) = (-this.dx, -this.dy);
        }
        close(total(&zigzag(1.0), &OPEN), total(&back, &OPEN));
    }
}
