//! Inspection.
