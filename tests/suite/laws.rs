//! Laws that hold for any job, tried on ten thousand made-up ones each (or `PROPTEST_CASES`).

use meltgauge::command::Ahead;
use meltgauge::finding::{Excerpt, Tally};
use meltgauge::grammar::{Fault, Kind, Word, Words, read_line};
use meltgauge::inspection::{Held, Inspected, Round, inspect};
use proptest::prelude::*;
use std::fmt::Write as _;
use std::sync::Arc;

pub fn cases() -> ProptestConfig {
    let mut config = ProptestConfig {
        failure_persistence: None,
        ..ProptestConfig::default()
    };
    if std::env::var_os("PROPTEST_CASES").is_none() {
        config.cases = 10_000;
    }
    config
}

/// A number as somebody may write it.
fn number() -> impl Strategy<Value = String> {
    prop_oneof![
        8 => "[-+]?[0-9]{1,3}(\\.[0-9]{0,5})?",
        1 => "-?\\.[0-9]{1,4}",
        1 => "-?[0-9]{0,22}\\.?[0-9]{0,22}",
        1 => "-?[0-9]{9,10}",
    ]
}

/// A line as a slicing program, a person, or an accident may write it.
fn line() -> impl Strategy<Value = String> {
    let motion = (
        "[Gg]0?[0-3]",
        proptest::collection::vec(("[XYZEFIJRxyze]", number()), 0..5),
        0..3_usize,
    )
        .prop_map(|(word, axes, blanks)| {
            let gap = ["", " ", "  "][blanks];
            let axes = axes
                .into_iter()
                .map(|(letter, number)| format!("{gap}{letter}{number}"));
            word + &axes.collect::<String>()
        });
    let word = ("[GMTgm]", 0..1000_u32, "[STPRN]", number())
        .prop_map(|(word, code, letter, value)| format!("{word}{code} {letter}{value}"));
    let known = prop::sample::select(vec![
        "G28",
        "G28 X",
        "G90",
        "G91",
        "G92 E0",
        "G92.1",
        "G92.3",
        "M82",
        "M83",
        "G20",
        "G21",
        "G17 G2 X1 Y1 I1",
        "M104 S210",
        "M109 S210",
        "M140 S60",
        "M190 S60",
        "M106 S255",
        "M107",
        "M84",
        "T0",
        "T1",
        "M221 S95",
        "START_JOB BED=60 HOTEND=210",
        "END_JOB",
        "SET A=[1,2] B={c}",
        "M117 layer 2 * 3",
        "M118 a;b",
        "M302 S0",
        "G4 P500",
        "G10",
        "G11",
        "M600",
        "M500",
        "M92 E400",
        ";outer wall",
        "; layer 5",
        "(a (b) c)",
        "%",
        "/G1 X1",
        "N5 G28*22",
        "N6 G28*9",
        "M104 S{temp}",
        "A\"lid\"",
        "A\"lid",
        "@pause 5",
        "M110 N0",
        "G29",
        "M141 S50",
        "G1 X\u{e9}",
        "\u{feff}",
        "G1 X Y5",
        "*",
        "G1 Z0.2 F600",
        "G1 X50 Y50 E5",
        "G1 Z0.4",
    ])
    .prop_map(str::to_owned);
    prop_oneof![4 => motion, 1 => word, 5 => known, 1 => "[ -~]{0,20}"]
}

/// A job of such lines.
pub fn job() -> impl Strategy<Value = Vec<u8>> {
    let end = prop::sample::select(vec!["\n", "\n", "\n", "\r\n", "\r", " ; said\n", "\n\n"]);
    (
        proptest::collection::vec((line(), end), 0..24),
        any::<bool>(),
    )
        .prop_map(|(lines, is_ended)| {
            let mut job: Vec<u8> = lines
                .into_iter()
                .flat_map(|(line, end)| (line + end).into_bytes())
                .collect();
            if !is_ended {
                job.pop();
            }
            job
        })
}

/// Any bytes, many of them with a meaning.
fn bytes() -> impl Strategy<Value = Vec<u8>> {
    let byte = prop_oneof![
        3 => prop::sample::select(b"GMNXYZEFSTPgxe0123456789.-+ \t\n\r;()*{}[]\"%/_=,".to_vec()),
        1 => any::<u8>(),
    ];
    prop_oneof![proptest::collection::vec(byte, 0..120), job()]
}

/// A material and a machine, so that as many requirements as can be are held.
fn held() -> Held {
    Held {
        materials: vec![Some(Arc::new(crate::jobs::material("PA6-CF", &[])))],
        machine: Some(Arc::new(crate::jobs::machine(
            "closed-hardened",
            &[
                "control.longest_line = 20".to_owned(),
                "control.has_arcs = false".to_owned(),
            ],
        ))),
        ..Held::default()
    }
}

/// Every line of a job with its parts.
fn lines(job: &[u8]) -> Vec<(&[u8], Words)> {
    let mut lines = Vec::new();
    let mut rest = job;
    while !rest.is_empty() {
        let mut words = Words::default();
        let after = read_line(rest, &mut words);
        let (line, _) = rest.split_at(rest.len() - after.len());
        lines.push((line, words));
        rest = after;
    }
    lines
}

/// One line printed anew: numbers from their value, one blank between words.
fn print(line: &[u8], words: &Words) -> Vec<u8> {
    let mut out: Vec<u8> = Vec::new();
    let mut before = None;
    for word in words.iter() {
        // Text keeps its own blanks, an end needs none, and a mark stands at the very front. `M0A;` and
        // `M0 A ;` differ, and so do `M30;` and `M30 ;`: a letter and a blank behind M0, and whatever stands
        // behind M30, are text, which begins with its blank (grammar-notes/text.md).
        let is_close = matches!(word.kind, Kind::Text | Kind::End)
            || matches!(before, None | Some(Kind::Text | Kind::ByteOrderMark))
            || matches!(before, Some(Kind::Bare | Kind::Number))
                && matches!(word.kind, Kind::Comment | Kind::Checksum);
        if !is_close {
            out.push(b' ');
        }
        match word.kind {
            Kind::Number | Kind::LineNumber => out.extend(number_of(word).bytes()),
            Kind::Checksum => {
                let sum = out.iter().fold(0_u8, |sum, byte| sum ^ byte);
                out.extend(format!("*{sum}").bytes());
            }
            _ => out.extend_from_slice(word.bytes(line)),
        }
        before = Some(word.kind);
    }
    out
}

fn number_of(word: &Word) -> String {
    let digits = format!(
        "{:0>1$}",
        word.value.unsigned_abs(),
        usize::from(word.scale) + 1
    );
    let (whole, part) = digits.split_at(digits.len() - usize::from(word.scale));
    let mut text = String::new();
    text.push(char::from(word.letter));
    if word.value < 0 {
        text.push('-');
    }
    text.push_str(whole);
    if !part.is_empty() {
        let _ = write!(text, ".{part}");
    }
    text
}

/// What a part is, wherever it stands: its numbers, or its bytes.
fn meaning(line: &[u8], words: &Words) -> Vec<(Kind, u8, i64, u8, Vec<u8>)> {
    words
        .iter()
        .map(|word| match word.kind {
            Kind::Number | Kind::LineNumber => {
                (word.kind, word.letter, word.value, word.scale, Vec::new())
            }
            // Its number depends on the blanks; that it is right does not.
            Kind::Checksum => (
                word.kind,
                0,
                i64::from(word.fault == Fault::None),
                0,
                Vec::new(),
            ),
            _ => (
                word.kind,
                word.letter,
                word.value,
                0,
                word.bytes(line).to_vec(),
            ),
        })
        .collect()
}

fn in_pieces(job: &[u8], sizes: &[usize], held: Held) -> Inspected {
    let mut round = Round::new(held);
    let (mut rest, mut sizes) = (job, sizes.iter().cycle());
    while !rest.is_empty() {
        let size = sizes.next().map_or(1, |size| (*size).clamp(1, rest.len()));
        let (piece, after) = rest.split_at(size);
        round.take(piece);
        rest = after;
    }
    round.finish()
}

/// As [`in_pieces`], each block of lines read ahead; and back to the usual way before the end.
fn read_ahead(job: &[u8], sizes: &[usize], held: Held) -> Inspected {
    let mut round = Round::new(held);
    let (mut rest, mut sizes) = (job, sizes.iter().cycle());
    let (mut blocks, mut lines, mut ahead) = (round.lend(), Vec::new(), Ahead::default());
    while !rest.is_empty() {
        let size = sizes.next().map_or(1, |size| (*size).clamp(1, rest.len()));
        let (piece, after) = rest.split_at(size);
        blocks.buffer().extend_from_slice(piece);
        if blocks.split_off(&mut lines) {
            ahead.read(&lines);
            round.take_ahead(&lines, &ahead);
        }
        rest = after;
    }
    round.give_back(blocks);
    round.finish()
}

/// What the laws' own printer had wrong once.
#[test]
fn text_begins_with_its_blank() {
    for job in ["M30;", "M30 ;", "M117*5", "M0A;", "N4 M30*18"] {
        let job = job.as_bytes();
        for (line, words) in lines(job).iter().filter(|(_, words)| !words.is_faulty()) {
            let printed = print(line, words);
            let again = lines(&printed);
            assert_eq!(
                meaning(line, words),
                meaning(again[0].0, &again[0].1),
                "{}",
                String::from_utf8_lossy(&printed)
            );
        }
    }
}

proptest! {
    #![proptest_config(cases())]

    #[test]
    fn pieces_of_a_parsed_job_concatenate_to_the_job(job in bytes()) {
        let mut whole = Vec::new();
        for (line, words) in lines(&job) {
            let mut end = 0;
            for (_, span) in words.tiles(line.len()) {
                prop_assert_eq!(span.start, end);
                whole.extend_from_slice(&line[span.clone()]);
                end = span.end;
            }
            prop_assert_eq!(end, line.len());
            // Between the parts lie blanks and nothing else.
            for (word, span) in words.tiles(line.len()) {
                let is_blank = line[span].iter().all(|byte| matches!(byte, b' ' | b'\t'));
                prop_assert!(word.is_some() || is_blank);
            }
        }
        prop_assert_eq!(whole, job);
    }

    #[test]
    fn what_was_parsed_and_printed_parses_to_the_same(job in job()) {
        for (line, words) in lines(&job).iter().filter(|(_, words)| !words.is_faulty()) {
            let printed = print(line, words);
            let mut again = Words::default();
            let rest = read_line(&printed, &mut again);
            prop_assert!(rest.is_empty());
            prop_assert_eq!(meaning(&printed, &again), meaning(line, words), "{:?}", String::from_utf8_lossy(&printed));
        }
    }

    #[test]
    fn no_bytes_make_the_round_panic(job in bytes()) {
        let inspected = inspect(&job, held());
        prop_assert_eq!(inspected.bytes, job.len() as u64);
        prop_assert_eq!(inspected.lines, lines(&job).len() as u64);
    }

    #[test]
    fn pieces_of_any_size_give_the_same(job in bytes(), sizes in proptest::collection::vec(1..40_usize, 1..6)) {
        prop_assert_eq!(in_pieces(&job, &sizes, Held::default()), inspect(&job, Held::default()));
    }

    #[test]
    fn lines_read_ahead_give_the_same(job in bytes(), sizes in proptest::collection::vec(1..60_usize, 1..6)) {
        prop_assert_eq!(read_ahead(&job, &sizes, held()), inspect(&job, held()));
    }

    #[test]
    fn tallies_merge_in_any_order(notes in proptest::collection::vec((0..4_u8, 0..60_u64, any::<bool>()), 1..20), swapped in any::<bool>()) {
        let at = |line: u64| Excerpt::new(line, line * 10, b"G1 X1 Y2\n", 0..8);
        let (mut all, mut one, mut other) = (Tally::default(), Tally::default(), Tally::default());
        for (badness, line, is_one) in &notes {
            // What is bad and its amount follow from the place, as in a job.
            let badness = f64::from(*badness) + (*line % 3) as f64;
            for tally in [&mut all, if *is_one { &mut one } else { &mut other }] {
                tally.note(badness, badness * 10.0, &at(*line));
            }
        }
        if swapped {
            std::mem::swap(&mut one, &mut other);
        }
        one.merge(other);
        prop_assert_eq!(&one, &all);
        let mut backward = Tally::default();
        for (badness, line, _) in notes.iter().rev() {
            let badness = f64::from(*badness) + (*line % 3) as f64;
            backward.note(badness, badness * 10.0, &at(*line));
        }
        prop_assert_eq!(backward, all);
    }

    /// Lengths in units of 2 µm, so that the middle of a move is a whole number of micrometres.
    #[test]
    fn splitting_a_straight_deposit_move_keeps_filament_and_layers(
        moves in proptest::collection::vec((0..50_000_u32, 0..50_000_u32, 1..2_000_u32), 2..12),
        layers in 1..5_u32,
        split in 0..12_usize,
        share in 1..100_u32,
    ) {
        let job = |split: Option<usize>| {
            let mut job = String::from("G90\nM83\nG28\nM109 S210\nG1 F1800\n");
            for layer in 1..=layers {
                let _ = writeln!(job, "G1 Z{}.{}", layer / 5, layer % 5 * 2);
                let (mut x, mut y) = (0_u32, 0_u32);
                let _ = writeln!(job, "G0 X0 Y0");
                for (index, (to_x, to_y, e)) in moves.iter().enumerate() {
                    let mm = |half: u32| format!("{}.{:03}", half / 1000, half % 1000);
                    let first = (u64::from(*e) * u64::from(share) / 100) as u32;
                    if split == Some(index) && first > 0 && first < *e {
                        let _ = writeln!(job, "G1 X{} Y{} E{}", mm(x + to_x), mm(y + to_y), mm(first));
                        let _ = writeln!(job, "G1 X{} Y{} E{}", mm(2 * to_x), mm(2 * to_y), mm(e - first));
                    } else {
                        let _ = writeln!(job, "G1 X{} Y{} E{}", mm(2 * to_x), mm(2 * to_y), mm(*e));
                    }
                    (x, y) = (*to_x, *to_y);
                }
            }
            job
        };
        let whole = inspect(job(None).as_bytes(), Held::default()).survey;
        let halves = inspect(job(Some(split % moves.len())).as_bytes(), Held::default()).survey;
        prop_assert_eq!(whole.filament_mm, halves.filament_mm);
        prop_assert_eq!(whole.filament_by_tool_mm, halves.filament_by_tool_mm);
        prop_assert_eq!(whole.layers, halves.layers);
        prop_assert_eq!(whole.all, halves.all);
    }
}
