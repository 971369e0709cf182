//! Text: a job's bytes, from wherever they lie, in pieces of bounded size, and the same bytes as text
//! that may be shown.
//!
//! [`Feed`] is the source that the rooms above pull from. [`Slice`] feeds a job that lies in memory;
//! with the feature `cli`, [`open`] and [`stdin`] feed files and the standard input, plain or packed.
//! [`clean`] is the only way of a job's bytes, or of a file's name, to a terminal or a page.
//!
//! Absent here: words and their meaning. A line is known by its ending and by nothing else.

mod clean;
mod error;
mod feed;
mod lines;
mod sniff;

#[cfg(feature = "cli")]
mod opened;

pub use clean::{clean, clean_with_span};
pub use error::{Bytes, Error, Name};
pub use feed::{Feed, PIECE, Slice};
pub use lines::{Blocks, LONGEST_LINE};
pub use sniff::{LOOK, Packing, admit};

#[cfg(feature = "cli")]
pub use opened::{Opened, Reading, Stored, Threads, open, open_stream, stdin};
