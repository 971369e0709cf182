//! Laws of rework, for any job that is made up and for jobs that print: proven or left alone, twice as
//! good as once, and nothing changed outside the edits. The reader of the language by other hands
//! confirms that path and deposit stay.

use crate::laws::{cases, job};
use crate::outside::reader::{Plain, has_ten_digits, theirs};
use meltgauge::edit::{Plan, Splice};
use meltgauge::finding::Class;
use meltgauge::inspection::Held;
use meltgauge::rework::{Wanted, rework_bytes};
use proptest::prelude::*;
use std::sync::Arc;

/// Material and machine.
const PAIRS: [(&str, &str); 5] = [
    ("PLA", "open-lined"),
    ("PETG", "open-lined"),
    ("PA6-CF", "closed-hardened"),
    ("ABS", "heated-chamber"),
    ("TPU", "two-tools"),
];

fn held(pair: usize) -> Held {
    let (material, machine) = PAIRS[pair % PAIRS.len()];
    Held {
        materials: vec![Some(Arc::new(crate::jobs::material(material, &[])))],
        machine: Some(Arc::new(crate::jobs::machine(machine, &[]))),
        ..Held::default()
    }
}

/// A job that prints a tube, with temperatures, fan, waits and ends as somebody may set them.
fn tube() -> impl Strategy<Value = Vec<u8>> {
    let heat = (
        150..300_u32,
        0..120_u32,
        any::<bool>(),
        any::<bool>(),
        any::<bool>(),
    );
    let fan = (
        proptest::option::of(0..256_u32),
        proptest::option::of(0..256_u32),
    );
    let form = (
        any::<bool>(),
        any::<bool>(),
        any::<bool>(),
        any::<bool>(),
        1..5_u32,
        0..6_usize,
    );
    (heat, fan, form).prop_map(
        |(
            (hotend, bed, waits, again, off),
            (fan, later),
            (numbered, crlf, ended, spaced, layers, second),
        )| {
            let mut lines = vec![
                format!("M140 S{bed}"),
                if waits {
                    format!("M190 S{bed}")
                } else {
                    "G21".to_owned()
                },
                if waits {
                    format!("M109 S{hotend}.0")
                } else {
                    format!("M104 S{hotend}")
                },
                "G28".to_owned(),
                "M83".to_owned(),
            ];
            if let Some(fan) = fan {
                lines.push(format!("M106 S{fan}"));
            }
            for layer in 1..=layers {
                lines.push(format!("G1 X50 Y50 Z{}.{} F9000", layer / 5, layer % 5 * 2));
                for (x, y) in [(110, 50), (110, 110), (50, 110), (50, 50)] {
                    lines.push(format!("G1 X{x} Y{y} E1.99 F1500"));
                }
                if layer == 1 {
                    if let Some(later) = later {
                        lines.push(format!("M106 S{later} ; from here on"));
                    }
                    if again {
                        lines.push(format!("m104 s{}", hotend + 7));
                    }
                }
            }
            if off {
                lines.push("M104 S0 M140 S0".to_owned());
                lines.push("M140 S0".to_owned());
            }
            lines.insert(second.min(lines.len()), "; said by nobody".to_owned());
            if spaced {
                lines.insert(3, String::new());
            }
            let mut job = String::new();
            for (index, line) in lines.iter().enumerate() {
                let mut line = line.clone();
                if numbered && !line.is_empty() && !line.starts_with(';') {
                    line = format!("N{} {line}", index + 1);
                    let sum = line.bytes().fold(0, |sum, byte| sum ^ byte);
                    line += &format!("*{sum}");
                }
                job += &line;
                job += if crlf { "\r\n" } else { "\n" };
            }
            if !ended {
                job.truncate(job.trim_end().len());
            }
            job.into_bytes()
        },
    )
}

/// A tower of squares, quick or slow, with retractions of any length and speed, told as ways or as
/// places, with places set anew in between, and feeds that hold on.
fn tower() -> impl Strategy<Value = (Vec<u8>, usize)> {
    let form = (
        prop_oneof![Just(8_u32), Just(12), Just(60)],
        1..9_u32,
        600..12_000_u32,
        600..12_000_u32,
        any::<bool>(),
        any::<bool>(),
    );
    let drawn = (
        0..90_i32,
        600..9000_u32,
        any::<bool>(),
        any::<bool>(),
        any::<bool>(),
        proptest::option::of(0..20_i32),
    );
    (form, drawn, 0..PAIRS.len()).prop_map(
        |(
            (side, layers, feed, travel, says_feed, factor),
            (drawn, draw_feed, absolute, resets, wipes, more),
            pair,
        )| {
            // Sliced for it, so that nothing but feeds and retractions is amiss.
            let (bed, hotend) = [(60, 210), (75, 240), (80, 260), (100, 245), (50, 225)][pair];
            let mut job = format!("; material = {}\n", PAIRS[pair].0);
            job += &format!("M190 S{bed}\nM109 S{hotend}\nG28\nM106 S77\n");
            job += if absolute { "M82\nG92 E0\n" } else { "M83\n" };
            if factor {
                job += "M220 S110\n";
            }
            // In thousandths of a millimetre.
            let mut at = 0;
            let mut e = |job: &mut String, way: i32| {
                at += way;
                let said = if absolute { at } else { way };
                let sign = if said < 0 { "-" } else { "" };
                *job += &format!(" E{sign}{}.{:03}", said.abs() / 1000, said.abs() % 1000);
                if resets && way > 0 && at > 20_000 && absolute {
                    *job += "\nG92 E0";
                    at = 0;
                }
            };
            for layer in 1..=layers {
                job += &format!("G0 X50 Y50 Z{}.{} F{travel}\n", layer / 5, layer % 5 * 2);
                for (x, y) in [(1, 0), (1, 1), (0, 1), (0, 0)] {
                    job += &format!("G1 X{} Y{}", 50 + x * side, 50 + y * side);
                    e(&mut job, (side * 33) as i32);
                    if says_feed || (x, y) == (1, 0) {
                        job += &format!(" F{feed}");
                    }
                    job += "\n";
                }
                if drawn > 0 {
                    if wipes && layer % 2 == 0 {
                        job += "G1 X51 Y50";
                    } else {
                        job += "G1";
                    }
                    e(&mut job, -drawn * 100);
                    job += &format!(" F{draw_feed}\nG0 X{} Y60\n", 50 + side);
                    job += "G1";
                    e(&mut job, drawn * 100 + more.unwrap_or(0) * 10);
                    job += "\n";
                }
            }
            job += "M104 S0\nM140 S0\n";
            (job.into_bytes(), pair)
        },
    )
}

/// Holds the laws for one job; gives whether it was reworked. Where the job is any at all, a rework
/// may bring a finding to light that a fault of the job hid before, and a repair may bring one about (less
/// is drawn back, and a layer is that much quicker): then nothing is written, which is as good. But never for changing what it promised to keep, and never for being unfinished.
fn hold(job: &[u8], pair: usize, prints: bool, repair: bool) -> Result<bool, TestCaseError> {
    let held = held(pair);
    let wanted = Wanted {
        repair,
        ..Wanted::default()
    };
    let show = || String::from_utf8_lossy(job).into_owned();
    let (first, result) = rework_bytes(job, &held, &wanted);
    let Some((out, done)) = result else {
        prop_assert!(first.plan.is_empty() && !first.mended.proposals.restate);
        return Ok(false);
    };
    prop_assert!(!done.spliced.misfit, "{}", show());
    let proof = done.prove(&first, Class::Major);
    if let Err(unproven) = &proof
        && (!prints || repair)
        && unproven.0.contains("would be found, and was not before")
    {
        return Ok(false);
    }
    prop_assert!(
        proof.is_ok(),
        "{:?} of {}\n{}\nbecomes\n{}",
        proof,
        PAIRS[pair % PAIRS.len()].0,
        show(),
        String::from_utf8_lossy(&out)
    );
    crate::reworks::is_briefly_the_same(job, &held, &wanted, (&first, &done));
    // Outside the edits the bytes are the same: the result is made again from the edits alone.
    if !first.mended.is_numbered {
        let ending: &[u8] = if job.windows(2).any(|pair| pair == b"\r\n") {
            b"\r\n"
        } else {
            b"\n"
        };
        let mut expected = Vec::new();
        let mut at = 0;
        for edit in first.plan.edits() {
            let range = edit.change.range.start as usize..edit.change.range.end as usize;
            expected.extend_from_slice(&job[at..range.start]);
            for (index, part) in edit.change.text.split('\n').enumerate() {
                if index > 0 {
                    expected.extend_from_slice(ending);
                }
                expected.extend_from_slice(part.as_bytes());
            }
            at = range.end;
        }
        expected.extend_from_slice(&job[at..]);
        let is_mixed = job.iter().filter(|byte| **byte == b'\n').count()
            != job.windows(2).filter(|pair| *pair == b"\r\n").count()
            && ending == b"\r\n";
        prop_assert!(is_mixed || out == expected, "{}", show());
    }
    // Twice is once.
    let (_, again) = rework_bytes(&out, &held, &wanted);
    prop_assert!(again.is_none(), "{}", String::from_utf8_lossy(&out));
    // It overflows at ten digits. Where a carriage return alone ends lines among numbered ones, lines that had no number may get
    // one: the machine does the same, but the other reader has no say on such a line.
    let lone = |pair: &[u8]| pair[0] == b'\r' && pair[1] != b'\n';
    if has_ten_digits(job) || first.mended.is_numbered && job.windows(2).any(lone) {
        return Ok(true);
    }
    let is_repaired = first.mended.proposals.list.iter().any(|proposal| {
        meltgauge::rework::rework(proposal.rework).is_some_and(|rework| rework.is_repair)
    });
    // The reckoning of what is laid knows the words of jobs that print.
    if prints {
        same_deposit(job, &out).map_err(TestCaseError::fail)?;
    }
    if !is_repaired {
        same_way(job, &out).map_err(TestCaseError::fail)?;
    }
    Ok(true)
}

/// Where a line goes, and how much filament it lays there, mm.
type Laid = (Vec<Plain>, f64);

/// What is laid on each line that goes anywhere in the plane, by the other reader: where it goes, and
/// how much filament goes beyond the furthest it ever was, mm.
fn laid(job: &[u8]) -> Vec<Laid> {
    let (mut absolute, mut place, mut net, mut most) = (true, 0.0, 0.0_f64, 0.0_f64);
    let mut laid = Vec::new();
    for line in job.split_inclusive(|byte| *byte == b'\n') {
        let mut line = line.trim_ascii_end().to_vec();
        line.push(b'\n');
        let Some(words) = theirs(&line) else { continue };
        let is = |letter: char, code: f64| {
            words
                .iter()
                .any(|word| word.0 == letter && word.1 == Some(code))
        };
        let said = |letter: char| {
            let word = words.iter().find(|word| word.0 == letter);
            word.and_then(|word| word.1)
        };
        if is('M', 82.0) || is('M', 83.0) {
            absolute = is('M', 82.0);
        } else if is('G', 92.0) {
            place = said('E').unwrap_or(place);
        } else if is('G', 0.0) || is('G', 1.0) {
            let way = match said('E') {
                Some(to) if absolute => to - place,
                Some(way) => way,
                None => 0.0,
            };
            place += way;
            net += way;
            let pushed = (net - most).max(0.0);
            most = most.max(net);
            let goes: Vec<Plain> = words
                .iter()
                .filter(|word| matches!(word.0, 'X' | 'Y' | 'Z'))
                .copied()
                .collect();
            laid.push((goes, pushed));
        }
    }
    laid
}

/// The same is laid in the same places, whatever is drawn back in between.
fn same_deposit(before: &[u8], after: &[u8]) -> Result<usize, String> {
    let (before, after) = (laid(before), laid(after));
    let differ = |(was, is): &(&Laid, &Laid)| was.0 != is.0 || (was.1 - is.1).abs() > 1e-6;
    match before.iter().zip(&after).find(differ) {
        Some((was, is)) => Err(format!("{was:?} becomes {is:?}")),
        None if before.len() != after.len() => Err("motions come or go".to_owned()),
        None => Ok(before.len()),
    }
}

/// What moves anything on a line, as the other reader has it; the line itself where it rejects it.
#[derive(Debug, PartialEq)]
enum Way {
    Words(Vec<Plain>),
    Rejected(String),
}

fn way(job: &[u8]) -> Vec<Way> {
    let is_command = |word: &Plain, of: &[u32]| {
        word.1
            .is_some_and(|value| of.iter().any(|code| value == f64::from(*code)))
    };
    let moves = |words: &[Plain]| {
        // Axis words without a command continue the motion before them.
        words.iter().any(|word| "XYZIJRE".contains(word.0))
            && !words.iter().any(|word| word.0 == 'M')
            || words.iter().any(|word| {
                (word.0 == 'G' && is_command(word, &[0, 1, 2, 3, 10, 11, 20, 21, 28, 90, 91, 92]))
                    || (word.0 == 'T' && !words.iter().any(|word| word.0 == 'M'))
                    || (word.0 == 'M' && is_command(word, &[82, 83, 221]))
            })
    };
    // A carriage return alone ends a line too.
    job.split_inclusive(|byte| matches!(byte, b'\n' | b'\r'))
        .filter_map(|line| {
            let mut line = line.trim_ascii_end().to_vec();
            // It rejects a line whose checksum is wrong; that is what a rework may put right.
            let is_numbered = matches!(line.first(), Some(b'N' | b'n'));
            if is_numbered && let Some(sum) = line.iter().rposition(|byte| *byte == b'*') {
                line.truncate(sum);
            }
            if !line.ends_with(b"\n") {
                line.push(b'\n');
            }
            match theirs(&line) {
                Some(words) => {
                    let words: Vec<Plain> = words
                        .into_iter()
                        .filter(|word| !matches!(word.0, 'N' | 'F' | 'S'))
                        .collect();
                    moves(&words).then_some(Way::Words(words))
                }
                // Its number and checksum may be stated anew.
                None if is_numbered => None,
                None if line.iter().all(|byte| byte.is_ascii_whitespace()) => None,
                None => Some(Way::Rejected(wording(&line))),
            }
        })
        .collect()
}

/// A line without its figures: a macro's temperatures may change.
fn wording(line: &[u8]) -> String {
    let text = String::from_utf8_lossy(line);
    text.replace(|letter: char| letter.is_ascii_digit() || letter == '.', "")
        .trim_end()
        .to_owned()
}

fn same_way(before: &[u8], after: &[u8]) -> Result<usize, String> {
    let (before, after) = (way(before), way(after));
    match before.iter().zip(&after).find(|(was, is)| was != is) {
        Some((was, is)) => Err(format!("{was:?} becomes {is:?}")),
        None if before.len() != after.len() => Err(format!(
            "{} lines that move become {}",
            before.len(),
            after.len()
        )),
        None => Ok(before.len()),
    }
}

proptest! {
    #![proptest_config(cases())]

    #[test]
    fn any_job_is_proven_or_left_alone(job in job(), pair in 0..5_usize) {
        hold(&job, pair, false, false)?;
    }

    #[test]
    fn a_job_that_prints_is_proven_or_left_alone(job in tube(), pair in 0..5_usize) {
        hold(&job, pair, true, false)?;
    }

    /// Repairs alter the print, and never what is laid.
    #[test]
    fn a_job_that_prints_is_repaired_or_left_alone((job, pair) in tower()) {
        hold(&job, pair, true, true)?;
    }

    #[test]
    fn any_job_is_repaired_or_left_alone(job in job(), pair in 0..5_usize) {
        hold(&job, pair, false, true)?;
    }

    #[test]
    fn an_empty_plan_gives_the_same_bytes(job in job(), numbered: bool, cut in 0..400_usize) {
        let plan = Plan::default();
        let mut splice = Splice::new(&plan, numbered, false);
        let mut out = Vec::new();
        let cut = job[..cut.min(job.len())].iter().rposition(|byte| *byte == b'\n').map_or(0, |end| end + 1);
        let (head, tail) = job.split_at(cut);
        splice.block(head, &mut |bytes| out.extend_from_slice(bytes));
        splice.block(tail, &mut |bytes| out.extend_from_slice(bytes));
        let done = splice.finish(&mut |bytes| out.extend_from_slice(bytes));
        prop_assert!(done.hunks.is_empty() && !done.misfit);
        prop_assert_eq!(out, job);
    }
}

/// A line's number may be a small letter, and its line one that nobody can read.
#[test]
fn numbers_are_stated_anew_in_either_case() {
    for (pair, repair) in (0..5).zip([false, true].into_iter().cycle()) {
        hold(b"N5 G28*22\nn0[", pair, false, repair).expect("proven or left alone");
    }
}

/// The feed behind the last lowered motion is the job's own, to the last digit.
#[test]
fn feeds_come_back_as_they_were() {
    for job in [
        "g0F4000.020000201\nG1 X50 Y50 E5\nG0E0",
        "G0F25.3\ng2I0.1e10\ng0F100000000\nG0e0",
        "G0F1050000.001340001\nG0E2X1\ng0x0",
        // A feed behind what cannot be read may be skipped by the control.
        "G0F4000\nG1 X50 Y50 E5\n!E1",
    ] {
        for repair in [false, true] {
            hold(job.as_bytes(), 0, false, repair).expect("proven or left alone");
        }
    }
}

/// The towers need every repair, often.
#[test]
fn generated_jobs_are_repaired_in_every_way() {
    use proptest::strategy::ValueTree;
    use proptest::test_runner::{Config, TestRunner};
    let mut runner = TestRunner::new_with_rng(
        Config::default(),
        proptest::test_runner::TestRng::deterministic_rng(
            proptest::test_runner::RngAlgorithm::ChaCha,
        ),
    );
    let wanted = Wanted {
        repair: true,
        ..Wanted::default()
    };
    let mut counts = std::collections::BTreeMap::new();
    let mut unproven = Vec::new();
    for _ in 0..200 {
        let (job, pair) = tower().new_tree(&mut runner).expect("a job").current();
        let (first, result) = rework_bytes(&job, &held(pair), &wanted);
        let Some((out, done)) = result else { continue };
        if let Err(why) = done.prove(&first, Class::Major) {
            unproven.push(why.0);
            continue;
        }
        assert!(same_deposit(&job, &out).is_ok());
        for proposal in &first.mended.proposals.list {
            *counts.entry(proposal.rework).or_insert(0) += 1;
        }
    }
    for repair in meltgauge::rework::REWORKS
        .iter()
        .filter(|one| one.is_repair)
    {
        let count = counts.get(repair.id).copied().unwrap_or(0);
        assert!(count >= 10, "{} in {count} jobs: {counts:?}", repair.id);
    }
}

/// What is laid is noticed, and what is drawn back does not count.
#[test]
fn a_changed_deposit_is_noticed() {
    let job = b"M83\nG1 X5 E1 F1800\nG1 E-2\nG0 X9\nG1 E2\nG1 X5 E1\n";
    let changed = |pairs: &[(&str, &str)]| {
        let mut text = String::from_utf8_lossy(job).into_owned();
        for (from, to) in pairs {
            text = text.replace(from, to);
        }
        text.into_bytes()
    };
    let both = [("E-2", "E-0.5"), ("E2", "E0.5")];
    assert!(same_deposit(job, &changed(&both)).is_ok());
    for one in both {
        assert!(same_deposit(job, &changed(&[one])).is_err(), "{one:?}");
    }
    assert!(same_deposit(job, &changed(&[("X9", "X8")])).is_err());
}

/// The jobs of the corpus under every pair of sheets: what is reworked moves as it did, word by word,
/// for the other reader.
#[test]
fn the_corpus_is_proven_or_left_alone_and_moves_as_it_did() {
    let corpus = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus");
    let mut reworked = 0;
    let mut lines = 0;
    for folder in ["conforming", "demo"] {
        for entry in std::fs::read_dir(corpus.join(folder)).unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_none_or(|end| end != "gcode") {
                continue;
            }
            let job = std::fs::read(&path).unwrap();
            for (pair, sheets) in PAIRS.iter().enumerate() {
                let wanted = Wanted::default();
                let (first, result) = rework_bytes(&job, &held(pair), &wanted);
                let Some((out, done)) = result else {
                    continue;
                };
                let name = format!("{} as {sheets:?}", path.display());
                done.prove(&first, Class::Major)
                    .unwrap_or_else(|why| panic!("{name}: {}", why.0));
                lines += same_way(&job, &out).unwrap_or_else(|why| panic!("{name}: {why}"));
                reworked += 1;
            }
        }
    }
    assert!(
        reworked >= 5 && lines >= 5000,
        "{reworked} jobs, {lines} lines"
    );
}

/// The comparison sees what it is to see.
#[test]
fn a_moved_word_is_noticed() {
    let job = b"G28\nM109 S200\nG1 X5 Y5 E1 F1800\nX9 E1\n";
    let changed =
        |from: &str, to: &str| String::from_utf8_lossy(job).replace(from, to).into_bytes();
    assert!(same_way(job, &changed("S200", "S210")).is_ok());
    assert!(same_way(job, &changed("F1800", "F1200")).is_ok());
    for (from, to) in [
        ("X5", "X5.001"),
        ("E1 F", "E1.1 F"),
        ("X9", "X8"),
        ("G28\n", ""),
    ] {
        assert!(same_way(job, &changed(from, to)).is_err(), "{from}");
    }
}
