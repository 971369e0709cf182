//! Values from outside the project, each with its source and mark beside it.

// A helper shared by tests may stop with a word, as a test may.
#![allow(
    clippy::expect_used,
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing
)]

mod kinetics;
mod moisture;
mod nist;
mod physics;
mod planned;
mod planner;
pub mod reader;
mod section;
mod survey;
