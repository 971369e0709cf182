//! The arguments of `rework`, as typed.

use crate::cli::args::{Format, HoldFrom};
use std::ffi::OsString;
use std::path::PathBuf;

#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Typed {
    /// Job to rework, plain, gzip or zstd; `-` is the standard input
    #[arg(value_name = "JOB", required_unless_present_any = ["list", "page"])]
    pub job: Option<OsString>,
    /// Material sheet: a name of the library or a file; by tool as `0=PA6-CF,1=PVAL`.
    /// Left out: the one the job declares
    #[arg(long, short = 'm', value_name = "SHEET")]
    pub material: Option<String>,
    /// Machine sheet: a name of the library or a file
    #[arg(long, short = 'M', value_name = "SHEET")]
    pub machine: Option<String>,
    /// Where to write the result; `-` is the standard output.
    /// A released job with nothing to put right goes there as it is.
    /// Left out: beside the job, as `lid.reworked.gcode`, where something was put right
    #[arg(long, short = 'o', value_name = "FILE", conflicts_with_all = ["in_place", "diff"])]
    pub output: Option<OsString>,
    /// Take the job's own place; the original is kept beside it as `lid.original.gcode`
    #[arg(long, conflicts_with = "diff")]
    pub in_place: bool,
    /// With --in-place: do not keep the original
    #[arg(long, requires = "in_place")]
    pub drop_original: bool,
    /// Write over a file that is there already
    #[arg(long, conflicts_with_all = ["in_place", "diff"])]
    pub overwrite: bool,
    /// Show what would change, and write nothing
    #[arg(long)]
    pub diff: bool,
    /// Do repairs too, which alter the print: see --list
    #[arg(long)]
    pub repair: bool,
    /// Do this rework and no other; may be given several times
    #[arg(long, value_name = "ID")]
    pub only: Vec<String>,
    /// Hold a job from this class of finding up [default: major]
    #[arg(long, value_enum, value_name = "CLASS")]
    pub hold_from: Option<HoldFrom>,
    /// How to report
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub format: Format,
    /// Configuration to use, instead of the meltgauge.toml found upward from the working directory
    #[arg(long, value_name = "FILE")]
    pub config: Option<PathBuf>,
    /// List the reworks
    #[arg(long, conflicts_with_all = ["job", "page"])]
    pub list: bool,
    /// Print the page of a rework: what it changes and keeps, why that is safe, when it refuses
    #[arg(long, value_name = "ID", conflicts_with = "job")]
    pub page: Option<String>,
}
