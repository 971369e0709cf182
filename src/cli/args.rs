//! Arguments as typed.

use super::formats::Wanted;
use clap::{Parser, Subcommand, ValueEnum};
use std::ffi::OsString;
use std::path::PathBuf;

/// Holds a sliced job against the material's data sheet and the printer's limits before it is printed.
#[derive(Debug, Parser)]
#[command(
    version,
    max_term_width = 100,
    after_help = "Exit codes: 0 released, with or without a concession; 1 held; 2 could not inspect."
)]
pub(super) struct Args {
    /// When to colour
    #[arg(long, global = true, value_enum, value_name = "WHEN", default_value_t = Color::Auto)]
    pub color: Color,
    #[command(subcommand)]
    pub command: Command,
}

/// When to colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Color {
    /// On a terminal, unless NO_COLOR is set
    Auto,
    /// Always
    Always,
    /// Never
    Never,
}

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Inspect jobs and say of each whether it is released or held
    Inspect(Inspect),
    /// Tell what jobs build and use: time, filament, layers, flow
    Survey(Survey),
    /// List the requirements, or print the page of one
    Requirement(Requirement),
    /// Put right in a job what can be put right while the part stays the same
    #[command(
        after_help = "Exit codes: 0 the job is released, as reworked or as it was; 1 it is held still, also \
                      where nothing could be done or proven; 2 it could not be reworked; 130 stopped."
    )]
    Rework(super::rework::Typed),
    /// Let one job through to the printer, correct it, or hold it
    #[command(
        after_help = "Exit codes: 0 pass; 1 hold; 2 not inspected, which is no pass. One line goes to the standard \
                      error, for a log."
    )]
    Gate(super::gate::Typed),
    /// Audit archives of jobs into a store, and ask it
    #[cfg(feature = "audit")]
    #[command(
        after_help = "Exit codes: 0 every job is released; 1 some job is held; 2 some job or path could not be \
                      inspected; 130 stopped before the end."
    )]
    Audit(super::audit::Typed),
    /// Say whether a material suits a machine and a use, and what to change
    #[command(
        after_help = "Exit codes: 0 it suits, also with changes; 1 it does not, or a sheet does not say what \
                      decides it; 2 the call or a sheet is wrong."
    )]
    Qualify(Box<super::qualify::Typed>),
    /// Make the page that goes with a job through the shop: verdict, what to prepare and change, plots
    #[command(
        after_help = "Exit codes: 0 the job is released, with or without a concession; 1 it is held; 2 no page \
                      could be made."
    )]
    Traveler(Box<super::traveler::Typed>),
    /// List, show and check sheets of materials, machines and applications
    Sheet(Sheet),
    /// Print what a shell needs to complete this program's commands and options
    Completions {
        /// The shell
        shell: clap_complete::Shell,
    },
    /// Print the manual page of this program or of one of its commands
    Manual {
        /// The command, such as `inspect` or `sheet show`. Left out: the program itself
        command: Vec<String>,
        /// Write every manual page into this folder instead
        #[arg(long, value_name = "FOLDER", conflicts_with = "command")]
        into: Option<PathBuf>,
    },
}

#[derive(Debug, clap::Args)]
pub(super) struct Inspect {
    /// Jobs to inspect, plain, gzip or zstd; `-` is the standard input
    #[arg(required = true, value_name = "JOB")]
    pub jobs: Vec<OsString>,
    /// Material sheet: a name of the library or a file; by tool as `0=PA6-CF,1=PVAL`.
    /// Left out: the one the job declares
    #[arg(long, short = 'm', value_name = "SHEET")]
    pub material: Option<String>,
    /// Machine sheet: a name of the library or a file
    #[arg(long, short = 'M', value_name = "SHEET")]
    pub machine: Option<String>,
    /// Hold a job from this class of finding up [default: major]
    #[arg(long, value_enum, value_name = "CLASS")]
    pub hold_from: Option<HoldFrom>,
    /// How to report: text, record, csv, sarif or junit, to the standard output or as `sarif=FILE` to a
    /// file. May be given several times, all but one with a file
    #[arg(long, value_name = "FORMAT[=FILE]", default_value = "text")]
    pub format: Vec<Wanted>,
    /// In the text, print one line for each job that is held, and nothing for the others
    #[arg(long, short)]
    pub quiet: bool,
    /// In the text, print each requirement's page below its findings
    #[arg(long, conflicts_with = "quiet")]
    pub with_page: bool,
    /// Configuration to use, instead of the meltgauge.toml found upward from the working directory
    #[arg(long, value_name = "FILE")]
    pub config: Option<PathBuf>,
    /// Say on the standard error how long each job took
    #[arg(long)]
    pub timings: bool,
    /// Work on one thread
    #[arg(long)]
    pub one_thread: bool,
    /// Tell walls and infill too, from motion alone, and hold them against what the job declares
    #[arg(long)]
    pub walls: bool,
}

#[derive(Debug, clap::Args)]
pub(super) struct Survey {
    /// Jobs to survey, plain, gzip or zstd; `-` is the standard input
    #[arg(required = true, value_name = "JOB")]
    pub jobs: Vec<OsString>,
    /// Material sheet: a name of the library or a file; by tool as `0=PA6-CF,1=PVAL`.
    /// Left out: the one the job declares, or none
    #[arg(long, short = 'm', value_name = "SHEET")]
    pub material: Option<String>,
    /// Machine sheet: a name of the library or a file. Left out: no time, speed or flow is told
    #[arg(long, short = 'M', value_name = "SHEET")]
    pub machine: Option<String>,
    /// A row for each layer
    #[arg(long)]
    pub layers: bool,
    /// Tell walls, infill and solid layers, from motion alone
    #[arg(long)]
    pub walls: bool,
    /// Tell what carries loads along X, Y and Z: stiffness, which is not strength
    #[arg(long)]
    pub section: bool,
    /// Tell that along one axis only, and what one more wall or denser infill would give
    #[arg(long, value_enum, value_name = "AXIS")]
    pub load: Option<Axis>,
    /// How to tell it
    #[arg(long, value_enum, default_value_t = SurveyFormat::Table)]
    pub format: SurveyFormat,
    /// Configuration to use, instead of the meltgauge.toml found upward from the working directory
    #[arg(long, value_name = "FILE")]
    pub config: Option<PathBuf>,
}

/// An axis of the machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Axis {
    /// From side to side
    X,
    /// From front to back
    Y,
    /// Across the layers
    Z,
}

impl Axis {
    /// 0 to 2.
    pub const fn index(self) -> usize {
        match self {
            Self::X => 0,
            Self::Y => 1,
            Self::Z => 2,
        }
    }
}

/// How to tell a survey.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum SurveyFormat {
    /// For a person
    Table,
    /// One JSON object a job and line, for a program
    Record,
    /// Comma-separated values, a row a layer
    Csv,
}

/// A class of finding, as typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum HoldFrom {
    /// May hurt a person or the machine
    Critical,
    /// The part will likely fail
    Major,
    /// A blemish, or a risk that a good printer may absorb
    Minor,
    /// Worth knowing
    Observation,
}

/// How to report.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Format {
    /// For a person
    Text,
    /// One JSON object a job and line, for a program
    Record,
}

#[derive(Debug, clap::Args)]
pub(super) struct Requirement {
    /// The requirement whose page to print
    pub id: Option<String>,
}

#[derive(Debug, clap::Args)]
pub(super) struct Sheet {
    #[command(subcommand)]
    pub command: SheetCommand,
}

#[derive(Debug, Subcommand)]
pub(super) enum SheetCommand {
    /// List the sheets of the built-in library
    List,
    /// Show everything a sheet says, and whose figures they are
    Show {
        /// A name of the library, or a file
        #[arg(value_name = "NAME")]
        name: OsString,
    },
    /// Write an overlay for one spool, machine or shop: only what differs
    New(super::sheet::own::New),
    /// Change values of a sheet of your own; its comments stay
    Set {
        /// The sheet
        #[arg(value_name = "FILE")]
        file: OsString,
        /// What changes: `"hotend.print=250 °C to 270 °C"`
        #[arg(required = true, value_name = "KEY=VALUE")]
        values: Vec<String>,
    },
    /// Show what two sheets say differently
    Diff {
        /// A name of the library, or a file
        #[arg(value_name = "ONE")]
        one: OsString,
        /// The other
        #[arg(value_name = "OTHER")]
        other: OsString,
    },
    /// Propose where to start with a material on a machine, and in which order to calibrate
    Start {
        /// The material: a name of the library, or a file
        #[arg(value_name = "MATERIAL")]
        material: OsString,
        /// The machine: a name of the library, or a file
        #[arg(value_name = "MACHINE")]
        machine: OsString,
    },
    /// Check sheets of your own
    Check {
        /// Files to check
        #[arg(required = true, value_name = "FILE")]
        files: Vec<OsString>,
    },
    /// Print the JSON Schema of a kind of sheet, for editors
    Schema {
        /// The kind of sheet
        #[arg(value_enum, default_value_t = SheetKind::Material)]
        kind: SheetKind,
    },
}

/// A kind of sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum SheetKind {
    /// What a data sheet says of a filament
    Material,
    /// What a printer can do
    Machine,
    /// What a part is for
    Application,
}
