//! Names of paths: `type: outer wall`, `(purge line)`, `'Skirt Path', 0.6 mm/s`.

use super::PathKind;
use super::words::{
    BEFORE_LABEL, BESIDE_LABELLED, BESIDE_PURGE, BRIDGE, BRIM, ENDS, FILL, GAP, IN_PATH, INNER,
    KINDS, LABEL, LOOP, OUTER, OVERHANG, PATH, PURGE, Piece, Pieces, RAFT, SKIN, SKIRT, SOLID,
    SUPPORT, SURFACE, TOWER, WALL, WIPE,
};

/// The longest name of a kind that is taken for one though it is not known.
const LONGEST_UNKNOWN: usize = 32;

/// The kind of path that the comment names, if it does nothing else.
pub(super) fn read(body: &[u8]) -> Option<PathKind> {
    if let [quote @ (b'\'' | b'"'), rest @ ..] = body {
        // A name in quotation marks; figures may follow it.
        let end = rest.iter().position(|byte| byte == quote)?;
        return quoted(rest.get(..end)?);
    }
    match labelled(body) {
        Some(value) => named(value, true).or_else(|| unknown(value)),
        None => named(body, false),
    }
}

/// What follows `type:`, `feature =`, `extrusion role:` and the like.
fn labelled(body: &[u8]) -> Option<&[u8]> {
    let mut pieces = Pieces::new(body);
    let mut label = false;
    loop {
        match pieces.next()? {
            Piece::Word(word) if word.any(LABEL | BEFORE_LABEL) => label = word.any(LABEL),
            Piece::Mark(b':' | b'=') if label => return Some(pieces.rest().trim_ascii()),
            _ => return None,
        }
    }
}

/// A kind with a name that says nothing here: what was said before holds no longer.
fn unknown(value: &[u8]) -> Option<PathKind> {
    let letter = value.first().is_some_and(u8::is_ascii_alphabetic);
    (letter && value.len() <= LONGEST_UNKNOWN).then_some(PathKind::Unsaid)
}

fn quoted(name: &[u8]) -> Option<PathKind> {
    named(name, true).or_else(|| {
        let last = Pieces::new(name).last();
        matches!(last, Some(Piece::Word(word)) if word.any(PATH)).then_some(PathKind::Unsaid)
    })
}

/// The kind that the words name together, in any order; every word must have a meaning here. After a
/// label a name may be shorter, and other matter may follow it after a mark.
fn named(name: &[u8], labelled: bool) -> Option<PathKind> {
    let mut said = 0;
    let mut after_mark = false;
    for piece in Pieces::new(name) {
        match piece {
            Piece::Word(word) => {
                let known = word.any(if labelled {
                    IN_PATH
                } else {
                    IN_PATH & !(BESIDE_LABELLED | LOOP)
                });
                if !known {
                    if labelled && after_mark {
                        break;
                    }
                    return None;
                }
                said |= word.meanings() & IN_PATH;
                after_mark = false;
            }
            Piece::Mark(b',' | b'/' | b'(' | b')') => after_mark = true,
            Piece::Mark(b'.') => {}
            Piece::Mark(b'\'' | b'"') if labelled => after_mark = true,
            // `purge line 2`
            Piece::Number(_) if said & PURGE != 0 => {}
            Piece::Number(_) | Piece::Mark(_) if labelled => break,
            Piece::Number(_) | Piece::Mark(_) => return None,
        }
    }
    decide(said, labelled)
}

/// The kind that these meanings make together.
fn decide(said: u32, labelled: bool) -> Option<PathKind> {
    let has = |of: u32| said & of != 0;
    if has(BESIDE_PURGE) && !has(PURGE | WIPE) {
        return None;
    }
    if has(ENDS) {
        return has(KINDS).then_some(PathKind::Unsaid);
    }
    // The first that is said wins: a wipe tower is a tower, a bridge's infill a bridge.
    let by_name = [
        (TOWER, PathKind::Tower),
        (RAFT, PathKind::Raft),
        (SKIRT, PathKind::Skirt),
        (BRIM, PathKind::Brim),
        (SUPPORT, PathKind::Support),
        (BRIDGE, PathKind::Bridge),
        (GAP, PathKind::Gap),
        (PURGE, PathKind::Purge),
        (WIPE, PathKind::Wipe),
    ];
    if let Some((_, kind)) = by_name.iter().find(|(name, _)| has(*name)) {
        return Some(*kind);
    }
    if has(OVERHANG) && (labelled || has(WALL)) {
        return Some(PathKind::Bridge);
    }
    if has(WALL) || (labelled && has(LOOP)) {
        return Some(match (has(OUTER), has(INNER)) {
            (true, _) => PathKind::OuterWall,
            (false, true) => PathKind::InnerWall,
            (false, false) => PathKind::Wall,
        });
    }
    let skin = has(SKIN) || (has(SURFACE) && (labelled || has(SOLID)));
    if skin || (has(SOLID) && (labelled || has(FILL))) {
        return Some(PathKind::SolidInfill);
    }
    if has(FILL) {
        return Some(PathKind::Infill);
    }
    match (labelled, has(OUTER), has(INNER)) {
        (true, true, false) => Some(PathKind::OuterWall),
        (true, false, true) => Some(PathKind::InnerWall),
        _ => None,
    }
}
