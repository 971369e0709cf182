//! Integration suite.

mod commandline;
mod outside;
