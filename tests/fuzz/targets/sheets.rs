//! Any text as a sheet: an error or a sheet, never a panic.
#![no_main]

use libfuzzer_sys::fuzz_target;
use meltgauge::sheet::{Machine, Material};

fuzz_target!(|text: &[u8]| {
    if let Ok(text) = std::str::from_utf8(text) {
        let _ = Material::parse("fuzzed", text);
        let _ = Machine::parse("fuzzed", text);
    }
});
