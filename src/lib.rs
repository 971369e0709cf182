//! Meltgauge holds a sliced job for filament 3D printing against the material's data sheet and the
//! printer's limits, and says line by line what is wrong, by how much and by whose figure.
//!
//! The way of the data, one room after another:
//!
//! job bytes → lines ([`text`]) → words ([`grammar`]) → commands ([`command`]) → steps of the
//! printer ([`machine`]) → layers of what is built ([`survey`]) → one round past every requirement
//! ([`inspection`]) → findings ([`finding`]) → concessions ([`concession`]) → verdict → report.
//!
//! A room imports only from rooms on a lower floor; `tests/suite/house` keeps it so. Without default
//! features there are no threads, no files and no C: a web page can carry what remains.

pub mod command;
pub mod concession;
pub mod course;
pub mod edit;
pub mod finding;
pub mod grammar;
pub mod inspection;
pub mod machine;
pub mod physics;
pub mod qualify;
pub mod quantity;
pub mod rework;
pub mod sheet;
pub mod survey;
pub mod text;

#[cfg(feature = "audit")]
mod audit;
#[cfg(feature = "cli")]
pub mod cli;
#[cfg(feature = "cli")]
mod gate;
#[cfg(feature = "cli")]
mod job;
#[cfg(feature = "cli")]
pub mod report;
