//! What one control means by words that controls do not agree on.

/// The unit of the P word of a dwell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum DwellUnit {
    /// Common practice for printers.
    #[default]
    Milliseconds,
    /// RS-274 (NISTIR 6556, 3.5.4).
    Seconds,
}

/// When a tool is changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ToolChange {
    /// At the T word: common practice for printers.
    #[default]
    AtT,
    /// At M6 (NISTIR 6556, 3.7.3).
    AtM6,
}

/// A control's usage. The default is what is most common for printers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Dialect {
    /// The unit of a dwell's P word.
    pub dwell: DwellUnit,
    /// Whether G10 and G11 retract; else G10 sets a coordinate system.
    pub g10_retracts: bool,
    /// The number of a fan word that is full speed: 255, 100 or 1.
    pub fan_full: u32,
    /// When a tool is changed.
    pub tool: ToolChange,
    /// Whether G90 and G91 also decide how E is read.
    pub e_follows_g90: bool,
    /// Whether the R word of a waiting setpoint waits for cooling too.
    pub r_waits_for_cooling: bool,
    /// Whether G28 takes RS-274's two-leg move (NISTIR 6556, 3.5.8) and not the seeking of end stops.
    pub g28_moves_home: bool,
    /// Whether the program ends at M2 and nothing behind it is carried out (NISTIR 6556, 3.6.1); else
    /// M2 does nothing.
    pub m2_ends: bool,
    /// Whether M30 ends the program as M2 does in RS-274; else it names a file.
    pub m30_ends: bool,
    /// Whether the second `%` ends the program (NISTIR 6556, 3.1); else it does nothing.
    pub fence_ends: bool,
}

impl Default for Dialect {
    fn default() -> Self {
        Self {
            dwell: DwellUnit::default(),
            g10_retracts: true,
            fan_full: 255,
            tool: ToolChange::default(),
            e_follows_g90: false,
            r_waits_for_cooling: true,
            g28_moves_home: false,
            m2_ends: false,
            m30_ends: false,
            fence_ends: false,
        }
    }
}

impl Dialect {
    /// RS-274 as NISTIR 6556 has it.
    #[must_use]
    pub const fn rs274() -> Self {
        Self {
            dwell: DwellUnit::Seconds,
            g10_retracts: false,
            fan_full: 255,
            tool: ToolChange::AtM6,
            e_follows_g90: true,
            r_waits_for_cooling: false,
            g28_moves_home: true,
            m2_ends: true,
            m30_ends: true,
            fence_ends: true,
        }
    }
}
