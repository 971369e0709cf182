//! Arguments of `audit` as typed.

use crate::cli::args::HoldFrom;
use std::ffi::OsString;
use std::path::PathBuf;

/// What of a call the rules come from.
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Held {
    /// Material sheet for every job: a name of the library or a file; by tool as `0=PA6-CF,1=PVAL`.
    /// Left out: by the configuration's rules, or the one the job declares
    #[arg(long, short = 'm', value_name = "SHEET")]
    pub material: Option<String>,
    /// Machine sheet for every job: a name of the library or a file
    #[arg(long, short = 'M', value_name = "SHEET")]
    pub machine: Option<String>,
    /// Hold a job from this class of finding up [default: major]
    #[arg(long, value_enum, value_name = "CLASS")]
    pub hold_from: Option<HoldFrom>,
    /// Configuration to use, instead of the meltgauge.toml found upward from the working directory
    #[arg(long, value_name = "FILE")]
    pub config: Option<PathBuf>,
}

/// The store.
#[derive(Debug, Clone, clap::Args)]
pub(in crate::cli) struct Kept {
    /// The store: one SQLite file, made where there is none
    #[arg(long, value_name = "FILE", default_value = "audit.sqlite")]
    pub store: PathBuf,
}

#[derive(Debug, clap::Args)]
#[command(args_conflicts_with_subcommands = true, subcommand_negates_reqs = true)]
pub(in crate::cli) struct Typed {
    /// Folders and files; `-` reads their paths from the standard input, one a line
    #[arg(required = true, value_name = "PATH")]
    pub paths: Vec<OsString>,
    #[command(flatten)]
    pub held: Held,
    #[command(flatten)]
    pub kept: Kept,
    /// Compare the bytes of known files, too, and not only their sizes and times
    #[arg(long)]
    pub verify: bool,
    /// The paths on the standard input are each ended by a NUL
    #[arg(long)]
    pub nul: bool,
    /// Inspect on this many threads [default: one for each core]
    #[arg(long, value_name = "COUNT")]
    pub threads: Option<usize>,
    /// Leave the sum out
    #[arg(long, short)]
    pub quiet: bool,
}
