//! The integration suite: one binary, a module for each kind of check.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may fail loudly"
)]
#![allow(missing_docs, reason = "the tests' names say what they hold")]

mod clearance;
mod commandline;
mod corpus;
mod cut_jobs;
mod fuzz_smoke;
mod hostile_inputs;
mod house;
mod jobs;
mod laws;
mod outside;
mod pages;
mod real_jobs;
mod regressions;
mod rework_laws;
mod reworks;
mod sliced;
mod spellings;
mod surveys;
mod walls;
