//! What a spool gives: length, parts, how many spools a batch takes, and how two materials compare.

use super::bead::filament_area;

/// Millimetres of filament of this diameter (mm) in this mass (g) at this density (g/cm³); `None` without
/// a positive diameter and density.
#[must_use]
pub fn length(mass: f64, density: f64, diameter: f64) -> Option<f64> {
    let per_millimetre = filament_area(diameter) * density / 1000.0;
    (per_millimetre.is_finite() && per_millimetre > 0.0).then(|| mass / per_millimetre)
}

/// How much lighter a part is than the same part in the reference, in per cent: 1 − ρ/ρ_ref.
#[must_use]
pub fn lighter(density: f64, reference: f64) -> f64 {
    100.0 * (1.0 - density / reference)
}

/// How many more parts a kilogram gives than a kilogram of the reference, in per cent: ρ_ref/ρ − 1.
#[must_use]
pub fn more_parts(density: f64, reference: f64) -> f64 {
    100.0 * (reference / density - 1.0)
}

/// Density in g/cm³ of a matrix with a share (0 to 1) of fibre by mass and no voids: the rule of mixtures,
/// 1/ρ = x/ρ_f + (1 − x)/ρ_m.
#[must_use]
pub fn void_free(matrix: f64, fibre: f64, share: f64) -> f64 {
    1.0 / (share / fibre + (1.0 - share) / matrix)
}

/// Rounding that must not cost a part or a spool.
const HAIR: f64 = 1e-9;

/// Whole parts from a spool: each job is printed from one spool, so that a rest too small for a part is
/// left over. `None` without a positive mass of a part.
#[must_use]
pub fn parts(spool: f64, part: f64) -> Option<u32> {
    whole((spool / part + HAIR).floor(), part)
}

/// Prints to begin for this many good parts, when this share (%) does not come out: on average,
/// good / (1 − scrap), rounded up. `None` where nothing comes out.
#[must_use]
pub fn starts(good: u32, scrap: f64) -> Option<u32> {
    let share = 1.0 - scrap / 100.0;
    whole((f64::from(good) / share - HAIR).ceil(), share)
}

/// Spools for this many prints, each from one spool; `None` where a spool gives no part.
#[must_use]
pub const fn spools(starts: u32, parts_a_spool: u32) -> Option<u32> {
    if parts_a_spool == 0 {
        None
    } else {
        Some(starts.div_ceil(parts_a_spool))
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "whole and not negative; a cast saturates"
)]
fn whole(count: f64, over: f64) -> Option<u32> {
    (over > 0.0 && count.is_finite() && count >= 0.0).then_some(count as u32)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spools_are_counted_whole() {
        assert_eq!(parts(500.0, 32.0), Some(15));
        assert_eq!(parts(500.0, 50.0), Some(10));
        assert_eq!(parts(500.0, 500.1), Some(0));
        assert_eq!(parts(500.0, 0.0), None);
        assert_eq!(starts(200, 0.0), Some(200));
        // 200 / 0.95 = 210.5.
        assert_eq!(starts(200, 5.0), Some(211));
        assert_eq!(starts(190, 5.0), Some(200));
        assert_eq!(starts(1, 100.0), None);
        assert_eq!(spools(211, 15), Some(15));
        assert_eq!(spools(210, 15), Some(14));
        assert_eq!(spools(1, 0), None);
    }

    #[test]
    fn length_and_mass_undo_each_other() {
        let length = length(29.8255, 1.24, 1.75).unwrap();
        // References 4, M1 (computed): 10 m of 1.75 mm at 1.24 g/cm³ weigh 29.8255 g.
        assert!((length - 10_000.0).abs() < 0.02, "{length}");
        assert_eq!(super::length(1.0, 0.0, 1.75), None);
    }
}
