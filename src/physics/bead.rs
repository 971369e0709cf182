//! Filament, bead and flow: the geometry of what a nozzle lays down.
//!
//! A bead is taken as a stadium, a rectangle with half-round sides, width w and height h ≤ w
//! (common practice; the figures that follow from it are plane geometry):
//! A = (w − h)·h + π·(h/2)².

use std::f64::consts::FRAC_PI_4;

/// How far below its height an inverted width may come out by rounding alone.
const ROUNDING: f64 = 1e-9;

/// Section of a filament of this diameter (mm), in mm²: πd²/4. It is also the volume in mm³ that
/// one millimetre of it holds.
#[must_use]
pub fn filament_area(diameter: f64) -> f64 {
    FRAC_PI_4 * diameter * diameter
}

/// Diameter in mm of a round filament with this section (mm²): √(4A/π). `None` for a section that
/// is not positive and finite.
#[must_use]
pub fn filament_diameter(area: f64) -> Option<f64> {
    positive(area).map(|area| (area / FRAC_PI_4).sqrt())
}

/// Section in mm² of a bead of this width and height (mm). `None` where it is no stadium: a height
/// that is not positive, or a width below the height.
#[must_use]
pub fn area(width: f64, height: f64) -> Option<f64> {
    let height = positive(height)?;
    if !width.is_finite() || width < height {
        return None;
    }
    Some((width - height) * height + FRAC_PI_4 * height * height)
}

/// Width in mm of a bead of this section (mm²) and height (mm), the inverse of [`area`]:
/// w = A/h + h·(1 − π/4). `None` where the section is too small to fill the height, that is below
/// πh²/4: such a strand hangs round and thin, and has no width in this sense.
#[must_use]
pub fn width(area: f64, height: f64) -> Option<f64> {
    let area = positive(area)?;
    let height = positive(height)?;
    let width = area / height + height * (1.0 - FRAC_PI_4);
    if width < height * (1.0 - ROUNDING) || !width.is_finite() {
        return None;
    }
    Some(width.max(height))
}

/// Distance in mm between neighbouring beads that leaves no void: A/h = w − h·(1 − π/4). `None`
/// where [`area`] has none.
#[must_use]
pub fn spacing(width: f64, height: f64) -> Option<f64> {
    area(width, height).map(|area| area / height)
}

/// Flow in mm³/s of `filament` millimetres of a filament of this section (mm²) in `seconds`.
/// `None` without a positive time.
#[must_use]
pub fn flow(filament: f64, filament_area: f64, seconds: f64) -> Option<f64> {
    positive(seconds).map(|seconds| filament * filament_area / seconds)
}

/// Speed in mm/s at which a bead of this section (mm²) takes this flow (mm³/s): Q = A·v. `None`
/// without a positive section.
#[must_use]
pub fn speed(flow: f64, area: f64) -> Option<f64> {
    positive(area).map(|area| flow / area)
}

/// Millimetres of filament of this section (mm²) for `length` millimetres of bead of `area` (mm²):
/// volume in is volume out. `None` without a positive filament section.
#[must_use]
pub fn filament_for(length: f64, area: f64, filament_area: f64) -> Option<f64> {
    positive(filament_area).map(|filament_area| length * area / filament_area)
}

/// Mass in grams of a volume (mm³) of this density (g/cm³).
#[must_use]
pub fn mass(volume: f64, density: f64) -> f64 {
    volume * density / 1000.0
}

fn positive(value: f64) -> Option<f64> {
    (value.is_finite() && value > 0.0).then_some(value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig { cases: 2000, failure_persistence: None, ..Default::default() })]

        #[test]
        fn width_undoes_area(height in 0.01..5.0, over in 1.0..10.0) {
            let wide = height * over;
            let section = area(wide, height).unwrap();
            prop_assert!((width(section, height).unwrap() - wide).abs() <= 1e-12 * wide);
        }

        #[test]
        fn area_undoes_width(height in 0.01..5.0, over in 1.0..10.0) {
            let section = over * filament_area(height);
            let wide = width(section, height).unwrap();
            prop_assert!((area(wide, height).unwrap() - section).abs() <= 1e-12 * section);
        }

        #[test]
        fn a_bead_is_between_its_round_and_its_rectangle(height in 0.01..5.0, over in 1.0..10.0) {
            let wide = height * over;
            let section = area(wide, height).unwrap();
            prop_assert!(section >= filament_area(height) * (1.0 - 1e-12));
            prop_assert!(section < wide * height);
        }

        #[test]
        fn too_thin_a_strand_has_no_width(height in 0.01..5.0, under in 0.001..0.999) {
            prop_assert_eq!(width(under * filament_area(height), height), None);
        }

        #[test]
        fn diameter_undoes_filament_area(diameter in 0.1..10.0) {
            let again = filament_diameter(filament_area(diameter)).unwrap();
            prop_assert!((again - diameter).abs() <= 1e-12 * diameter);
        }

        #[test]
        fn flow_in_is_flow_out(height in 0.05..0.5, over in 1.0..4.0, pace in 1.0..500.0_f64) {
            let section = area(height * over, height).unwrap();
            let thread = filament_area(1.75);
            let filament = filament_for(100.0, section, thread).unwrap();
            let amount = flow(filament, thread, 100.0 / pace).unwrap();
            prop_assert!((speed(amount, section).unwrap() - pace).abs() <= 1e-9 * pace);
        }
    }

    #[test]
    fn what_has_no_answer_says_so() {
        for bad in [0.0, -0.2, f64::NAN, f64::INFINITY] {
            assert_eq!(area(0.4, bad), None);
            assert_eq!(width(0.08, bad), None);
            assert_eq!(width(bad, 0.2), None);
            assert_eq!(flow(1.0, 2.4, bad), None);
            assert_eq!(speed(1.0, bad), None);
            assert_eq!(filament_for(1.0, 0.08, bad), None);
            assert_eq!(filament_diameter(bad), None);
        }
        assert_eq!(area(f64::NAN, 0.2), None);
        assert_eq!(area(0.19, 0.2), None);
        assert_eq!(spacing(0.19, 0.2), None);
    }
}
