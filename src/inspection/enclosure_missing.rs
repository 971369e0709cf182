//! A part too large for its material stands in the open.

use super::figures::tenth;
use super::held::of_material;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Extent, Finding, NotHeld};
use crate::machine::{MILLIMETRE, Span, mm};
use crate::sheet::{ChamberKind, Material};
use crate::survey::Layer;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "enclosure-missing",
    class: Class::Major,
    page: include_str!("enclosure_missing.md"),
    wants: Wants::LAYERS,
    silences: &[],
    make,
};

/// Deposit no farther apart than this is of one part, pm: a wide bead (chosen).
const APART: i64 = MILLIMETRE;

/// The most parts kept apart on one plate; past it they count as one (chosen).
const CAP: usize = 64;

/// Parts up to this many times the sheet's size are of medium size, beyond they are large (chosen).
const MEDIUM: f64 = 2.0;

/// One part on the plate.
#[derive(Clone, Copy)]
struct Island {
    sides: [Span; 3],
    tool: u32,
}

struct EnclosureMissing {
    held: Held,
    is_open: bool,
    islands: Vec<Island>,
    last: usize,
    is_full: bool,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.says("enclosure.needed_above", |material| {
        material.enclosure.needed_above.as_ref()
    })?;
    let kind = held.machine()?.chamber.kind.as_ref();
    let kind = kind.ok_or("the machine sheet does not say chamber.kind")?;
    Ok(Box::new(EnclosureMissing {
        held: held.clone(),
        is_open: kind.value == ChamberKind::None,
        islands: Vec::new(),
        last: 0,
        is_full: false,
    }))
}

/// The largest size that comes out in the open, mm.
fn limit(held: &Held, tool: u32) -> Option<f64> {
    Some(
        held.material(tool)?
            .enclosure
            .needed_above
            .as_ref()?
            .value
            .get(),
    )
}

/// Whether the chamber is missed in any case, which another requirement states.
fn needs_one_anyway(material: &Material) -> bool {
    let required = material.chamber.required.as_ref();
    required.is_some_and(|yes| yes.value) && material.chamber.print.is_some()
}

impl Island {
    fn longest(&self) -> i64 {
        self.sides.iter().map(Span::length).max().unwrap_or(0)
    }

    fn holds(&self, x: Span, y: Span) -> bool {
        let [of_x, of_y, _] = self.sides;
        of_x.least <= x.least && x.most <= of_x.most && of_y.least <= y.least && y.most <= of_y.most
    }

    fn meets(&self, other: &Self) -> bool {
        let near = |a: Span, b: Span| a.least <= b.most + APART && b.least <= a.most + APART;
        let ([x, y, _], [ox, oy, _]) = (self.sides, other.sides);
        near(x, ox) && near(y, oy)
    }

    fn take(&mut self, other: &Self) {
        for (side, by) in self.sides.iter_mut().zip(other.sides) {
            side.least = side.least.min(by.least);
            side.most = side.most.max(by.most);
        }
    }
}

impl EnclosureMissing {
    /// Joins a stroke to the part it touches, and parts that it joins.
    fn add(&mut self, stroke: Island) {
        let mut whole = stroke;
        let is_full = self.is_full;
        // What has grown may touch what it did not before.
        loop {
            let before = self.islands.len();
            self.islands.retain(|island| {
                let joins = is_full || island.meets(&whole);
                if joins {
                    whole.tool = island.tool;
                    whole.take(island);
                }
                !joins
            });
            if self.islands.len() == before {
                break;
            }
        }
        self.islands.push(whole);
        self.last = self.islands.len() - 1;
        self.is_full |= self.islands.len() > CAP;
    }
}

impl Inspection for EnclosureMissing {
    fn layer(&mut self, layer: &Layer) {
        if !self.is_open {
            return;
        }
        for stroke in layer.part() {
            let least = layer.z - layer.height.max(0);
            if let Some(island) = self.islands.get_mut(self.last)
                && island.holds(stroke.x, stroke.y)
            {
                let [.., z] = &mut island.sides;
                z.least = z.least.min(least);
                z.most = z.most.max(stroke.z);
                continue;
            }
            let z = Span {
                least,
                most: stroke.z,
            };
            self.add(Island {
                sides: [stroke.x, stroke.y, z],
                tool: self.held.alike(stroke.conditions.tool),
            });
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        if self.is_full {
            report.not_held.push(NotHeld {
                requirement: REQUIREMENT.id,
                reason: format!("more than {CAP} parts stand on the plate: none is measured alone"),
            });
            return;
        }
        let over = |island: &Island| {
            let limit = limit(end.held, island.tool)?;
            (mm(island.longest()) > limit).then_some(island.longest())
        };
        let Some(largest) = self
            .islands
            .iter()
            .max_by_key(|island| over(island).unwrap_or(0))
        else {
            return;
        };
        let (Some(size), Some(material)) = (over(largest), end.held.material(largest.tool)) else {
            return;
        };
        let Some(limit) = &material.enclosure.needed_above else {
            return;
        };
        if needs_one_anyway(material) {
            report.not_held.push(NotHeld {
                requirement: REQUIREMENT.id,
                reason: "the finding machine-short-of-sheet explains what it would say".to_owned(),
            });
            return;
        }
        let size = tenth(mm(size));
        let class = if size > MEDIUM * limit.value.get() {
            "large"
        } else {
            "of medium size"
        };
        let name = &material.name;
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Major,
            message: format!(
                "the part is {size} mm long at its longest side, {class} for {name}, of which only small \
                 parts up to {} come out on an open machine: it warps, and splits between layers",
                limit.value
            ),
            help: "print it in an enclosure, which keeps draughts off and the air warm, or in smaller \
                   pieces"
                .to_owned(),
            limit: Some(of_material(
                material,
                "enclosure.needed_above",
                limit,
                limit.value,
            )),
            amount: Some(size),
            extent: Extent::whole_job(),
            related: Vec::new(),
        });
    }
}
