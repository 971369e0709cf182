//! From cuts to stiffness, as shares of a solid of the same outline.

use super::cuts::{Cut, Cuts};
use crate::physics::section::{ACROSS_LAYERS, Section};

/// Cuts with less than this share of the largest outline are ends, where the cut itself is cut (chosen).
const END: f64 = 0.25;

/// Least and most, of what infill may carry.
pub type Bounds = [f64; 2];

/// How stiff a part is along one axis. Stiffness is not strength.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stiffness {
    /// Pulled or pushed along it.
    pub tension: Bounds,
    /// Bent about the first of the other two axes, in the order X, Y, Z; and about the second.
    pub bending: [Bounds; 2],
}

/// What carries a load along one axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Carried {
    /// Stiffness as a share of that of a solid of the same outline, 0 to 1.
    pub of_solid: Stiffness,
    /// How thick the slices are of which sections are taken, in the mean, mm.
    pub slice: f64,
    /// The least section along the way, mm²: walls and skins in full, and infill in full.
    pub weakest: f64,
    /// What one more wall gives, as a factor; None where there is no room for one.
    pub one_more_wall: Option<Stiffness>,
    /// What infill denser by the same mass gives, and how dense it is then, 0 to 1.
    pub denser: Option<(Stiffness, f64)>,
}

/// Two of a section's figures: area and second moments about its two axes.
fn figures(section: &Section) -> Option<[f64; 3]> {
    let moments = section.moments()?;
    Some([section.area, moments.about_x, moments.about_y])
}

/// The compliance of cuts one behind the other: they give under the same force, and what they give
/// adds up.
fn compliance(cuts: &[&Cut], of: impl Fn(&Cut) -> Section) -> Option<[f64; 3]> {
    let mut sum = [0.0; 3];
    for cut in cuts {
        for (sum, stiff) in sum.iter_mut().zip(figures(&of(cut))?) {
            *sum += cut.length / stiff;
        }
    }
    sum.iter()
        .all(|sum| sum.is_finite() && *sum > 0.0)
        .then_some(sum)
}

fn compare(least: [f64; 3], most: [f64; 3], with: [[f64; 3]; 2], factor: f64) -> Stiffness {
    let share = |index: usize| -> Bounds {
        let at = |of: &[f64; 3]| of.get(index).copied().unwrap_or(f64::NAN);
        [
            at(&with[0]) / at(&least) * factor,
            at(&with[1]) / at(&most) * factor,
        ]
    };
    Stiffness {
        tension: share(0),
        bending: [share(1), share(2)],
    }
}

/// What carries a load along `axis`, 0 to 2, in a part whose infill has this density.
pub(super) fn carried(cuts: &Cuts, axis: usize, density: f64) -> Option<Carried> {
    let all = cuts.across(axis);
    let largest = all.iter().map(|cut| cut.outline.area).fold(0.0, f64::max);
    let cuts: Vec<&Cut> = all
        .iter()
        .filter(|cut| cut.outline.area > END * largest)
        .collect();
    // Strands along the load count in full; strands that bend, by their density once more: that is the
    // density squared, of the space they fill.
    let part = |share: f64| compliance(&cuts, |cut| cut.solid + cut.sparse.times(share));
    let outline = compliance(&cuts, |cut| cut.outline)?;
    let (least, most) = (part(density)?, part(1.0)?);
    let factor = if axis == 2 { ACROSS_LAYERS } else { 1.0 };
    let sum = |of: fn(&Cut) -> f64| cuts.iter().map(|cut| of(cut) * cut.length).sum::<f64>();
    let (wall, sparse) = (sum(|cut| cut.wall.area), sum(|cut| cut.sparse.area));
    let room = sparse / density;
    let mut carried = Carried {
        of_solid: compare(least, most, [outline; 2], factor),
        slice: cuts.iter().map(|cut| cut.length).sum::<f64>() / cuts.len() as f64,
        weakest: cuts
            .iter()
            .map(|cut| cut.solid.area + cut.sparse.area)
            .fold(f64::INFINITY, f64::min),
        one_more_wall: None,
        denser: None,
    };
    if density <= 0.0 || wall <= 0.0 || wall >= room {
        return Some(carried);
    }
    // The wall takes the place of infill; denser infill weighs as much as the wall adds.
    let kept = 1.0 - wall / room;
    let walled = |share: f64| {
        compliance(&cuts, |cut| {
            cut.solid + cut.wall + cut.sparse.times(kept * share)
        })
    };
    let dense = density + wall * (1.0 - density) / room;
    let denser = |share: f64| {
        compliance(&cuts, |cut| {
            cut.solid + cut.sparse.times(dense / density * share)
        })
    };
    let gain = |with: [[f64; 3]; 2]| {
        let [least_with, most_with] = with;
        compare(least_with, most_with, [least, most], 1.0)
    };
    carried.one_more_wall = Some(gain([walled(density)?, walled(1.0)?]));
    if dense < 1.0 {
        carried.denser = Some((gain([denser(dense)?, denser(1.0)?]), dense));
    }
    Some(carried)
}
