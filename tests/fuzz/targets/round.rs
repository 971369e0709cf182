//! Any bytes past every requirement: no panic, and the same in one piece as byte by byte.
#![no_main]

use libfuzzer_sys::fuzz_target;
use meltgauge::inspection::{Held, Round, inspect};
use std::sync::{Arc, LazyLock};

static HELD: LazyLock<Held> = LazyLock::new(|| Held {
    materials: vec![meltgauge::sheet::library::material("PA6-CF").ok().map(Arc::new)],
    machine: meltgauge::sheet::library::machine("heated-chamber").ok().map(Arc::new),
});

fuzz_target!(|job: &[u8]| {
    let whole = inspect(job, HELD.clone());
    let mut round = Round::new(HELD.clone());
    for piece in job.chunks(7) {
        round.take(piece);
    }
    assert_eq!(round.finish(), whole);
});
