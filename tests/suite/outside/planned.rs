//! The planner against the slow one: the same jobs, the same limits, times within a part in a
//! thousand (what the two may differ by is the slow one's steps and the bounded window).

use super::planner::{self, Cornering, Limits, Move};
use meltgauge::command::Command;
use meltgauge::machine::planner::{Corner, Planned, Rates};
use meltgauge::machine::{Line, Machine, Motion, Observer, Setup, State, Step};
use proptest::prelude::*;

/// Keeps every motion that moves, and the planner's times.
#[derive(Default)]
struct Kept {
    moves: Vec<Move>,
    times: Vec<f64>,
    peaks: Vec<f64>,
    stops: bool,
    accelerations: [f64; 3],
    has_arc: bool,
}

impl Observer for Kept {
    fn motion(&mut self, motion: &Motion, _: &State, _: &Line<'_>) {
        if !motion.moves() {
            return;
        }
        let way = [0, 1, 2].map(|axis| (motion.to[axis] - motion.from[axis]) as f64 / 1e9);
        let de = motion.filament as f64 / 1e9;
        let [print, travel, retract] = self.accelerations;
        let acceleration = match (way == [0.0; 3], de != 0.0) {
            (true, _) => retract,
            (false, true) => print,
            (false, false) => travel,
        };
        self.has_arc |= motion.is_arc;
        self.moves.push(Move {
            dx: way[0],
            dy: way[1],
            dz: way[2],
            de,
            speed: motion.feed,
            acceleration,
            stop_before: std::mem::take(&mut self.stops),
        });
    }
    fn step(&mut self, step: &Step<'_>, _: &State, _: &Line<'_>) {
        self.stops |= step.seconds > 0.0
            || matches!(
                step.command,
                Command::Retract(_)
                    | Command::Tool(_)
                    | Command::ChangeTool
                    | Command::Stop(_)
                    | Command::MotorsOff
                    | Command::End(_)
                    | Command::Macro
            );
    }
    fn planned(&mut self, planned: &Planned<'_>) {
        assert_eq!(planned.first, self.times.len() as u64);
        self.times.extend(planned.seconds);
        self.peaks.extend(planned.peak);
    }
    fn remark(&mut self, _: &Line<'_>, _: &State) {}
}

fn run(job: &str, rates: Rates) -> Kept {
    let setup = Setup {
        rates: Ok(rates),
        ..Setup::default()
    };
    let mut machine = Machine::new(setup);
    let mut kept = Kept {
        accelerations: [rates.print, rates.travel, rates.retract],
        ..Kept::default()
    };
    machine.carry_out(job.as_bytes(), &mut kept);
    machine.finish(&mut kept);
    assert_eq!(kept.moves.len(), kept.times.len());
    kept
}

fn limits(rates: &Rates) -> Limits {
    Limits {
        speed: rates.speed,
        acceleration: rates.axis,
        cornering: match rates.corner {
            Corner::Deviation(deviation) => Cornering::Deviation(deviation),
            Corner::Vector(change) => Cornering::Vector(change),
            Corner::PerAxis(axes) => Cornering::PerAxis(axes),
        },
    }
}

const RATES: Rates = Rates {
    speed: [200.0, 180.0, 12.0, 60.0],
    axis: [1500.0, 1200.0, 100.0, 3000.0],
    print: 1000.0,
    travel: 1400.0,
    retract: 2000.0,
    corner: Corner::PerAxis([8.0, 7.0, 0.4, 5.0]),
};

const CORNERS: [Corner; 3] = [RATES.corner, Corner::Vector(8.0), Corner::Deviation(0.02)];

/// Every time, and the sum, within a part in a thousand.
fn agree(kept: &Kept, rates: &Rates) {
    let slow = planner::times(&kept.moves, &limits(rates));
    let (ours, theirs): (f64, f64) = (kept.times.iter().sum(), slow.iter().sum());
    assert!(
        (ours - theirs).abs() <= 1e-3 * theirs,
        "{ours} s against {theirs} s over {} moves",
        slow.len()
    );
    for (index, (ours, theirs)) in kept.times.iter().zip(&slow).enumerate() {
        assert!(
            (ours - theirs).abs() <= 1e-3 * theirs + 1e-6,
            "move {index} of {}: {ours} s against {theirs} s, {:?}",
            slow.len(),
            kept.moves[index]
        );
    }
}

/// A job of random moves: walls of short pieces, long lines, lifts, retractions, dwells.
fn job() -> impl Strategy<Value = String> {
    let one = prop_oneof![
        6 => (-30.0_f64..30.0, -30.0_f64..30.0, 0.0_f64..1.5)
            .prop_map(|(x, y, e)| format!("G1 X{x:.3} Y{y:.3} E{e:.5}\n")),
        8 => (-0.8_f64..0.8, -0.8_f64..0.8)
            .prop_map(|(x, y)| format!("G1 X{x:.3} Y{y:.3} E0.02\n")),
        2 => (-60.0_f64..60.0, -60.0_f64..60.0).prop_map(|(x, y)| format!("G0 X{x:.2} Y{y:.2}\n")),
        1 => (-1.0_f64..1.0).prop_map(|z| format!("G1 Z{z:.2}\n")),
        1 => Just("G1 E-0.8\n".to_owned()),
        1 => Just("G1 E0.8\n".to_owned()),
        2 => (300_u32..12_000).prop_map(|feed| format!("G1 F{feed}\n")),
        1 => Just("G4 P100\n".to_owned()),
    ];
    proptest::collection::vec(one, 1..1500)
        .prop_map(|lines| format!("G91\nM83\nG1 F3000\n{}", lines.concat()))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(16))]

    #[test]
    fn random_jobs_take_as_long(job in job(), corner in 0_usize..3) {
        let rates = Rates { corner: CORNERS[corner], ..RATES };
        agree(&run(&job, rates), &rates);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Speeds times k and accelerations times k squared: time over k.
    #[test]
    fn faster_in_proportion(job in job(), k in 0.5_f64..3.0) {
        let corner = match RATES.corner {
            Corner::PerAxis(axes) => Corner::PerAxis(axes.map(|axis| axis * k)),
            other => other,
        };
        let fast = Rates {
            speed: RATES.speed.map(|speed| speed * k),
            axis: RATES.axis.map(|axis| axis * k * k),
            print: RATES.print * k * k,
            travel: RATES.travel * k * k,
            retract: RATES.retract * k * k,
            corner,
        };
        // Commanded feeds by the speed factor, which scales them exactly.
        let factor = format!("M220 S{:.9}\n", 100.0 * k);
        let k = (100.0 * k * 1e9).round() / 1e11;
        let (slow, fast) = (run(&job, RATES), run(&format!("{factor}{job}"), fast));
        let (slow, fast): (f64, f64) = (slow.times.iter().sum(), fast.times.iter().sum());
        prop_assert!((slow - fast * k).abs() <= 1e-6 * slow, "{slow} s against {fast} s times {k}");
    }

    /// Under a rule that knows no axes a job may be turned as one likes.
    #[test]
    fn turned(job in proptest::collection::vec((-20.0_f64..20.0, -20.0_f64..20.0), 1..300), angle in 0.0_f64..6.0) {
        let rates = Rates {
            speed: [f64::INFINITY; 4],
            axis: [f64::INFINITY; 4],
            corner: Corner::Vector(8.0),
            ..RATES
        };
        let text = |turn: f64| {
            let (sine, cosine) = turn.sin_cos();
            job.iter().fold("G91\nG1 F6000\n".to_owned(), |text, (x, y)| {
                format!("{text}G1 X{:.8} Y{:.8}\n", x * cosine - y * sine, x * sine + y * cosine)
            })
        };
        let times = [0.0, angle].map(|turn| run(&text(turn), rates).times.iter().sum::<f64>());
        prop_assert!((times[0] - times[1]).abs() <= 1e-6 * times[0], "{times:?}");
    }

    /// A straight move in pieces takes as long as in one.
    #[test]
    fn split(pieces in 1_u32..400, length in 1.0_f64..200.0) {
        let piece = length / f64::from(pieces);
        let text = |count: u32, way: f64| {
            format!("G91\nG1 F4500\n{}", format!("G1 X{way:.9}\n").repeat(count as usize))
        };
        let times = [(1, length), (pieces, piece)]
            .map(|(count, way)| run(&text(count, way), RATES).times.iter().sum::<f64>());
        prop_assert!((times[0] - times[1]).abs() <= 1e-5 * times[0], "{times:?}");
    }

    /// Way back: from rest to rest, with one acceleration, it takes as long.
    #[test]
    fn reversed(ways in proptest::collection::vec((-9.0_f64..9.0, -9.0_f64..9.0), 1..700), corner in 0_usize..3) {
        let rates = Rates { corner: CORNERS[corner], ..RATES };
        let text = |ways: &mut dyn Iterator<Item = (f64, f64)>| {
            ways.fold("G91\nG1 F5400\n".to_owned(), |text, (x, y)| format!("{text}G1 X{x:.6} Y{y:.6}\n"))
        };
        let there = text(&mut ways.iter().copied());
        let back = text(&mut ways.iter().rev().map(|(x, y)| (-x, -y)));
        let times = [there, back].map(|text| run(&text, rates).times.iter().sum::<f64>());
        prop_assert!((times[0] - times[1]).abs() <= 1e-6 * times[0], "{times:?}");
    }
}

/// More pieces than the window holds, so short that many are needed to come to rest; the first was found
/// by the law above. Where more than a window of them are needed the window is cut, and the time is longer.
#[test]
fn split_beyond_the_window() {
    for (pieces, length) in [(373, 1.0_f64), (399, 1.0), (399, 3.5)] {
        let piece = length / f64::from(pieces);
        let text = |count: u32, way: f64| {
            format!(
                "G91\nG1 F4500\n{}",
                format!("G1 X{way:.9}\n").repeat(count as usize)
            )
        };
        let times = [(1, length), (pieces, piece)]
            .map(|(count, way)| run(&text(count, way), RATES).times.iter().sum::<f64>());
        let case = format!("{pieces} pieces of {length} mm: {times:?}");
        assert!((times[0] - times[1]).abs() <= 1e-5 * times[0], "{case}");
    }
}

/// The jobs of the corpus, whole: planned as by the slow one.
#[test]
fn whole_jobs_take_as_long() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus/conforming");
    let mut compared = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|end| end != "gcode") {
            continue;
        }
        let job = std::fs::read_to_string(&path).unwrap();
        // Each rule has its turn; all three on every job would take the slow one minutes.
        let corner = CORNERS[job.len() % 3];
        let rates = Rates { corner, ..RATES };
        let kept = run(&job, rates);
        // Arcs have no like in the slow one, words that change limits neither.
        if kept.has_arc || job.contains("M204") || job.contains("M205") {
            continue;
        }
        agree(&kept, &rates);
        compared += 1;
    }
    assert!(compared >= 10, "{compared}");
}

/// An arc against the same in many short chords.
#[test]
fn arcs_as_many_chords() {
    for (radius, feed) in [(2.0_f64, 3000.0), (10.0, 6000.0), (40.0, 9000.0)] {
        let rates = Rates {
            speed: [f64::INFINITY; 4],
            axis: [f64::INFINITY; 4],
            corner: Corner::Deviation(0.05),
            ..RATES
        };
        let begin = format!("G90\nG1 F{feed}\nG1 X0 Y0\nG1 X20 Y0\n");
        let end = format!("G1 X{:.6} Y{:.6}\n", 20.0 - 20.0, 2.0 * radius);
        let arc = format!("{begin}G3 X20 Y{:.6} I0 J{radius}\n{end}", 2.0 * radius);
        let mut chords = begin.clone();
        let count = 360;
        for step in 1..=count {
            let angle = std::f64::consts::PI * f64::from(step) / f64::from(count);
            let (x, y) = (20.0 + radius * angle.sin(), radius - radius * angle.cos());
            chords += &format!("G1 X{x:.6} Y{y:.6}\n");
        }
        chords += &end;
        let times = [arc, chords].map(|job| run(&job, rates).times.iter().sum::<f64>());
        assert!(
            (times[0] - times[1]).abs() <= 0.02 * times[1],
            "radius {radius}: {times:?}"
        );
    }
}

/// Forty thousand moves of a hundredth of a millimetre: no standstill within the window, so that it is
/// cut; the time is still right within what looking 256 moves ahead leaves.
#[test]
fn tiny_moves() {
    let job = format!(
        "G91\nG1 F6000\n{}",
        "G1 X0.01 Y0.0002\nG1 X0.01 Y-0.0002\n".repeat(20_000)
    );
    let kept = run(&job, RATES);
    let total: f64 = kept.times.iter().sum();
    assert!(
        total.is_finite() && total > 40_000.0 * 0.01 / 100.0,
        "{total}"
    );
    // Looking ahead over half a window of moves lets them go at √(2·a·L) at least.
    let far = (2.0_f64 * 1000.0 * 256.0 * 0.01).sqrt();
    let fastest = kept.peaks.iter().copied().fold(0.0, f64::max);
    assert!(fastest >= far, "{fastest} mm/s");
    let slowest = kept.times.iter().copied().fold(0.0, f64::max);
    assert!(slowest < 0.1, "{slowest} s");
}
