//! Audits: many jobs, one store, one report.
//!
//! Files are found (`walk`, `archive`), their jobs inspected (`desk`), what became of them said on a
//! line of its own (`line`) and put into one file (`store`); `run` keeps all of it going at once.
//!
//! Absent here: arguments, terminals, and any judgement on a job: that is made a floor below, one
//! job at a time.

mod archive;
mod desk;
mod error;
mod line;
mod map;
mod reports;
mod run;
mod store;
mod stored;
#[cfg(feature = "parquet")]
mod table;
mod walk;
mod what_if;

#[cfg(test)]
mod tests;

pub use error::Error;
pub use map::{fold, fold_files, map};
pub use reports::{REPORTS, Summary, report, summary};
pub use run::{Call, Ended, Point, Watch, What, audit};
pub use store::{Cell, Reader};
#[cfg(feature = "parquet")]
pub use table::{write_rows, write_table};
pub use what_if::{Answer, Sheet, what_if};
