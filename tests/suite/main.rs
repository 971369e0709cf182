//! Integration suite.
