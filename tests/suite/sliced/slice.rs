//! From a description to the paths of each layer.

use super::object::{Plan, Storey};
use super::plane::{Contour, Point, Region};
use super::{Class, Job, PURGE_AT, Sliced, Sparse, Stack, write};

/// How far skirts and rafts reach beyond what they are for, mm.
const SKIRT_AT: f64 = 5.0;
const RAFT_BEYOND: f64 = 3.0;

/// A move that lays deposit.
#[derive(Debug, Clone)]
pub struct Move {
    pub to: Point,
    /// The middle of its circle, gone round anticlockwise.
    pub centre: Option<Point>,
    /// The nozzle's height at its end, mm.
    pub z: f64,
    pub width: f64,
    pub height: f64,
    /// How much of its bead is laid, from 0 to 1.
    pub share: f64,
}

#[derive(Debug, Clone)]
pub struct Path {
    pub class: Class,
    pub object: Option<usize>,
    pub stack: Option<usize>,
    pub tool: usize,
    pub start: Point,
    pub start_z: f64,
    pub moves: Vec<Move>,
    /// Where the nozzle is wiped afterwards.
    pub wipe: Vec<Point>,
}

pub struct Layer {
    pub z: f64,
    pub paths: Vec<Path>,
    /// What the part's beads here may lie on; none where all of them do.
    pub below: Option<Vec<Region>>,
}

/// Where a path is and how its bead is.
#[derive(Clone, Copy)]
pub struct Place {
    pub z: f64,
    pub height: f64,
    pub object: Option<usize>,
    pub stack: Option<usize>,
}

impl Job {
    /// The job's text and what is true of it.
    pub fn slice(&self) -> Sliced {
        let sizes = self.wall_widths.iter().chain([&self.width]);
        let highest = self.first_layer.max(self.layer * self.infill_every as f64);
        for width in sizes {
            assert!(
                *width >= highest,
                "a bead {width} mm wide cannot be {highest} mm high"
            );
        }
        assert!(self.ramp == 0.0 || self.seam_gap == 0.0, "a ramp or a gap");
        assert!(self.raft == 0 || (self.brim == 0 && self.tower.is_none()));
        let mut layers: Vec<Layer> = Vec::new();
        let mut stacks = Vec::new();
        let all: Vec<usize> = (0..self.objects.len()).collect();
        let size = if self.one_after_another { 1 } else { all.len() };
        for group in all.chunks(size) {
            layers.extend(self.group(group, &mut stacks));
        }
        if self.purge {
            let place = Place {
                z: self.first_layer,
                height: self.first_layer,
                object: None,
                stack: None,
            };
            let line = [PURGE_AT, [PURGE_AT[0] + 80.0, PURGE_AT[1]]];
            let path = self.stroke(Class::Purge, &line, self.width, place);
            layers[0].paths.insert(0, path);
        }
        write::job(self, &layers, stacks)
    }

    /// All layers of objects that are printed together.
    fn group(&self, objects: &[usize], stacks: &mut Vec<Stack>) -> Vec<Layer> {
        let plans: Vec<(usize, Plan)> = objects
            .iter()
            .map(|number| (*number, self.plan(&self.objects[*number])))
            .collect();
        let storeys = || plans.iter().flat_map(|(_, plan)| &plan.storeys);
        let bounds = bounds(storeys().map(|storey| &storey.region));
        let mut layers = Vec::new();
        let around_all = |beyond: f64| bounds.grown(beyond).unwrap();
        for number in 0..self.raft as usize {
            layers.push(self.raft_layer(around_all(RAFT_BEYOND), number));
        }
        let foot = f64::from(self.raft) * self.first_layer;
        let ends = plans.iter().map(|(_, plan)| {
            let tops = plan.storeys.iter().map(|storey| storey.layers.end);
            tops.chain(plan.spiral.iter().map(|turns| turns.end))
                .max()
                .unwrap()
        });
        let count = ends.max().unwrap();
        let begin = layers.len();
        for layer in 0..count {
            let z = foot + self.top_of(layer);
            layers.push(Layer {
                z,
                paths: Vec::new(),
                below: (layer > 0).then(|| supporting(&plans, layer - 1)),
            });
        }
        let layers_of_part = &mut layers[begin..];
        for (object, plan) in &plans {
            if let Some((region, count)) = &plan.support {
                for (layer, built) in layers_of_part.iter_mut().enumerate().take(*count) {
                    let place = self.place(foot, layer, Some(*object), None);
                    let paths = self.support(region, *count - layer, place);
                    built.paths.extend(paths);
                }
            }
            for storey in &plan.storeys {
                self.storey(storey, *object, foot, layers_of_part, stacks);
            }
            if let Some(turns) = &plan.spiral {
                let region = &plan.storeys[0].region;
                for layer in turns.start..=turns.end {
                    let last = layer == turns.end;
                    let level = layer.min(turns.end - 1);
                    let place = self.place(foot, level, Some(*object), Some(stacks.len() - 1));
                    let path = self.turn(region.outer, layer == turns.start, last, place);
                    layers_of_part[level].paths.push(path);
                    layers_of_part[level].below = None;
                }
                if let Some(stack) = stacks.last_mut() {
                    stack.z[1] = foot + self.top_of(turns.end - 1);
                }
            }
        }
        if let Some(at) = self.tower {
            for (number, layer) in layers_of_part.iter_mut().enumerate() {
                self.tower(at, number, layer);
            }
        }
        let place = self.place(0.0, 0, None, None);
        let beyond = SKIRT_AT
            + f64::from(self.brim) * self.width
            + if self.raft > 0 { RAFT_BEYOND } else { 0.0 };
        let mut first = Vec::new();
        for number in 0..self.skirt {
            let ring = around_all(beyond + f64::from(number) * self.spacing(place.height));
            first.push(self.ring(Class::Skirt, ring, place));
        }
        for storey in storeys().filter(|storey| storey.layers.start == 0) {
            let spacing = self.spacing(place.height);
            for number in (0..self.brim).rev() {
                let out = spacing * (f64::from(number) + 1.0) - self.outermost() / 2.0;
                let ring = storey.region.outer.grown(out).unwrap();
                first.push(self.ring(Class::Brim, ring, place));
            }
        }
        layers[0].paths.splice(0..0, first);
        layers
    }

    pub fn place(
        &self,
        foot: f64,
        layer: usize,
        object: Option<usize>,
        stack: Option<usize>,
    ) -> Place {
        Place {
            z: foot + self.top_of(layer),
            height: self.height_of(layer),
            object,
            stack,
        }
    }

    /// How far apart beads of the usual width lie in a solid, mm.
    pub fn spacing(&self, height: f64) -> f64 {
        self.bead.area(self.width, height) / height
    }

    pub fn wall_width(&self, wall: u32) -> f64 {
        let own = self.wall_widths.get(wall as usize);
        own.copied().unwrap_or(self.width)
    }

    pub fn outermost(&self) -> f64 {
        self.wall_width(0)
    }

    fn storey(
        &self,
        storey: &Storey,
        object: usize,
        foot: f64,
        layers: &mut [Layer],
        stacks: &mut Vec<Stack>,
    ) {
        let mut walls = None;
        let mut zone_volume = 0.0;
        let mut pending = (0, 0.0);
        let mut laid = 0;
        for layer in storey.layers.clone() {
            let place = self.place(foot, layer, Some(object), Some(stacks.len()));
            let (paths, zone, count) = self.walls(&storey.region, place);
            assert!(walls.is_none_or(|walls| walls == count), "walls differ");
            walls = Some(count);
            layers[layer].paths.extend(paths);
            let Some(zone) = zone else { continue };
            if storey.is_solid(layer) {
                let bridged = storey.bridged.filter(|_| layer == storey.layers.start);
                let paths = self.skin(&zone, layer, bridged, place);
                layers[layer].paths.extend(paths);
                continue;
            }
            zone_volume += zone.area() * place.height;
            pending = (pending.0 + 1, pending.1 + place.height);
            let last = layer + 1 == storey.layers.end || storey.is_solid(layer + 1);
            if pending.0 < self.infill_every && !last {
                continue;
            }
            let place = Place {
                height: pending.1,
                ..place
            };
            pending = (0, 0.0);
            let paths = self.infill(&zone, laid, place);
            layers[layer].paths.extend(paths);
            laid += 1;
        }
        stacks.push(Stack {
            object,
            z: [
                foot + storey.layers.start as f64 * self.layer
                    + if storey.layers.start > 0 {
                        self.first_layer - self.layer
                    } else {
                        0.0
                    },
                foot + self.top_of(storey.layers.end - 1),
            ],
            walls: walls.unwrap_or(0),
            sparse: (zone_volume > 0.0).then_some(Sparse {
                deposit: 0.0,
                zone: zone_volume,
            }),
            solid: storey.solid,
            outline: storey.region.clone(),
        });
    }
}

/// The rectangle around regions.
fn bounds<'a>(regions: impl Iterator<Item = &'a Region>) -> Contour {
    let mut low = [f64::INFINITY; 2];
    let mut high = [f64::NEG_INFINITY; 2];
    for region in regions {
        let (centre, half) = (region.outer.centre(), region.outer.half());
        for axis in 0..2 {
            low[axis] = low[axis].min(centre[axis] - half[axis]);
            high[axis] = high[axis].max(centre[axis] + half[axis]);
        }
    }
    Contour::Rect {
        centre: [
            f64::midpoint(low[0], high[0]),
            f64::midpoint(low[1], high[1]),
        ],
        half: [(high[0] - low[0]) / 2.0, (high[1] - low[1]) / 2.0],
    }
}

/// What the beads above a layer may lie on.
fn supporting(plans: &[(usize, Plan)], layer: usize) -> Vec<Region> {
    let mut regions = Vec::new();
    for (_, plan) in plans {
        let storeys = plan.storeys.iter();
        let here = storeys.filter(|storey| storey.layers.contains(&layer));
        regions.extend(here.map(|storey| storey.region.clone()));
        if let Some((region, count)) = &plan.support
            && layer < *count
        {
            regions.push(region.clone());
        }
    }
    regions
}
