//! The numbers of one line by their letters.

use crate::grammar::{Fault, Kind, Word};

/// The words of a line by letter, in nanounits: a millimetre is 1,000,000 picometres × 1000, so that
/// `X12.345` is 12 345 000 000. One reused value; reading a line costs a store a word.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Axes {
    present: u32,
    twice: u32,
    bare: u32,
    broken: u32,
    nano: [i64; 32],
}

/// Numbers from here on are no coordinates, in nanounits: 100 km. Sums of them stay exact.
const FARTHEST: u64 = 100_000_000_000_000_000;

/// What brings a number with so many digits behind the point to nanounits; none past nine.
const TENS: [i64; 32] = {
    let mut tens = [0; 32];
    let [a, b, c, d, e, f, g, h, i, j, ..] = &mut tens;
    *a = 1_000_000_000;
    *b = 100_000_000;
    *c = 10_000_000;
    *d = 1_000_000;
    *e = 100_000;
    *f = 10_000;
    *g = 1000;
    *h = 100;
    *i = 10;
    *j = 1;
    tens
};

/// Below these a number with so many digits behind the point stays below [`FARTHEST`].
const MOST: [u64; 32] = {
    let mut most = [0; 32];
    let [a, b, c, d, e, f, g, h, i, j, ..] = &mut most;
    *a = FARTHEST / 1_000_000_000;
    *b = FARTHEST / 100_000_000;
    *c = FARTHEST / 10_000_000;
    *d = FARTHEST / 1_000_000;
    *e = FARTHEST / 100_000;
    *f = FARTHEST / 10_000;
    *g = FARTHEST / 1000;
    *h = FARTHEST / 100;
    *i = FARTHEST / 10;
    *j = FARTHEST;
    most
};

/// A letter's bit.
const fn bit(letter: u8) -> u32 {
    1 << (letter & 31)
}

impl Axes {
    /// Forgets every word.
    #[inline]
    pub const fn clear(&mut self) {
        self.present = 0;
        self.twice = 0;
        self.bare = 0;
        self.broken = 0;
    }

    /// Takes one word; a later word of the same letter wins, as most controls have it.
    #[inline]
    pub fn take(&mut self, word: &Word) {
        let scale = usize::from(word.scale & 31);
        let (Some(most), Some(factor)) = (MOST.get(scale), TENS.get(scale)) else {
            return;
        };
        if word.is_plain() && word.value.unsigned_abs() < *most {
            self.put(word.letter, word.value.wrapping_mul(*factor));
        } else {
            self.take_rare(word);
        }
    }

    /// Takes a plain number, `value` with `scale` digits behind the point; false where it is none
    /// that a coordinate has, and nothing is taken.
    #[inline(always)]
    pub(super) fn take_plain(&mut self, letter: u8, value: i64, scale: u8) -> bool {
        let scale = usize::from(scale & 31);
        let (Some(most), Some(factor)) = (MOST.get(scale), TENS.get(scale)) else {
            return false;
        };
        let fits = value.unsigned_abs() < *most;
        if fits {
            self.put(letter, value.wrapping_mul(*factor));
        }
        fits
    }

    #[inline]
    fn put(&mut self, letter: u8, nano: i64) {
        if let Some(slot) = self.nano.get_mut(usize::from(letter & 31)) {
            *slot = nano;
        }
        let bit = bit(letter);
        self.twice |= self.present & bit;
        self.present |= bit;
    }

    /// Which letters have a number, and which stand there twice.
    #[inline]
    pub(super) const fn letters(&self) -> (u32, u32) {
        (self.present, self.twice)
    }

    /// Appends the numbers, in the order of their letters.
    #[inline]
    pub(super) fn pack(&self, into: &mut Vec<i64>) {
        let mut left = self.present;
        while left != 0 {
            let slot = left.trailing_zeros() as usize;
            into.extend(self.nano.get(slot));
            left &= left - 1;
        }
    }

    /// Takes the numbers of a plain line back from what was [packed](Self::pack); returns the rest.
    #[inline(always)]
    pub(super) fn unpack<'a>(&mut self, present: u32, twice: u32, packed: &'a [i64]) -> &'a [i64] {
        self.present = present;
        self.twice = twice;
        self.bare = 0;
        self.broken = 0;
        let (mut left, mut rest) = (present, packed);
        while left != 0 {
            let slot = left.trailing_zeros() as usize;
            if let ([nano, tail @ ..], Some(slot)) = (rest, self.nano.get_mut(slot)) {
                *slot = *nano;
                rest = tail;
            }
            left &= left - 1;
        }
        rest
    }

    #[inline(never)]
    fn take_rare(&mut self, word: &Word) {
        let bit = bit(word.letter);
        match (word.kind, word.nano()) {
            (Kind::Number, Some(nano))
                if word.fault != Fault::TooLarge && nano.unsigned_abs() < FARTHEST =>
            {
                self.put(word.letter, nano);
            }
            (Kind::Bare, _) => self.bare |= bit,
            _ => self.broken |= bit,
        }
    }

    /// The number behind a letter, in nanounits.
    #[inline]
    #[must_use]
    pub fn nano(&self, letter: u8) -> Option<i64> {
        if self.present & bit(letter) == 0 {
            return None;
        }
        self.nano.get(usize::from(letter & 31)).copied()
    }

    /// The number behind a letter.
    #[inline]
    #[must_use]
    pub fn get(&self, letter: u8) -> Option<f64> {
        self.nano(letter).map(|nano| nano as f64 / 1e9)
    }

    /// Whether any of these letters has a number.
    #[inline]
    #[must_use]
    pub const fn any(&self, letters: &[u8]) -> bool {
        self.present & mask(letters) != 0
    }

    /// Whether any of these letters stands there twice: `E9.5e-7` is two words.
    #[inline]
    #[must_use]
    pub const fn twice(&self, letters: &[u8]) -> bool {
        self.twice & mask(letters) != 0
    }

    /// Whether a letter stands there, with or without a number.
    #[must_use]
    pub const fn named(&self, letter: u8) -> bool {
        (self.present | self.bare | self.broken) & bit(letter) != 0
    }

    /// Whether any of these letters stands there without a usable number.
    #[must_use]
    pub const fn lacks_number(&self, letters: &[u8]) -> bool {
        (self.bare | self.broken) & mask(letters) != 0
    }
}

const fn mask(letters: &[u8]) -> u32 {
    let mut mask = 0;
    let mut rest = letters;
    while let [letter, tail @ ..] = rest {
        mask |= bit(*letter);
        rest = tail;
    }
    mask
}
