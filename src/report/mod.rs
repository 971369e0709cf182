//! Report.
