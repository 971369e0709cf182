//! Walls and infill within a survey's record. The comments here are the schema's descriptions.

use super::survey::{Reasons, finite};
use crate::survey::{RegionFigures, WallCount, WallFigures};
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

/// How many walls stand between the outside and what is within.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Walls {
    /// The most common count, by length of outline.
    pub usual: u32,
    /// The share of the outline that has it, 0 to 1.
    pub share: Option<f64>,
    /// The least that two hundredths of the outline have.
    pub least: u32,
    /// The most that two hundredths of it have.
    pub most: u32,
    /// The height at which the least stands first, mm.
    pub least_z_mm: Option<f64>,
    /// Its line.
    pub least_line: u64,
}

/// What stays together from layer to layer.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Region {
    /// Why something is null, by its key.
    pub reasons: BTreeMap<&'static str, String>,
    /// Its box between the middles of its outermost beads: the least X, Y and Z, then the greatest, mm.
    pub box_mm: Option<[[f64; 3]; 2]>,
    /// Walls.
    pub walls: Option<Walls>,
    /// The share of its sparse zone that infill fills, per cent.
    pub infill_percent: Option<f64>,
    /// Solid layers at the bottom and on top.
    pub solid_layers: Option<[u64; 2]>,
}

fn walls(count: &WallCount) -> Walls {
    Walls {
        usual: count.usual,
        share: finite(count.share),
        least: count.least,
        most: count.most,
        least_z_mm: finite(count.least_at.z),
        least_line: count.least_at.line,
    }
}

impl Region {
    fn of(region: &RegionFigures) -> Self {
        let mut reasons = Reasons::default();
        let [[left, right], [front, back], [low, high]] = region.bounds;
        let corners = [[left, front, low], [right, back, high]];
        let is_finite = corners.iter().flatten().all(|number| number.is_finite());
        Self {
            box_mm: reasons.some("box_mm", is_finite.then_some(corners), "it is not finite"),
            walls: reasons.take("walls", &region.walls, |count| Some(walls(count))),
            infill_percent: reasons.take("infill_percent", &region.infill, |share| {
                finite(share * 100.0)
            }),
            solid_layers: reasons.take("solid_layers", &region.solid_layers, |both| Some(*both)),
            reasons: reasons.0,
        }
    }
}

/// What of a survey is told only where walls are asked for.
#[derive(Debug, Serialize, JsonSchema)]
pub struct WallPart {
    /// The part's most common count of walls.
    pub walls: Option<u32>,
    /// How common that is, and the least and the most.
    pub wall_counts: Option<Walls>,
    /// The share of the part's sparse zone that infill fills, per cent.
    pub infill_percent: Option<f64>,
    /// Solid layers at the bottom of the largest region, and on top of it.
    pub solid_layers: Option<[u64; 2]>,
    /// The mean width of the outermost walls' beads, mm.
    pub wall_bead_mm: Option<f64>,
    /// What stays together from layer to layer, the largest first.
    pub regions: Option<Vec<Region>>,
}

impl WallPart {
    pub(super) fn of(figures: Option<&WallFigures>, reasons: &mut Reasons) -> Self {
        let Some(figures) = figures else {
            let why = "walls were not asked for";
            return Self {
                walls: reasons.some("walls", None, why),
                wall_counts: reasons.some("wall_counts", None, why),
                infill_percent: reasons.some("infill_percent", None, why),
                solid_layers: reasons.some("solid_layers", None, why),
                wall_bead_mm: reasons.some("wall_bead_mm", None, why),
                regions: reasons.some("regions", None, why),
            };
        };
        Self {
            walls: reasons.take("walls", &figures.walls, |count| Some(count.usual)),
            wall_counts: reasons.take("wall_counts", &figures.walls, |count| Some(walls(count))),
            infill_percent: reasons.take("infill_percent", &figures.infill, |share| {
                finite(share * 100.0)
            }),
            solid_layers: reasons.take("solid_layers", &figures.solid_layers, |both| Some(*both)),
            wall_bead_mm: reasons.take("wall_bead_mm", &figures.wall_bead, |width| finite(*width)),
            regions: Some(figures.regions.iter().map(Region::of).collect()),
        }
    }
}
