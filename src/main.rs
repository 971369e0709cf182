//! The command line's entry: everything is in the library.

fn main() -> std::process::ExitCode {
    meltgauge::cli::main()
}
