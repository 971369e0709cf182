//! The job needs more filament than is left on the spool.

use super::figures::{tenth, tools_used};
use super::held::of_material;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Excerpt, Extent, Finding, Mark, NotHeld};
use crate::machine::{Setup, mm};
use crate::physics::bead::filament_area;
use crate::sheet::Material;
use crate::survey::Layer;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "spool-short",
    class: Class::Major,
    page: include_str!("spool_short.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

/// The share of a spool that is best left on it: its end is bent tightly, may be held fast, and a
/// purge may be wanted (common practice, no source: 5 to 10 %).
const LEFT: f64 = 0.05;

/// One tool's filament, as it is laid.
#[derive(Default)]
struct Reel {
    /// What flow factors add to the E words, pm; negative where they take away.
    factored: f64,
    /// Laid so far, g.
    laid: f64,
    /// Where the spool has run out at the latest.
    out: Option<Excerpt>,
}

struct SpoolShort {
    held: Held,
    setup: Setup,
    reels: Vec<(u32, Reel)>,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.says("spool.left", |material| material.spool.left.as_ref())?;
    held.says("density", |material| material.density.as_ref())?;
    Ok(Box::new(SpoolShort {
        held: held.clone(),
        setup: held.setup(),
        reels: Vec::new(),
    }))
}

/// Grams of a millimetre of filament: of the diameter on the spool, or else the machine's.
fn grams_per_mm(material: &Material, setup: &Setup, tool: u32) -> Option<f64> {
    let diameter = material.filament_diameter.as_ref();
    let area = diameter.map_or_else(
        || setup.tool(tool).filament_area,
        |diameter| filament_area(diameter.value.get()),
    );
    Some(material.density.as_ref()?.value.get() * area / 1000.0)
}

impl Inspection for SpoolShort {
    fn layer(&mut self, layer: &Layer) {
        for stroke in &layer.strokes {
            let tool = stroke.conditions.tool;
            let index = self.reels.iter().position(|(of, _)| *of == tool);
            let index = index.unwrap_or_else(|| {
                self.reels.push((tool, Reel::default()));
                self.reels.len() - 1
            });
            let Some((_, reel)) = self.reels.get_mut(index) else {
                continue;
            };
            let flow = stroke.conditions.flow;
            reel.factored += stroke.pushed as f64 * (flow - 1.0);
            if reel.out.is_some() {
                continue;
            }
            let Some(material) = self.held.material(tool) else {
                continue;
            };
            let (Some(left), Some(grams)) = (
                &material.spool.left,
                grams_per_mm(material, &self.setup, tool),
            ) else {
                continue;
            };
            reel.laid += mm(stroke.pushed) * flow * grams;
            if reel.laid > left.value.get() {
                let mut at = Excerpt::default();
                layer.show(stroke.start).write(&mut at);
                reel.out = Some(at);
            }
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        for tool in tools_used(end.state) {
            let Some(material) = end.held.material(tool) else {
                continue;
            };
            let said = (
                &material.spool.left,
                grams_per_mm(material, &self.setup, tool),
            );
            let (Some(left), Some(grams)) = said else {
                let key = if said.0.is_some() {
                    "density"
                } else {
                    "spool.left"
                };
                report.not_held.push(NotHeld {
                    requirement: REQUIREMENT.id,
                    reason: format!("the material sheet {} does not say {key}", material.name),
                });
                continue;
            };
            let place = self.reels.iter().position(|(of, _)| *of == tool);
            let reel = place.map(|place| self.reels.swap_remove(place).1);
            let reel = reel.unwrap_or_default();
            let pushed = end
                .state
                .filament
                .get(tool as usize)
                .map_or(0, |of| of.most);
            let needed = (mm(pushed) + reel.factored / mm_in_pm()) * grams;
            let has = left.value.get();
            if needed <= has * (1.0 + 1e-9) {
                continue;
            }
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Major,
                message: format!(
                    "the job needs {} g of {}, {} g more than the {} left on the spool",
                    tenth(needed),
                    material.name,
                    tenth(needed - has),
                    left.value
                ),
                help: format!(
                    "put on a spool with {} g or more: the last twentieth of one is best left on it",
                    (needed / (1.0 - LEFT)).ceil()
                ),
                limit: Some(of_material(material, "spool.left", left, left.value)),
                amount: Some(tenth(needed)),
                extent: reel.out.map_or_else(Extent::whole_job, Extent::once),
                related: Vec::new(),
            });
        }
    }
}

/// Picometres in a millimetre.
fn mm_in_pm() -> f64 {
    crate::machine::MILLIMETRE as f64
}
