//! Quantities.
