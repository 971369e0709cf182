//! The fuzz targets' bodies over the corpus and over bytes changed by a fixed rule: short, and the same
//! at every run. The long search is `cargo fuzz`, see DEVELOPERS.md.

#[path = "../fuzz/bodies.rs"]
mod bodies;

use std::path::{Path, PathBuf};

/// How many changed inputs each target gets.
const RUNS: usize = 1500;
/// The most bytes of a changed input.
const MOST: usize = 2048;

fn files(folder: &str) -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let mut paths: Vec<PathBuf> = std::fs::read_dir(&folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.is_file() && path.extension().is_none_or(|end| end != "md"))
        .collect();
    paths.sort();
    assert!(paths.len() > 4, "{}", folder.display());
    paths
        .iter()
        .map(|path| std::fs::read(path).unwrap())
        .collect()
}

/// Numbers in a fixed order (xorshift64, G. Marsaglia, 2003; published).
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, end: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % end.max(1) as u64) as usize
    }
}

/// Pieces that mean something in some place.
const PIECES: [&[u8]; 24] = [
    b"\n",
    b"\r",
    b"\0",
    b"\xff",
    b" ",
    b"G1",
    b"G92 ",
    b"M104 S",
    b"N7 ",
    b"*71",
    b";",
    b"(",
    b")",
    b"\"",
    b"{",
    b"[",
    b"%\n",
    b"/",
    b"-",
    b".",
    b"=",
    b"99999999999999999999",
    b"\xef\xbb\xbf",
    b"G2 I",
];

/// A stretch of one input with a few changes: bytes set, taken out, doubled, pieces put in, and the end
/// of another input.
fn changed(inputs: &[Vec<u8>], numbers: &mut Numbers) -> Vec<u8> {
    let stretch = |numbers: &mut Numbers| {
        let whole = &inputs[numbers.below(inputs.len())];
        let start = numbers.below(whole.len().saturating_sub(MOST) + 1);
        whole[start..whole.len().min(start + numbers.below(MOST))].to_vec()
    };
    let mut bytes = stretch(numbers);
    for _ in 0..=numbers.below(8) {
        let at = numbers.below(bytes.len() + 1);
        let end = bytes.len().min(at + numbers.below(12));
        match numbers.below(5) {
            0 if at < bytes.len() => bytes[at] = numbers.below(256) as u8,
            1 => drop(bytes.drain(at..end)),
            2 => {
                let again = bytes[at..end].to_vec();
                bytes.splice(at..at, again);
            }
            3 => {
                bytes.truncate(at);
                bytes.extend(stretch(numbers));
            }
            _ => {
                let piece = PIECES[numbers.below(PIECES.len())];
                bytes.splice(at..at, piece.iter().copied());
            }
        }
    }
    bytes.truncate(2 * MOST);
    bytes
}

fn drive(folders: &[&str], seed: u64, body: fn(&[u8])) {
    let inputs: Vec<Vec<u8>> = folders.iter().flat_map(|folder| files(folder)).collect();
    for input in inputs.iter().filter(|input| input.len() <= 1 << 16) {
        body(input);
    }
    let mut numbers = Numbers(seed);
    let mut different = std::collections::BTreeSet::new();
    for run in 0..RUNS {
        let bytes = changed(&inputs, &mut numbers);
        if std::panic::catch_unwind(|| body(&bytes)).is_err() {
            panic!(
                "run {run}, seed {seed}: {:?}",
                bytes.escape_ascii().to_string()
            );
        }
        different.insert(bytes);
    }
    assert!(different.len() > RUNS / 2, "the rule changes too little");
}

#[test]
fn lines_tile_changed_jobs() {
    drive(
        &["corpus/hostile", "corpus/conforming"],
        0x9e37_79b9_7f4a_7c15,
        bodies::lines,
    );
}

#[test]
fn changed_jobs_pass_every_requirement() {
    drive(
        &["corpus/hostile", "corpus/conforming"],
        0x2545_f491_4f6c_dd1d,
        bodies::round,
    );
}

#[test]
fn changed_sheets_are_sheets_or_errors() {
    let library = ["src/sheet/library/materials", "src/sheet/library/machines"];
    drive(&library, 0x1405_7b7e_f767_814f, bodies::sheets);
}
