//! How long a line takes, each part beside a plain scan of the same bytes in the same run.
//!
//! `cargo bench` prints a table; `cargo bench -- --gate` fails where the whole inspection takes more
//! than 4.5 times the plain scan, or a rework with its proof more than 2.5 times the inspection (for CI:
//! ratios of one process repeat, absolute times do not).
//! All but the last item run on one thread; that one has its walls told on another, as the commands have them.
//! `--bytes N` sets the job's size (default 20 MB), `--rounds N` how often each item runs, `--item WORD`
//! leaves only the items with that word beside the plain scan (for a profile).

#![allow(clippy::indexing_slicing, reason = "a bench may fail loudly")]

mod generate;

use meltgauge::command::{Axes, read_plain_motion};
use meltgauge::grammar::{Words, read_line};
use meltgauge::inspection::{Held, Round, inspect};
use meltgauge::machine::{Line, Machine, Motion, Observer, Setup, State, Step};
use meltgauge::rework::{Wanted, rework_bytes};
use meltgauge::survey::Apart;
use std::hint::black_box;
use std::time::Instant;

/// The yardstick: letters and fixed-point numbers of every line by a plain loop over the bytes, as
/// fast as a plain loop goes (a slower one would flatter everything beside it).
fn plain_scan(job: &[u8]) -> (u64, i64) {
    const TENS: [i64; 10] = [100_000, 10_000, 1000, 100, 10, 1, 0, 0, 0, 0];
    let (mut words, mut sum) = (0_u64, 0_i64);
    let mut rest = job;
    while let [byte, after @ ..] = rest {
        rest = after;
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' => {
                let (negative, unsigned) = match rest {
                    [b'-', after @ ..] => (true, after),
                    _ => (false, rest),
                };
                let (mut after, mut value) = digits(unsigned, 0);
                let mut scale = 0;
                if let [b'.', fraction @ ..] = after {
                    let (behind, with_fraction) = digits(fraction, value);
                    scale = fraction.len() - behind.len();
                    value = with_fraction;
                    after = behind;
                }
                rest = after;
                let value = value as i64 * TENS[scale.min(9)];
                words += 1;
                let value = if negative { -value } else { value };
                sum = sum.wrapping_add(value.wrapping_mul(i64::from(*byte)));
            }
            b';' => {
                while let [byte, after @ ..] = rest {
                    if *byte == b'\n' {
                        break;
                    }
                    rest = after;
                }
            }
            _ => {}
        }
    }
    (words, sum)
}

#[inline(always)]
fn digits(mut input: &[u8], mut value: u64) -> (&[u8], u64) {
    while let [byte, rest @ ..] = input {
        let digit = byte.wrapping_sub(b'0');
        if digit > 9 {
            break;
        }
        value = value.wrapping_mul(10).wrapping_add(u64::from(digit));
        input = rest;
    }
    (input, value)
}

fn parse(job: &[u8]) -> (u64, i64) {
    let mut words = Words::default();
    let (mut rest, mut count, mut sum) = (job, 0, 0_i64);
    while !rest.is_empty() {
        rest = read_line(rest, &mut words);
        count += words.len() as u64;
        sum = sum.wrapping_add(words.first().map_or(0, |word| word.value));
    }
    (count, sum)
}

/// To the stream of commands: a plain motion as its axes, any other line as its words.
fn commands(job: &[u8]) -> (u64, i64) {
    let (mut words, mut axes) = (Words::default(), Axes::default());
    let (mut rest, mut count, mut sum) = (job, 0, 0_i64);
    while !rest.is_empty() {
        match read_plain_motion(rest, &mut axes) {
            Some((_, after)) => {
                sum = sum.wrapping_add(axes.nano(b'X').unwrap_or(0));
                rest = after;
            }
            None => rest = read_line(rest, &mut words),
        }
        count += 1;
    }
    (count, sum)
}

/// Watches and keeps a sum, so that nothing is optimised away.
#[derive(Default)]
struct Idle(f64);

impl Observer for Idle {
    fn motion(&mut self, motion: &Motion, _: &State, _: &Line<'_>) {
        self.0 += motion.length;
    }
    fn step(&mut self, _: &Step<'_>, _: &State, _: &Line<'_>) {}
    fn remark(&mut self, _: &Line<'_>, _: &State) {}
}

/// The fastest parser of the language in the registry, its bare parse: a list of words a line.
fn other_parser(job: &str) -> usize {
    job.lines()
        .filter(|line| {
            nom_gcode::parse_gcode(black_box(line))
                .map(black_box)
                .is_ok()
        })
        .count()
}

/// The whole inspection, its walls told on another thread.
fn inspect_on_two(job: &[u8], held: Held) {
    let mut round = Round::new(held);
    std::thread::scope(|scope| {
        let apart = round.part();
        assert!(apart.is_some(), "walls are asked for");
        scope.spawn(move || apart.map(Apart::work));
        for piece in job.chunks(meltgauge::text::PIECE) {
            round.take(piece);
        }
        round.join();
    });
    black_box(round.finish());
}

fn machine(job: &[u8]) -> f64 {
    let mut machine = Machine::new(Setup::default());
    let mut idle = Idle::default();
    machine.carry_out(job, &mut idle);
    idle.0
}

/// What is held against; `timed` where the machine's limits of motion are known, so that moves are
/// planned.
fn held(timed: bool) -> Held {
    use std::sync::Arc;
    let library = meltgauge::sheet::library::material("PLA");
    let machine = meltgauge::sheet::library::machine("open-lined").map(|mut machine| {
        if !timed {
            machine.control.cornering = None;
        }
        machine
    });
    Held {
        materials: vec![library.ok().map(Arc::new)],
        machine: machine.ok().map(Arc::new),
        ..Held::default()
    }
}

fn word(name: &str) -> Option<String> {
    let mut arguments = std::env::args().skip_while(|argument| argument != name);
    arguments.next()?;
    arguments.next()
}

fn argument(name: &str) -> Option<usize> {
    word(name)?.parse().ok()
}

fn main() {
    let bytes = argument("--bytes").unwrap_or(20_000_000);
    let rounds = argument("--rounds").unwrap_or(7);
    let gate = std::env::args().any(|argument| argument == "--gate");
    let text = generate::job(bytes);
    let job = text.as_bytes();
    let lines = memchr::memchr_iter(b'\n', job).count() as f64;
    let (timed, untimed) = (held(true), held(false));
    let walled = Held {
        walls: true,
        sections: true,
        ..timed.clone()
    };
    // The same job with one setpoint to put right.
    let cold = text.replacen("M109 S210", "M109 S180", 1);
    let items: [(&str, &dyn Fn()); 10] = [
        ("plain scan", &|| {
            black_box(plain_scan(black_box(job)));
        }),
        ("parse to words", &|| {
            black_box(parse(black_box(job)));
        }),
        ("parse to commands", &|| {
            black_box(commands(black_box(job)));
        }),
        ("parse + machine", &|| {
            black_box(machine(black_box(job)));
        }),
        ("inspection, no times", &|| {
            black_box(inspect(black_box(job), untimed.clone()));
        }),
        ("whole inspection", &|| {
            black_box(inspect(black_box(job), timed.clone()));
        }),
        ("another's bare parse", &|| {
            black_box(other_parser(black_box(&text)));
        }),
        ("rework with proof", &|| {
            let (first, result) =
                rework_bytes(black_box(cold.as_bytes()), &timed, &Wanted::default());
            let proof = result
                .as_ref()
                .map(|(_, done)| done.prove(&first, meltgauge::finding::Class::Major));
            assert!(matches!(proof, Some(Ok(_))), "{proof:?}");
            black_box(result);
        }),
        ("with walls, sections", &|| {
            black_box(inspect(black_box(job), walled.clone()));
        }),
        ("walls on two threads", &|| {
            inspect_on_two(black_box(job), walled.clone());
        }),
    ];
    let mut times = vec![Vec::new(); items.len()];
    let only = word("--item");
    for _ in 0..rounds {
        for (index, (name, item)) in items.iter().enumerate() {
            if index > 0
                && only
                    .as_ref()
                    .is_some_and(|only| !name.contains(only.as_str()))
            {
                times[index].push(f64::NAN);
                continue;
            }
            let begin = Instant::now();
            item();
            times[index].push(begin.elapsed().as_secs_f64() * 1e9 / lines);
        }
    }
    println!("{} bytes, {lines} lines, median of {rounds}", job.len());
    let medians: Vec<f64> = times
        .iter_mut()
        .map(|times| {
            times.sort_by(f64::total_cmp);
            times[times.len() / 2]
        })
        .collect();
    for ((name, _), median) in items.iter().zip(&medians) {
        println!(
            "{name:>20} {median:7.1} ns/line {:6.2} x plain scan",
            median / medians[0]
        );
    }
    // Gates look at the least disturbed rounds: a neighbour's load must not fail a build.
    let least = |index: usize| times[index][0];
    let rework = least(7) / least(5);
    println!("a rework with its proof takes {rework:.2} times the whole inspection");
    // The goal is 2.5; between that and the gate lies the noise of a build machine.
    if gate && rework > 3.0 {
        eprintln!("that is above 3");
        std::process::exit(1);
    }
    let ratio = least(5) / least(0);
    if gate && ratio > 4.5 {
        eprintln!("the whole inspection takes {ratio:.2} times the plain scan, above 4.5");
        std::process::exit(1);
    }
}
