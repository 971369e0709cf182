//! Any bytes past every requirement: no panic, and the same in one piece as in small ones.
#![no_main]

#[path = "../bodies.rs"]
mod bodies;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| bodies::round(bytes));
