//! One line of a job into words, comments, checksum and faults.
//!
//! Reading cannot fail and loses nothing: whatever the bytes, the parts of a line and the blanks
//! between them concatenate to the line, and a number keeps its text beside its value.
//!
//! Absent here: any printer. What a word means is decided in [`crate::command`].
//!
//! ```
//! use meltgauge::grammar::{Kind, Words, read_line};
//! let mut words = Words::default();
//! let rest = read_line(b"G1X5Y-.98 F9000 ; outer\nM107\n", &mut words);
//! assert_eq!(rest, b"M107\n");
//! let read: Vec<(u8, f64)> = words
//!     .iter()
//!     .filter(|word| word.kind == Kind::Number)
//!     .map(|word| (word.letter, word.to_f64()))
//!     .collect();
//! assert_eq!(read, [(b'G', 1.0), (b'X', 5.0), (b'Y', -0.98), (b'F', 9000.0)]);
//! ```

mod leaf;
mod line;
mod plain;
mod rare;
mod word;

pub use line::{Words, read_line};
pub use plain::read_plain;
pub use word::{Fault, Kind, Word};

#[cfg(test)]
mod tests;
