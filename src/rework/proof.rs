//! The proof: the result does what the job did, but for what was to change.

use super::{Characteristic, Mended};
use crate::finding::{Class, Finding};

/// What is proven to be kept.
#[derive(Debug, Clone, PartialEq)]
pub struct Proof {
    /// Motions, all as they were.
    pub moves: u64,
    /// Of them such that push filament.
    pub pushes: u64,
    /// Filament pushed, mm.
    pub pushed_mm: f64,
    /// What stays the same.
    pub kept: Vec<Characteristic>,
    /// Requirements whose findings are gone.
    pub gone: Vec<&'static str>,
}

/// Why a result is not proven: lower case, no final stop.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unproven(pub String);

/// Holds a reworked job against the job as it was.
///
/// # Errors
///
/// Where path, deposit or another promised characteristic differs, where a finding at or above
/// `hold_from` is new, and where the result would be reworked again.
pub fn prove(
    before: (&Mended, &[Finding]),
    after: (&Mended, &[Finding]),
    hold_from: Class,
) -> Result<Proof, Unproven> {
    let ((was, found), (is, still)) = (before, after);
    let mut kept = Vec::new();
    for characteristic in Characteristic::ALL {
        if was.trace.is_like(&is.trace, characteristic) {
            kept.push(characteristic);
        } else if !was.proposals.alters(characteristic) {
            return Err(Unproven(format!(
                "the {} would not stay the same",
                characteristic.word()
            )));
        }
    }
    for finding in still.iter().filter(|finding| finding.class >= hold_from) {
        let known = found.iter().any(|before| {
            before.requirement == finding.requirement
                && before.class >= finding.class
                && before.extent.count >= finding.extent.count
        });
        if !known {
            return Err(Unproven(format!(
                "{} would be found, and was not before: {}",
                finding.requirement, finding.message
            )));
        }
    }
    if !is.proposals.is_empty() {
        let again = is
            .proposals
            .list
            .first()
            .map_or("checksums", |one| one.rework);
        return Err(Unproven(format!("{again} would change the result again")));
    }
    let mut gone: Vec<&'static str> = found
        .iter()
        .map(|finding| finding.requirement)
        .filter(|id| !still.iter().any(|finding| finding.requirement == *id))
        .collect();
    gone.dedup();
    Ok(Proof {
        moves: is.trace.moves,
        pushes: is.trace.pushes,
        pushed_mm: crate::machine::mm(is.trace.pushed),
        kept,
        gone,
    })
}
