//! A travel that sweeps the part off the bed, as jobs do that print one part after another.

use crate::machine::{MILLIMETRE, Motion, Span};

/// So far beyond both sides of the part it goes, pm (chosen).
const BEYOND: i64 = MILLIMETRE;

/// Whether a level, straight travel goes across the part's box from beyond one side to beyond the other.
#[inline(never)]
pub(super) fn is_sweep(motion: &Motion, part: Option<[Span; 3]>) -> bool {
    let Some([x, y, _]) = part else {
        return false;
    };
    let ([fx, fy, fz], [tx, ty, tz]) = (motion.from, motion.to);
    let across = |from: i64, to: i64, part: Span| {
        from.min(to) < part.least - BEYOND && from.max(to) > part.most + BEYOND
    };
    let within = |at: i64, part: Span| (part.least..=part.most).contains(&at);
    !motion.is_arc
        && motion.filament <= 0
        && fz == tz
        && (across(fx, tx, x) && within(fy, y) && within(ty, y)
            || across(fy, ty, y) && within(fx, x) && within(tx, x))
}
