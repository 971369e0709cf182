//! Sliced jobs made on the spot, together with what is true of them.
//!
//! [`Job::slice`] turns a description into a job's text and its truth: walls, infill, widths, solid
//! layers and the class of every line that lays deposit. It was written from the description of the
//! survey only, without sight of the survey, so that the two check each other.
//!
//! A bead of height h and width w has the section h(w - h) + πh²/4, a rectangle with half-round sides
//! (plane geometry), and beads side by side lie its area over h apart, so that a solid is free of voids.
//! [`Bead::Rectangle`] takes w·h instead, as some programs do. How beads are laid out (walls, then
//! infill between their inner edges, skirts at a distance …) is common practice, no source.

mod aside;
mod beads;
mod checks;
mod fill;
mod object;
mod plane;
mod slice;
mod write;

use plane::{Point, Region};

/// Where the first purge line runs, mm.
const PURGE_AT: Point = [10.0, 6.0];

#[derive(Debug, Clone)]
pub struct Object {
    pub shape: Shape,
    /// Where its middle stands, mm.
    pub at: Point,
    /// How high it is, mm; brought to whole layers.
    pub height: f64,
}

#[derive(Debug, Clone)]
pub enum Shape {
    Box {
        x: f64,
        y: f64,
    },
    /// A frame of even thickness around a hole.
    HollowBox {
        x: f64,
        y: f64,
        thickness: f64,
    },
    Cylinder {
        radius: f64,
    },
    /// Holes by their middle, seen from the plate's, and radius.
    Plate {
        x: f64,
        y: f64,
        holes: Vec<(Point, f64)>,
    },
    /// A box so thin that its walls may share a middle bead.
    Fin {
        length: f64,
        thickness: f64,
    },
    /// A round cup with a solid bottom and one wall that rises all the time.
    Spiral {
        radius: f64,
    },
    /// A round part whose radius changes evenly from the first layer to the last.
    Cone {
        low: f64,
        high: f64,
    },
    /// A box one side of which, along X, moves out by `slope` times the height.
    Wedge {
        x: f64,
        y: f64,
        slope: f64,
    },
    /// A round cap on a round stem; `under` is how high the stem is.
    Mushroom {
        stem: f64,
        cap: f64,
        under: f64,
    },
    /// A plate on two legs; `leg` is a leg's size along X, `under` how high they are. What is between
    /// them is supported or bridged.
    Table {
        x: f64,
        y: f64,
        leg: f64,
        under: f64,
        supported: bool,
    },
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pattern {
    /// One direction a layer, turned by a right angle from layer to layer.
    Lines,
    /// Both directions on every layer.
    Grid,
    /// Three directions on every layer.
    Triangles,
    /// Loops that follow the outer contour.
    Concentric,
}

pub const PATTERNS: [Pattern; 4] = [
    Pattern::Lines,
    Pattern::Grid,
    Pattern::Triangles,
    Pattern::Concentric,
];

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bead {
    /// A rectangle with half-round sides.
    Rounded,
    /// Width times height.
    Rectangle,
}

impl Bead {
    /// The area of a bead's section, mm².
    pub fn area(self, width: f64, height: f64) -> f64 {
        match self {
            Self::Rounded => {
                height * (width - height) + std::f64::consts::PI * height * height / 4.0
            }
            Self::Rectangle => width * height,
        }
    }

    /// The width of a bead that fills `spacing` from side to side.
    pub fn width(self, spacing: f64, height: f64) -> f64 {
        match self {
            Self::Rounded => spacing + height * (1.0 - std::f64::consts::FRAC_PI_4),
            Self::Rectangle => spacing,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Comments {
    Off,
    On,
    /// The declared walls and infill are not what is built.
    WrongSettings,
    /// The names of paths are exchanged.
    WrongPaths,
}

/// What is sliced and how; change what a test is about: `Job { walls: 4, ..Job::of(&[object]) }`.
#[derive(Debug, Clone)]
pub struct Job {
    pub objects: Vec<Object>,
    /// Whether each object is finished before the next is begun.
    pub one_after_another: bool,
    /// Heights of the first and of every further layer, mm.
    pub first_layer: f64,
    pub layer: f64,
    /// Width of a bead, mm.
    pub width: f64,
    /// Widths of the walls from outside in, mm; `width` for walls beyond.
    pub wall_widths: Vec<f64>,
    /// By what share the width of inner walls rises and falls along their way.
    pub sway: f64,
    pub walls: u32,
    /// Per cent; 0 for none.
    pub infill: f64,
    pub pattern: Pattern,
    /// Infill is laid on every so many layers, as high as all of them.
    pub infill_every: usize,
    /// The share of the infill that is laid further than so far from the walls, mm, for shapes without holes.
    pub core: Option<(f64, f64)>,
    /// The share of the infill that is left at the top; between it fades evenly.
    pub fades: f64,
    /// By what share of their width lines of infill and skin reach into the walls.
    pub overlap: f64,
    /// Whether lines of infill and skin are joined at their ends; the joints are deposit too, so that a
    /// small part has some points of infill more than was asked for.
    pub joined: bool,
    /// Direction of the first layer's lines in degrees.
    pub angle: f64,
    pub bottom: usize,
    pub top: usize,
    /// By how much a wall's loop stops short of its beginning, mm.
    pub seam_gap: f64,
    /// Over how much of its way a wall's loop rises from below and ends with ever less, mm.
    pub ramp: f64,
    /// How far the nozzle is wiped along a wall's loop, drawing filament back, mm.
    pub wipe: f64,
    /// Circles as G3, or as straight moves.
    pub arcs: bool,
    pub comments: Comments,
    pub relative_e: bool,
    pub bead: Bead,
    pub purge: bool,
    /// Loops of skirt, loops of brim, layers of raft.
    pub skirt: u32,
    pub brim: u32,
    pub raft: u32,
    /// The middle of a tower, and a second tool for the infill that makes it needed.
    pub tower: Option<Point>,
    /// Whether the tower has loops around its lines.
    pub tower_walls: bool,
    /// Diameter of the filament, mm.
    pub filament: f64,
}

impl Job {
    /// Two walls, a fifth of infill, everything else plain.
    pub fn of(objects: &[Object]) -> Self {
        Self {
            objects: objects.to_vec(),
            one_after_another: false,
            first_layer: 0.2,
            layer: 0.2,
            width: 0.45,
            wall_widths: Vec::new(),
            sway: 0.0,
            walls: 2,
            infill: 20.0,
            pattern: Pattern::Lines,
            infill_every: 1,
            core: None,
            fades: 1.0,
            overlap: 0.25,
            joined: true,
            angle: 45.0,
            bottom: 3,
            top: 3,
            seam_gap: 0.0,
            ramp: 0.0,
            wipe: 0.0,
            arcs: false,
            comments: Comments::Off,
            relative_e: true,
            bead: Bead::Rounded,
            purge: true,
            skirt: 1,
            brim: 0,
            raft: 0,
            tower: None,
            tower_walls: true,
            filament: 1.75,
        }
    }
}

/// What a line's deposit is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Class {
    OuterWall,
    /// A middle bead that takes a wall's place is one too.
    InnerWall,
    /// A bead in a gap too narrow for a wall, or where all walls asked for are laid.
    GapBead,
    SolidSkin,
    SparseInfill,
    Bridge,
    Support,
    SupportInterface,
    Raft,
    Skirt,
    Brim,
    Tower,
    Purge,
}

impl Class {
    /// Whether it is part of what is wanted.
    pub fn is_part(self) -> bool {
        self <= Self::Bridge
    }
}

/// A line of the job that lays deposit, and what is true of it.
#[derive(Debug, Clone)]
pub struct Line {
    /// The line's number in the text, from 1.
    pub number: usize,
    pub class: Class,
    /// The object it belongs to; none for skirts, towers and purges.
    pub object: Option<usize>,
    /// Lines of one unbroken path have the same number here.
    pub path: usize,
    /// Both ends as written, and the middle of its circle if it is an arc (always anticlockwise).
    pub from: Point,
    pub to: Point,
    pub centre: Option<Point>,
    /// The nozzle's height at its end, mm.
    pub z: f64,
    /// The bead's size, mm; `height` is how far down it reaches from `z`.
    pub width: f64,
    pub height: f64,
    /// The deposit, mm³: the bead's section times its length, or a share of it where a seam is ramped.
    pub volume: f64,
    pub length: f64,
    /// How much of its middle lies neither over the layer below nor over support, mm.
    pub in_air: f64,
}

/// A stack of layers with the same outline.
#[derive(Debug, Clone)]
pub struct Stack {
    pub object: usize,
    /// From the lower face to the upper, mm above the bed.
    pub z: [f64; 2],
    /// Beads from its face inwards until there is no wall; a shared middle bead counts as one.
    pub walls: u32,
    /// The sparse zone: within the inner edges of the innermost walls, on layers that are not solid.
    pub sparse: Option<Sparse>,
    /// Solid layers below and on top.
    pub solid: [usize; 2],
    pub outline: Region,
}

#[derive(Debug, Clone, Copy)]
pub struct Sparse {
    /// Deposit of sparse infill, and area times height of the zone, mm³.
    pub deposit: f64,
    pub zone: f64,
}

impl Sparse {
    pub fn percent(self) -> f64 {
        100.0 * self.deposit / self.zone
    }
}

#[derive(Debug)]
pub struct Sliced {
    pub text: String,
    pub lines: Vec<Line>,
    pub stacks: Vec<Stack>,
}

impl Sliced {
    /// The part's infill in per cent: all stacks' sparse zones together; none where there is no zone.
    pub fn infill_percent(&self) -> Option<f64> {
        let zones: Vec<Sparse> = self
            .stacks
            .iter()
            .filter_map(|stack| stack.sparse)
            .collect();
        let deposit = zones.iter().map(|zone| zone.deposit).sum();
        let zone = zones.iter().map(|zone| zone.zone).sum();
        (zone > 0.0).then(|| Sparse { deposit, zone }.percent())
    }

    /// Deposit of the lines that are of such a class, mm³.
    pub fn volume(&self, of: impl Fn(Class) -> bool) -> f64 {
        let lines = self.lines.iter().filter(|line| of(line.class));
        lines.map(|line| line.volume).sum()
    }

    /// The usual width of a class's beads: the mean by length.
    pub fn width(&self, class: Class) -> Option<f64> {
        let mut sums = (0.0, 0.0);
        for line in self.lines.iter().filter(|line| line.class == class) {
            sums = (sums.0 + line.width * line.length, sums.1 + line.length);
        }
        (sums.1 > 0.0).then(|| sums.0 / sums.1)
    }
}
