//! What is known of the printer before the job begins.

use super::planner::Rates;
use super::pm;
use crate::command::Dialect;
use crate::physics::chamber::Chamber;

/// A stretch of one axis, pm.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span {
    /// The lower end.
    pub least: i64,
    /// The upper end.
    pub most: i64,
}

impl Span {
    /// From millimetres.
    #[must_use]
    pub fn mm(least: f64, most: f64) -> Self {
        Self {
            least: pm(least),
            most: pm(most),
        }
    }

    /// Its length, pm.
    #[must_use]
    pub const fn length(&self) -> i64 {
        self.most - self.least
    }
}

/// The area a bed offers, in the plane.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Area {
    /// A rectangle.
    Rectangle {
        /// Along X.
        x: Span,
        /// Along Y.
        y: Span,
    },
    /// A disc.
    Disc {
        /// Its centre.
        centre: [i64; 2],
        /// Its diameter.
        diameter: i64,
    },
}

impl Area {
    /// How far outside a path with this box certainly lies, pm; 0 inside. Of a path in a box it is
    /// known that it touches each side somewhere, no more: on a disc a corner may stay unused.
    #[must_use]
    pub fn outside(&self, x: Span, y: Span) -> i64 {
        match self {
            Self::Rectangle {
                x: within_x,
                y: within_y,
            } => [
                within_x.least - x.least,
                x.most - within_x.most,
                within_y.least - y.least,
                y.most - within_y.most,
            ]
            .into_iter()
            .fold(0, i64::max),
            Self::Disc {
                centre: [cx, cy],
                diameter,
            } => {
                let near = |span: Span, centre: i64| {
                    (span.least - centre).max(centre - span.most).max(0) as f64
                };
                let side = |at: i64, centre: i64, other: f64| ((at - centre) as f64).hypot(other);
                let (across, along) = (near(y, *cy), near(x, *cx));
                let reach = side(x.least, *cx, across)
                    .max(side(x.most, *cx, across))
                    .max(side(y.least, *cy, along))
                    .max(side(y.most, *cy, along));
                ((reach - *diameter as f64 / 2.0).max(0.0)) as i64
            }
        }
    }

    /// Its middle, pm.
    #[must_use]
    pub const fn middle(&self) -> [i64; 2] {
        match self {
            Self::Rectangle { x, y } => [(x.least + x.most) / 2, (y.least + y.most) / 2],
            Self::Disc { centre, .. } => *centre,
        }
    }

    /// Its extent along X and Y, pm.
    #[must_use]
    pub const fn size(&self) -> [i64; 2] {
        match self {
            Self::Rectangle { x, y } => [x.length(), y.length()],
            Self::Disc { diameter, .. } => [*diameter, *diameter],
        }
    }
}

/// A lumped heater: constant power against a loss, held at its target by a thermostat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatModel {
    /// Where it would come to rest always on, °C.
    pub full_power_rest: f64,
    /// The time constant of heating and cooling, s.
    pub tau: f64,
}

impl HeatModel {
    /// A hotend that warms by about 3 K/s at first (chosen).
    pub const HOTEND: Self = Self {
        full_power_rest: 500.0,
        tau: 150.0,
    };
    /// A bed that warms by about 0.3 K/s at first (chosen).
    pub const BED: Self = Self {
        full_power_rest: 160.0,
        tau: 450.0,
    };
    /// A chamber heated by itself (chosen).
    pub const CHAMBER: Self = Self {
        full_power_rest: 110.0,
        tau: 1500.0,
    };
}

/// One tool.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToolSetup {
    /// Where its nozzle stands off the first tool's, pm.
    pub offset: [i64; 3],
    /// How its hotend warms.
    pub heat: HeatModel,
    /// Its filament's area, mm².
    pub filament_area: f64,
}

/// What a macro is known to do, from the machine sheet.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MacroMeaning {
    /// Its name, upper case.
    pub name: String,
    /// It homes every axis.
    pub homes: bool,
    /// It probes or levels the bed.
    pub levels: bool,
    /// It primes the nozzle.
    pub primes: bool,
    /// It ends the job: heaters and motors off.
    pub ends: bool,
    /// It waits for what it heats.
    pub waits: bool,
    /// The parameter that carries the hotend's temperature, or the temperature itself.
    pub hotend: Option<String>,
    /// The same for the bed.
    pub bed: Option<String>,
    /// The same for the chamber.
    pub chamber: Option<String>,
    /// Whether it leaves E absolute, where it sets that.
    pub absolute_e: Option<bool>,
}

/// A printer before the job begins.
#[derive(Debug, Clone, PartialEq)]
pub struct Setup {
    /// What its control means by its words.
    pub dialect: Dialect,
    /// Where deposit may lie.
    pub area: Option<Area>,
    /// Where the nozzle may go, X, Y and Z, pm.
    pub reach: Option<[Span; 3]>,
    /// The fastest each axis goes, X, Y, Z and E, mm/s.
    pub axis_speed: [Option<f64>; 4],
    /// The limits that motion is planned within; or why no time can be told.
    pub rates: Result<Rates, &'static str>,
    /// Seconds that homing X, Y and Z takes each.
    pub homing: [f64; 3],
    /// Seconds that probing or levelling the bed takes.
    pub probing: f64,
    /// Seconds that a change of the tool takes.
    pub tool_change: f64,
    /// Its tools; at least one.
    pub tools: Vec<ToolSetup>,
    /// Whether all tools feed one hotend.
    pub one_hotend: bool,
    /// How the bed warms.
    pub bed: HeatModel,
    /// How the bed warms the chamber, where the sheet says enough for that.
    pub chamber: Option<Chamber>,
    /// How the chamber's own heater warms it, where it has one.
    pub chamber_heater: Option<HeatModel>,
    /// Where the nozzle stands after homing, pm.
    pub home: [i64; 3],
    /// Whether Z homes away from the bed, so that homing over a part does no harm.
    pub homes_up: bool,
    /// The room, °C.
    pub ambient: f64,
    /// The fans that cool the part.
    pub part_fans: Vec<u32>,
    /// Macros whose meaning is known.
    pub macros: Vec<MacroMeaning>,
    /// The longest line the control holds, bytes; the largest number where nobody says.
    pub longest_line: usize,
}

impl Default for Setup {
    /// No machine named: the usual dialect, no limits, one tool for 1.75 mm filament. Ten seconds to
    /// home an axis and a minute to probe are chosen: heaters warm up meanwhile.
    fn default() -> Self {
        Self {
            dialect: Dialect::default(),
            area: None,
            reach: None,
            axis_speed: [None; 4],
            rates: Err("no machine is named"),
            homing: [10.0; 3],
            probing: 60.0,
            tool_change: 0.0,
            tools: vec![ToolSetup {
                offset: [0; 3],
                heat: HeatModel::HOTEND,
                filament_area: crate::physics::bead::filament_area(1.75),
            }],
            one_hotend: false,
            bed: HeatModel::BED,
            chamber: None,
            chamber_heater: None,
            home: [0; 3],
            homes_up: false,
            ambient: 22.0,
            part_fans: vec![0],
            macros: Vec::new(),
            longest_line: usize::MAX,
        }
    }
}

impl Setup {
    /// The slower of X and Y, and Z, mm/s: up to these no axis is asked for too much.
    pub(super) fn slow(&self) -> [f64; 2] {
        let [x, y, z, _] = self.axis_speed.map(|speed| speed.unwrap_or(f64::INFINITY));
        [x.min(y), z]
    }

    /// The box in which a motion may end without being outside the area or out of reach, whichever
    /// tool is in use: only what leaves it is looked at more closely.
    pub(super) fn calm(&self) -> [Span; 3] {
        let mut calm = [Span {
            least: i64::MIN,
            most: i64::MAX,
        }; 3];
        let mut within = |axis: usize, least: i64, most: i64| {
            if let Some(span) = calm.get_mut(axis) {
                span.least = span.least.max(least);
                span.most = span.most.min(most);
            }
        };
        if let Some(reach) = &self.reach {
            for offset in self.tools.iter().map(|tool| tool.offset).chain([[0; 3]]) {
                for (axis, (span, offset)) in reach.iter().zip(offset).enumerate() {
                    within(
                        axis,
                        span.least.saturating_sub(offset),
                        span.most.saturating_sub(offset),
                    );
                }
            }
        }
        match self.area {
            Some(Area::Rectangle { x, y }) => {
                within(0, x.least, x.most);
                within(1, y.least, y.most);
            }
            Some(Area::Disc { centre, diameter }) => {
                // The square inside the disc: its half side is the radius over √2.
                let half = diameter / 20 * 7;
                for (axis, centre) in centre.into_iter().enumerate() {
                    within(axis, centre - half, centre + half);
                }
            }
            None => {}
        }
        calm
    }

    /// The tool with this number; the first for any other.
    #[must_use]
    pub fn tool(&self, number: u32) -> ToolSetup {
        self.tools
            .get(number as usize)
            .or_else(|| self.tools.first())
            .copied()
            .unwrap_or(ToolSetup {
                offset: [0; 3],
                heat: HeatModel::HOTEND,
                filament_area: crate::physics::bead::filament_area(1.75),
            })
    }
}
