//! What the layers of a whole job come to, and the boxes that grow with them.

use super::pace::Pace;
use crate::machine::Span;

/// What the whole job came to.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Totals {
    /// Layers of the part by distinct height; None past the table's cap.
    pub layers: Option<u64>,
    /// Why the layers are not told, where they are not.
    pub layers_unknown: Option<&'static str>,
    /// The box of the part: X, Y and Z, pm.
    pub part: Option<[Span; 3]>,
    /// The box of all deposit.
    pub all: Option<[Span; 3]>,
    /// The first layer of the part: its height, pm.
    pub first_layer: Option<i64>,
    /// Moves that lay filament.
    pub deposits: u64,
    /// Strokes beyond the cap of one layer.
    pub left_out: u64,
    /// How long the job takes, and the highest flow in it; None where no time can be told.
    pub pace: Option<Pace>,
}

pub(super) fn widen(span: &mut Span, by: Span) {
    span.least = span.least.min(by.least);
    span.most = span.most.max(by.most);
}

pub(super) fn meets(a: Span, b: Span) -> bool {
    a.least <= b.most && b.least <= a.most
}

pub(super) fn grow(of: &mut Option<[Span; 3]>, by: [Span; 3]) {
    match of {
        Some(spans) => {
            for (span, by) in spans.iter_mut().zip(by) {
                widen(span, by);
            }
        }
        none => *none = Some(by),
    }
}
