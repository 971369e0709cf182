//! Grammar.
