//! What the two requirements on flow share: which figure holds for a tool, and what is laid above it.

use super::again::{self, Stored};
use super::figures::{tenth, tools_used};
use super::held::{SENSOR_SPREAD, of_machine, of_material};
use super::{Held, Report};
use crate::finding::{Class, Limit, NotHeld, Tally};
use crate::machine::State;
use crate::survey::{Deposit, Layer, Stroke};

/// A job that keeps a limit exceeds it by a hair where its words are rounded: F to whole mm/min, E to
/// a hundredth of a micrometre (chosen).
const ROUNDING: f64 = 0.01;

/// The time over which flow counts as sustained, s: the melt zone of a hotend holds about that much
/// (chosen).
const SUSTAINED: f64 = 1.0;

/// Whose figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Whose {
    /// The machine sheet's, for an easy material.
    Hotend,
    /// The material sheet's.
    Sheet,
}

impl Whose {
    const fn requirement(self) -> &'static str {
        match self {
            Self::Hotend => "flow-above-hotend",
            Self::Sheet => "flow-above-sheet",
        }
    }

    fn limit(self, held: &Held, tool: u32) -> Option<f64> {
        match self {
            Self::Hotend => Some(held.tool(tool)?.melt_rate.as_ref()?.value.get()),
            Self::Sheet => sheet_limit(held, tool).ok().flatten(),
        }
    }

    /// The one with the lower figure: it alone speaks of a stroke above both.
    fn lower(held: &Held, tool: u32) -> Self {
        let sheet = Self::Sheet.limit(held, tool);
        let hotend = Self::Hotend.limit(held, tool);
        match (sheet, hotend) {
            (Some(sheet), Some(hotend)) if hotend < sheet => Self::Hotend,
            (Some(_), _) => Self::Sheet,
            (None, _) => Self::Hotend,
        }
    }
}

/// What the material sheet says of a tool's flow, mm³/s; or why that does not hold for its nozzle. A
/// narrower bore lets no more through, so that the figure is a limit there too; a wider one lets more
/// through, and no rule says how much.
pub(super) fn sheet_limit(held: &Held, tool: u32) -> Result<Option<f64>, String> {
    let Some(material) = held.material(tool) else {
        return Ok(None);
    };
    let Some(most) = &material.flow.most else {
        return Ok(None);
    };
    if let Some(stated) = &material.flow.bore {
        let Some(bore) = held.tool(tool).and_then(|tool| tool.bore.as_ref()) else {
            return Err(format!(
                "the machine sheet does not say tools[{tool}].bore, and {}'s flow.most holds through {}",
                material.name, stated.value
            ));
        };
        if bore.value.get() > stated.value.get() + 1e-6 {
            return Err(format!(
                "{}'s flow.most holds through {}; the machine's bore of {} lets more through, and the \
                 sheet does not say how much",
                material.name, stated.value, bore.value
            ));
        }
    }
    Ok(Some(most.value.get()))
}

/// The lower of the two figures for a tool's flow, and the requirement that speaks of it.
pub(crate) fn lowest(held: &Held, tool: u32) -> Option<(&'static str, Limit)> {
    let whose = Whose::lower(held, tool);
    whose.limit(held, tool)?;
    let limit = match whose {
        Whose::Hotend => {
            let limit = held.tool(tool)?.melt_rate.as_ref()?;
            let key = format!("tools[{tool}].melt_rate");
            of_machine(held.machine.as_deref()?, &key, limit, limit.value)
        }
        Whose::Sheet => {
            let material = held.material(tool)?;
            let limit = material.flow.most.as_ref()?;
            of_material(material, "flow.most", limit, limit.value)
        }
    };
    Some((whose.requirement(), limit))
}

/// Whether a flow, mm³/s, is above a limit by more than rounding.
pub(crate) fn is_above(flow: f64, limit: f64) -> bool {
    flow > limit * (1.0 + ROUNDING)
}

/// What one tool lays above its limit.
#[derive(Debug)]
pub(super) struct Above {
    pub tool: u32,
    pub tally: Tally,
    /// At the worst place: the highest mean flow over a second, mm³/s.
    pub flow: f64,
    /// The speed at which it would be within the limit, mm/s.
    pub speed_within: f64,
    /// The speed that is reached, mm/s.
    pub speed: f64,
    /// The hotend's setting, °C.
    pub hotend: Option<f64>,
}

/// Watches the sustained flow of what is laid.
#[derive(Debug)]
pub(super) struct Flows {
    held: Held,
    whose: Whose,
    tool: Option<u32>,
    limit: Option<f64>,
    area: f64,
    /// Seconds since something else flowed: a purge line, or another tool's filament.
    since: f64,
    above: Vec<Above>,
    /// The most that counts, mm³/s, above the limit or not.
    most: Option<f64>,
}

impl Flows {
    pub fn new(held: &Held, whose: Whose) -> Self {
        Self {
            held: held.clone(),
            whose,
            tool: None,
            limit: None,
            area: 0.0,
            since: 0.0,
            above: Vec::new(),
            most: None,
        }
    }

    pub fn layer(&mut self, layer: &Layer) {
        for stroke in &layer.strokes {
            let tool = stroke.conditions.tool;
            if self.tool != Some(tool) {
                self.tool = Some(tool);
                self.limit = self.whose.limit(&self.held, tool);
                self.area = self.held.setup().tool(tool).filament_area;
                self.since = 0.0;
            }
            let Some(pace) = &stroke.pace else { continue };
            if stroke.deposit == Deposit::Purge {
                self.since = 0.0;
                continue;
            }
            let before = self.since;
            self.since += pace.seconds();
            let is_most = self.most.is_none_or(|most| pace.sustained_flow > most);
            let is_above = self
                .limit
                .is_some_and(|limit| self::is_above(pace.sustained_flow, limit));
            if !is_most && !is_above {
                continue;
            }
            let Some((flow, section)) = self.counted(stroke, before) else {
                continue;
            };
            self.most = again::above(self.most, flow);
            match self.limit {
                Some(limit) if self::is_above(flow, limit) => {
                    self.note(layer, stroke, limit, flow, section)
                }
                _ => {}
            }
        }
    }

    /// What of a second that ends in this stroke counts, mm³/s, and the stroke's section, mm². Where it
    /// may hold a purge, a blob laid on the spot or another tool's filament, no more counts than the
    /// stroke itself lays.
    fn counted(&self, stroke: &Stroke, before: f64) -> Option<(f64, f64)> {
        let pace = stroke.pace.as_ref()?;
        let section = stroke.volume(self.area) / stroke.length;
        if !(section.is_finite() && section > 0.0) {
            return None;
        }
        let mut flow = pace.sustained_flow.min(pace.peak_flow);
        if before < SUSTAINED || pace.retract > 0.0 {
            flow = flow.min(section * pace.speed);
            if self.since < SUSTAINED {
                return None;
            }
        }
        Some((flow, section))
    }

    /// A stroke melts more than the limit.
    fn note(&mut self, layer: &Layer, stroke: &Stroke, limit: f64, flow: f64, section: f64) {
        let Some(pace) = &stroke.pace else { return };
        let tool = stroke.conditions.tool;
        let shown = layer.show(stroke.fastest);
        let entry = match self.above.iter_mut().position(|above| above.tool == tool) {
            Some(at) => self.above.get_mut(at),
            None => {
                self.above.push(Above {
                    tool,
                    tally: Tally::default(),
                    flow: 0.0,
                    speed_within: 0.0,
                    speed: 0.0,
                    hotend: None,
                });
                self.above.last_mut()
            }
        };
        let Some(above) = entry else { return };
        above.tally.note(flow, tenth(flow), &shown);
        if flow > above.flow {
            above.flow = flow;
            above.speed = pace.speed;
            // What is laid for each millimetre of the way tells the speed that melts in time.
            above.speed_within = limit / section;
            above.hotend = stroke.conditions.hotend.target.get();
        }
    }

    /// What was found by tool; where the other requirement holds the lower figure, it explains it.
    pub fn conclude(&mut self, held: &Held, state: &State, report: &mut Report) -> Vec<Above> {
        report.values.push((FLOW, self.most));
        if self.whose == Whose::Sheet {
            for tool in tools_used(state) {
                if let Err(reason) = sheet_limit(held, tool) {
                    report.not_held.push(NotHeld {
                        requirement: self.whose.requirement(),
                        reason,
                    });
                }
            }
        }
        let (ours, theirs): (Vec<_>, Vec<_>) = std::mem::take(&mut self.above)
            .into_iter()
            .partition(|above| Whose::lower(held, above.tool) == self.whose);
        if !theirs.is_empty() {
            let other = match self.whose {
                Whose::Hotend => Whose::Sheet,
                Whose::Sheet => Whose::Hotend,
            };
            report.not_held.push(NotHeld {
                requirement: self.whose.requirement(),
                reason: format!(
                    "the finding {} explains what it would say",
                    other.requirement()
                ),
            });
        }
        ours
    }
}

impl Above {
    /// What helps, in a few words.
    pub fn help(&self, else_: &str) -> String {
        let within = (self.speed_within * 10.0).floor() / 10.0;
        if self.speed > within {
            format!(
                "lay it at {within} mm/s or less ({} mm/s is reached), lay thinner or narrower lines, \
                 or {else_}",
                tenth(self.speed)
            )
        } else {
            format!("lay thinner or narrower lines, lay them slower, or {else_}")
        }
    }

    /// How the hotend's setting bears on a figure that holds at another.
    pub fn heat(&self, at: Option<f64>) -> String {
        let (Some(at), Some(set)) = (at, self.hotend) else {
            return String::new();
        };
        if set < at - SENSOR_SPREAD {
            format!(
                "; at {set} °C, {} K colder than that figure holds for, still less melts",
                tenth(at - set)
            )
        } else if set > at + SENSOR_SPREAD {
            format!("; that figure holds for {at} °C, and at {set} °C a little more melts")
        } else {
            String::new()
        }
    }
}

/// The most that is melted over a second, mm³/s, among the values held.
const FLOW: &str = "flow.sustained";

/// The class of the finding of one of the two requirements, on the first tool.
pub(super) fn anew(stored: &Stored<'_>, whose: Whose, held: &Held) -> Option<Option<Class>> {
    let flow = stored.value(FLOW)?;
    let limit = whose
        .limit(held, 0)
        .filter(|_| Whose::lower(held, 0) == whose);
    let is_found = flow
        .zip(limit)
        .is_some_and(|(flow, limit)| is_above(flow, limit));
    Some(is_found.then_some(Class::Major))
}
