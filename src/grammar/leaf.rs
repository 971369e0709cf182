//! The hot leaf: a number, read in one pass over its digits.

use super::word::Fault;
use nom::IResult;

/// A number as written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Number {
    pub value: i64,
    pub scale: u8,
    pub fault: Fault,
}

/// Digits that an `i64` always holds.
const EXACT: usize = 18;

/// Reads a number: sign, digits, at most one point, at least one digit. Never an exponent, `inf` or
/// `nan`: in this language `E` is an axis.
#[inline(always)]
pub(super) fn number(input: &[u8]) -> IResult<&[u8], Number, ()> {
    // Digits are tried first: most numbers have no sign.
    match unsigned(input) {
        Ok(read) => Ok(read),
        Err(_) => signed(input),
    }
}

#[inline(never)]
fn signed(input: &[u8]) -> IResult<&[u8], Number, ()> {
    match input {
        [b'-', digits @ ..] => {
            let (rest, mut read) = unsigned(digits)?;
            read.value = -read.value;
            Ok((rest, read))
        }
        [b'+', digits @ ..] => unsigned(digits),
        _ => Err(nom::Err::Error(())),
    }
}

#[inline(always)]
fn unsigned(input: &[u8]) -> IResult<&[u8], Number, ()> {
    let (mut rest, mut value) = digits(input, 0);
    let mut count = input.len() - rest.len();
    let mut scale = 0;
    if let [b'.', fraction @ ..] = rest {
        let (after, with_fraction) = digits(fraction, value);
        scale = fraction.len() - after.len();
        count += scale;
        value = with_fraction;
        // A second point is met by the word loop, which takes the number back.
        rest = after;
    }
    if count.wrapping_sub(1) >= EXACT {
        return rare(input, rest, count);
    }
    let read = Number {
        value: value as i64,
        scale: scale as u8,
        fault: Fault::None,
    };
    Ok((rest, read))
}

/// No digit at all, or more than an `i64` always holds.
#[cold]
fn rare<'a>(input: &[u8], rest: &'a [u8], count: usize) -> IResult<&'a [u8], Number, ()> {
    if count == 0 {
        return Err(nom::Err::Error(()));
    }
    let text = input.get(..input.len() - rest.len()).unwrap_or_default();
    Ok((rest, long(text, false)))
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

/// Reads digits and at most one point that are more than an `i64` always holds. Leading zeros do not
/// count; what stands behind the last digit kept is cut and said.
#[cold]
pub(super) fn long(text: &[u8], negative: bool) -> Number {
    let (mut value, mut scale, mut kept) = (0_i64, 0_u8, 0_usize);
    let (mut behind_point, mut fault) = (false, Fault::None);
    for byte in text {
        match byte {
            b'.' => behind_point = true,
            _ if kept >= EXACT => {
                if !behind_point {
                    return Number {
                        value: 0,
                        scale: 0,
                        fault: Fault::TooLarge,
                    };
                }
                if *byte != b'0' {
                    fault = Fault::TooLong;
                }
            }
            digit => {
                value = value * 10 + i64::from(digit.wrapping_sub(b'0'));
                kept += usize::from(value != 0);
                if behind_point {
                    if scale as usize >= EXACT {
                        // A fraction that begins with more zeros than are kept.
                        value /= 10;
                        fault = Fault::TooLong;
                    } else {
                        scale += 1;
                    }
                }
            }
        }
    }
    Number {
        value: if negative { -value } else { value },
        scale,
        fault,
    }
}
