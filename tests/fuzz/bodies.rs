//! What the fuzz targets do with any bytes. The suite drives the same over the corpus.
#![allow(dead_code, reason = "a target uses one of them")]

use meltgauge::grammar::{Words, read_line};
use meltgauge::inspection::{Held, Round, inspect};
use meltgauge::sheet::{Machine, Material};
use std::sync::{Arc, LazyLock};

/// Any bytes as lines: the parts and the blanks between them are the bytes.
pub fn lines(job: &[u8]) {
    let mut words = Words::default();
    let mut rest = job;
    while !rest.is_empty() {
        let line = rest;
        rest = read_line(line, &mut words);
        let len = line.len() - rest.len();
        assert!(len > 0);
        let mut end = 0;
        for (word, span) in words.tiles(len) {
            assert_eq!(span.start, end);
            end = span.end;
            if word.is_none() {
                assert!(line[span].iter().all(|byte| matches!(byte, b' ' | b'\t')));
            }
        }
        assert_eq!(end, len);
    }
}

static HELD: LazyLock<Held> = LazyLock::new(|| Held {
    materials: vec![
        meltgauge::sheet::library::material("PA6-CF")
            .ok()
            .map(Arc::new),
    ],
    machine: meltgauge::sheet::library::machine("heated-chamber")
        .ok()
        .map(Arc::new),
    walls: true,
    sections: true,
});

/// Any bytes past every requirement: no panic, and the same in one piece as in small ones.
pub fn round(job: &[u8]) {
    let whole = inspect(job, HELD.clone());
    let mut round = Round::new(HELD.clone());
    for piece in job.chunks(7) {
        round.take(piece);
    }
    assert_eq!(round.finish(), whole);
}

/// Any text as a sheet: an error or a sheet, never a panic.
pub fn sheets(text: &[u8]) {
    if let Ok(text) = std::str::from_utf8(text) {
        let _ = Material::parse("fuzzed", text);
        let _ = Machine::parse("fuzzed", text);
    }
}
