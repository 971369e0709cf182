//! What a survey tells of a job. What cannot be told is its reason.

use super::drawn::Retractions;
use super::pace::Pace;
use super::rows::{Bead, Rows};
use super::stroke::Deposit;
use super::walls::WallFigures;
use std::borrow::Cow;

/// A figure, or why it cannot be told: lower case, without a final stop.
pub type Told<T> = Result<T, Cow<'static, str>>;

/// An amount of money.
#[derive(Debug, Clone, PartialEq)]
pub struct Cost {
    /// How much.
    pub amount: f64,
    /// The currency, as the sheet writes it.
    pub currency: String,
}

/// A filament's diameter, and who says so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Diameter {
    /// mm.
    pub mm: f64,
    /// `machine sheet`, `material sheet`, `the job's M200`, `the job's comments` or `assumed`.
    pub by: &'static str,
}

/// What of a tool's filament goes into one class of deposit, flow factors included.
#[derive(Debug, Clone, PartialEq)]
pub struct Share {
    /// The class; None for what is pushed where the nozzle stands, as in priming.
    pub class: Option<Deposit>,
    /// Filament, mm.
    pub filament: f64,
    /// mm³.
    pub volume: Told<f64>,
    /// g.
    pub mass: Told<f64>,
}

/// The filament of one tool.
#[derive(Debug, Clone, PartialEq)]
pub struct ToolShare {
    /// The tool.
    pub tool: u32,
    /// Its material, where one is named.
    pub material: Option<String>,
    /// Whether that wears soft nozzles out, where its sheet says so.
    pub is_abrasive: Option<bool>,
    /// The largest net E, mm.
    pub filament: f64,
    /// The same with the flow factors in force, mm.
    pub factored: f64,
    /// The filament's diameter.
    pub diameter: Told<Diameter>,
    /// mm³.
    pub volume: Told<f64>,
    /// g.
    pub mass: Told<f64>,
    /// What it costs.
    pub cost: Told<Cost>,
    /// What is left on its spool, g.
    pub spool_left: Told<f64>,
    /// Where it goes.
    pub shares: Vec<Share>,
}

/// A layer that stands out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct QuickLayer {
    /// Its number, from 0 in the order laid.
    pub number: u64,
    /// Its height above the bed, mm.
    pub z: f64,
    /// Seconds with the way to it.
    pub seconds: f64,
}

/// How fast plastic flows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flow {
    /// The highest, mm³/s.
    pub peak: f64,
    /// The highest mean over a second, mm³/s.
    pub sustained: f64,
}

/// A hot nozzle that waits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Idle {
    /// Seconds.
    pub seconds: f64,
    /// The line that ends it; 0 where nothing ever waited.
    pub line: u64,
}

/// What the job builds and uses.
#[derive(Debug, Clone, PartialEq)]
pub struct Survey {
    /// The largest net E reached, over all tools, before flow factors, mm.
    pub filament_mm: f64,
    /// The same by tool.
    pub filament_by_tool_mm: Vec<f64>,
    /// With the flow factors in force, mm.
    pub filament_factored_mm: f64,
    /// Laid in the part, without purge, skirt, brim, raft, support and tower, flow factors included,
    /// mm.
    pub filament_part_mm: f64,
    /// All that is pushed, flow factors included, mm³.
    pub volume_mm3: Told<f64>,
    /// Its mass, g.
    pub mass_g: Told<f64>,
    /// Its cost.
    pub cost: Told<Cost>,
    /// What of it wears soft nozzles out, g.
    pub abrasive_g: Told<f64>,
    /// The same by tool and class of deposit.
    pub tools: Vec<ToolShare>,
    /// Layers of the part by distinct height.
    pub layers: Told<u64>,
    /// The box of the part: X, Y, Z, mm.
    pub part: Option<[[f64; 2]; 3]>,
    /// The box of all deposit.
    pub all: Option<[[f64; 2]; 3]>,
    /// The first layer's height, mm.
    pub first_layer_mm: Option<f64>,
    /// The highest speed really reached in the part's first layer, mm/s.
    pub first_layer_speed: Told<f64>,
    /// Motions.
    pub motions: u64,
    /// Moves that lay filament.
    pub deposits: u64,
    /// How long the job takes, and in what parts.
    pub time: Told<Pace>,
    /// The job's own word that sets limits of motion which nobody here knows: the sheet's hold.
    pub own_limits: Option<String>,
    /// The quickest layer between the first and the last.
    pub quickest: Told<QuickLayer>,
    /// The flow in the part, the purge apart.
    pub flow: Told<Flow>,
    /// The width of the part's beads, mm.
    pub bead: Told<Bead>,
    /// The same as shares of the nozzles' bores.
    pub bead_share: Told<Bead>,
    /// The most moves in a second, over any stroke of twenty or more.
    pub segments_per_s: Told<f64>,
    /// What is drawn back.
    pub retractions: Retractions,
    /// The longest that a hot nozzle waits without a push.
    pub idle: Told<Idle>,
    /// The table of layers.
    pub rows: Rows,
    /// Walls and infill, where they were asked for.
    pub walls: Option<WallFigures>,
}

impl Survey {
    /// The size of the part along X, Y and Z, mm.
    #[must_use]
    pub fn size(&self) -> Option<[f64; 3]> {
        self.part
            .map(|spans| spans.map(|[least, most]| most - least))
    }

    /// The part's longest side, mm.
    #[must_use]
    pub fn longest_side(&self) -> Option<f64> {
        let [x, y, z] = self.size()?;
        Some(x.max(y).max(z))
    }
}
