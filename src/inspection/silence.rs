//! One cause, one finding.

use super::Report;
use crate::finding::{Class, NotHeld};

/// What another finding explains is listed as not held.
pub(super) fn silence(report: &mut Report, silences: &[(&'static str, &'static [&'static str])]) {
    let Report {
        findings, not_held, ..
    } = report;
    // What is silenced itself is no reason to name, where another finding explains both.
    let is_silenced = |id: &str| {
        silences
            .iter()
            .any(|(by, silenced)| *by != id && silenced.contains(&id))
    };
    findings.retain(|finding| {
        let mut by_all = silences.iter().filter(|(by, silenced)| {
            *by != finding.requirement && silenced.contains(&finding.requirement)
        });
        let by = by_all
            .clone()
            .find(|(by, _)| !is_silenced(by))
            .or_else(|| by_all.next());
        match by {
            Some((by, _)) if finding.class != Class::Observation || *by != "setpoint-hidden" => {
                not_held.push(NotHeld {
                    requirement: finding.requirement,
                    reason: format!("the finding {by} explains what it would say"),
                });
                false
            }
            _ => true,
        }
    });
}
