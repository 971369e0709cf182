//! The forms that are rare in a job, written with combinators; the word loop calls them only after
//! the common form did not fit.

use super::leaf::{long, number};
use super::line::{BRACED, COMMENTED, NUMBERED, Words};
use super::word::{Fault, Kind, Word};
use nom::branch::alt;
use nom::bytes::complete::{tag, take_till, take_while, take_while1};
use nom::character::complete::char;
use nom::combinator::recognize;
use nom::multi::many0_count;
use nom::sequence::{delimited, pair, preceded};
use nom::{IResult, Parser};

type Taken<'a> = IResult<&'a [u8], &'a [u8], ()>;

/// Words whose rest of the line is text or a file name (references 2, common practice).
///
/// M115, M486, M862 and M1002 carry names and versions that are no numbers.
const TEXT_WORDS: [i64; 11] = [23, 28, 30, 32, 115, 117, 118, 486, 862, 928, 1002];

/// `M0 insert the nut`: a message behind a stop, told from `M0 S5` by its second letter.
fn is_message(after: &[u8]) -> bool {
    let text = blanks(after).map_or(after, |(text, _)| text);
    matches!(text, [a, b, ..] if a.is_ascii_alphabetic() && (b.is_ascii_alphabetic() || *b == b' '))
}

const fn is_line_end(byte: u8) -> bool {
    matches!(byte, b'\n' | b'\r')
}

const fn is_blank(byte: u8) -> bool {
    matches!(byte, b' ' | b'\t')
}

const fn is_name_byte(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || matches!(byte, b'_' | b'.' | b'-')
}

fn blanks(input: &[u8]) -> Taken<'_> {
    take_while(is_blank).parse(input)
}

fn to_line_end(input: &[u8]) -> Taken<'_> {
    take_till(is_line_end).parse(input)
}

/// `"…"` with `""` for a quote inside; must close on its line.
fn quoted(input: &[u8]) -> Taken<'_> {
    recognize(delimited(
        char('"'),
        many0_count(alt((
            recognize(tag(&b"\"\""[..])),
            take_while1(|byte| byte != b'"' && !is_line_end(byte)),
        ))),
        char('"'),
    ))
    .parse(input)
}

/// `{…}` or `[…]`, nested, closed on its line. Counted and not recursed, so that a million opening
/// braces are a fault and not an overflow of the stack.
fn braced(input: &[u8]) -> Taken<'_> {
    let (open, close) = match input.first() {
        Some(b'{') => (b'{', b'}'),
        Some(b'[') => (b'[', b']'),
        _ => return Err(nom::Err::Error(())),
    };
    let mut depth = 0_usize;
    for (index, &byte) in input.iter().enumerate() {
        if byte == open {
            depth += 1;
        } else if byte == close {
            depth -= 1;
            if depth == 0 {
                return nom::bytes::complete::take(index + 1).parse(input);
            }
        } else if is_line_end(byte) {
            break;
        }
    }
    Err(nom::Err::Error(()))
}

/// `(…)` without an opening bracket inside (RS-274, NISTIR 6556 3.3.4).
fn remark(input: &[u8]) -> Taken<'_> {
    recognize(delimited(
        char('('),
        take_while(|byte| !matches!(byte, b')' | b'\n' | b'\r')),
        char(')'),
    ))
    .parse(input)
}

/// A parameter's value: up to a blank or `;` outside quotes and braces. One that opens a quote or
/// brace and does not close it goes to the line's end.
fn parameter_value(input: &[u8]) -> Taken<'_> {
    let mut rest = input;
    loop {
        let piece = match rest.first() {
            None | Some(b' ' | b'\t' | b'\n' | b'\r' | b';') => break,
            Some(b'"') => quoted(rest),
            Some(b'{' | b'[') => braced(rest),
            Some(_) => take_while1(|byte| {
                !matches!(
                    byte,
                    b' ' | b'\t' | b'\n' | b'\r' | b';' | b'"' | b'{' | b'['
                )
            })
            .parse(rest),
        };
        match piece {
            Ok((after, _)) => rest = after,
            Err(_) => {
                rest = to_line_end(rest).map_or(rest, |(after, _)| after);
                break;
            }
        }
    }
    nom::bytes::complete::take(input.len() - rest.len()).parse(input)
}

fn parameter_key(input: &[u8]) -> Taken<'_> {
    take_while1(is_name_byte).parse(input)
}

/// Adds a part that begins at `at` and ends where `after` begins; returns `after`.
fn add<'a>(
    input: &'a [u8],
    at: usize,
    after: &'a [u8],
    words: &mut Words,
    letter: u8,
    kind: Kind,
    fault: Fault,
) -> &'a [u8] {
    match kind {
        Kind::Placeholder => words.mark(BRACED),
        Kind::Comment | Kind::Remark => words.mark(COMMENTED),
        _ => {}
    }
    words.push(Word {
        value: 0,
        at: at as u32,
        len: (input.len() - after.len() - at) as u32,
        letter,
        kind,
        scale: 0,
        fault,
    });
    after
}

/// Whether only a byte order mark, a block delete or a line number stand before.
fn leads(words: &Words) -> bool {
    words.iter().all(|word| {
        matches!(
            word.kind,
            Kind::LineNumber | Kind::BlockDelete | Kind::ByteOrderMark
        )
    })
}

fn has_line_number(words: &Words) -> bool {
    // Only a byte order mark and a block delete may stand before it.
    words
        .iter()
        .take(3)
        .any(|word| word.kind == Kind::LineNumber)
}

/// A letter at `at` that is not followed by a plain number, or is an `N` or an `M`.
#[inline(never)]
pub(super) fn letter<'a>(input: &'a [u8], at: usize, letter: u8, words: &mut Words) -> &'a [u8] {
    let rest = input.get(at..).unwrap_or_default();
    let behind = rest.get(1..).unwrap_or_default();
    if leads(words) && starts_name(behind) {
        return whole_word(input, at, words);
    }
    let value_text = match blanks(behind) {
        Ok((after, _)) if starts_number(after) => after,
        _ => behind,
    };
    if letter == b'N' {
        return line_number(input, at, value_text, words);
    }
    if letter == b'O'
        && let Some(after) = letter_for_zero(input, at, words)
    {
        return after;
    }
    match value_text.first() {
        Some(b'"') => match quoted(value_text) {
            Ok((after, _)) => {
                return add(input, at, after, words, letter, Kind::Quoted, Fault::None);
            }
            Err(_) => {
                let after = to_line_end(value_text).map_or(value_text, |(after, _)| after);
                return add(
                    input,
                    at,
                    after,
                    words,
                    letter,
                    Kind::Quoted,
                    Fault::Unclosed,
                );
            }
        },
        Some(b'{' | b'[') => {
            let (after, fault) = match braced(value_text) {
                Ok((after, _)) => (after, Fault::None),
                Err(_) => (
                    to_line_end(value_text).map_or(value_text, |(after, _)| after),
                    Fault::Unclosed,
                ),
            };
            return add(input, at, after, words, letter, Kind::Placeholder, fault);
        }
        _ => {}
    }
    match number(value_text) {
        Ok((after, read)) => {
            words.push(Word {
                value: read.value,
                at: at as u32,
                len: (rest.len() - after.len()) as u32,
                letter,
                kind: Kind::Number,
                scale: read.scale,
                fault: read.fault,
            });
            let takes_text = TEXT_WORDS.contains(&read.value)
                && (read.scale == 0 || read.value == 862)
                || read.value / 10 == 862 && read.scale == 1
                || matches!(read.value, 0 | 1) && is_message(after);
            if letter == b'M' && takes_text {
                return text(input, after, words);
            }
            after
        }
        Err(_) if starts_number(value_text) => {
            let (after, _) = number_like(value_text).unwrap_or((value_text, value_text));
            add(
                input,
                at,
                after,
                words,
                letter,
                Kind::Stray,
                Fault::BadNumber,
            )
        }
        Err(_) => add(input, at, behind, words, letter, Kind::Bare, Fault::None),
    }
}

/// `S21O`: the letter O typed for a zero stands close behind a number, on a line whose words stand
/// apart or with no digit behind it. The number is none then. `G28 X0O` homes what is not homed yet.
fn letter_for_zero<'a>(input: &'a [u8], at: usize, words: &mut Words) -> Option<&'a [u8]> {
    let rest = input.get(at..).unwrap_or_default();
    let (after, _) = zeros(rest).ok()?;
    let homes = |word: &Word| word.letter == b'G' && word.whole() == Some(28);
    if words.iter().any(homes) {
        return None;
    }
    let has_digits = rest.len() - after.len() > 1;
    let last = words.last_mut().filter(|word| {
        word.kind == Kind::Number
            && !matches!(word.letter, b'G' | b'M' | b'T' | b'N')
            && word.span().end == at
    })?;
    let stands_apart = (last.at as usize)
        .checked_sub(1)
        .and_then(|before| input.get(before))
        .is_some_and(|byte| is_blank(*byte));
    if has_digits && !stands_apart {
        return None;
    }
    last.len = (input.len() - after.len() - last.at as usize) as u32;
    last.value = 0;
    last.scale = 0;
    last.kind = Kind::Stray;
    last.fault = Fault::BadNumber;
    words.set_faulty();
    Some(after)
}

/// What of a number may follow, letters O among it.
fn zeros(input: &[u8]) -> Taken<'_> {
    take_while1(|byte| matches!(byte, b'0'..=b'9' | b'.' | b'o' | b'O')).parse(input)
}

/// A whole-word command begins with two letters or an underscore, which no word with a number does.
fn starts_name(behind_first: &[u8]) -> bool {
    matches!(behind_first, [b'A'..=b'Z' | b'a'..=b'z' | b'_', ..])
}

fn starts_number(input: &[u8]) -> bool {
    matches!(input, [b'0'..=b'9' | b'.' | b'+' | b'-', ..])
}

fn number_like(input: &[u8]) -> Taken<'_> {
    take_while1(|byte| matches!(byte, b'0'..=b'9' | b'.' | b'+' | b'-')).parse(input)
}

fn is_m110(word: &Word) -> bool {
    word.letter == b'M' && word.whole() == Some(110)
}

fn line_number<'a>(
    input: &'a [u8],
    at: usize,
    value_text: &'a [u8],
    words: &mut Words,
) -> &'a [u8] {
    words.mark(NUMBERED);
    let first = words
        .iter()
        .all(|word| matches!(word.kind, Kind::BlockDelete | Kind::ByteOrderMark));
    match number(value_text) {
        // `M110 N0` sets the count.
        Ok((after, read)) if words.last_mut().is_some_and(|word| is_m110(word)) => {
            words.push(Word {
                value: read.value,
                at: at as u32,
                len: (input.len() - after.len() - at) as u32,
                letter: b'N',
                kind: Kind::Number,
                scale: read.scale,
                fault: read.fault,
            });
            after
        }
        Ok((after, read)) => {
            let unsigned = !matches!(value_text, [b'-' | b'+', ..]);
            let form = unsigned && read.scale == 0 && read.fault == Fault::None && first;
            words.push(Word {
                value: read.value,
                at: at as u32,
                len: (input.len() - after.len() - at) as u32,
                letter: b'N',
                kind: if first { Kind::LineNumber } else { Kind::Stray },
                scale: read.scale,
                fault: if form {
                    Fault::None
                } else {
                    Fault::BadLineNumber
                },
            });
            after
        }
        Err(_) => {
            let (after, _) = number_like(value_text).unwrap_or((value_text, value_text));
            add(
                input,
                at,
                after,
                words,
                b'N',
                Kind::Stray,
                Fault::BadLineNumber,
            )
        }
    }
}

/// The text behind `M117` and its kin: up to a `;`, and up to the `*` of a checksum where the line is
/// numbered.
fn text<'a>(input: &'a [u8], after: &'a [u8], words: &mut Words) -> &'a [u8] {
    let numbered = has_line_number(words);
    let Ok((rest, taken)) = take_till::<_, _, ()>(|byte| {
        matches!(byte, b'\n' | b'\r' | b';') || (numbered && byte == b'*')
    })
    .parse(after) else {
        return after;
    };
    if taken.is_empty() {
        return rest;
    }
    let at = input.len() - after.len();
    add(input, at, rest, words, 0, Kind::Text, Fault::None)
}

/// A whole-word command with its parameters, up to the comment or the line's end.
fn whole_word<'a>(input: &'a [u8], at: usize, words: &mut Words) -> &'a [u8] {
    let rest = input.get(at..).unwrap_or_default();
    let Ok((after, _)) = parameter_key(rest) else {
        return add(
            input,
            at,
            rest.get(1..).unwrap_or_default(),
            words,
            0,
            Kind::Stray,
            Fault::StrayByte,
        );
    };
    // A name with its own `=` is a setting that lost its comment sign: kept as a parameter.
    let mut rest = if let [b'=', ..] = after {
        rest
    } else {
        add(input, at, after, words, 0, Kind::Name, Fault::None)
    };
    loop {
        rest = blanks(rest).map_or(rest, |(after, _)| after);
        let at = input.len() - rest.len();
        match rest.first() {
            None | Some(b'\n' | b'\r' | b';') => return rest,
            Some(b'*') if has_line_number(words) => return rest,
            _ => {}
        }
        let named: IResult<&[u8], &[u8], ()> =
            recognize(pair(parameter_key, preceded(char('='), parameter_value))).parse(rest);
        if let Ok((after, _)) = named {
            let key = parameter_key(rest).map_or(0, |(_, key)| key.len());
            if matches!(rest.get(key + 1), Some(b'{' | b'[')) {
                words.mark(BRACED);
            }
            words.push(Word {
                value: key as i64 + 1,
                at: at as u32,
                len: (rest.len() - after.len()) as u32,
                letter: 0,
                kind: Kind::Parameter,
                scale: 0,
                fault: Fault::None,
            });
            rest = after;
            continue;
        }
        let kind = match rest.first() {
            Some(b'{' | b'[') => Kind::Placeholder,
            _ => Kind::Argument,
        };
        rest = match parameter_value(rest) {
            Ok((after, taken)) if !taken.is_empty() => {
                add(input, at, after, words, 0, kind, Fault::None)
            }
            _ => {
                let after = to_line_end(rest).map_or(rest, |(after, _)| after);
                add(input, at, after, words, 0, Kind::Stray, Fault::StrayByte)
            }
        };
    }
}

/// Anything that is neither a letter, a blank nor a line's end.
#[inline(never)]
pub(super) fn other<'a>(input: &'a [u8], at: usize, words: &mut Words) -> &'a [u8] {
    let rest = input.get(at..).unwrap_or_default();
    match rest {
        [b';', ..] => {
            let end = memchr::memchr2(b'\n', b'\r', rest).unwrap_or(rest.len());
            let after = rest.get(end..).unwrap_or_default();
            add(input, at, after, words, 0, Kind::Comment, Fault::None)
        }
        [b'(', ..] => match remark(rest) {
            Ok((after, taken)) => {
                let nested = memchr::memchr(b'(', taken.get(1..).unwrap_or_default()).is_some();
                let fault = if nested {
                    Fault::NestedRemark
                } else {
                    Fault::None
                };
                add(input, at, after, words, 0, Kind::Remark, fault)
            }
            Err(_) => {
                let after = to_line_end(rest).map_or(rest, |(after, _)| after);
                add(input, at, after, words, 0, Kind::Remark, Fault::Unclosed)
            }
        },
        [b'*', ..] => checksum(input, at, words),
        [b'/', after @ ..] if words.iter().all(|word| word.kind == Kind::ByteOrderMark) => {
            add(input, at, after, words, 0, Kind::BlockDelete, Fault::None)
        }
        [b'%', after @ ..] if leads(words) => {
            add(input, at, after, words, 0, Kind::Fence, Fault::None)
        }
        [b'_', ..] if leads(words) => whole_word(input, at, words),
        // `@pause`: for whoever sends the job, no word of the control's (common practice).
        [b'@', ..] if leads(words) => text(input, rest, words),
        [0xef, 0xbb, 0xbf, after @ ..] if at == 0 => {
            add(input, at, after, words, 0, Kind::ByteOrderMark, Fault::None)
        }
        [b'{' | b'[', ..] => {
            let (after, fault) = match braced(rest) {
                Ok((after, _)) => (after, Fault::None),
                Err(_) => (
                    to_line_end(rest).map_or(rest, |(after, _)| after),
                    Fault::Unclosed,
                ),
            };
            add(input, at, after, words, 0, Kind::Placeholder, fault)
        }
        [b'0'..=b'9' | b'.' | b'+' | b'-', ..] => loose(input, at, words),
        [b'"', ..] => {
            let (after, fault) = match quoted(rest) {
                Ok((after, _)) => (after, Fault::StrayByte),
                Err(_) => (
                    to_line_end(rest).map_or(rest, |(after, _)| after),
                    Fault::Unclosed,
                ),
            };
            add(input, at, after, words, 0, Kind::Stray, fault)
        }
        _ => {
            // A run of bytes that begin nothing is one fault.
            let run: Taken<'_> = take_while1(|byte: u8| {
                !byte.is_ascii_alphanumeric()
                    && !matches!(
                        byte,
                        b' ' | b'\t'
                            | b'\n'
                            | b'\r'
                            | b';'
                            | b'('
                            | b'*'
                            | b'{'
                            | b'['
                            | b'.'
                            | b'+'
                            | b'-'
                            | b'"'
                    )
            })
            .parse(rest);
            let after = match run {
                Ok((after, _)) => after,
                Err(_) => rest.get(1..).unwrap_or_default(),
            };
            add(input, at, after, words, 0, Kind::Stray, Fault::StrayByte)
        }
    }
}

/// Past this many bytes a number takes no further digits behind blanks: reading stays linear.
const LONGEST_JOINED: u32 = 64;

/// Digits with no letter before them. Behind a number and blanks they are its further digits, as
/// RS-274 reads them (NISTIR 6556 3.3: `+0. 12 34` is 0.1234).
fn loose<'a>(input: &'a [u8], at: usize, words: &mut Words) -> &'a [u8] {
    let rest = input.get(at..).unwrap_or_default();
    let after = number_like(rest).map_or(rest, |(after, _)| after);
    let end = input.len() - after.len();
    let is_second_point = |word: &&mut Word| {
        word.kind == Kind::Number && word.span().end == at && matches!(rest, [b'.', ..])
    };
    if let Some(word) = words.last_mut().filter(is_second_point) {
        // `X1.2.3` is no number at all.
        word.len = (end - word.at as usize) as u32;
        word.value = 0;
        word.scale = 0;
        word.kind = Kind::Stray;
        word.fault = Fault::BadNumber;
        words.set_faulty();
        return after;
    }
    let previous = words.last_mut().filter(|word| {
        word.kind == Kind::Number
            && !matches!(word.letter, b'G' | b'M' | b'T')
            && word.len < LONGEST_JOINED
            && (word.span().end < at)
            && !matches!(rest, [b'+' | b'-', ..])
    });
    if let Some(word) = previous {
        let text = input.get(word.at as usize + 1..end).unwrap_or_default();
        let joined: Vec<u8> = text
            .iter()
            .copied()
            .filter(|byte| !is_blank(*byte))
            .collect();
        word.len = (end - word.at as usize) as u32;
        match number(&joined) {
            Ok(([], read)) => {
                word.value = read.value;
                word.scale = read.scale;
                word.fault = match read.fault {
                    Fault::None => Fault::BlankInNumber,
                    worse => worse,
                };
            }
            _ => {
                word.kind = Kind::Stray;
                word.fault = Fault::BadNumber;
            }
        }
        words.set_faulty();
        return after;
    }
    match number(rest) {
        Ok((behind, read)) if behind.len() == after.len() => {
            words.push(Word {
                value: read.value,
                at: at as u32,
                len: (rest.len() - after.len()) as u32,
                letter: 0,
                kind: Kind::Stray,
                scale: read.scale,
                fault: Fault::LooseNumber,
            });
            after
        }
        _ => add(input, at, after, words, 0, Kind::Stray, Fault::BadNumber),
    }
}

/// `*71`: the exclusive-or of all bytes before the `*` (references 2, common practice).
fn checksum<'a>(input: &'a [u8], at: usize, words: &mut Words) -> &'a [u8] {
    let rest = input.get(at..).unwrap_or_default();
    let parsed: IResult<&[u8], (&[u8], &[u8]), ()> = (
        recognize(preceded(char('*'), blanks)),
        take_while1(|byte: u8| byte.is_ascii_digit()),
    )
        .parse(rest);
    let Ok((after, (_, digits))) = parsed else {
        let after = rest.get(1..).unwrap_or_default();
        return add(
            input,
            at,
            after,
            words,
            0,
            Kind::Checksum,
            Fault::BadChecksum,
        );
    };
    let next = blanks(after).map_or(after, |(next, _)| next).first();
    if words.iter().any(|word| word.kind == Kind::Checksum) {
        return add(
            input,
            at,
            after,
            words,
            0,
            Kind::Checksum,
            Fault::BadChecksum,
        );
    }
    let start = match words.first() {
        Some(word) if word.kind == Kind::ByteOrderMark => word.span().end,
        _ => 0,
    };
    let sum = input
        .get(start..at)
        .unwrap_or_default()
        .iter()
        .fold(0_u8, |sum, byte| sum ^ byte);
    let read = long(digits, false);
    let ends = matches!(next, None | Some(b'\n' | b'\r' | b';' | b'('));
    words.push(Word {
        value: read.value,
        at: at as u32,
        len: (rest.len() - after.len()) as u32,
        letter: 0,
        kind: Kind::Checksum,
        scale: 0,
        fault: if !ends {
            Fault::BadChecksum
        } else if read.fault == Fault::None && read.value == i64::from(sum) {
            Fault::None
        } else {
            Fault::WrongChecksum
        },
    });
    after
}
