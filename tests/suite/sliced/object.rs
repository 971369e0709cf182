//! What an object's layers are: stacks of the same outline, and support.

use super::plane::{Contour, Region};
use super::{Job, Object, Shape};

/// How far support stays away from what stands beside it, mm.
const CLEARANCE: f64 = 0.6;

/// Layers with one outline, counted from the object's first.
pub struct Storey {
    pub layers: std::ops::Range<usize>,
    pub region: Region,
    /// Solid layers below and on top.
    pub solid: [usize; 2],
    /// What its first layer has to span: from and to, along X.
    pub bridged: Option<[f64; 2]>,
}

impl Storey {
    pub fn is_solid(&self, layer: usize) -> bool {
        layer < self.layers.start + self.solid[0] || layer + self.solid[1] >= self.layers.end
    }
}

pub struct Plan {
    pub storeys: Vec<Storey>,
    /// A region that is supported from the bed on, and for how many layers.
    pub support: Option<(Region, usize)>,
    /// One wall that rises from this layer up to that one.
    pub spiral: Option<std::ops::Range<usize>>,
}

impl Job {
    /// The top of an object's layer above the object's foot, mm.
    pub fn top_of(&self, layer: usize) -> f64 {
        self.first_layer + self.layer * layer as f64
    }

    pub fn height_of(&self, layer: usize) -> f64 {
        if layer == 0 {
            self.first_layer
        } else {
            self.layer
        }
    }

    fn layers_up_to(&self, height: f64) -> usize {
        ((height - self.first_layer) / self.layer).round() as usize + 1
    }

    pub fn plan(&self, object: &Object) -> Plan {
        let at = object.at;
        let count = self.layers_up_to(object.height);
        let rect = |middle: f64, x: f64, y: f64| Contour::Rect {
            centre: [at[0] + middle, at[1]],
            half: [x / 2.0, y / 2.0],
        };
        let plain = |outer: Contour| Region {
            outer,
            holes: Vec::new(),
        };
        let (bottom, top) = (self.bottom, self.top);
        let storey = |layers: std::ops::Range<usize>, region: Region, solid: [usize; 2]| {
            let all = layers.len();
            let solid = if solid[0] + solid[1] >= all {
                [all, all]
            } else {
                solid
            };
            Storey {
                layers,
                region,
                solid,
                bridged: None,
            }
        };
        let single = |layer: usize, region: Region| {
            let is_solid = layer < bottom || layer + top >= count;
            storey(layer..layer + 1, region, [usize::from(is_solid), 0])
        };
        let mut plan = Plan {
            storeys: Vec::new(),
            support: None,
            spiral: None,
        };
        let whole = match &object.shape {
            Shape::Box { x, y } => plain(rect(0.0, *x, *y)),
            Shape::Fin { length, thickness } => plain(rect(0.0, *length, *thickness)),
            Shape::HollowBox { x, y, thickness } => Region {
                outer: rect(0.0, *x, *y),
                holes: vec![rect(0.0, x - 2.0 * thickness, y - 2.0 * thickness)],
            },
            Shape::Cylinder { radius } | Shape::Spiral { radius } => plain(Contour::Circle {
                centre: at,
                radius: *radius,
            }),
            Shape::Plate { x, y, holes } => Region {
                outer: rect(0.0, *x, *y),
                holes: holes
                    .iter()
                    .map(|(off, radius)| Contour::Circle {
                        centre: [at[0] + off[0], at[1] + off[1]],
                        radius: *radius,
                    })
                    .collect(),
            },
            Shape::Cone { low, high } => {
                for layer in 0..count {
                    let share = layer as f64 / (count - 1) as f64;
                    let radius = low + (high - low) * share;
                    let disk = plain(Contour::Circle { centre: at, radius });
                    plan.storeys.push(single(layer, disk));
                }
                return plan;
            }
            Shape::Wedge { x, y, slope } => {
                for layer in 0..count {
                    let out = slope * self.layer * layer as f64;
                    plan.storeys
                        .push(single(layer, plain(rect(out / 2.0, x + out, *y))));
                }
                return plan;
            }
            Shape::Mushroom { stem, cap, under } => {
                let low = self.layers_up_to(*under);
                let disk = |radius: f64| plain(Contour::Circle { centre: at, radius });
                plan.storeys.push(storey(0..low, disk(*stem), [bottom, 0]));
                plan.storeys
                    .push(storey(low..count, disk(*cap), [bottom, top]));
                return plan;
            }
            Shape::Table {
                x,
                y,
                leg,
                under,
                supported,
            } => {
                let low = self.layers_up_to(*under);
                let apart = (x - leg) / 2.0;
                for side in [-1.0, 1.0] {
                    let region = plain(rect(side * apart, *leg, *y));
                    plan.storeys.push(storey(0..low, region, [bottom, 0]));
                }
                let inner = apart - leg / 2.0;
                let mut plate = storey(low..count, plain(rect(0.0, *x, *y)), [bottom, top]);
                if *supported {
                    let between = rect(0.0, 2.0 * (inner - CLEARANCE), *y);
                    plan.support = Some((plain(between), low));
                } else {
                    plate.bridged = Some([at[0] - inner, at[0] + inner]);
                }
                plan.storeys.push(plate);
                return plan;
            }
        };
        if let Shape::Spiral { .. } = object.shape {
            assert!(bottom < count, "a spiral has to rise");
            plan.storeys.push(Storey {
                solid: [bottom, 0],
                ..storey(0..bottom, whole, [bottom, 0])
            });
            plan.spiral = Some(bottom..count);
        } else {
            plan.storeys.push(storey(0..count, whole, [bottom, top]));
        }
        plan
    }
}
