//! The course of a job, for whoever draws it: heat along its time, and in plan the strokes of the layers
//! that are asked for.
//!
//! Both go along a round as its [`Tap`](crate::inspection::Tap). Memory does not grow with the job: moments
//! coarsen past a cap and keep their extremes, and one layer's path is held at a time.
//!
//! Absent here: any limit, colours, and what a page looks like.

mod heat;
mod plan;

pub use heat::{Heat, MOMENT_CAP, Moment, Series};
pub use plan::{Measure, PATH_CAP, Plan, PlanStroke, Plans, Way, measure_of};
