//! Markers of layers: `layer 3, Z = 0.8`.

use super::Hint;
use super::words::{BEFORE_MARK, LAYER, LAYER_SIDE, OF, Piece, Pieces, UNIT, Z};

/// What the next number is.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Next {
    Number,
    Height,
    /// A total, or a number below zero.
    Nothing,
}

/// The layer that begins, if that is all the comment says.
pub(super) fn read(body: &[u8]) -> Option<Hint> {
    let mut named = false;
    let mut number = None;
    let mut z = None;
    let mut next = Next::Number;
    let mut mark_may_follow = false;
    let mut bare_number = false;
    for piece in Pieces::new(body) {
        match piece {
            Piece::Word(word) if word.any(LAYER | LAYER_SIDE) => {
                // A length is no layer's number; a layer is named once.
                if (bare_number && word.any(UNIT)) || (named && word.any(LAYER)) {
                    return None;
                }
                named |= word.any(LAYER);
                if word.any(Z) {
                    next = Next::Height;
                } else if word.any(OF) {
                    next = Next::Nothing;
                }
                mark_may_follow = word.any(BEFORE_MARK);
                bare_number = false;
            }
            Piece::Number(digits) => {
                let text = std::str::from_utf8(digits).ok()?;
                bare_number = false;
                match next {
                    Next::Height => {
                        z = Some(text.parse().ok().filter(|z: &f64| z.is_finite())?);
                    }
                    Next::Number => {
                        if !named || number.is_some() {
                            return None;
                        }
                        number = Some(text.parse().ok()?);
                        bare_number = true;
                    }
                    Next::Nothing => {}
                }
                next = Next::Number;
                mark_may_follow = bare_number;
            }
            Piece::Mark(b'=' | b':') if mark_may_follow => mark_may_follow = false,
            Piece::Mark(b'/' | b'-') => next = Next::Nothing,
            Piece::Mark(b',' | b'#' | b'(' | b')' | b'.') => bare_number = false,
            Piece::Word(_) | Piece::Mark(_) => return None,
        }
    }
    named.then_some(Hint::Layer { number, z })
}
