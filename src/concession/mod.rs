//! Concessions: permissions to release a job in spite of a finding, and the verdict that follows.
//!
//! A concession names its requirement, how far the worst may go, why, by whom and until when. One
//! that is not used, that is exceeded, that is past its date or that names no requirement is
//! remarked on: a permission nobody looks at again is no permission.
//!
//! Absent here: files, the register of requirements, and any clock. Today's date is handed in.

mod bound;
mod date;
pub mod pattern;
mod settle;

pub use bound::{Bound, BoundError};
pub use date::{Date, DateError};
pub use settle::{Case, Remark, Remarked, Settlement, Terms, Verdict, settle};

/// A declared permission to release in spite of one requirement's findings.
#[derive(Debug, Clone, PartialEq)]
pub struct Concession {
    /// The requirement's id.
    pub requirement: String,
    /// How far the worst may go; without it the finding's amount does not matter.
    pub bound: Option<Bound>,
    /// Why it is granted.
    pub reason: String,
    /// Who grants it.
    pub by: String,
    /// The last day on which it holds.
    pub until: Option<Date>,
    /// The material it holds for, by its sheet's name; any where left out.
    pub material: Option<String>,
    /// The machine it holds for, by its sheet's name; any where left out.
    pub machine: Option<String>,
    /// The jobs it holds for: a pattern with `*` and `?` over the file's name, or over its whole path
    /// where the pattern has a `/`.
    pub job: Option<String>,
}
