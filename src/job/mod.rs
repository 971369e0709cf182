//! One job, from where it lies to what becomes of it: its bytes as often as they are needed, the sheets
//! it is held against, an inspection, a rework, a file in its place.
//!
//! The command line, the gate and the audit all do to a job what is done here.
//!
//! Absent here: arguments, configurations, and anything that is printed.

mod ahead;
mod ask;
pub mod deliver;
mod guard;
mod inspect;
mod pack;
mod rework;
mod rule;
mod source;
mod traveler;

pub use ask::ask_of;
pub use guard::{guarded, quieten};
pub use inspect::{Timing, inspect, inspect_source};
#[cfg(test)]
pub use rework::rework_between;
pub use rework::{To, Wish, rework};
pub use rule::{Choice, Rule, Rules};
pub use source::{Source, digest};
pub use traveler::{Travel, traveler};

use crate::concession::{Concession, Date};
use crate::finding::Class;
use crate::report::NamedBy;
use crate::sheet::{Machine, Material};
use crate::text::Name;
use std::ffi::OsStr;
use std::sync::Arc;

/// What a job is held against.
#[derive(Debug, Clone)]
pub struct Settings {
    /// The material of each tool; none where the job is to be asked.
    pub materials: Option<Vec<Option<Arc<Material>>>>,
    pub material_by: NamedBy,
    /// A sheet in the place of the one with this name, where the job is asked.
    pub instead: Option<(String, Arc<Material>)>,
    pub machine: Option<Arc<Machine>>,
    pub machine_by: NamedBy,
    pub hold_from: Class,
    pub concessions: Arc<[Concession]>,
    pub today: Date,
    /// Whether walls are asked for.
    pub walls: bool,
    /// Whether sections are.
    pub sections: bool,
}

/// What a job that was named on the command line is called; `-` is the standard input.
pub fn name_of(job: &OsStr) -> Name {
    if job == "-" {
        Name::StandardInput
    } else {
        Name::Path(job.to_owned())
    }
}
