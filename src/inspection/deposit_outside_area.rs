//! Filament is laid outside the printable area.

use super::area::{Past, Sides, moved, past, past_area};
use super::figures::tidy;
use super::held::of_machine;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Limit, Tally};
use crate::machine::{Setup, mm};
use crate::survey::{Deposit, Layer, Stroke};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "deposit-outside-area",
    class: Class::Critical,
    page: include_str!("deposit_outside_area.md"),
    wants: Wants::LAYERS,
    // Travel that it explains is kept silent by travel-outside-reach itself.
    silences: &[],
    make,
};

/// Moves outside, and the farthest.
#[derive(Default)]
struct Beyond {
    tally: Tally,
    worst: Option<Past>,
}

struct DepositOutsideArea {
    setup: Setup,
    part: Beyond,
    /// How far the part passes each side.
    sides: Sides,
    beside: Beyond,
    out_of_reach: Beyond,
    /// The greatest height of a part, mm.
    height: Option<f64>,
    too_tall: Tally,
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.machine()?;
    let setup = held.setup();
    if setup.area.is_none() {
        return Err("the machine sheet does not say where the bed is printable".to_owned());
    }
    Ok(Box::new(DepositOutsideArea {
        setup,
        part: Beyond::default(),
        sides: Sides::default(),
        beside: Beyond::default(),
        out_of_reach: Beyond::default(),
        height: held
            .machine()?
            .height
            .as_ref()
            .map(|height| height.value.get()),
        too_tall: Tally::default(),
    }))
}

impl Beyond {
    fn note(&mut self, layer: &Layer, stroke: &Stroke, past: Past) {
        let Some(outside) = &stroke.outside else {
            return;
        };
        let is_there = |end: i64| (mm(end) - past.at).abs() < 1e-6;
        let side = outside.sides.iter().find(|(end, _)| is_there(*end));
        let farthest = side.map_or(outside.at, |(_, at)| *at);
        let moves = u64::from(outside.moves);
        self.tally
            .note_many(moves, past.over, past.at, &layer.show(farthest));
        // The first and the last of them may be others than the farthest.
        for at in [outside.at, outside.last] {
            self.tally.go_on(0.0, past.at, &layer.show(at));
        }
        if self.worst.is_none_or(|worst| past.over > worst.over) {
            self.worst = Some(past);
        }
    }
}

impl DepositOutsideArea {
    /// Where a stroke passes the ends of the axes.
    fn past_reach(&self, stroke: &Stroke) -> Option<Past> {
        let [x, y, _] = self.setup.reach?;
        let tool = self.setup.tools.get(stroke.conditions.tool as usize);
        let [by_x, by_y, _] = tool.map_or([0; 3], |tool| tool.offset);
        past([x, y], [moved(stroke.x, by_x), moved(stroke.y, by_y)])
    }
}

impl Inspection for DepositOutsideArea {
    fn layer(&mut self, layer: &Layer) {
        let Some(area) = self.setup.area else {
            return;
        };
        let over = self.height.map_or(0.0, |height| mm(layer.z) - height);
        if let (true, Some(stroke)) = (over > 1e-6, layer.part().next()) {
            self.too_tall
                .note(over, mm(layer.z), &layer.show(stroke.start));
        }
        for stroke in &layer.strokes {
            let Some(outside) = &stroke.outside else {
                continue;
            };
            let past = past_area(&area, stroke.x, stroke.y)
                .or_else(|| past_area(&area, outside.x, outside.y));
            let Some(past) = past else { continue };
            if stroke.deposit == Deposit::Part {
                self.part.note(layer, stroke, past);
                self.sides.pass(&area, stroke.x, stroke.y);
            } else if let Some(past) = self.past_reach(stroke) {
                self.out_of_reach.note(layer, stroke, past);
            } else {
                self.beside.note(layer, stroke, past);
            }
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let Some(machine) = end.held.machine.as_deref() else {
            return;
        };
        if let (Some(height), Some(z)) = (&machine.height, self.too_tall.worst()) {
            report.findings.push(Finding {
                requirement: REQUIREMENT.id,
                class: Class::Critical,
                message: format!(
                    "the part reaches {} mm, above the {} that the machine builds",
                    tidy(z),
                    height.value
                ),
                help: "lay the part down, cut it, or choose a taller machine".to_owned(),
                limit: Some(of_machine(machine, "height", height, height.value)),
                amount: Some(tidy(z)),
                extent: std::mem::take(&mut self.too_tall).close(Counts::Layers),
                related: Vec::new(),
            });
        }
        if let Some(past) = self.part.worst {
            let mut message = format!(
                "the part is laid at {}, {} mm outside the printable area",
                past.place(),
                tidy(past.over)
            );
            // Who moves it by one side's measure only is held again.
            message.push_str(&self.sides.but_the_worst());
            let help = "move the part onto the bed, or slice it for this machine";
            let limit = past.of_area(machine);
            report.findings.push(finding(
                &mut self.part,
                Class::Critical,
                past,
                limit,
                message,
                help,
            ));
        }
        if let Some(past) = self.out_of_reach.worst {
            let message = format!(
                "filament is laid beside the part at {}, {} mm farther than the axis goes",
                past.place(),
                tidy(past.over)
            );
            let help = "move purge line, skirt and tower to where the axes reach";
            let limit = past.of_reach(machine);
            report.findings.push(finding(
                &mut self.out_of_reach,
                Class::Critical,
                past,
                limit,
                message,
                help,
            ));
        }
        if let Some(past) = self.beside.worst {
            let message = format!(
                "filament is laid beside the part at {}, {} mm outside the printable area, where \
                 the axes still reach",
                past.place(),
                tidy(past.over)
            );
            let help = "check that nothing stands there: a clip, a brush, the edge of the sheet";
            let limit = past.of_area(machine);
            report.findings.push(finding(
                &mut self.beside,
                Class::Observation,
                past,
                limit,
                message,
                help,
            ));
        }
    }
}

fn finding(
    of: &mut Beyond,
    class: Class,
    past: Past,
    limit: Option<Limit>,
    message: String,
    help: &str,
) -> Finding {
    Finding {
        requirement: REQUIREMENT.id,
        class,
        message,
        help: help.to_owned(),
        limit,
        amount: Some(tidy(past.at)),
        extent: std::mem::take(&mut of.tally).close(Counts::Moves),
        related: Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use crate::inspection::{Held, inspect};
    use crate::sheet::Machine;
    use std::sync::Arc;

    /// Findings on a round bed of 200 mm about the origin.
    fn on_round_bed(path: &str) -> Vec<String> {
        let sheet =
            "name = \"round\"\nbed = { diameter = \"200 mm\" }\n[[tools]]\nbore = \"0.4 mm\"\n";
        let held = Held {
            materials: Vec::new(),
            machine: Some(Arc::new(Machine::parse("round", sheet).unwrap())),
            ..Held::default()
        };
        let job = format!("G28\nM104 S200\nG1 X-90 Y0 Z0.2 F1800\n{path}");
        inspect(job.as_bytes(), held)
            .findings
            .into_iter()
            .filter(|finding| finding.requirement == super::REQUIREMENT.id)
            .map(|finding| {
                let line = finding.extent.first.map_or(0, |at| at.place.line);
                format!("line {line}: {}", finding.message)
            })
            .collect()
    }

    #[test]
    fn a_circle_within_a_round_bed_lies_within_though_its_box_does_not() {
        let circle = "G2 X90 Y0 I90 J0 E10\nG2 X-90 Y0 I-90 J0 E20\n";
        assert_eq!(on_round_bed(circle), [""; 0]);
    }

    #[test]
    fn a_corner_beyond_the_rim_is_found_where_the_sides_are_within() {
        let square = "G1 X-75 Y-75 E5\nG1 X75 Y-75 E10\nG1 X75 Y75 E15\n";
        let corner = "line 4: the part is laid at 106.066 mm from the middle of the bed, 6.066 mm \
                      outside the printable area";
        assert_eq!(on_round_bed(square), [corner]);
        assert_eq!(on_round_bed(&square.replace("75", "70")), [""; 0]);
    }
}
