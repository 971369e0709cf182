//! The vocabulary: what a word is called, and which words are known to have no effect here.
//!
//! The additive words are common practice, no source; the core words follow RS-274 (NISTIR 6556,
//! tables 4 and 5).

/// Known G words without an effect that matters to a job's outcome.
const IDLE_G: [i64; 12] = [40, 43, 49, 54, 61, 64, 80, 94, 98, 99, 53, 34];

/// Known M words without an effect that matters to a job's outcome: reporting, display, sound and
/// light, file handling, driver currents, pressure compensation, object marks, and so on.
const IDLE_M: [i64; 72] = [
    3, 4, 5, 7, 8, 9, 16, 17, 20, 21, 22, 23, 24, 26, 27, 28, 29, 30, 31, 32, 42, 48, 49, 73, 75,
    76, 77, 78, 85, 105, 108, 110, 111, 113, 114, 115, 117, 118, 119, 120, 121, 122, 145, 150, 155,
    240, 250, 256, 280, 300, 303, 355, 400, 401, 402, 404, 405, 406, 407, 410, 412, 413, 420, 486,
    555, 569, 572, 593, 900, 906, 907, 928,
];

/// Whether a word without effect is known: the letter, and ten times its number.
#[must_use]
pub fn is_known(letter: u8, tenths: i64) -> bool {
    let whole = tenths / 10;
    match letter {
        b'G' => IDLE_G.contains(&whole) || (54..=59).contains(&whole),
        b'M' => IDLE_M.contains(&whole) || (910..=919).contains(&whole) || whole == 862,
        _ => false,
    }
}

/// A word as it is written: `G92.1`, `M104`.
#[must_use]
pub fn name_of(letter: u8, tenths: i64) -> String {
    let (whole, part) = (tenths / 10, tenths % 10);
    if part == 0 {
        format!("{}{whole}", letter as char)
    } else {
        format!("{}{whole}.{part}", letter as char)
    }
}
