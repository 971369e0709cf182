//! Physics.
