//! Any bytes as lines: the parts and the blanks between them are the bytes.
#![no_main]

use libfuzzer_sys::fuzz_target;
use meltgauge::grammar::{Words, read_line};

fuzz_target!(|job: &[u8]| {
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
});
