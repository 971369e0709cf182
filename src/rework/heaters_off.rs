//! Heaters that a job leaves on are switched off behind its last line.

use super::{Characteristic, Mend, Proposal, Proposals, Rework};
use crate::edit::Change;
use crate::inspection::{End, Held};

pub(super) static REWORK: Rework = Rework {
    id: "heaters-off",
    page: include_str!("heaters_off.md"),
    answers: &["heater-left-on"],
    alters: &[Characteristic::Heat],
    is_repair: false,
    make: Some(make),
};

struct Mending;

fn make(_: &Held) -> Box<dyn Mend> {
    Box::new(Mending)
}

impl Mend for Mending {
    fn propose(&mut self, end: &End<'_>, proposals: &mut Proposals) {
        let state = end.state;
        let is_on = |element: &crate::machine::Element| {
            element
                .setting
                .target
                .get()
                .is_some_and(|target| target > 0.0)
        };
        let mut lines = String::new();
        let mut said = Vec::new();
        let many = state.hotends.len() > 1;
        for (tool, hotend) in state.hotends.iter().enumerate() {
            if is_on(hotend) {
                lines += &if many {
                    format!("M104 T{tool} S0\n")
                } else {
                    "M104 S0\n".to_owned()
                };
                said.push("hotend");
            }
        }
        if is_on(&state.bed) {
            lines += "M140 S0\n";
            said.push("bed");
        }
        if is_on(&state.chamber) {
            lines += "M141 S0\n";
            said.push("chamber");
        }
        if lines.is_empty() {
            return;
        }
        let id = "heater-left-on";
        if state.claims.end.is_some() {
            proposals.refuse(REWORK.id, id, "a macro may switch them off");
            return;
        }
        if end.program_end.is_some() {
            proposals.refuse(
                REWORK.id,
                id,
                "the control reads nothing behind the program's end",
            );
            return;
        }
        said.dedup();
        proposals.list.push(Proposal {
            rework: REWORK.id,
            requirement: id,
            old: format!("{} left on", said.join(" and ")),
            new: "switched off".to_owned(),
            limit: None,
            at: None,
            changes: vec![behind(end, &lines)],
        });
    }
}

/// Lines behind the job's last one. A last line without an ending gets one first, which is dropped
/// behind the new lines.
pub(super) fn behind(end: &End<'_>, lines: &str) -> Change {
    let text = if end.ends_with_line_end {
        lines.to_owned()
    } else {
        format!("\n{}", lines.trim_end_matches('\n'))
    };
    Change::new(end.lines, end.bytes..end.bytes, text)
}
