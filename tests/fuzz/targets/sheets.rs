//! Any text as a sheet: an error or a sheet, never a panic.
#![no_main]

#[path = "../bodies.rs"]
mod bodies;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| bodies::sheets(bytes));
