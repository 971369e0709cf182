//! Concessions.
