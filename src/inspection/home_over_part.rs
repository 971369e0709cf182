//! Z is homed while the part stands on the bed.

use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::command::Command;
use crate::finding::{Class, Counts, Excerpt, Finding, Mark, Tally};
use crate::machine::{Line, State, Step, mm};
use crate::survey::Layer;

/// The most homings told apart: layers close after what follows them.
const CAP: usize = 256;

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "home-over-part",
    class: Class::Critical,
    page: include_str!("home_over_part.md"),
    wants: Wants::STEPS.and(Wants::LAYERS),
    silences: &[],
    make,
};

/// A homing of Z.
struct Homing {
    at: Excerpt,
    /// The line on which the part was last swept off before it; 0 for none.
    since: u64,
    /// Layers and height of what stands there, pm.
    layers: u64,
    top: i64,
}

#[derive(Default)]
struct HomeOverPart {
    /// The line on which the part was last swept off; 0 for none.
    swept: u64,
    /// Layers and height of the part since, pm.
    layers: u64,
    top: i64,
    homings: Vec<Homing>,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.machine()?;
    if held.setup().homes_up {
        return Err("the machine homes Z away from the bed".to_owned());
    }
    Ok(Box::new(HomeOverPart::default()))
}

impl Inspection for HomeOverPart {
    fn step(&mut self, step: &Step<'_>, state: &State, line: &Line<'_>) {
        if step.command != Command::Home || !state.has_deposited || self.homings.len() >= CAP {
            return;
        }
        let axes = step.axes;
        // The letter O asks for homing only where an axis is not homed yet (common practice).
        let plain = !axes.named(b'X') && !axes.named(b'Y') && !axes.named(b'O');
        if axes.named(b'Z') || plain {
            let at = line.all().excerpt();
            self.homings.push(Homing {
                at,
                since: self.swept,
                layers: self.layers,
                top: self.top,
            });
        }
    }

    fn layer(&mut self, layer: &Layer) {
        let mut strokes = layer.part();
        let Some(first) = strokes.next() else { return };
        let line = layer.show(first.start).place().line;
        if line > self.swept {
            self.layers += 1;
            self.top = self.top.max(layer.z);
        }
        // The layer closes later than the homing that may follow it.
        for homing in &mut self.homings {
            if line > homing.since && line < homing.at.place.line {
                homing.layers += 1;
                homing.top = homing.top.max(layer.z);
            }
        }
    }

    fn swept(&mut self, line: u64) {
        self.swept = line;
        self.layers = 0;
        self.top = 0;
    }

    fn conclude(&mut self, _: &End<'_>, report: &mut Report) {
        let mut over = Tally::default();
        for Homing {
            at, layers, top, ..
        } in std::mem::take(&mut self.homings)
        {
            // Two layers may be purge lines, and are no higher than what a probe stands.
            if layers > 2 {
                over.note(mm(top), mm(top), &at);
            }
        }
        let Some(top) = over.worst().map(super::figures::tidy) else {
            return;
        };
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Critical,
            message: format!("Z is homed while the part stands {top} mm tall on the bed"),
            help: "home X and Y alone (`G28 X Y`) once the part is begun; where Z homes away from \
                   the bed, say home in the machine sheet"
                .to_owned(),
            limit: None,
            amount: Some(top),
            extent: over.close(Counts::Words),
            related: Vec::new(),
        });
    }
}
