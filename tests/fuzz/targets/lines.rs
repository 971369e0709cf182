//! Any bytes as lines: the parts and the blanks between them are the bytes.
#![no_main]

#[path = "../bodies.rs"]
mod bodies;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| bodies::lines(bytes));
