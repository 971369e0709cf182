//! What each path of a layer is, by its motion; and how that compares with what comments say.

use super::plan::{Plan, Stroke, middle};
use super::trail::Trail;
use super::{Known, Side};
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
    /// Solid infill: skin, or solid inside.
    Solid,
    /// Solid, over nothing.
    Bridge,
    /// Sparse infill.
    Sparse,
    /// Support, and its interface.
    Support,
    /// A loop around the part that does not touch it.
    Skirt,
    /// A rim that holds the part down.
    Brim,
    /// A line before the part begins.
    Purge,
}

impl Class {
    /// Whether a comment of this kind says the same. None where it says nothing on that.
    #[must_use]
    pub const fn agrees(self, said: PathKind) -> Option<bool> {
        Some(match said {
            PathKind::Unsaid | PathKind::Wipe | PathKind::Tower | PathKind::Raft => return None,
            PathKind::OuterWall => matches!(self, Self::OuterWall),
            PathKind::InnerWall => matches!(self, Self::InnerWall),
            PathKind::Wall => matches!(self, Self::OuterWall | Self::InnerWall),
            PathKind::Gap => matches!(self, Self::Gap),
            PathKind::SolidInfill => matches!(self, Self::Solid),
            PathKind::Bridge => matches!(self, Self::Bridge),
            PathKind::Infill => matches!(self, Self::Sparse),
            PathKind::Support => matches!(self, Self::Support),
            PathKind::Skirt => matches!(self, Self::Skirt),
            PathKind::Brim => matches!(self, Self::Brim),
            PathKind::Purge => matches!(self, Self::Purge),
        })
    }
}

/// Volume by what comments say and what motion shows, mm³.
pub type Confusion = BTreeMap<(PathKind, Class), f64>;

/// A layer with the ones below and above it.
pub(super) struct Between<'a> {
    pub trail: &'a Trail,
    pub plan: &'a Plan,
    pub known: &'a [Known],
    /// Whether it is one of the first on the bed.
    pub is_first: bool,
}

impl Between<'_> {
    /// What each of its paths is, by the order laid; `above` is the next layer, where there is one.
    pub fn classes(&self, mut above: Option<&mut Plan>, into: &mut Vec<Class>) {
        into.clear();
        into.resize(self.plan.laid, Class::Solid);
        let is_first = self.is_first;
        for index in 0..self.plan.loops.len() {
            let Some(one) = self.plan.loops.get(index) else {
                break;
            };
            let mut class = self.of_loop(index);
            if let Some(above) = above.as_mut().filter(|_| is_first && class_is_wall(class)) {
                let at = self.plan.beside(self.trail, one, 0.5);
                let is_covered = at.is_none_or(|at| above.slabs.innermost(at, None).is_some());
                if !is_covered {
                    class = self.rim(index, above);
                }
            }
            if let Some(slot) = into.get_mut(one.path.order) {
                *slot = class;
            }
        }
        for stroke in &self.plan.strokes {
            let class = self.of_stroke(stroke, is_first, above.as_deref_mut());
            if let Some(slot) = into.get_mut(stroke.path.order) {
                *slot = class;
            }
        }
    }

    /// A loop on which nothing lies: does any of its chain carry the part?
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
            return Class::Solid;
        };
        if one.is_infill {
            return Class::Sparse;
        }
        let is_leaf = !one.is_linked;
        let known = self.known.get(one.root as usize);
        match known.map(|known| known.side) {
            Some(Side::Hole) if is_leaf => Class::OuterWall,
            Some(Side::Hole) => Class::InnerWall,
            Some(Side::Amid) => Class::Sparse,
            _ if one.depth == 1 => Class::OuterWall,
            // The far side of a tube's wall runs the other way.
            _ if self.plan.is_far_side(index) => Class::OuterWall,
            _ => Class::InnerWall,
        }
    }

    fn of_stroke(&self, stroke: &Stroke, is_first: bool, above: Option<&mut Plan>) -> Class {
        match stroke.within.and_then(|within| self.plan.wall(within)) {
            Some(within) => {
                let zone = self.plan.loops.get(within as usize);
                if zone.is_none_or(|one| one.is_linked || one.zone.area <= 0.0) {
                    Class::Gap
                } else if !self.plan.is_solid(stroke, within) {
                    Class::Sparse
                } else if stroke.hangs {
                    Class::Bridge
                } else {
                    Class::Solid
                }
            }
            None => {
                let middle = middle(self.trail, &stroke.path);
                let is_covered = above.is_none_or(|above| {
                    middle.is_none_or(|middle| above.slabs.innermost(middle, None).is_some())
                });
                if is_first && !is_covered {
                    Class::Purge
                } else if stroke.solid + stroke.apart > 0.0 {
                    Class::Support
                } else {
                    // One bead alone is a thin wall.
                    Class::OuterWall
                }
            }
        }
    }
}

const fn class_is_wall(class: Class) -> bool {
    matches!(class, Class::OuterWall | Class::InnerWall)
}

/// Adds a layer's volumes to the table.
pub(super) fn compare(plan: &Plan, classes: &[Class], into: &mut Confusion) {
    for (order, said, volume) in &plan.said {
        if let Some(class) = classes.get(*order) {
            *into.entry((*said, *class)).or_default() += volume;
        }
    }
}
