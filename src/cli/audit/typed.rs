//! Arguments of `audit` as typed.

use super::output::Format;
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
    #[arg(required_unless_present_any = ["map", "fold", "what_if"], value_name = "PATH")]
    pub paths: Vec<OsString>,
    #[command(subcommand)]
    pub asked: Option<Asked>,
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
    /// Read paths from the standard input, and write a line of JSON for each job to the standard
    /// output, in their order, with no store: for an engine that runs this on many computers
    #[arg(long, conflicts_with_all = ["paths", "fold", "verify", "store", "threads"])]
    pub map: bool,
    /// Read such lines into the store, from the standard input, or from the files named: as they were
    /// written, or Parquet with a column `line` of them
    #[arg(long, conflicts_with_all = ["verify", "threads", "nul", "material", "machine"])]
    pub fold: bool,
    /// Tell which verdicts would change with this sheet, a name of the library or a file, in the
    /// place of another; the store is only read
    #[arg(long, value_name = "SHEET", conflicts_with_all = ["paths", "map", "fold", "verify", "nul"])]
    pub what_if: Option<String>,
    /// The name of the sheet whose place it takes [default: its own]
    #[arg(long, value_name = "NAME", requires = "what_if")]
    pub instead_of: Option<String>,
    /// How to write the rows of --what-if [default: table]
    #[arg(long, value_enum, requires = "what_if")]
    pub format: Option<Format>,
    /// Leave the sum out
    #[arg(long, short)]
    pub quiet: bool,
}

/// What a store is asked.
#[derive(Debug, clap::Subcommand)]
pub(in crate::cli) enum Asked {
    /// Ask the store a question in SQL; it is only read
    Query {
        /// The question, such as `SELECT path FROM jobs WHERE state = 'held'`
        #[arg(value_name = "SQL")]
        question: String,
        #[command(flatten)]
        kept: Kept,
        /// How to write the rows
        #[arg(long, value_enum, default_value_t = Format::Table)]
        format: Format,
    },
    /// Print a ready report
    Report {
        /// Which one; left out, they are listed
        #[arg(value_name = "REPORT")]
        name: Option<String>,
        #[command(flatten)]
        kept: Kept,
        /// How to write the rows
        #[arg(long, value_enum, default_value_t = Format::Table)]
        format: Format,
    },
}
