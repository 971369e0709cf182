//! Survey.
