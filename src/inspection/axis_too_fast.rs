//! An axis is asked for more speed than it has.

use super::figures::tenth;
use super::held::of_machine;
use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Counts, Finding, Tally};
use crate::machine::{Facts, Line, Motion, Setup, State, mm};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "axis-too-fast",
    class: Class::Observation,
    page: include_str!("axis_too_fast.md"),
    wants: Wants::motions(Facts::OVER_SPEED),
    silences: &[],
    make,
};

struct AxisTooFast {
    setup: Setup,
    fast: Tally,
    /// How many times its most the worst axis is asked for, which axis, and the speed.
    worst: (f64, usize, f64),
}

fn make(held: &Held) -> Result<Box<dyn Inspection>, String> {
    held.machine()?;
    let setup = held.setup();
    if setup.axis_speed.iter().take(3).all(Option::is_none) {
        return Err("the machine sheet does not say speed".to_owned());
    }
    Ok(Box::new(AxisTooFast {
        setup,
        fast: Tally::default(),
        worst: (0.0, 0, 0.0),
    }))
}

impl Inspection for AxisTooFast {
    fn motion(&mut self, motion: &Motion, _: &State, line: &Line<'_>) {
        let mut worst = (0.0, 0, 0.0);
        let way = motion.from.iter().zip(&motion.to);
        for (axis, ((from, to), most)) in way.zip(self.setup.axis_speed).enumerate() {
            let Some(most) = most else { continue };
            let speed = motion.feed * mm(to.saturating_sub(*from).saturating_abs()) / motion.length;
            if speed / most > worst.0 {
                worst = (speed / most, axis, speed);
            }
        }
        self.fast.note(worst.0, worst.2, &line.all());
        if worst.0 > self.worst.0 {
            self.worst = worst;
        }
    }

    fn conclude(&mut self, end: &End<'_>, report: &mut Report) {
        let Some(machine) = end.held.machine.as_deref() else {
            return;
        };
        let (times, axis, speed) = self.worst;
        let axes = [
            ('X', "speed.x", &machine.speed.x),
            ('Y', "speed.y", &machine.speed.y),
            ('Z', "speed.z", &machine.speed.z),
        ];
        let (true, Some((name, key, Some(most)))) = (times > 0.0, axes.get(axis)) else {
            return;
        };
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Observation,
            message: format!(
                "{name} is asked for {} mm/s, above the {} it has; the control will slow \
                 the move down",
                tenth(speed),
                most.value
            ),
            help: "expect such moves to take longer than the job says; lower the feed if time \
                   matters"
                .to_owned(),
            limit: Some(of_machine(machine, key, most, most.value)),
            amount: Some(tenth(speed)),
            extent: std::mem::take(&mut self.fast).close(Counts::Moves),
            related: Vec::new(),
        });
    }
}
