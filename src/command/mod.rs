//! What a control does by a line's words: typed commands, under the dialect of one control.
//!
//! Where dialects clash (a dwell's unit, `G10`, when a tool changes, a fan's full scale) the
//! [`Dialect`] decides; its default is the usage most common for printers.
//!
//! Absent here: state. A command says what is asked for, not what it does to a printer.

mod ahead;
mod axes;
mod dialect;
pub mod hint;
pub mod mark;
mod motion;
mod read;
mod words;

pub use ahead::{Ahead, Reader};
pub use axes::Axes;
pub use dialect::{Dialect, DwellUnit, ToolChange};
pub use motion::{MotionWord, read_motion, read_plain_motion};
pub use read::{Commands, read};
pub use words::{is_known, name_of};

/// The plane of an arc, by its normal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Plane {
    /// G17.
    #[default]
    Xy,
    /// G18.
    Xz,
    /// G19.
    Yz,
}

/// How long a heating word waits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wait {
    /// Goes on at once.
    No,
    /// Waits while heating; goes on at once when it is hotter.
    WhileHeating,
    /// Waits for cooling too.
    Both,
}

/// Which pause is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stop {
    /// A stop until somebody lets the job go on.
    Pause,
    /// The filament is to be changed by hand.
    FilamentChange,
}

/// A protection of the control that a job may switch.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Guard {
    /// No filament is pushed below a set temperature.
    ColdExtrusion,
    /// No motion past the axes' ends.
    TravelLimits,
}

/// One command, typed. Lengths are in nanounits of the job's unit (see [`Axes`]).
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Command {
    /// G0, G1, G2, G3, or axis words alone: the motion mode in force. The axes are the line's.
    Motion(Option<MotionWord>),
    /// G4, in seconds.
    Dwell(f64),
    /// G10 or G11 as the control's own retraction; true pulls back.
    Retract(bool),
    /// G10 as RS-274 has it: sets a coordinate system.
    SetCoordinates,
    /// G54 to G59 and G59.1 to G59.3: the coordinate system in force, from 0.
    SelectCoordinates(u8),
    /// G17, G18, G19.
    Plane(Plane),
    /// G20 (true) or G21.
    Inches(bool),
    /// G28: the axes named by letter in [`Axes::named`], all if none is.
    Home,
    /// G29, G30, G38 and kin: the bed is felt or levelled.
    Probe,
    /// G90 (true) or G91.
    Absolute(bool),
    /// G92: the position's numbers are set, nothing moves.
    SetPosition,
    /// G92.1, G92.2 and G92.3: offsets cancelled, or applied again (true).
    Offsets(bool),
    /// G93 (true: the word F is an inverse time), G94.
    InverseTime(bool),
    /// M82 (true) or M83.
    AbsoluteExtrusion(bool),
    /// M200: E in mm³ for this filament diameter in mm; none or 0 for E in mm.
    Volumetric(Option<f64>),
    /// M104, M109.
    Hotend {
        /// °C; None where the word only waits.
        target: Option<f64>,
        /// The tool, where one is said.
        tool: Option<u32>,
        /// Whether and how it waits.
        wait: Wait,
    },
    /// M140, M190.
    Bed {
        /// °C; None where the word only waits.
        target: Option<f64>,
        /// Whether and how it waits.
        wait: Wait,
    },
    /// M141, M191.
    Chamber {
        /// °C; None where the word only waits.
        target: Option<f64>,
        /// Whether and how it waits.
        wait: Wait,
    },
    /// M116: waits for everything that heats.
    WaitForHeat,
    /// M106, M107: share of full speed, 0 to 1; the fan's index.
    Fan {
        /// Share of full speed, 0 to 1.
        share: f64,
        /// The fan's index.
        index: u32,
    },
    /// M201 to M205, M566: speed and acceleration limits of the control.
    Limits(i64),
    /// M220: per cent.
    SpeedFactor(Option<f64>),
    /// M221: per cent; a tool, if said.
    FlowFactor {
        /// Per cent.
        percent: Option<f64>,
        /// The tool, where one is said.
        tool: Option<u32>,
    },
    /// T: a tool is chosen (and changed to, where the control does so at the T word).
    Tool(Option<u32>),
    /// M6: the tool that was chosen is changed to.
    ChangeTool,
    /// M0, M1, M25, M226, M600, M601.
    Stop(Stop),
    /// M18, M84: motors off.
    MotorsOff,
    /// M112.
    EmergencyStop,
    /// M80 and M81: power on (true) or off.
    Power(bool),
    /// M500 (stored), M502 (factory values).
    StoreSettings,
    /// M92, M301, M304, M206, M665, M666, M851: a machine setting, until the next start.
    ChangeSettings(i64),
    /// M302, M211: a protection switched on (true) or off.
    Guard(Guard, bool),
    /// M2; M30 where it does not name a file. True where the control ends the program there, so that
    /// nothing behind it is carried out.
    End(bool),
    /// A whole-word command: its parts are the line's.
    Macro,
    /// A known word with no effect that matters here.
    Idle,
    /// A word that is not known: the letter and ten times its number.
    Unknown(u8, i64),
}

impl Command {
    /// Whether it sets or awaits a temperature.
    #[must_use]
    pub const fn heats(&self) -> bool {
        matches!(
            self,
            Self::Hotend { .. } | Self::Bed { .. } | Self::Chamber { .. } | Self::WaitForHeat
        )
    }
}
