//! Inspections: the round that holds a job against every requirement at once.
//!
//! One requirement, three places: `<id>.rs`, `<id>.md` and one line in the register. The page is what
//! `meltgauge requirement <id>` prints and what the tests run.
//!
//! Absent here: an inspection does no input or output, returns no `Result` once it is made, and never
//! holds the job's bytes: what it shows it has from a [`Tally`](crate::finding::Tally) or from the
//! setpoint's own excerpt.

mod again;
mod air;
mod area;
mod axis_too_fast;
mod bead_too_narrow;
mod bead_too_wide;
mod bed_above_machine;
mod bed_above_sheet;
mod bed_below_sheet;
mod bed_not_awaited;
mod below_bed;
mod bins;
mod bore;
mod chamber_above_machine;
mod chamber_above_sheet;
mod chamber_not_warmed;
mod checksum_wrong;
mod cold_deposit;
mod contact_small;
mod control_lacks_word;
mod declared_mismatch;
mod deposit_in_air;
mod deposit_outside_area;
mod drawn;
mod enclosure_missing;
mod enclosure_too_warm;
mod fan_above_sheet;
mod fan_bands;
mod fan_below_sheet;
mod fan_on_first_layers;
mod figures;
mod filament_diameter_mismatch;
mod filament_ground;
mod first_layer_fast;
mod first_layer_tall;
mod flow_above_hotend;
mod flow_above_sheet;
mod glance;
mod guard_disabled;
mod heat;
mod heater_left_on;
mod heating_uncommanded;
mod heights;
mod held;
mod home_over_part;
mod hot_idle;
mod hotend_above_liner;
mod hotend_above_machine;
mod hotend_above_sheet;
mod hotend_below_sheet;
mod hotend_not_awaited;
mod inspected;
mod job_cut_short;
mod lapse;
mod layer_too_quick;
mod layer_too_slow;
mod layer_too_tall;
mod layer_too_thin;
mod line_number_disorder;
mod machine_short_of_sheet;
mod malformed_word;
mod material_differs;
mod melt;
mod mode_undeclared;
mod moves_too_dense;
mod named;
mod nozzle_differs;
mod nozzle_narrow;
mod nozzle_soft;
mod object_clearance;
mod origin_differs;
mod origin_shifted;
mod overlong_line;
pub mod page;
mod probed_cold;
mod quicks;
mod reckoned;
mod register;
mod retraction_too_fast;
mod retraction_too_long;
mod round;
mod setpoint_hidden;
mod settings_written;
mod silence;
mod spool_short;
mod state_left_changed;
mod stated;
mod stops_for_person;
mod tap;
mod told;
mod tool_absent;
mod travel_outside_reach;
mod travel_through_part;
mod unfilled_placeholder;
mod unhomed_motion;
mod unknown_word;

pub use again::{Stored, anew, touched};
pub(crate) use chamber_not_warmed::neediest;
pub use glance::Glance;
pub(crate) use heat::hotend_range;
pub(crate) use held::of_material;
pub use held::{Held, SENSOR_SPREAD};
pub use inspected::{Declared, Inspected, Setpoint, Uses};
pub(crate) use melt::{is_above as is_flow_above, lowest as lowest_flow};
pub(crate) use quicks::{Quick, Quicks};
pub use register::{REGISTER, requirement};
pub(crate) use retraction_too_fast::limit_of as retraction_speed;
pub(crate) use retraction_too_long::limit_of as retraction_length;
pub use round::{Round, inspect};
pub use tap::Tap;

use crate::finding::{Class, Excerpt, Finding, NotHeld, Tally};
use crate::machine::{Facts, Line, Motion, Setup, State, Step};
use crate::survey::{Layer, Near, Totals, WallFigures};

/// Which events an inspection wants: what it does not name costs nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Wants {
    /// Motions that stand out in one of these ways.
    pub motion: Facts,
    /// Every command that is not a motion.
    pub step: bool,
    /// Of those, only what heats or feels the bed, and macros: few in any job, where the others may
    /// stand on every third line.
    pub heat: bool,
    /// Of those, all but fans, dwells, limits and words without effect, of which some jobs have
    /// thousands.
    pub change: bool,
    /// Every line with a faulty part.
    pub fault: bool,
    /// Every closed layer.
    pub layer: bool,
    /// Every line with a line number.
    pub numbered: bool,
    /// Every line with braces or square brackets outside comments and text.
    pub braced: bool,
    /// Every line longer than the control's longest, comment and line end included.
    pub long: bool,
}

impl Wants {
    /// None: all is known when the job ends.
    pub const END: Self = Self {
        motion: Facts::NONE,
        step: false,
        heat: false,
        change: false,
        fault: false,
        layer: false,
        numbered: false,
        braced: false,
        long: false,
    };
    /// Commands that are no motion.
    pub const STEPS: Self = Self {
        step: true,
        ..Self::END
    };
    /// Commands that heat or feel the bed, and macros.
    pub const HEAT: Self = Self {
        heat: true,
        ..Self::END
    };
    /// Commands that are no motion, but for fans, dwells, limits and words without effect.
    pub const CHANGES: Self = Self {
        change: true,
        ..Self::END
    };
    /// Closed layers.
    pub const LAYERS: Self = Self {
        layer: true,
        ..Self::END
    };
    /// Lines with a faulty part.
    pub const FAULTS: Self = Self {
        fault: true,
        ..Self::END
    };

    /// Motions that stand out in one of these ways.
    #[must_use]
    pub const fn motions(facts: Facts) -> Self {
        Self {
            motion: facts,
            ..Self::END
        }
    }

    /// Both.
    #[must_use]
    pub const fn and(self, other: Self) -> Self {
        Self {
            motion: self.motion.with(other.motion),
            step: self.step || other.step,
            heat: self.heat || other.heat,
            change: self.change || other.change,
            fault: self.fault || other.fault,
            layer: self.layer || other.layer,
            numbered: self.numbered || other.numbered,
            braced: self.braced || other.braced,
            long: self.long || other.long,
        }
    }
}

/// Holds a job against one requirement. One value a job; events come in the job's order, a closed
/// layer somewhat after the motions it is made of.
pub trait Inspection {
    /// A motion that stands out in one of the ways asked for; `state` is the state after it.
    fn motion(&mut self, _motion: &Motion, _state: &State, _line: &Line<'_>) {}
    /// A command that is no motion has taken effect; `state` is the state after it.
    fn step(&mut self, _step: &Step<'_>, _state: &State, _line: &Line<'_>) {}
    /// A line with a faulty part, before its commands; `state` is the state before them.
    fn fault(&mut self, _line: &Line<'_>, _state: &State) {}
    /// A line with a line number, before its commands.
    fn numbered(&mut self, _line: &Line<'_>) {}
    /// A line with braces or square brackets outside comments and text, before its commands.
    fn braced(&mut self, _line: &Line<'_>) {}
    /// A line longer than the control's longest, before its commands.
    fn long(&mut self, _line: &Line<'_>) {}
    /// A layer is closed, and its deposit told apart.
    fn layer(&mut self, _layer: &Layer) {}
    /// On this line the nozzle swept the part off the bed; comes to whoever wants layers.
    fn swept(&mut self, _line: u64) {}
    /// A travel goes through what stands on the bed, so many mm below its top; comes to whoever wants
    /// layers.
    fn through(&mut self, _line: &Line<'_>, _depth: f64) {}
    /// The tool head, or what carries it, comes nearer to what stands on the bed than it is wide; comes to
    /// whoever wants layers.
    fn near(&mut self, _line: &Line<'_>, _near: &Near) {}
    /// The job has ended: states what was found.
    fn conclude(&mut self, end: &End<'_>, report: &mut Report);
}

/// What is known when the job has ended.
#[derive(Debug)]
pub struct End<'a> {
    /// What the job was held against.
    pub held: &'a Held,
    /// The printer as the job leaves it.
    pub state: &'a State,
    /// The printer as it was set up.
    pub setup: &'a Setup,
    /// What was built.
    pub totals: &'a Totals,
    /// Why no time can be told, where none can: then no stroke and no layer has a pace.
    pub untimed: Option<&'static str>,
    /// What the job's comments declare.
    pub declared: &'a Declared,
    /// Lines read.
    pub lines: u64,
    /// Unpacked bytes read.
    pub bytes: u64,
    /// The line that ends the program, where the control reads nothing behind it.
    pub program_end: Option<u64>,
    /// Whether the last line ends with a line ending.
    pub ends_with_line_end: bool,
    /// The last line where it does not.
    pub unended: Option<&'a Excerpt>,
    /// Motions carried out.
    pub motions: u64,
    /// Walls and infill, where they were asked for.
    pub walls: Option<&'a WallFigures>,
}

/// Where an inspection states what it found.
#[derive(Debug, Default)]
pub struct Report {
    /// What was found.
    pub findings: Vec<Finding>,
    /// What could not be held.
    pub not_held: Vec<NotHeld>,
    /// What of the job was held against limits, whether past them or not; none where there was nothing
    /// to hold.
    pub values: Vec<(&'static str, Option<f64>)>,
}

/// A requirement in the register.
#[derive(Debug, Clone, Copy)]
pub struct Requirement {
    /// Its id: what is seen, in kebab case.
    pub id: &'static str,
    /// The most harmful class its findings have.
    pub class: Class,
    /// Its page.
    pub page: &'static str,
    /// The events it wants.
    pub wants: Wants,
    /// Requirements whose findings have the same cause when this one has a finding.
    pub silences: &'static [&'static str],
    /// Makes its inspection; or says, in lower case and without a final stop, why the requirement
    /// cannot be held: `the material sheet does not say bed.print`.
    pub make: fn(&Held) -> Result<Box<dyn Inspection>, String>,
}

/// Requirements that hang on path and deposit alone and take long to hold.
pub(crate) const OF_PATH: [&str; 1] = [object_clearance::REQUIREMENT.id];

/// Requirements that are held against planned times and flows.
pub(crate) const OF_TIME: [&str; 5] = [
    flow_above_hotend::REQUIREMENT.id,
    flow_above_sheet::REQUIREMENT.id,
    layer_too_quick::REQUIREMENT.id,
    layer_too_slow::REQUIREMENT.id,
    moves_too_dense::REQUIREMENT.id,
];

/// Requirements that say more where walls are told.
pub(crate) const OF_WALLS: [&str; 3] = [
    contact_small::REQUIREMENT.id,
    declared_mismatch::REQUIREMENT.id,
    deposit_in_air::REQUIREMENT.id,
];

/// Whether no time can be told, which is then stated: what was noted of times counts for nothing.
fn is_untimed(id: &'static str, end: &End<'_>, report: &mut Report) -> bool {
    let Some(reason) = end.untimed else {
        return false;
    };
    report.not_held.push(NotHeld {
        requirement: id,
        reason: reason.to_owned(),
    });
    true
}

/// Walls and infill, where they were asked for; else that is stated as what could not be held.
fn walls_of<'a>(id: &'static str, end: &End<'a>, report: &mut Report) -> Option<&'a WallFigures> {
    if end.walls.is_none() {
        report.not_held.push(NotHeld {
            requirement: id,
            reason: "walls were not asked for (--walls)".to_owned(),
        });
    }
    end.walls
}

/// The tally of one tool in a list by tool.
#[allow(clippy::indexing_slicing, reason = "an entry just found or pushed")]
fn by_tool(list: &mut Vec<(u32, Tally)>, tool: u32) -> &mut Tally {
    let index = match list.iter().position(|(of, _)| *of == tool) {
        Some(index) => index,
        None => {
            list.push((tool, Tally::default()));
            list.len() - 1
        }
    };
    &mut list[index].1
}
