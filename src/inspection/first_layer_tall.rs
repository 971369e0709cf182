//! The part's first layer is taller than the nozzle can press down.

use super::held::{limit, of_machine, of_material};
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Extent, Finding, Limit, Mark, SourceMark};
use crate::machine::{Facts, Line, MILLIMETRE, Motion, State, mm};
use crate::quantity::Millimetres;
use crate::sheet::{Cited, Machine, Material, Tool};
use crate::survey::{Deposit, Layer, Stroke};

/// The most where the material sheet does not say, of the nozzle's bore (common practice, no source:
/// a bead taller than about four fifths of the bore is not pressed down).
const MOST_SHARE: f64 = 0.8;

/// Heights are differences of numbers as written, pm: a nanometre is no difference.
const GRAIN: i64 = MILLIMETRE / 1_000_000;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "first-layer-tall",
    class: Class::Major,
    page: include_str!("first_layer_tall.md"),
    wants: Wants::LAYERS.and(Wants::motions(Facts::FIRST_DEPOSIT)),
    silences: &[],
    make,
};

struct FirstLayerTall {
    held: Held,
    /// The tool, the height in pm, and where the layer begins.
    tall: Option<(u32, i64, Extent)>,
    /// The job has homed Z and counts it from there.
    is_sure: bool,
    /// Something other than a purge was laid before: a skirt, or a support that none of the words say.
    has_under: bool,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    let machine = held.machine()?;
    if machine.tools.iter().all(|tool| tool.bore.is_none()) {
        return Err("the machine sheet does not say tools.bore".to_owned());
    }
    Ok(Box::new(FirstLayerTall {
        held: held.clone(),
        tall: None,
        is_sure: false,
        has_under: false,
    }))
}

/// A bead taller than the bore is wide does not reach the bed at all.
fn floats(
    height: i64,
    (bore, machine): (&Cited<Millimetres>, &Machine),
    extent: Extent,
) -> Finding {
    let height = super::figures::tidy(mm(height));
    Finding {
        requirement: REQUIREMENT.id,
        class: Class::Major,
        message: format!(
            "the part begins {height} mm above the bed with nothing under it, and a bead from a bore \
             of {} does not reach so far down",
            bore.value
        ),
        help: "see to the Z offset that the job was sliced with, or to a raft or support that it lacks"
            .to_owned(),
        limit: Some(of_machine(machine, "tools.bore", bore, bore.value)),
        amount: Some(height),
        extent,
        related: Vec::new(),
    }
}

fn share(material: Option<&Material>) -> f64 {
    let said = material.and_then(|material| material.first_layer.height_most_share.as_ref());
    said.map_or(MOST_SHARE, |share| share.value.get() / 100.0)
}

fn most(material: Option<&Material>, tool: Option<&Tool>) -> Option<f64> {
    Some(tool?.bore.as_ref()?.value.get() * share(material))
}

/// Whether the numbers of Z are heights above the bed, as far as a job can tell.
fn is_above_bed(state: &State) -> bool {
    let [.., homed] = state.homed;
    let [_, _, z, _] = state.shift;
    homed.get().is_some() && z == 0
}

impl Inspection for FirstLayerTall {
    fn motion(&mut self, _: &Motion, state: &State, _: &Line<'_>) {
        self.is_sure = is_above_bed(state);
    }

    fn layer(&mut self, layer: &Layer) {
        if layer.number == 0 && !layer.has_part() {
            let is_purge = |stroke: &Stroke| stroke.deposit == Deposit::Purge;
            self.has_under |= !layer.strokes.iter().all(is_purge);
        }
        if layer.number != 0 || !layer.stands_on_bed || self.tall.is_some() {
            return;
        }
        for stroke in layer.part() {
            let tool = stroke.conditions.tool;
            let most = most(self.held.material(tool), self.held.tool(tool));
            if most.is_some_and(|most| layer.height > crate::machine::pm(most) + GRAIN) {
                let mut at = crate::finding::Excerpt::default();
                layer.show(stroke.start).write(&mut at);
                self.tall = Some((tool, layer.height, Extent::once(at)));
                return;
            }
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let Some((tool, height, extent)) = self.tall.take() else {
            return;
        };
        let (material, machine) = (end.held.material(tool), end.held.machine.as_deref());
        let (Some(most), Some(machine)) = (most(material, end.held.tool(tool)), machine) else {
            return;
        };
        let bore = end.held.tool(tool).and_then(|tool| tool.bore.as_ref());
        let is_sure = self.is_sure && !self.has_under && is_above_bed(end.state);
        if let Some(bore) =
            bore.filter(|bore| is_sure && height > crate::machine::pm(bore.value.get()) + GRAIN)
        {
            report
                .findings
                .push(floats(height, (bore, machine), extent));
            return;
        }
        let most = Millimetres::new(super::figures::tidy(most));
        let said = material.and_then(|material| {
            let share = material.first_layer.height_most_share.as_ref()?;
            Some(of_material(
                material,
                "first_layer.height_most_share",
                share,
                most,
            ))
        });
        let chosen = || -> Option<Limit> {
            let bore = end.held.tool(tool)?.bore.as_ref()?;
            let sheet = format!("machine sheet {}", machine.name);
            Some(Limit {
                whose: format!("80 % of {sheet}, tools.bore"),
                mark: SourceMark::Practice,
                ..limit(&sheet, "tools.bore", bore, most.get(), Millimetres::UNIT)
            })
        };
        let height = super::figures::tidy(mm(height));
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Minor,
            message: format!(
                "the first layer is {height} mm tall, above the {most} that the nozzle's bore allows"
            ),
            help: format!("lay the first layer {most} tall or less, so that it is pressed to the bed"),
            limit: said.or_else(chosen),
            amount: Some(height),
            extent,
            related: Vec::new(),
        });
    }
}
