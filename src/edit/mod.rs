//! Edits on a job's original bytes: a plan that is sorted, disjoint and whole, one splice, and the
//! hunks of what changed.
//!
//! What no edit names is copied as it lies, so that it is the same by construction. A group of edits
//! belongs together: it is made whole or refused whole.
//!
//! Absent here: why anything is edited.

mod hunk;
mod plan;
mod restate;
mod splice;
mod splicing;

pub use hunk::{HUNK_CAP, Hunk};
pub use plan::{Change, Draft, Edit, Plan};
pub use splice::{Splice, Spliced};
pub use splicing::Splicing;
