//! Words for what a path is said to be, and for what its motion shows.

use crate::command::hint::PathKind;
use crate::survey::PathClass;

/// What a comment says.
#[must_use]
pub const fn said(said: PathKind) -> &'static str {
    match said {
        PathKind::OuterWall => "outer wall",
        PathKind::InnerWall => "inner wall",
        PathKind::Wall => "wall",
        PathKind::Infill => "infill",
        PathKind::SolidInfill => "solid infill",
        PathKind::Bridge => "bridge",
        PathKind::Support => "support",
        PathKind::Skirt => "skirt",
        PathKind::Brim => "brim",
        PathKind::Raft => "raft",
        PathKind::Tower => "tower",
        PathKind::Purge => "purge",
        PathKind::Wipe => "wipe",
        PathKind::Gap => "gap fill",
        PathKind::Unsaid => "nothing",
    }
}

/// What motion shows.
#[must_use]
pub const fn shown(class: PathClass) -> &'static str {
    match class {
        PathClass::OuterWall => "outer wall",
        PathClass::InnerWall => "inner wall",
        PathClass::Gap => "gap fill",
        PathClass::Bottom => "bottom skin",
        PathClass::Top => "top skin",
        PathClass::Inside => "solid infill",
        PathClass::Bridge => "bridge",
        PathClass::Sparse => "infill",
        PathClass::Support => "support",
        PathClass::Interface => "support interface",
        PathClass::Raft => "raft",
        PathClass::Tower => "tower",
        PathClass::Skirt => "skirt",
        PathClass::Brim => "brim",
        PathClass::Purge => "purge",
    }
}
