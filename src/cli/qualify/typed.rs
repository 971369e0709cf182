//! The arguments of `qualify`, as typed.

use super::read::{Air, Degrees, Drying, air, bead, hours, size};
use crate::cli::args::{Axis, Format};
use crate::qualify::Weighed;
use crate::qualify::symptom::Symptom;
use crate::quantity::{
    Celsius, Grams, Hours, Megapascals, Millimetres, MillimetresPerSecond, Percent,
};
use crate::sheet::{FlameClass, Load, NozzleMaterial};
use std::ffi::OsString;
use std::path::PathBuf;

#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Typed {
    /// Material sheet: a name of the library or a file
    #[arg(long, short = 'm', value_name = "SHEET")]
    pub material: Option<String>,
    /// Machine sheet: a name of the library or a file. Left out: only material and use are held
    /// against each other
    #[arg(long, short = 'M', value_name = "SHEET")]
    pub machine: Option<String>,
    /// Which of the machine's tools is to print it
    #[arg(long, value_name = "NUMBER", default_value_t = 0)]
    pub tool: usize,
    /// What the part is for: a file; what is given on the command line goes before it
    #[arg(long, short = 'a', value_name = "FILE")]
    pub application: Option<OsString>,
    /// Size of the part as it lies on the bed, width, depth and height: `180x120x60`, `7x5x2in`
    #[arg(long, value_name = "WxDxH", value_parser = size)]
    pub footprint: Option<[Millimetres; 3]>,
    /// Temperature that the part is at for long: `95C`, `220F`
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub service: Option<Degrees>,
    /// Temperature that it sees for a short time
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub peak: Option<Degrees>,
    /// How it is loaded: none, passing, sustained
    #[arg(long, value_name = "LOAD", value_parser = super::read::load)]
    pub load: Option<Load>,
    /// What it is exposed to: `fuel,uv`
    #[arg(long, value_name = "WHAT", value_delimiter = ',')]
    pub exposed: Vec<String>,
    /// Uses in which an error hurts somebody: `food,pressure,medical`
    #[arg(long, value_name = "WHAT", value_delimiter = ',')]
    pub concern: Vec<String>,
    /// The flame class that is asked of the material: HB, V-2, V-1, V-0
    #[arg(long, value_name = "CLASS", value_parser = super::read::flame)]
    pub flame: Option<FlameClass>,
    /// The bending stress it bears: `0.5MPa`
    #[arg(long, value_name = "STRESS")]
    pub stress: Option<Megapascals>,
    /// What was in the nozzle before: say how to change over
    #[arg(long, value_name = "SHEET")]
    pub after: Option<String>,
    /// A section that bends across its height: say what one more wall does against infill: `20x10`
    #[arg(long, value_name = "WxH", value_parser = super::read::section)]
    pub section: Option<[Millimetres; 2]>,
    /// Walls of that section
    #[arg(long, value_name = "COUNT", default_value_t = 2, value_parser = clap::value_parser!(u32).range(1..=100), requires = "section")]
    pub walls: u32,
    /// Infill of that section
    #[arg(long, value_name = "SHARE", default_value = "20%", value_parser = super::read::infill, requires = "section")]
    pub infill: Percent,
    /// A job whose part, time and mass are taken: plain, gzip or zstd; `-` is the standard input
    #[arg(long, value_name = "JOB")]
    pub job: Option<OsString>,
    /// Say what carries a load along this axis in the job's part, and what one more wall does against infill
    #[arg(long, value_enum, value_name = "AXIS", requires = "job")]
    pub along: Option<Axis>,
    /// Rank the causes of what is seen on the part, by the job, the sheets and the machine: stringing,
    /// warping, weak-layers, clogging, poor-adhesion, rough-surface, popping, under-extrusion, sagging,
    /// wrong-size, shifted-layers
    #[arg(long, value_name = "SYMPTOM", requires = "job", value_parser = super::read::symptom, conflicts_with_all = ["compare", "find", "reply"])]
    pub symptom: Option<Symptom>,
    /// Another material to set beside it; may be given several times
    #[arg(long, value_name = "SHEET", conflicts_with = "reply")]
    pub compare: Vec<String>,
    /// Rank the library's materials, and those of --material and --compare, for machine and use
    #[arg(long, conflicts_with = "reply")]
    pub find: bool,
    /// Answer in sentences that can be sent to the person who asked
    #[arg(long, conflicts_with = "format")]
    pub reply: bool,
    /// Say what can be done to the part after printing
    #[arg(long)]
    pub finish: bool,
    /// How long the print takes: `9`, `9h`, `90min`
    #[arg(long, value_name = "HOURS", value_parser = hours)]
    pub hours: Option<Hours>,
    /// The room it is printed in: `23C,55%`
    #[arg(long, value_name = "AIR", value_parser = air, allow_hyphen_values = true)]
    pub room: Option<Air>,
    /// The dryer at hand and, where that is settled, the time in it: `70C`, `70C,8h`
    #[arg(long, value_name = "DRYER", allow_hyphen_values = true)]
    pub dryer: Option<Drying>,
    /// The dryer takes the water out of its air, with desiccant or vacuum
    #[arg(long, requires = "dryer")]
    pub dry_air: bool,
    /// What a spool weighed before and after drying, and empty: `505g,500g`, `505g,500g,230g`
    #[arg(long, value_name = "MASSES", value_parser = super::read::weighed)]
    pub weighed: Option<Weighed>,
    /// How fast it is to be laid: `60mm/s`
    #[arg(long, value_name = "SPEED")]
    pub speed: Option<MillimetresPerSecond>,
    /// Width and height of the bead: `0.45x0.2`
    #[arg(long, value_name = "WxH", value_parser = bead)]
    pub bead: Option<[Millimetres; 2]>,
    /// Filament on one spool: `500g`
    #[arg(long, value_name = "MASS")]
    pub spool: Option<Grams>,
    /// What one part weighs, with all that is thrown away with it: `32g`
    #[arg(long, value_name = "MASS")]
    pub part_mass: Option<Grams>,
    /// How many good parts are wanted
    #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u32).range(1..))]
    pub parts: Option<u32>,
    /// The share of parts that do not come out: `5%`
    #[arg(long, value_name = "SHARE", value_parser = super::read::scrap)]
    pub scrap: Option<Percent>,
    /// What the hotend may reach, where it is not what the machine sheet says: `220C`
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub hotend: Option<Degrees>,
    /// What the bed may reach, where it is not what the machine sheet says
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub bed: Option<Degrees>,
    /// What the nozzle is made of, where it is not what the machine sheet says: `hardened-steel`
    #[arg(long, value_name = "WHAT", value_parser = super::read::nozzle)]
    pub nozzle: Option<NozzleMaterial>,
    /// The nozzle's bore, where it is not what the machine sheet says: `0.6mm`
    #[arg(long, value_name = "LENGTH")]
    pub bore: Option<Millimetres>,
    /// How to answer
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub format: Format,
    /// Configuration to use, instead of the meltgauge.toml found upward from the working directory
    #[arg(long, value_name = "FILE")]
    pub config: Option<PathBuf>,
}

impl Typed {
    /// Every temperature that was typed.
    pub fn degrees(&self) -> impl Iterator<Item = Degrees> {
        let of_air = self.room.map(|air| air.temperature);
        let of_dryer = self.dryer.map(|dryer| dryer.temperature);
        [
            self.service,
            self.peak,
            self.hotend,
            self.bed,
            of_air,
            of_dryer,
        ]
        .into_iter()
        .flatten()
    }
}

impl From<Degrees> for Celsius {
    fn from(typed: Degrees) -> Self {
        typed.celsius
    }
}
