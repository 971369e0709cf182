//! The survey's numbers: fed by layers as they close, by what is drawn back, and by every command that
//! is not a motion. An ordinary move costs nothing here.

use super::drawn::Drawn;
use super::filament::{Pushed, Sheets};
use super::layer::Layer;
use super::rows::{Row, Rows, Widths, width};
use super::stroke::Deposit;
use super::told::{Cost, Flow, Idle, QuickLayer, Survey, Told, ToolShare};
use super::totals::Totals;
use super::walls::{Apart, Following, WallFigures};
use crate::command::Command;
use crate::command::mark::{Form, Says};
use crate::machine::{Element, Facts, Motion, Span, State, Step, mm};
use crate::physics::bead::filament_area;
use crate::sheet::{Machine, Material};
use std::collections::VecDeque;
use std::sync::Arc;

/// Fewer moves say nothing about how many there are in a second (chosen).
const MOVES_FROM: u32 = 20;

/// Where nobody says: the usual filament's, mm (common practice, no source).
const ASSUMED_DIAMETER: f64 = 1.75;

/// Collects while the machine works.
#[derive(Debug, Default)]
pub struct Figures {
    sheets: Sheets,
    pushed: Pushed,
    drawn: Drawn,
    /// Set by M200, mm.
    volumetric: Option<f64>,
    rows: Rows,
    widths: Widths,
    shares: Widths,
    first_speed: f64,
    /// The height of the part's last layer, mm.
    height: f64,
    /// Whether the last stroke was the part's.
    after_part: bool,
    flow: Option<Flow>,
    segments: Option<f64>,
    quickest: Option<QuickLayer>,
    /// The last layer so far: whether it is the last of all shows later.
    last: Option<QuickLayer>,
    /// The clock since which the hotend in use has been at its set point, s.
    hot_since: Option<f64>,
    idle: Option<Idle>,
    /// Where they are asked for.
    walls: Option<Following>,
    /// Rows that wait to know how their layers hang; none for a layer without one.
    pending: VecDeque<Option<Row>>,
}

/// What is known when the job has ended.
#[derive(Debug)]
pub struct Ended<'a> {
    /// The machine's state.
    pub state: &'a State,
    /// What the layers came to.
    pub totals: &'a Totals,
    /// Why no time can be told, where none can.
    pub untimed: Option<&'static str>,
    /// The job's own word that sets limits of motion.
    pub own_limits: Option<&'a str>,
    /// The filament's diameter that the job itself states, mm.
    pub declared_diameter: Option<f64>,
    /// Motions.
    pub motions: u64,
    /// What walls came to.
    pub walls: Option<WallFigures>,
}

impl Figures {
    /// Motions that must be handed to [`Figures::motion`].
    pub const WANTS: Facts = Facts::DRAWN_BACK;

    /// Before the job begins. One material alone is that of every tool.
    #[must_use]
    pub fn new(materials: &[Option<Arc<Material>>], machine: Option<&Arc<Machine>>) -> Self {
        Self {
            sheets: Sheets {
                materials: materials.to_vec(),
                machine: machine.map(Arc::clone),
            },
            ..Self::default()
        }
    }

    /// Whether walls and infill are told as well, and what carries loads.
    #[must_use]
    pub fn with_walls(mut self, asked: bool, sections: bool) -> Self {
        self.walls = (asked || sections).then(|| Following::new(sections));
        self
    }

    /// Whether walls are told.
    #[must_use]
    pub const fn has_walls(&self) -> bool {
        self.walls.is_some()
    }

    /// A mark of an object stands on a line. Gives the name of what is laid from here on, which means
    /// something to walls alone.
    pub fn mark(&mut self, form: Form, says: Says<'_>, line: u64) -> u32 {
        let walls = self.walls.as_mut();
        walls.map_or(0, |walls| walls.names().mark(form, says, line))
    }

    /// Gives what takes longest away, for whoever has another thread for it; what comes out stays the same.
    pub fn part(&mut self) -> Option<Apart> {
        self.walls.as_mut()?.part()
    }

    /// Takes back what [`Figures::part`] gave away.
    pub fn join(&mut self) {
        if let Some(walls) = &mut self.walls {
            walls.join();
        }
        self.settle_rows();
    }

    /// A motion that [`Figures::WANTS`] names; `state` is the state after it.
    pub fn motion(&mut self, motion: &Motion, state: &State, line: u64) {
        if motion.facts.meets(Facts::DRAWN_BACK) {
            self.drawn.motion(motion, state, line);
        }
    }

    /// A command that is not a motion has taken effect.
    pub fn step(&mut self, step: &Step<'_>, state: &State, line: u64) {
        self.pushed.step(state);
        match step.command {
            Command::Retract(_) => self.drawn.step(step),
            Command::Volumetric(diameter) => self.volumetric = diameter,
            _ => {}
        }
        if step.seconds > 0.0 || matches!(step.command, Command::Hotend { .. }) {
            self.waited(step.seconds, state, line);
        }
    }

    /// Time has passed without motion: is the hotend hot meanwhile?
    fn waited(&mut self, seconds: f64, state: &State, line: u64) {
        let hotend = state.hotend();
        let target = hotend.and_then(|hotend| hotend.setting.target.get());
        let Some(hotend) = hotend.filter(|_| target.is_some_and(|target| target > 0.0)) else {
            self.hot_since = None;
            return;
        };
        let idle = self.idle.get_or_insert(Idle {
            seconds: 0.0,
            line: 0,
        });
        let since = match self.hot_since {
            Some(since) => since,
            None if hotend.is_settled(state.clock - seconds) => {
                *self.hot_since.insert(state.clock - seconds)
            }
            None if hotend.is_settled(state.clock) => {
                *self
                    .hot_since
                    .insert(settled_at(hotend, state.clock - seconds, state.clock))
            }
            None => return,
        };
        let waited = state.clock - since.max(state.pushed_at);
        if waited > idle.seconds {
            *idle = Idle {
                seconds: waited,
                line,
            };
        }
    }

    /// The height of a layer's beads, mm. The last turn of a spiral ends wherever it ends: its beads
    /// are as high as those of the turn before.
    fn height(&mut self, layer: &Layer) -> f64 {
        let height = mm(layer.height);
        if layer.is_rising && height < self.height / 2.0 {
            return self.height;
        }
        if layer.has_part() {
            self.height = height;
        }
        height
    }

    /// A layer is closed.
    pub fn layer(&mut self, layer: &Layer) {
        let has_part = layer.has_part();
        let height = self.height(layer);
        if let Some(walls) = &mut self.walls {
            let (sheets, volumetric) = (&self.sheets, self.volumetric);
            walls.layer(&layer.trail, height, mm(layer.z), |tool| {
                let sheet = sheets.diameter(tool).map(|known| known.mm);
                filament_area(sheet.or(volumetric).unwrap_or(ASSUMED_DIAMETER))
            });
        }
        let mut row = Row::new(layer);
        let mut tool = (u32::MAX, None, None);
        for stroke in &layer.strokes {
            let conditions = &stroke.conditions;
            if tool.0 != conditions.tool {
                tool = (
                    conditions.tool,
                    self.sheets.diameter(conditions.tool).map(|known| known.mm),
                    self.sheets.bore(conditions.tool),
                );
            }
            let (number, diameter, bore) = tool;
            let laid = mm(stroke.pushed) * conditions.flow;
            self.pushed.lay(number, stroke.deposit, laid);
            let after_part =
                std::mem::replace(&mut self.after_part, stroke.deposit == Deposit::Part);
            if stroke.deposit != Deposit::Part {
                row.add(stroke, laid, None, None);
                continue;
            }
            let volume = diameter
                .or(self.volumetric)
                .map(|diameter| laid * filament_area(diameter));
            let wide = volume.and_then(|volume| Some((width(stroke, volume, height)?, volume)));
            // A second that begins in a purge is not the part's: its mean is no more than its peak.
            let flow = stroke.pace.as_ref().map(|pace| Flow {
                peak: pace.peak_flow,
                sustained: if after_part {
                    pace.sustained_flow
                } else {
                    pace.sustained_flow.min(pace.peak_flow)
                },
            });
            row.add(stroke, laid, wide, flow);
            if let Some(flow) = flow {
                let most = self.flow.get_or_insert(flow);
                most.peak = most.peak.max(flow.peak);
                most.sustained = most.sustained.max(flow.sustained);
            }
            if let (Some((width, volume)), Some(bore)) = (wide, bore) {
                self.shares.add(width / bore, volume);
            }
            if let Some(pace) = &stroke.pace {
                if layer.number == 0 {
                    self.first_speed = self.first_speed.max(pace.speed);
                }
                if stroke.moves >= MOVES_FROM && pace.print > 0.0 {
                    let rate = f64::from(stroke.moves) / pace.print;
                    self.segments = Some(self.segments.map_or(rate, |most| most.max(rate)));
                }
            }
        }
        if !has_part {
            self.close_row(None);
            return;
        }
        if let Some(pace) = &layer.pace {
            if let Some(last) = self.last.filter(|last| last.number > 0)
                && self
                    .quickest
                    .is_none_or(|known| last.seconds < known.seconds)
            {
                self.quickest = Some(last);
            }
            self.last = Some(QuickLayer {
                number: layer.number,
                z: mm(layer.z),
                seconds: pace.seconds(),
            });
        }
        row.close();
        self.widths.join(&row.widths);
        self.close_row(Some(row));
    }

    /// A layer's row is whole, but for how it hangs; none is kept where the layer has no part.
    fn close_row(&mut self, row: Option<Row>) {
        if self.walls.is_some() {
            self.pending.push_back(row);
            self.settle_rows();
        } else {
            row.into_iter().for_each(|row| self.rows.push(row));
        }
    }

    /// The rows whose layers are known to hang somehow or not at all.
    fn settle_rows(&mut self) {
        let Some(walls) = &mut self.walls else { return };
        while let Some(hung) = walls.next_hung() {
            let Some(mut row) = self.pending.pop_front().flatten() else {
                continue;
            };
            (row.overhang, row.unsupported) = hung.unzip();
            self.rows.push(row);
        }
    }

    /// What walls come to, where they were asked for; `declared_diameter` is what the job itself states
    /// of its filament, mm.
    pub fn walls(&mut self, declared_diameter: Option<f64>) -> Option<WallFigures> {
        self.join();
        let walls = self.walls.take()?;
        let by_sheet = self.sheets.diameter(0).is_some() || self.volumetric.is_some();
        let is_other = |declared: f64| (declared - ASSUMED_DIAMETER).abs() > 0.02;
        let is_unsure = !by_sheet && declared_diameter.is_some_and(is_other);
        let mut figures = walls.finish(is_unsure.then_some(
            "only the job's comments state the filament's diameter: name a machine or a material",
        ));
        let is_stated = by_sheet || declared_diameter.is_some();
        figures.assumed_diameter = (!is_stated).then_some(ASSUMED_DIAMETER);
        Some(figures)
    }

    /// What it all comes to.
    #[must_use]
    pub fn finish(mut self, ended: Ended<'_>) -> Survey {
        let Ended {
            state,
            totals,
            walls,
            ..
        } = ended;
        let (tools, filament_part_mm) =
            self.pushed
                .finish(state, &self.sheets, ended.declared_diameter);
        if ended.untimed.is_some() {
            self.rows.forget_time();
        }
        let timed = || match ended.untimed {
            Some(why) => Err(why.into()),
            None => Ok(()),
        };
        let has_part = self.rows.iter().next().is_some();
        let of_part = |why: &'static str| {
            if has_part {
                why.into()
            } else {
                "no part is laid".into()
            }
        };
        let spans = |spans: Option<[Span; 3]>| {
            spans.map(|spans| spans.map(|span| [mm(span.least), mm(span.most)]))
        };
        let no_width = if tools.iter().any(|tool| tool.diameter.is_err()) {
            "the filament's diameter is not known while layers are laid"
        } else {
            "its strokes are too short, or lay too little for a bead of their height"
        };
        let laid = |of: &dyn Fn(&ToolShare) -> Told<f64>| -> Told<f64> {
            nothing_pushed(&tools)?;
            tools.iter().map(of).sum()
        };
        Survey {
            filament_mm: mm(state.filament_total()),
            filament_by_tool_mm: state.filament.iter().map(|reel| mm(reel.most)).collect(),
            filament_factored_mm: tools.iter().map(|tool| tool.factored).sum(),
            filament_part_mm,
            volume_mm3: laid(&|tool| tool.volume.clone()),
            mass_g: laid(&|tool| tool.mass.clone()),
            cost: cost(&tools),
            abrasive_g: laid(&|tool| match (tool.is_abrasive, &tool.mass) {
                (Some(true), mass) => mass.clone(),
                (Some(false), _) => Ok(0.0),
                (None, Err(why)) if tool.material.is_none() => Err(why.clone()),
                (None, _) => Err("the material sheet does not say nozzle.abrasive".into()),
            }),
            layers: totals
                .layers
                .ok_or_else(|| totals.layers_unknown.unwrap_or("not known").into()),
            part: spans(totals.part),
            all: spans(totals.all),
            first_layer_mm: totals.first_layer.map(mm),
            first_layer_speed: timed().and_then(|()| {
                let speed = Some(self.first_speed).filter(|speed| *speed > 0.0);
                speed.ok_or_else(|| of_part("nothing of it moves"))
            }),
            motions: ended.motions,
            deposits: totals.deposits,
            own_limits: ended.own_limits.map(str::to_owned),
            time: timed().and_then(|()| totals.pace.ok_or_else(|| "not known".into())),
            quickest: timed().and_then(|()| {
                let none = "the part has no layer between its first and its last";
                self.quickest.ok_or_else(|| of_part(none))
            }),
            flow: timed().and_then(|()| self.flow.ok_or_else(|| of_part("nothing of it moves"))),
            bead: self.widths.bead().ok_or_else(|| of_part(no_width)),
            bead_share: self
                .shares
                .bead()
                .ok_or_else(|| match &self.sheets.machine {
                    None => "no machine is named".into(),
                    Some(_) if self.widths.bead().is_some() => {
                        "the machine sheet does not say the nozzle's bore".into()
                    }
                    Some(_) => of_part(no_width),
                }),
            segments_per_s: timed().and_then(|()| {
                let none = "no stroke of it has twenty moves";
                self.segments.ok_or_else(|| of_part(none))
            }),
            retractions: self.drawn.finish(),
            idle: self
                .idle
                .ok_or_else(|| "the job sets the hotend to no known temperature".into()),
            rows: self.rows,
            tools,
            walls,
        }
    }
}

/// When the hotend came to its set point: after `from`, and by `to`; by halving, to a millionth of the
/// time between.
fn settled_at(hotend: &Element, mut from: f64, mut to: f64) -> f64 {
    for _ in 0..20 {
        let middle = f64::midpoint(from, to);
        if hotend.is_settled(middle) {
            to = middle;
        } else {
            from = middle;
        }
    }
    to
}

fn nothing_pushed(tools: &[ToolShare]) -> Told<()> {
    if tools.is_empty() {
        return Err("no filament is pushed".into());
    }
    Ok(())
}

/// The sum where it has one: currencies are not converted into each other.
fn cost(tools: &[ToolShare]) -> Told<Cost> {
    nothing_pushed(tools)?;
    let mut sum: Option<Cost> = None;
    for tool in tools {
        let cost = tool.cost.clone()?;
        match &mut sum {
            Some(sum) if sum.currency != cost.currency => {
                return Err("the materials' prices are in different currencies".into());
            }
            Some(sum) => sum.amount += cost.amount,
            none => *none = Some(cost),
        }
    }
    sum.ok_or_else(|| "no filament is pushed".into())
}
