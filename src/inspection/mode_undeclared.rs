//! Filament is laid before the job has said how its numbers are counted.

use super::{End, Held, Inspection, Report, Requirement, Wants};
use crate::finding::{Class, Excerpt, Extent, Finding};
use crate::machine::{Facts, Line, Motion, State};

pub(super) const REQUIREMENT: Requirement = Requirement {
    id: "mode-undeclared",
    class: Class::Minor,
    page: include_str!("mode_undeclared.md"),
    wants: Wants::motions(Facts::FIRST_DEPOSIT),
    silences: &[],
    make,
};

#[derive(Default)]
struct ModeUndeclared {
    missing: Vec<&'static str>,
    at: Option<Excerpt>,
}

#[allow(clippy::unnecessary_wraps, reason = "the register's form")]
fn make(_: &Held) -> Result<Box<dyn Inspection>, String> {
    Ok(Box::new(ModeUndeclared::default()))
}

impl Inspection for ModeUndeclared {
    fn motion(&mut self, _: &Motion, state: &State, line: &Line<'_>) {
        for (mode, words) in [
            (state.absolute, "G90 or G91 for the axes"),
            (state.absolute_e, "M82 or M83 for the filament"),
        ] {
            if mode.declared.is_unknown() {
                self.missing.push(words);
            }
        }
        // Millimetres are every control's default: units alone are not worth a word.
        if !self.missing.is_empty() && state.inches.declared.is_unknown() {
            self.missing.push("G20 or G21 for the units");
        }
        if !self.missing.is_empty() {
            self.at = Some(line.all().excerpt());
        }
    }

    fn conclude(&mut self, _: &End<'_>, report: &mut Report) {
        let Some(at) = self.at.take() else { return };
        report.findings.push(Finding {
            requirement: REQUIREMENT.id,
            class: Class::Minor,
            message: format!(
                "filament is laid before the job has said {}",
                self.missing.join(", ")
            ),
            help: "declare the modes at the start of the job; the job before this one may have \
                   left others"
                .to_owned(),
            limit: None,
            amount: None,
            extent: Extent::once(at),
            related: Vec::new(),
        });
    }
}
