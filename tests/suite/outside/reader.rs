//! The grammar compared, word by word, with a general-purpose reader of the language by other hands:
//! the crate `async-gcode` 0.3.0 from the public registry (MIT), after the same published report.
//!
//! Where the two differ, and why:
//! - it gives letters in lower case, and a subcode as one number: `G92.1` is 92.1 in both;
//! - it holds a number's parts in 32 bits and overflows at ten digits: such lines are left out;
//! - it takes line numbers to 9999, the report to 99999, ours all of them;
//! - it has no tabs, no `%`, no `_`, no `@`, no quotes and no braces: it rejects the line;
//! - it reads the text of `M117` and the letters of a whole-word command as words: left out;
//! - it reads an `N` that is not first as a word; ours keeps letter and number and says so.

use crate::corpus::corpus;
use async_gcode::{Error, GCode, Literal, Parser, RealValue};
use futures_util::{FutureExt, stream};
use meltgauge::grammar::{Fault, Kind, Words, read_line};

#[path = "../../bench/generate.rs"]
mod generate;

/// A word of either: the letter in upper case, and its number where it has one. `/` is block delete.
pub type Plain = (char, Option<f64>);

/// What the other reader makes of one line; None where it rejects it.
pub fn theirs(line: &[u8]) -> Option<Vec<Plain>> {
    let bytes = line.iter().copied().map(Ok::<u8, Error>);
    let mut parser = Parser::new(stream::iter(bytes));
    let mut words = Vec::new();
    loop {
        // All bytes are at hand, so that it never waits.
        match parser.next().now_or_never().expect("bytes at hand") {
            None | Some(Ok(GCode::Execute)) => return Some(words),
            Some(Ok(GCode::BlockDelete)) => words.push(('/', None)),
            Some(Ok(GCode::LineNumber(number))) => words.push(('N', Some(f64::from(number)))),
            Some(Ok(GCode::Word(letter, RealValue::Literal(Literal::RealNumber(value))))) => {
                words.push((letter.to_ascii_uppercase(), Some(value)));
            }
            Some(Ok(GCode::Word(letter, RealValue::None))) => {
                words.push((letter.to_ascii_uppercase(), None));
            }
            Some(Err(_)) => return None,
        }
    }
}

/// What ours makes of it; None where a part is no plain word.
fn ours(words: &Words) -> Option<Vec<Plain>> {
    words
        .iter()
        .filter(|word| {
            !matches!(
                word.kind,
                Kind::Comment | Kind::Remark | Kind::End | Kind::Checksum
            )
        })
        .map(|word| {
            let letter = char::from(word.letter);
            match (word.kind, word.fault) {
                (Kind::Number | Kind::LineNumber, Fault::None)
                | (Kind::Stray, Fault::BadLineNumber) => Some((letter, Some(word.to_f64()))),
                (Kind::Bare, _) => Some((letter, None)),
                (Kind::BlockDelete, _) => Some(('/', None)),
                _ => None,
            }
        })
        .collect()
}

pub fn has_ten_digits(line: &[u8]) -> bool {
    line.split(|byte| !byte.is_ascii_digit())
        .any(|digits| digits.len() >= 10)
}

/// Why the other reader has no say on a line that ours reads without a fault.
fn is_explained(line: &[u8], words: &Words) -> bool {
    line.iter()
        .any(|byte| matches!(byte, b'\t' | b'%' | b'_' | b'@' | b'"' | b'{' | b'['))
        || words
            .iter()
            .any(|word| word.kind == Kind::LineNumber && word.value > 9999)
}

#[derive(Default, Debug)]
struct Count {
    words: usize,
    lines: usize,
    left_out: usize,
}

fn compare(job: &[u8], count: &mut Count) {
    let mut words = Words::default();
    let mut rest = job;
    while !rest.is_empty() {
        let after = read_line(rest, &mut words);
        let (line, _) = rest.split_at(rest.len() - after.len());
        rest = after;
        let show = || String::from_utf8_lossy(line).into_owned();
        let is_text = words
            .iter()
            .any(|word| matches!(word.kind, Kind::Text | Kind::Name));
        let end = words
            .iter()
            .find(|word| word.kind == Kind::Comment)
            .map_or(line.len(), |word| word.at as usize);
        let code = line.get(..end).unwrap_or_default();
        if is_text || has_ten_digits(code) {
            count.left_out += 1;
            continue;
        }
        let mut whole = line.to_vec();
        if !whole.ends_with(b"\n") {
            whole.push(b'\n');
        }
        match (ours(&words), theirs(&whole)) {
            (Some(ours), Some(theirs)) => {
                assert_eq!(ours.len(), theirs.len(), "{}: {ours:?} {theirs:?}", show());
                for (our, their) in ours.iter().zip(&theirs) {
                    assert_eq!(our.0, their.0, "{}", show());
                    assert_eq!(our.1.is_some(), their.1.is_some(), "{}", show());
                    let (a, b) = (our.1.unwrap_or(0.0), their.1.unwrap_or(0.0));
                    // It adds the parts of a number as binary fractions.
                    assert!(
                        (a - b).abs() <= 1e-12 * a.abs().max(1.0),
                        "{}: {a} {b}",
                        show()
                    );
                }
                count.words += ours.len();
                count.lines += 1;
            }
            (Some(_), None) => {
                assert!(
                    is_explained(code, &words) || words.is_faulty(),
                    "it rejects {}",
                    show()
                );
                count.left_out += 1;
            }
            (None, theirs) => {
                let is_ours = theirs.is_none() || words.is_faulty() || is_explained(code, &words);
                assert!(is_ours, "ours rejects {}", show());
                count.left_out += 1;
            }
        }
    }
}

/// The lines of a job with numbers and checksums, as they are sent.
fn numbered(job: &str) -> String {
    job.lines()
        .filter(|line| !line.is_empty() && !line.starts_with(';'))
        .zip((1..10_000).cycle())
        .map(|(line, number)| {
            let line = line.split(';').next().unwrap_or_default().trim_end();
            let line = format!("N{number} {line}");
            let sum = line.bytes().fold(0, |sum, byte| sum ^ byte);
            format!("{line}*{sum}\n")
        })
        .collect()
}

#[test]
fn a_hundred_thousand_words_are_read_alike() {
    let mut count = Count::default();
    let job = generate::job(1_000_000);
    compare(job.as_bytes(), &mut count);
    let generated = count.words;
    assert!(generated >= 100_000, "{count:?}");
    compare(numbered(&job).as_bytes(), &mut count);
    assert!(count.words >= 2 * generated, "{count:?}");
    assert_eq!(count.left_out, 0, "{count:?}");
}

#[test]
fn the_conforming_jobs_are_read_alike() {
    let mut count = Count::default();
    for entry in std::fs::read_dir(corpus("conforming")).expect("the corpus") {
        let path = entry.expect("an entry").path();
        if path.extension().is_some_and(|end| end == "gcode") {
            compare(&std::fs::read(&path).expect("a job"), &mut count);
        }
    }
    assert!(count.words >= 50_000, "{count:?}");
    assert!(count.left_out * 10 < count.lines, "{count:?}");
}

/// Forms that are rare in jobs.
#[test]
fn rare_forms_are_read_alike() {
    let mut count = Count::default();
    let forms = [
        "G1X5Y98F9000",
        "g1x-.5y+.5e5.",
        "G92.1",
        "G28 X Y",
        "T0",
        "/G1 X1",
        "N9 G1 X1",
        "X10 Y5",
        "G 1 X 5",
        "G1 X007.500",
        "G1 (to the corner) X1",
        "M104 S210 ; first layer",
        "",
        "   ",
        "G1X1E5",
        "G1 X0.123456789",
        "N5 G28*22",
        "M110 N0",
    ];
    for form in forms {
        compare(format!("{form}\n").as_bytes(), &mut count);
    }
    assert_eq!(count.lines, forms.len(), "{count:?}");
}

/// Where the two differ: the other's reading beside ours, each as said at the head.
#[test]
fn differences_are_as_explained() {
    let both = |line: &str| {
        let mut words = Words::default();
        read_line(line.as_bytes(), &mut words);
        (ours(&words), theirs(format!("{line}\n").as_bytes()))
    };
    // RS-274 allows blanks in numbers; ours says so, because printers' controls stop there.
    assert_eq!(both("X1. 5"), (None, Some(vec![('X', Some(1.5))])));
    for rejected in ["G1\tX1", "%", "N10000 G1"] {
        assert_eq!(both(rejected).1, None, "{rejected}");
    }
    assert_eq!(
        both("N10000 G1").0,
        Some(vec![('N', Some(10_000.0)), ('G', Some(1.0))])
    );
    // A wrong checksum: it rejects the line, ours keeps the words and the fault.
    assert_eq!(both("N5 G28*23").1, None);
    assert_eq!(
        both("N5 G28*23").0,
        Some(vec![('N', Some(5.0)), ('G', Some(28.0))])
    );
    // Text behind M117: words to it, text to us.
    assert_eq!(both("M117 HI").1.map(|words| words.len()), Some(3));
    assert_eq!(both("M117 HI").0, None);
}
