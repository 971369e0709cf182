//! Physics: the formulas the rest of the house calculates with.
//!
//! Pure functions of plain numbers, each citing its formula: circular arcs ([`arc`]), speed and time
//! of one move ([`ramp`]) and speed through a corner ([`corner`]), the section of a bead and what
//! flows through a nozzle ([`bead`]), sections and their second moments ([`section`]), a heater's
//! temperature over time ([`warmth`]) and a chamber warmed by its bed ([`chamber`]); water in filament
//! ([`moisture`]), temperatures in use ([`service`]), and what a spool gives ([`yields`]).
//!
//! Absent here: state, files, clocks, jobs and sheets. Lengths are millimetres, times seconds,
//! temperatures degrees Celsius, power watts; the chamber's own figures are in SI units. Whoever
//! calls checks the values' plausibility; a question without an answer is `None`, never a number
//! that looks like one.

pub mod arc;
pub mod bead;
pub mod chamber;
pub mod corner;
pub mod moisture;
pub mod ramp;
pub mod section;
pub mod service;
pub mod warmth;
pub mod yields;
