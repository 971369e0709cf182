//! Text.
mod lines;
pub use lines::{Blocks, LONGEST_LINE};

/// How many bytes one piece of a job has at most.
pub const PIECE: usize = 256 * 1024;
