//! Figures in messages, and which tools are used: what inspections of any kind share.

use crate::machine::State;

/// A figure to a tenth: what a model gives, and differences, without noise behind the point.
pub(super) fn tenth(figure: f64) -> f64 {
    (figure * 10.0).round() / 10.0
}

/// A figure without noise behind its third decimal.
pub(super) fn tidy(figure: f64) -> f64 {
    (figure * 1000.0).round() / 1000.0
}

/// Tools that have pushed filament.
pub(super) fn tools_used(state: &State) -> Vec<u32> {
    (0..)
        .zip(&state.filament)
        .filter(|(_, reel)| reel.most > 0)
        .map(|(tool, _)| tool)
        .collect()
}
