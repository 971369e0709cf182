//! Integration suite.

mod outside;
