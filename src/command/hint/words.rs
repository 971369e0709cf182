//! The vocabulary: which words comments are made of, and where each has a meaning.
//!
//! The words are common practice, no source.

/// The word `layer` itself.
pub(super) const LAYER: u32 = 1;
/// May stand beside it in a layer's marker.
pub(super) const LAYER_SIDE: u32 = 1 << 1;
/// A mark such as `:` may follow it in a layer's marker.
pub(super) const BEFORE_MARK: u32 = 1 << 2;
/// A height follows.
pub(super) const Z: u32 = 1 << 3;
/// A total follows.
pub(super) const OF: u32 = 1 << 4;

/// Names of kinds, and what tells them apart.
pub(super) const TOWER: u32 = 1 << 5;
pub(super) const RAFT: u32 = 1 << 6;
pub(super) const SKIRT: u32 = 1 << 7;
pub(super) const BRIM: u32 = 1 << 8;
pub(super) const SUPPORT: u32 = 1 << 9;
pub(super) const BRIDGE: u32 = 1 << 10;
pub(super) const GAP: u32 = 1 << 11;
pub(super) const PURGE: u32 = 1 << 12;
pub(super) const WIPE: u32 = 1 << 13;
pub(super) const WALL: u32 = 1 << 14;
pub(super) const FILL: u32 = 1 << 15;
pub(super) const SKIN: u32 = 1 << 16;
/// A name of a kind beside `top`, `solid` and so on, or after `type:`.
pub(super) const SURFACE: u32 = 1 << 17;
/// A kind beside `wall`, or after `type:`.
pub(super) const OVERHANG: u32 = 1 << 18;
pub(super) const OUTER: u32 = 1 << 19;
pub(super) const INNER: u32 = 1 << 20;
pub(super) const SOLID: u32 = 1 << 21;
pub(super) const ENDS: u32 = 1 << 22;
/// May stand beside any kind.
pub(super) const BESIDE: u32 = 1 << 23;
/// May stand beside a purge, a prime or a wipe only.
pub(super) const BESIDE_PURGE: u32 = 1 << 24;
/// May stand beside a kind after `type:` only.
pub(super) const BESIDE_LABELLED: u32 = 1 << 25;
/// A wall after `type:` only.
pub(super) const LOOP: u32 = 1 << 26;
/// A label: a kind follows.
pub(super) const LABEL: u32 = 1 << 27;
/// May stand before a label.
pub(super) const BEFORE_LABEL: u32 = 1 << 28;
/// The word `path`.
pub(super) const PATH: u32 = 1 << 29;

/// May stand in the key of a setting.
pub(super) const KEY: u32 = 1 << 30;
/// A unit, as the last word of a key.
pub(super) const UNIT: u32 = 1 << 31;

/// Every word that names a kind by itself.
pub(super) const KINDS: u32 =
    TOWER | RAFT | SKIRT | BRIM | SUPPORT | BRIDGE | GAP | PURGE | WIPE | WALL | FILL | SKIN;
/// Every word that has a meaning where a kind is named.
pub(super) const IN_PATH: u32 = KINDS
    | SURFACE
    | OVERHANG
    | OUTER
    | INNER
    | SOLID
    | ENDS
    | BESIDE
    | BESIDE_PURGE
    | BESIDE_LABELLED
    | LOOP
    | LABEL
    | BEFORE_LABEL
    | PATH;
/// Anything at all.
pub(super) const ANY: u32 = u32::MAX;

/// What the first word of a name in quotation marks may be.
pub(super) const QUOTED: Word = Word(PATH);

/// What a word may mean: several of the meanings above, or none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Word(u32);

impl Word {
    /// Whether it has one of these meanings.
    pub(super) const fn any(self, of: u32) -> bool {
        self.0 & of != 0
    }

    /// All its meanings.
    pub(super) const fn meanings(self) -> u32 {
        self.0
    }
}

/// The most letters of a word.
const LONGEST: usize = 16;

/// A word's letters as one number.
const fn packed(word: &[u8]) -> u128 {
    let mut packed = 0;
    let mut rest = word;
    while let [first, others @ ..] = rest {
        packed = packed << 8 | *first as u128;
        rest = others;
    }
    packed
}

macro_rules! vocabulary {
    ($($word:literal: $($meaning:ident)|+;)*) => {
        static VOCABULARY: &[(u128, u32)] = &[$((packed($word.as_bytes()), $($meaning)|+)),*];
        #[cfg(test)]
        const WORDS: &[&str] = &[$($word),*];
    };
}

vocabulary! {
    "a": BESIDE_PURGE;
    "and": BESIDE_PURGE;
    "at": LAYER_SIDE;
    "base": BESIDE;
    "bed": KEY;
    "begin": LAYER_SIDE | BESIDE;
    "begins": LAYER_SIDE | BESIDE;
    "blob": BESIDE_PURGE;
    "bore": KEY;
    "bottom": SOLID;
    "bridge": BRIDGE;
    "bridges": BRIDGE;
    "bridging": BRIDGE;
    "brim": BRIM;
    "build": KEY;
    "c": UNIT;
    "change": LAYER_SIDE | BEFORE_MARK;
    "cm": UNIT;
    "complete": ENDS;
    "completed": ENDS;
    "count": KEY;
    "current": LAYER_SIDE;
    "degc": UNIT;
    "density": KEY;
    "destring": BESIDE_LABELLED;
    "dia": KEY;
    "diameter": KEY;
    "done": ENDS;
    "duration": KEY;
    "end": ENDS;
    "ends": ENDS;
    "estimated": KEY;
    "exterior": OUTER;
    "external": OUTER;
    "extruder": KEY | BESIDE_PURGE;
    "extrusion": KEY | BESIDE | BEFORE_LABEL;
    "feature": LABEL | BEFORE_LABEL;
    "fiber": KEY;
    "fibre": KEY;
    "filament": KEY | BESIDE_PURGE;
    "fill": KEY | FILL;
    "filling": FILL;
    "finished": ENDS;
    "first": KEY;
    "flush": PURGE;
    "flushing": PURGE;
    "g": UNIT;
    "gap": GAP;
    "gaps": GAP;
    "head": BESIDE_PURGE;
    "heated": KEY;
    "height": KEY;
    "hotend": KEY | BESIDE_PURGE;
    "infill": KEY | FILL;
    "initial": KEY;
    "inner": INNER;
    "innermost": INNER;
    "inside": INNER;
    "interface": BESIDE;
    "interior": INNER;
    "internal": INNER;
    "ironing": SKIN;
    "jump": BESIDE_LABELLED;
    "kg": UNIT;
    "kind": LABEL;
    "layer": LAYER | BEFORE_MARK | KEY;
    "layers": KEY;
    "length": KEY;
    "line": KEY | BESIDE | BEFORE_LABEL;
    "lines": KEY | BESIDE;
    "loop": KEY | LOOP;
    "loops": KEY | LOOP;
    "m": UNIT;
    "mass": KEY;
    "material": KEY | BESIDE;
    "mm": LAYER_SIDE | UNIT;
    "move": BESIDE_LABELLED;
    "new": LAYER_SIDE;
    "next": LAYER_SIDE;
    "no": LAYER_SIDE | BEFORE_MARK;
    "nozzle": KEY | BESIDE_PURGE;
    "nr": LAYER_SIDE | BEFORE_MARK;
    "number": LAYER_SIDE | BEFORE_MARK | KEY;
    "object": LAYER_SIDE;
    "of": LAYER_SIDE | OF | KEY | BESIDE;
    "organic": BESIDE;
    "outer": OUTER;
    "outermost": OUTER;
    "outside": OUTER;
    "overhang": OVERHANG;
    "path": PATH | BESIDE | BEFORE_LABEL;
    "percent": KEY | UNIT;
    "percentage": KEY;
    "perimeter": KEY | WALL;
    "perimeters": KEY | WALL;
    "pillar": TOWER;
    "plate": KEY;
    "platform": KEY;
    "polymer": KEY;
    "prime": PURGE;
    "priming": PURGE;
    "print": KEY | BEFORE_LABEL;
    "printing": KEY;
    "purge": PURGE;
    "purging": PURGE;
    "raft": RAFT;
    "region": BESIDE;
    "retract": BESIDE_LABELLED;
    "role": LABEL;
    "roof": BESIDE;
    "section": BESIDE;
    "size": KEY;
    "skin": SKIN;
    "skins": SKIN;
    "skirt": SKIRT;
    "solid": SOLID;
    "sparse": KEY | BESIDE;
    "stacked": BESIDE_LABELLED;
    "start": LAYER_SIDE | BESIDE;
    "starts": LAYER_SIDE | BESIDE;
    "strip": BESIDE_PURGE;
    "support": SUPPORT;
    "supports": SUPPORT;
    "surface": SURFACE;
    "surfaces": SURFACE;
    "temp": KEY;
    "temperature": KEY;
    "the": BESIDE_PURGE;
    "thickness": KEY;
    "time": KEY;
    "to": LAYER_SIDE;
    "tool": BESIDE_PURGE;
    "top": SOLID;
    "total": KEY;
    "tower": TOWER;
    "transition": BESIDE;
    "travel": BESIDE_LABELLED;
    "tree": BESIDE;
    "type": KEY | LABEL;
    "usage": KEY;
    "used": KEY;
    "wall": KEY | WALL;
    "walls": KEY | WALL;
    "weight": KEY;
    "wipe": WIPE;
    "wiping": WIPE;
    "z": LAYER_SIDE | BEFORE_MARK | Z;
}

/// Slots of the table that finds a word by its letters: four times the words, so that most words that
/// are not known meet an empty slot at once. A power of two.
const SLOTS: usize = 512;

/// The slot where the search for a word begins.
const fn slot(letters: u128) -> usize {
    // Any odd number with well mixed bits does; this is 2^64 divided by the golden ratio.
    let mixed = ((letters >> 64) as u64 ^ (letters as u64).rotate_left(32))
        .wrapping_mul(0x9E37_79B9_7F4A_7C15);
    (mixed >> (64 - SLOTS.trailing_zeros())) as usize
}

/// For each slot a word's place in the vocabulary, counted from 1; 0 for none. A word that finds its slot
/// taken has the next free one.
static TABLE: [u8; SLOTS] = {
    let mut table = [0; SLOTS];
    let mut rest = VOCABULARY;
    let mut number = 0_u8;
    while let [(letters, _), others @ ..] = rest {
        number += 1;
        let mut at = slot(*letters);
        loop {
            let (_, from) = table.split_at_mut(at);
            if let [free @ 0, ..] = from {
                *free = number;
                break;
            }
            at = (at + 1) % SLOTS;
        }
        rest = others;
    }
    table
};

fn meanings(letters: u128) -> u32 {
    let mut at = slot(letters);
    // There are more slots than words: the search meets an empty one.
    while let Some(number @ 1..) = TABLE.get(at) {
        match VOCABULARY.get(usize::from(*number) - 1) {
            Some((word, meanings)) if *word == letters => return *meanings,
            _ => at = (at + 1) % SLOTS,
        }
    }
    0
}

/// The word at the front of the bytes, and what comes after it. A word ends with its letters, and
/// before a capital after a small letter (`OuterWall`). No meaning where there is no known word.
pub(super) fn word(bytes: &[u8]) -> (Word, &[u8]) {
    let mut letters: u128 = 0;
    let mut length = 0;
    let mut small = false;
    for byte in bytes {
        if !byte.is_ascii_alphabetic() || (small && byte.is_ascii_uppercase()) {
            break;
        }
        small = byte.is_ascii_lowercase();
        letters = letters << 8 | u128::from(byte | 0x20);
        length += 1;
    }
    let rest = bytes.get(length..).unwrap_or_default();
    let meanings = match length {
        1..=LONGEST => meanings(letters),
        _ => 0,
    };
    (Word(meanings), rest)
}

/// A piece of a comment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Piece<'a> {
    /// A word.
    Word(Word),
    /// Digits, with a point perhaps.
    Number(&'a [u8]),
    /// Any other byte but a space, `_`, or a hyphen between words.
    Mark(u8),
}

/// The pieces of a comment, from left to right.
#[derive(Debug, Clone)]
pub(super) struct Pieces<'a> {
    rest: &'a [u8],
    after_text: bool,
}

impl<'a> Pieces<'a> {
    pub(super) const fn new(bytes: &'a [u8]) -> Self {
        Self {
            rest: bytes,
            after_text: false,
        }
    }

    /// What was not read yet.
    pub(super) const fn rest(&self) -> &'a [u8] {
        self.rest
    }
}

impl<'a> Iterator for Pieces<'a> {
    type Item = Piece<'a>;

    fn next(&mut self) -> Option<Piece<'a>> {
        loop {
            let [byte, others @ ..] = self.rest else {
                return None;
            };
            let piece = match byte {
                b'a'..=b'z' | b'A'..=b'Z' => {
                    let (word, rest) = word(self.rest);
                    self.rest = rest;
                    Piece::Word(word)
                }
                b'0'..=b'9' => {
                    let length = number_length(self.rest);
                    let (number, rest) = self.rest.split_at_checked(length)?;
                    self.rest = rest;
                    Piece::Number(number)
                }
                b' ' | b'\t' | b'_' => {
                    self.rest = others;
                    self.after_text = false;
                    continue;
                }
                b'-' if self.after_text || !others.first().is_some_and(u8::is_ascii_digit) => {
                    self.rest = others;
                    continue;
                }
                mark => {
                    self.rest = others;
                    self.after_text = false;
                    return Some(Piece::Mark(*mark));
                }
            };
            self.after_text = true;
            return Some(piece);
        }
    }
}

/// The length of digits with at most one point among them, at the front of the bytes.
pub(super) fn number_length(bytes: &[u8]) -> usize {
    let digits = |bytes: &[u8]| bytes.iter().take_while(|b| b.is_ascii_digit()).count();
    let whole = digits(bytes);
    match bytes.get(whole..) {
        Some([b'.', rest @ ..]) => match digits(rest) {
            0 => whole,
            part => whole + 1 + part,
        },
        _ => whole,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_is_found() {
        assert!(WORDS.len() < usize::from(u8::MAX).min(SLOTS / 2));
        assert!(WORDS.is_sorted_by(|one, other| one < other));
        for (text, (letters, meanings)) in WORDS.iter().zip(VOCABULARY) {
            assert!(text.len() <= LONGEST, "{text}");
            assert_eq!(packed(text.as_bytes()), *letters, "{text}");
            let capitals = text.to_ascii_uppercase();
            assert_eq!(word(capitals.as_bytes()).0.meanings(), *meanings, "{text}");
        }
        assert_eq!(word(b"temperature_C").0.meanings(), KEY);
        assert_eq!(word(b"OuterWall"), (Word(OUTER), &b"Wall"[..]));
        assert_eq!(word(b"zebra").0, Word(0));
        assert_eq!(word(b"abcdefghijklmnopqrstuvwxyz").0, Word(0));
    }
}
