//! Machine.
