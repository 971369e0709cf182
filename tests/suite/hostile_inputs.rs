//! Hostile jobs: the small ones of `corpus/hostile`, and the large ones, which are made here and never
//! stored.

// The helpers below are tests too, though the compiler takes only marked functions for such.
#![allow(clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use meltgauge::text::{Error, Feed, Name, PIECE, Packing, Reading, Slice, Threads};
use meltgauge::text::{open, open_stream};
use std::collections::BTreeMap;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

/// Where the small hostile jobs lie.
pub fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus/hostile")
}

/// What the table in `INDEX.md` says of each file: none where it inspects, or the words that the
/// error must contain.
pub fn index() -> BTreeMap<String, Option<String>> {
    let page = std::fs::read_to_string(folder().join("INDEX.md")).expect("the table is there");
    page.lines()
        .filter_map(|line| {
            let [_, file, _, outcome, _] = line.split('|').collect::<Vec<_>>()[..] else {
                return None;
            };
            let file = file.trim().strip_prefix('`')?.strip_suffix('`')?;
            let outcome = outcome.trim();
            let fault = outcome.strip_prefix("error: ").map(str::to_owned);
            assert!(
                fault.is_some() || outcome == "inspects",
                "{file}: {outcome}"
            );
            Some((file.to_owned(), fault))
        })
        .collect()
}

/// A job of at least `bytes` bytes in one line, without a line ending.
pub fn one_line(bytes: usize) -> Vec<u8> {
    let mut job = b"G1".to_vec();
    while job.len() < bytes {
        job.extend_from_slice(b" X1.25 Y-3.5");
    }
    job
}

/// `bytes` bytes of job, all of them line endings, in far fewer stored ones.
pub fn bomb(bytes: u64, packing: Packing) -> Vec<u8> {
    let mut endings = std::io::repeat(b'\n').take(bytes);
    match packing {
        Packing::Plain => {
            let mut plain = Vec::new();
            endings.read_to_end(&mut plain).expect("memory");
            plain
        }
        Packing::Gzip => {
            let level = flate2::Compression::best();
            let mut packer = flate2::write::GzEncoder::new(Vec::new(), level);
            std::io::copy(&mut endings, &mut packer).expect("memory");
            packer.finish().expect("memory")
        }
        Packing::Zstd => {
            let mut packer = zstd::stream::write::Encoder::new(Vec::new(), 3).expect("level 3");
            std::io::copy(&mut endings, &mut packer).expect("memory");
            packer.finish().expect("memory")
        }
    }
}

/// A job of any length without a line ending, that no memory holds: a stream and a feed.
#[derive(Debug, Clone)]
pub struct OneLine {
    left: u64,
}

impl OneLine {
    /// A line of `bytes` bytes.
    pub const fn new(bytes: u64) -> Self {
        Self { left: bytes }
    }
}

impl Read for OneLine {
    fn read(&mut self, mut into: &mut [u8]) -> std::io::Result<usize> {
        const WORD: &[u8] = b"X1.5 Y2.5 E0.12 ";
        let count = self.left.min(into.len() as u64) as usize;
        into = &mut into[..count];
        for part in into.chunks_mut(WORD.len()) {
            part.copy_from_slice(&WORD[..part.len()]);
        }
        self.left -= count as u64;
        Ok(count)
    }
}

impl Feed for OneLine {
    fn next(&mut self, into: &mut Vec<u8>) -> Result<bool, Error> {
        let before = into.len();
        let count = self.left.min(PIECE as u64) as usize;
        into.resize(before + count, 0);
        self.read_exact(&mut into[before..]).expect("never fails");
        Ok(count > 0)
    }
}

/// Reads to the end with a buffer that is emptied after each piece: the number of bytes, and how it
/// ended.
fn drain(feed: &mut impl Feed) -> (u64, Result<(), Error>) {
    let (mut piece, mut count) = (Vec::new(), 0);
    loop {
        piece.clear();
        match feed.next(&mut piece) {
            Ok(true) => count += piece.len() as u64,
            Ok(false) => return (count, Ok(())),
            Err(fault) => return (count, Err(fault)),
        }
        assert!(piece.capacity() <= 4 * PIECE, "memory must stay bounded");
    }
}

const BOTH: [Threads; 2] = [Threads::One, Threads::Two];

fn reading(threads: Threads) -> Reading {
    Reading {
        threads,
        digest: true,
    }
}

#[test]
fn the_index_lists_every_file_and_no_other() {
    let mut there: Vec<String> = std::fs::read_dir(folder())
        .expect("the folder is there")
        .map(|entry| {
            entry
                .expect("readable")
                .file_name()
                .into_string()
                .expect("plain names")
        })
        .filter(|name| name != "INDEX.md" && name != ".gitattributes")
        .collect();
    there.sort();
    let listed: Vec<String> = index().into_keys().collect();
    assert_eq!(there, listed);
}

#[test]
fn every_small_file_reads_as_the_index_says() {
    for (file, expected) in index() {
        for threads in BOTH {
            let path = folder().join(&file);
            let outcome = open(&path, reading(threads)).and_then(|mut job| drain(&mut job).1);
            match (&expected, outcome) {
                (None, Ok(())) => {}
                (Some(words), Err(fault)) => {
                    let message = fault.to_string();
                    assert!(message.contains(words.as_str()), "{file}: {message}");
                    assert!(!message.contains(char::is_control), "{message:?}");
                }
                (_, outcome) => panic!("{file}: expected {expected:?}, found {outcome:?}"),
            }
        }
    }
}

#[test]
fn ten_megabytes_in_one_line_come_through_whole() {
    let job = one_line(10_000_000);
    let (count, outcome) = drain(&mut Slice(&job));
    assert!(outcome.is_ok() && count == job.len() as u64);
    let mut stored = tempfile::NamedTempFile::new().expect("room");
    stored.write_all(&job).expect("room");
    let mut opened = open(stored.path(), Reading::default()).expect("opens");
    let mut out = Vec::new();
    while opened.next(&mut out).expect("reads") {}
    assert!(out == job);
}

#[test]
fn bombs_are_refused_in_bounded_memory() {
    for packing in [Packing::Gzip, Packing::Zstd] {
        let stored = bomb(256 << 20, packing);
        for threads in BOTH {
            let stream = std::io::Cursor::new(stored.clone());
            let name = Name::Given("bomb".to_owned());
            let mut job = open_stream(stream, name, reading(threads)).expect("begins well");
            let (count, outcome) = drain(&mut job);
            let fault = outcome.expect_err("a bomb");
            assert!(matches!(fault, Error::Bomb { .. }), "{fault:?}");
            assert!(count < 17 << 20, "{count} bytes came out");
        }
    }
}

#[test]
fn a_gigabyte_without_a_line_ending_streams_in_bounded_memory() {
    const GIGABYTE: u64 = 1_000_000_000;
    let line = OneLine::new(GIGABYTE);
    let without_digest = Reading {
        threads: Threads::Two,
        digest: false,
    };
    let mut job = open_stream(line.clone(), Name::StandardInput, without_digest).expect("opens");
    let (count, outcome) = drain(&mut job);
    assert!(outcome.is_ok());
    assert_eq!(count, GIGABYTE);
    assert_eq!(
        job.finish().map(|stored| stored.bytes_stored),
        Some(GIGABYTE)
    );
    // As a feed of its own, for the line splitter's and the parser's tests.
    let (count, outcome) = drain(&mut line.clone());
    assert!(outcome.is_ok());
    assert_eq!(count, GIGABYTE);
}
