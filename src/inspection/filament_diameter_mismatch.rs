//! The job was sliced for filament of another diameter than the tool takes.

use super::figures::{tidy, tools_used};
use super::held::limit;
use super::told::{length, told_otherwise};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::command::Command;
use crate::command::hint::{Key, PathKind};
use crate::finding::{Class, Excerpt, Extent, Finding, Limit, Mark};
use crate::machine::{Line, State, Step, mm};
use crate::physics::bead::{filament_area, filament_diameter, width};
use crate::quantity::Millimetres;
use crate::sheet::Cited;
use crate::survey::Layer;

/// Diameters closer than this are the same, mm (chosen: 3 mm is said of 2.85 mm filament).
const GRAIN: f64 = 0.155;
/// What can be a filament at all, mm (chosen).
const FILAMENTS: std::ops::RangeInclusive<f64> = 1.0..=4.0;
/// The two that are sold, mm (common practice, no source).
const COMMON: [f64; 2] = [1.75, 2.85];
/// How wide beads may be, in bores (chosen: far beyond what is sliced on purpose).
const WIDTHS: std::ops::RangeInclusive<f64> = 0.6..=2.5;
/// How wide they may be, in heights (chosen): beads too wide or too narrow for the bore but of a
/// likely shape were sliced for another nozzle.
const SHAPES: std::ops::RangeInclusive<f64> = 1.3..=4.0;
/// How far a diameter from a stated mass may lie off: it is rounded, and 3 mm is said of 2.85 mm
/// filament (chosen).
const MASS_SPREAD: f64 = 0.08;
/// The fewest beads that say anything, and the most that are kept.
const BEADS: std::ops::Range<usize> = 4..2048;
/// The shortest bead that is taken, mm.
const SHORTEST: f64 = 2.0;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "filament-diameter-mismatch",
    class: Class::Major,
    page: include_str!("filament_diameter_mismatch.md"),
    wants: Wants::STEPS.and(Wants::LAYERS),
    silences: &["bead-too-narrow", "bead-too-wide", "declared-mismatch"],
    make,
};

struct FilamentDiameterMismatch {
    held: Held,
    /// The diameter in the job's own volumetric word.
    volumetric: Option<(f64, Excerpt)>,
    /// By tool: filament over path, and height, mm.
    beads: Vec<(u32, Vec<[f64; 2]>)>,
    /// By tool: where the part begins.
    begins: Vec<(u32, Excerpt)>,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    let tools = held
        .machine
        .as_deref()
        .map(|machine| machine.tools.as_slice());
    let is_said = tools
        .unwrap_or_default()
        .iter()
        .any(|tool| tool.filament_diameter.is_some())
        || held
            .each_material()
            .any(|material| material.filament_diameter.is_some());
    if !is_said {
        return Err("neither sheet says filament_diameter".to_owned());
    }
    Ok(Box::new(FilamentDiameterMismatch {
        held: held.clone(),
        volumetric: None,
        beads: Vec::new(),
        begins: Vec::new(),
    }))
}

/// The diameter a tool takes, and whose figure that is.
fn taken(held: &Held, tool: u32) -> Option<(f64, Limit)> {
    let cite = |sheet: String, key: &str, cited: &Cited<Millimetres>| {
        let value = cited.value.get();
        (value, limit(&sheet, key, cited, value, Millimetres::UNIT))
    };
    let of_tool = held.machine.as_deref().and_then(|machine| {
        let cited = held.tool(tool)?.filament_diameter.as_ref()?;
        let sheet = format!("machine sheet {}", machine.name);
        Some(cite(sheet, "tools.filament_diameter", cited))
    });
    of_tool.or_else(|| {
        let material = held.material(tool)?;
        let cited = material.filament_diameter.as_ref()?;
        let sheet = format!("material sheet {}", material.name);
        Some(cite(sheet, "filament_diameter", cited))
    })
}

fn fits(held: &Held, tool: u32, value: &str) -> bool {
    match (taken(held, tool), length(value, FILAMENTS)) {
        (Some((taken, _)), Some(told)) => (taken - told).abs() < GRAIN,
        _ => true,
    }
}

/// The common diameter that is not this one.
fn other(taken: f64) -> Option<f64> {
    let mut others = COMMON.into_iter().filter(|d| (d - taken).abs() > 0.5);
    others.next().filter(|_| others.next().is_none())
}

/// The diameter at which the beads make sense, where they make none at the one taken.
fn by_beads(beads: &[[f64; 2]], bore: f64, taken: f64) -> Option<f64> {
    let other = other(taken)?;
    if beads.len() < BEADS.start {
        return None;
    }
    // Taller than the bore: sliced for another nozzle, and nothing follows for the filament.
    if median(beads.iter().map(|[_, height]| *height))? > bore {
        return None;
    }
    let wide = |diameter: f64| {
        let widths = beads
            .iter()
            .map(|[filament, height]| {
                let wide = width(filament * filament_area(diameter), *height).unwrap_or(0.0);
                (wide / bore, wide / height)
            })
            .collect::<Vec<_>>();
        let bores = median(widths.iter().map(|(bores, _)| *bores))?;
        let heights = median(widths.iter().map(|(_, heights)| *heights))?;
        Some((bores, heights))
    };
    let (bores, heights) = wide(taken)?;
    let (other_bores, _) = wide(other)?;
    let is_thin = bores < *WIDTHS.start() && heights < *SHAPES.start();
    let is_thick = bores > *WIDTHS.end() && heights > *SHAPES.end();
    ((is_thin || is_thick) && WIDTHS.contains(&other_bores)).then_some(other)
}

/// The diameter at which the stated mass makes sense, where it makes none at the one taken.
fn by_mass(end: &End<'_>, tool: u32, taken: f64) -> Option<(f64, Excerpt)> {
    let (mass, at) = end.declared.number(Key::FilamentMassG)?;
    let density = end
        .declared
        .number(Key::FilamentDensity)
        .map(|(density, _)| density)
        .or_else(|| Some(end.held.material(tool)?.density.as_ref()?.value.get()))
        .filter(|density| (0.5..=5.0).contains(density))?;
    // A mass of a gram or two is rounded too much to tell.
    if mass < 2.0 || end.declared.get(Key::FilamentDiameter).is_some() {
        return None;
    }
    let filament = mm(end.state.filament_total());
    let weighed = filament_diameter(mass / density * 1000.0 / filament)?;
    let other = other(taken)?;
    ((weighed / other - 1.0).abs() < MASS_SPREAD).then(|| (other, at.clone()))
}

fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}

impl Inspection for FilamentDiameterMismatch {
    fn step(&mut self, step: &Step<'_>, _: &State, line: &Line<'_>) {
        if let Command::Volumetric(Some(diameter)) = step.command
            && FILAMENTS.contains(&diameter)
        {
            self.volumetric = Some((diameter, line.letter(b'D').excerpt()));
        }
    }

    fn layer(&mut self, layer: &Layer) {
        for stroke in layer.settings() {
            let tool = stroke.conditions.tool;
            if self.begins.iter().all(|(of, _)| *of != tool) {
                let mut at = Excerpt::default();
                layer.show(stroke.start).write(&mut at);
                self.begins.push((tool, at));
            }
        }
        // A first layer is pressed flat on purpose, and a rising one has no height of its own.
        if layer.number == 0 || layer.is_rising || layer.height <= 0 {
            return;
        }
        for stroke in layer.part() {
            let is_wall = matches!(
                stroke.hint,
                PathKind::Unsaid | PathKind::OuterWall | PathKind::InnerWall | PathKind::Wall
            );
            if !is_wall || stroke.length < SHORTEST {
                continue;
            }
            let tool = stroke.conditions.tool;
            let filament = mm(stroke.pushed) * stroke.conditions.flow / stroke.length;
            let bead = [filament, mm(layer.height)];
            match self.beads.iter_mut().find(|(of, _)| *of == tool) {
                Some((_, beads)) if beads.len() < BEADS.end => beads.push(bead),
                Some(_) => {}
                None => self.beads.push((tool, vec![bead])),
            }
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let used = tools_used(end.state);
        let told = told_otherwise(end, Key::FilamentDiameter, fits);
        for &tool in &used {
            let Some((taken, limit)) = taken(&self.held, tool) else {
                continue;
            };
            let told = told.iter().find(|told| told.tool == tool);
            let told =
                told.and_then(|told| Some((length(told.value, FILAMENTS)?, told.at.clone())));
            let volumetric = self
                .volumetric
                .clone()
                .filter(|(diameter, _)| (diameter - taken).abs() >= GRAIN);
            let bore = end
                .declared
                .number(Key::NozzleDiameter)
                .map(|(bore, _)| bore)
                .or_else(|| Some(self.held.tool(tool)?.bore.as_ref()?.value.get()));
            let beads = self.beads.iter().find(|(of, _)| *of == tool);
            let by_beads = || {
                let begins = self.begins.iter().find(|(of, _)| *of == tool);
                let diameter = by_beads(&beads?.1, bore?, taken)?;
                Some((diameter, begins.map(|(_, at)| at.clone())))
            };
            let by_mass = || {
                let (diameter, at) = by_mass(end, tool, taken).filter(|_| used.len() == 1)?;
                Some((diameter, Some(at)))
            };
            let declared = told.or(volumetric).map(|(d, at)| (d, Some(at)));
            let how = if declared.is_some() {
                "is sliced for"
            } else {
                "only makes sense with"
            };
            let Some((diameter, at)) = declared.or_else(by_beads).or_else(by_mass) else {
                continue;
            };
            let less = ((taken / diameter).powi(2) * 100.0).round();
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Major,
                message: format!(
                    "the job {how} {} mm filament, and tool {tool} takes {} mm: {less} % of the \
                     plastic would come out",
                    tidy(diameter),
                    tidy(taken)
                ),
                help: format!("slice the job for {} mm filament", tidy(taken)),
                limit: Some(limit),
                amount: Some(tidy(diameter)),
                extent: at.map_or_else(Extent::whole_job, Extent::once),
                related: Vec::new(),
            });
        }
    }
}
