//! What each path of a layer is, by its motion; and how that compares with what comments say.

use super::plan::{Plan, Stroke, middle};
use super::region::Where;
use super::trail::Trail;
use super::{Known, Side, TRIED};
use crate::command::hint::PathKind;
use std::collections::BTreeMap;

/// What a path is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Class {
    /// The outermost wall, also a hole's.
    OuterWall,
    /// A wall further in.
    InnerWall,
    /// A bead that fills what walls leave between them.
    Gap,
    /// Solid, with nothing below its region's first layer there, or upon a support.
    Bottom,
    /// Solid, with nothing on it.
    Top,
    /// Solid, between others.
    Inside,
    /// Solid, over nothing.
    Bridge,
    /// Sparse infill.
    Sparse,
    /// Support.
    Support,
    /// Support laid side by side, as where the part rests on it.
    Interface,
    /// Laid below the whole part before it begins.
    Raft,
    /// A loop around the part that does not touch it.
    Skirt,
    /// A rim that holds the part down.
    Brim,
    /// A line before the part begins.
    Purge,
    /// A block beside the part on which each tool begins.
    Tower,
}

impl Class {
    /// Whether it is solid infill: skin, or solid inside.
    #[must_use]
    pub const fn is_skin(self) -> bool {
        matches!(self, Self::Bottom | Self::Top | Self::Inside)
    }

    /// Whether a comment of this kind says the same. None where it says nothing on that.
    #[must_use]
    pub const fn agrees(self, said: PathKind) -> Option<bool> {
        Some(match said {
            PathKind::Unsaid | PathKind::Wipe => return None,
            PathKind::Tower => matches!(self, Self::Tower),
            PathKind::Raft => matches!(self, Self::Raft),
            PathKind::OuterWall => matches!(self, Self::OuterWall),
            PathKind::InnerWall => matches!(self, Self::InnerWall),
            PathKind::Wall => matches!(self, Self::OuterWall | Self::InnerWall),
            PathKind::Gap => matches!(self, Self::Gap),
            PathKind::SolidInfill => self.is_skin(),
            PathKind::Bridge => matches!(self, Self::Bridge),
            PathKind::Infill => matches!(self, Self::Sparse),
            PathKind::Support => matches!(self, Self::Support | Self::Interface),
            PathKind::Skirt => matches!(self, Self::Skirt),
            PathKind::Brim => matches!(self, Self::Brim),
            PathKind::Purge => matches!(self, Self::Purge),
        })
    }
}

/// What is laid, by what comments say and what motion shows.
pub type Confusion = BTreeMap<(PathKind, Class), Shown>;

/// How much of that there is, and where it is first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shown {
    /// mm³.
    pub volume: f64,
    /// The first of it, by its line.
    pub first: Where,
}

/// A layer with the ones below and above it.
pub(super) struct Between<'a> {
    pub trail: &'a Trail,
    pub plan: &'a Plan,
    pub known: &'a [Known],
    /// Whether it is one of the first on the bed.
    pub is_first: bool,
    /// Whether a loop's region begins with this layer.
    pub begins: &'a dyn Fn(u32) -> bool,
    /// Whether a loop's region is a tower.
    pub is_tower: &'a dyn Fn(u32) -> bool,
}

/// The next layer.
pub(super) struct Above<'a> {
    pub trail: &'a Trail,
    pub plan: &'a mut Plan,
}

impl Between<'_> {
    /// What each of its paths is, by the order laid; `above` is the next layer, where there is one.
    pub fn classes(&self, mut above: Option<Above<'_>>, into: &mut Vec<Class>) {
        into.clear();
        into.resize(self.plan.laid, Class::Inside);
        let is_first = self.is_first;
        for index in 0..self.plan.loops.len() {
            let Some(one) = self.plan.loops.get(index) else {
                break;
            };
            let mut class = self.of_loop(index);
            if let Some(above) = above.as_mut().filter(|_| is_first && class_is_wall(class)) {
                let at = self.plan.beside(self.trail, one, 0.5);
                let is_covered = at.is_none_or(|at| above.plan.slabs.innermost(at, None).is_some());
                if !is_covered {
                    class = self.rim(index, above.plan);
                }
            }
            // Within a brim the first wall is the part's outermost.
            let around = one
                .parent
                .and_then(|parent| self.plan.loops.get(parent as usize));
            let around = around.filter(|around| around.is_linked);
            if class == Class::InnerWall
                && around.and_then(|around| into.get(around.path.order)) == Some(&Class::Brim)
            {
                class = Class::OuterWall;
            }
            if let Some(slot) = into.get_mut(one.path.order) {
                *slot = class;
            }
        }
        for stroke in &self.plan.strokes {
            let class = self.of_stroke(stroke, above.as_mut());
            if let Some(slot) = into.get_mut(stroke.path.order) {
                *slot = class;
            }
        }
    }

    /// Whether nothing lies on a stroke's middle.
    fn is_open(&self, stroke: &Stroke, above: Option<&mut Above<'_>>) -> bool {
        let Some(above) = above else { return true };
        let Some(middle) = middle(self.trail, &stroke.path) else {
            return false;
        };
        let over = above.plan.slabs.innermost(middle, None);
        let Some(over) = over.and_then(|over| above.plan.wall(over)) else {
            return true;
        };
        let zone = above.plan.loops.get(over as usize);
        zone.is_some_and(|one| !one.is_linked && one.zone.area > 0.0 && one.zone.volume <= 0.0)
    }

    /// Takes for a raft what lies under the next layer before any wall is laid.
    pub fn raft(&self, above: &mut Above<'_>, classes: &mut [Class]) {
        for stroke in self.plan.strokes.iter().filter(|one| one.within.is_none()) {
            let reach = 3.0 * stroke.path.spacing(self.plan.height);
            if self.is_under(stroke, above, reach)
                && let Some(slot) = classes.get_mut(stroke.path.order)
            {
                *slot = Class::Raft;
            }
        }
    }

    /// Whether anything lies on some of a stroke: it may run to and fro far beyond what stands on it.
    fn is_under(&self, stroke: &Stroke, above: &mut Above<'_>, reach: f64) -> bool {
        let points = self.trail.points.get(stroke.path.points.clone());
        let points = points.unwrap_or_default();
        let every = points.len().div_ceil(TRIED).max(1);
        points.windows(2).step_by(every).any(|pair| {
            let [from, to] = pair else { return false };
            let ([fx, fy], [tx, ty]) = (from.at, to.at);
            let middle = [f64::midpoint(fx, tx), f64::midpoint(fy, ty)];
            above.plan.slabs.innermost(middle, None).is_some()
                || above.plan.has_stroke(above.trail, middle, reach)
        })
    }

    /// A loop on which nothing lies: does any of its chain carry the part?
    ///
    /// In a job of one layer nothing lies on any loop, its outermost wall included, so that this tells nothing
    /// there, and all are taken for walls. Nor does the shape: a skirt is the part grown outward, its corners rounded
    /// more from loop to loop, and walls within a rounded outline are the very same loops; apart from the part, it
    /// may be a flat ring around a flat disk.
    fn rim(&self, index: usize, above: &mut Plan) -> Class {
        let root = self.plan.loops.get(index).map(|one| one.root);
        let carries = self
            .plan
            .loops
            .iter()
            .filter(|one| Some(one.root) == root)
            .any(|one| {
                self.plan
                    .beside(self.trail, one, 0.5)
                    .is_some_and(|at| above.slabs.innermost(at, None).is_some())
            });
        if carries { Class::Brim } else { Class::Skirt }
    }

    fn of_loop(&self, index: usize) -> Class {
        let Some(one) = self.plan.loops.get(index) else {
            return Class::Inside;
        };
        if (self.is_tower)(index as u32) {
            return Class::Tower;
        }
        let side = self.known.get(one.root as usize).map(|known| known.side);
        if one.is_infill || side == Some(Side::Amid) {
            Class::Sparse
        } else if faces_out(self.plan, self.known, index) {
            Class::OuterWall
        } else {
            Class::InnerWall
        }
    }

    fn of_stroke(&self, stroke: &Stroke, above: Option<&mut Above<'_>>) -> Class {
        match stroke.within.and_then(|within| self.plan.wall(within)) {
            Some(within) if (self.is_tower)(within) => Class::Tower,
            Some(within) => {
                let zone = self.plan.loops.get(within as usize);
                if zone.is_none_or(|one| one.is_linked || one.zone.area <= 0.0) {
                    Class::Gap
                } else if !self.plan.is_solid(stroke, within) {
                    Class::Sparse
                } else if stroke.hangs {
                    Class::Bridge
                } else if stroke.rests || (self.begins)(within) {
                    Class::Bottom
                } else if self.is_open(stroke, above) {
                    Class::Top
                } else {
                    Class::Inside
                }
            }
            None => {
                let reach = 6.0 * stroke.path.spacing(self.plan.height);
                if self.is_first && above.is_some_and(|above| !self.is_under(stroke, above, reach))
                {
                    Class::Purge
                } else if stroke.solid > stroke.apart {
                    Class::Interface
                } else if stroke.apart > 0.0 {
                    Class::Support
                } else {
                    // One bead alone is a thin wall.
                    Class::OuterWall
                }
            }
        }
    }
}

/// Whether a loop is a wall with nothing of the part on its far side: the outermost, or a hole's.
pub(super) fn faces_out(plan: &Plan, known: &[Known], index: usize) -> bool {
    let Some(one) = plan.loops.get(index).filter(|one| !one.is_infill) else {
        return false;
    };
    match known.get(one.root as usize).map(|known| known.side) {
        Some(Side::Hole) => !one.is_linked,
        Some(Side::Amid) => false,
        // The far side of a tube's wall runs the other way.
        _ => one.depth == 1 || plan.is_far_side(index),
    }
}

pub(super) const fn class_is_wall(class: Class) -> bool {
    matches!(class, Class::OuterWall | Class::InnerWall)
}

/// Adds to a table.
pub(super) fn add(into: &mut Confusion, said: PathKind, class: Class, shown: Shown) {
    let own = into.entry((said, class)).or_insert(Shown {
        volume: 0.0,
        ..shown
    });
    own.volume += shown.volume;
    if shown.first.line < own.first.line {
        own.first = shown.first;
    }
}

/// Adds one table to another.
pub(super) fn join(into: &mut Confusion, other: &Confusion) {
    for ((said, class), shown) in other {
        add(into, *said, *class, *shown);
    }
}

/// Adds a layer's volumes to the table; the layer lies so high, mm.
pub(super) fn compare(plan: &Plan, classes: &[Class], z: f64, into: &mut Confusion) {
    for said in &plan.said {
        if let Some(class) = classes.get(said.order) {
            add(into, said.kind, *class, said.shown(z));
        }
    }
}
