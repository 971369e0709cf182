//! Typed commands.
