//! The command line's entry: everything is in the library.

fn main() {}
