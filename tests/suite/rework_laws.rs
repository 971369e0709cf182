//! Laws of rework, for any job that is made up and for jobs that print: proven or left alone, twice as
//! good as once, and nothing changed outside the edits. The reader of the language by other hands
//! confirms that path and deposit stay.

use crate::laws::{cases, job};
use crate::outside::reader::{Plain, has_ten_digits, theirs};
use meltgauge::edit::{Plan, Splice};
use meltgauge::finding::Class;
use meltgauge::inspection::Held;
use meltgauge::rework::rework_bytes;
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

/// Holds the laws for one job; gives whether it was reworked. Where the job is any at all, a rework
/// may bring a finding to light that a fault of the job hid before: then nothing is written, which is
/// as good. But never for changing what it promised to keep, and never for being unfinished.
fn hold(job: &[u8], pair: usize, prints: bool) -> Result<bool, TestCaseError> {
    let held = held(pair);
    let show = || String::from_utf8_lossy(job).into_owned();
    let (first, result) = rework_bytes(job, &held, &[]);
    let Some((out, done)) = result else {
        prop_assert!(first.plan.is_empty() && !first.mended.proposals.restate);
        return Ok(false);
    };
    prop_assert!(!done.spliced.misfit, "{}", show());
    let proof = done.prove(&first, Class::Major);
    if let Err(unproven) = &proof
        && !prints
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
    let (_, again) = rework_bytes(&out, &held, &[]);
    prop_assert!(again.is_none(), "{}", String::from_utf8_lossy(&out));
    // It overflows at ten digits. Where a carriage return alone ends lines among numbered ones, lines that had no number may get
    // one: the machine does the same, but the other reader has no say on such a line.
    let lone = |pair: &[u8]| pair[0] == b'\r' && pair[1] != b'\n';
    if has_ten_digits(job) || first.mended.is_numbered && job.windows(2).any(lone) {
        return Ok(true);
    }
    same_way(job, &out).map_err(TestCaseError::fail)?;
    Ok(true)
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
            if line.starts_with(b"N")
                && let Some(sum) = line.iter().rposition(|byte| *byte == b'*')
            {
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
                None if line.starts_with(b"N") => None,
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
        hold(&job, pair, false)?;
    }

    #[test]
    fn a_job_that_prints_is_proven_or_left_alone(job in tube(), pair in 0..5_usize) {
        hold(&job, pair, true)?;
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
                let (first, result) = rework_bytes(&job, &held(pair), &[]);
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
