//! Plane figures in closed form: rectangles and circles, grown, shrunk and cut by straight lines.

/// X and Y, mm.
pub type Point = [f64; 2];

#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Contour {
    Rect { centre: Point, half: [f64; 2] },
    Circle { centre: Point, radius: f64 },
}

impl Contour {
    /// Grown on every side, corners kept sharp; None where nothing is left of it.
    pub fn grown(self, by: f64) -> Option<Self> {
        match self {
            Self::Rect { centre, half } => {
                let half = half.map(|half| half + by);
                (half[0] > 1e-9 && half[1] > 1e-9).then_some(Self::Rect { centre, half })
            }
            Self::Circle { centre, radius } => {
                let radius = radius + by;
                (radius > 1e-9).then_some(Self::Circle { centre, radius })
            }
        }
    }

    pub fn area(self) -> f64 {
        match self {
            Self::Rect { half, .. } => 4.0 * half[0] * half[1],
            Self::Circle { radius, .. } => std::f64::consts::PI * radius * radius,
        }
    }

    pub fn centre(self) -> Point {
        match self {
            Self::Rect { centre, .. } | Self::Circle { centre, .. } => centre,
        }
    }

    /// The half sides of the rectangle around it.
    pub fn half(self) -> [f64; 2] {
        match self {
            Self::Rect { half, .. } => half,
            Self::Circle { radius, .. } => [radius, radius],
        }
    }

    /// How deep a point lies within, mm; below zero outside.
    pub fn depth(self, at: Point) -> f64 {
        let centre = self.centre();
        let off = [at[0] - centre[0], at[1] - centre[1]];
        match self {
            Self::Rect { half, .. } => (half[0] - off[0].abs()).min(half[1] - off[1].abs()),
            Self::Circle { radius, .. } => radius - off[0].hypot(off[1]),
        }
    }

    /// The middle of its reach along a direction and half that reach.
    fn reach(self, along: Point) -> (f64, f64) {
        let centre = self.centre();
        let half = match self {
            Self::Rect { half, .. } => half[0] * along[0].abs() + half[1] * along[1].abs(),
            Self::Circle { radius, .. } => radius,
        };
        (centre[0] * along[0] + centre[1] * along[1], half)
    }

    /// Where the straight line through both points is within, as shares of the way between them.
    fn within(self, from: Point, to: Point) -> Option<(f64, f64)> {
        let centre = self.centre();
        let way = [to[0] - from[0], to[1] - from[1]];
        let off = [from[0] - centre[0], from[1] - centre[1]];
        match self {
            Self::Rect { half, .. } => {
                let mut span = (f64::NEG_INFINITY, f64::INFINITY);
                for axis in 0..2 {
                    if way[axis].abs() < 1e-12 {
                        if off[axis].abs() > half[axis] {
                            return None;
                        }
                        continue;
                    }
                    let one = (-half[axis] - off[axis]) / way[axis];
                    let other = (half[axis] - off[axis]) / way[axis];
                    span = (span.0.max(one.min(other)), span.1.min(one.max(other)));
                }
                (span.0 < span.1).then_some(span)
            }
            Self::Circle { radius, .. } => {
                let a = way[0] * way[0] + way[1] * way[1];
                let b = off[0] * way[0] + off[1] * way[1];
                let c = off[0] * off[0] + off[1] * off[1] - radius * radius;
                let root = b * b - a * c;
                (root > 0.0).then(|| ((-b - root.sqrt()) / a, (-b + root.sqrt()) / a))
            }
        }
    }
}

/// A contour with holes that touch neither it nor each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Region {
    pub outer: Contour,
    pub holes: Vec<Contour>,
}

impl Region {
    pub fn inset(&self, by: f64) -> Option<Self> {
        Some(Self {
            outer: self.outer.grown(-by)?,
            holes: self
                .holes
                .iter()
                .filter_map(|hole| hole.grown(by))
                .collect(),
        })
    }

    pub fn contours(&self) -> impl Iterator<Item = Contour> + '_ {
        std::iter::once(self.outer).chain(self.holes.iter().copied())
    }

    pub fn area(&self) -> f64 {
        self.outer.area() - self.holes.iter().map(|hole| hole.area()).sum::<f64>()
    }

    /// How deep a point lies within the material, mm; below zero outside.
    pub fn depth(&self, at: Point) -> f64 {
        self.holes
            .iter()
            .map(|hole| -hole.depth(at))
            .fold(self.outer.depth(at), f64::min)
    }

    /// How thick it is where a middle bead could run: a rectangle, or a frame of even thickness.
    pub fn thickness(&self) -> Option<f64> {
        let Contour::Rect { half, .. } = self.outer else {
            return None;
        };
        match self.holes.as_slice() {
            [] => Some(2.0 * half[0].min(half[1])),
            [Contour::Rect { half: hole, .. }] => Some(half[0] - hole[0]),
            _ => None,
        }
    }

    /// The least and the greatest place along a direction.
    pub fn span(&self, along: Point) -> (f64, f64) {
        let (middle, half) = self.outer.reach(along);
        (middle - half, middle + half)
    }

    /// The parts of the way between two points that are within, in order.
    pub fn clip(&self, from: Point, to: Point) -> Vec<[Point; 2]> {
        let mut kept: Vec<(f64, f64)> = match self.outer.within(from, to) {
            Some((begin, end)) if begin < 1.0 && end > 0.0 => vec![(begin.max(0.0), end.min(1.0))],
            _ => return Vec::new(),
        };
        for hole in &self.holes {
            let Some((begin, end)) = hole.within(from, to) else {
                continue;
            };
            kept = kept
                .into_iter()
                .flat_map(|(one, other)| [(one, other.min(begin)), (one.max(end), other)])
                .filter(|(one, other)| one < other)
                .collect();
        }
        let at = |share: f64| {
            [
                from[0] + (to[0] - from[0]) * share,
                from[1] + (to[1] - from[1]) * share,
            ]
        };
        kept.into_iter()
            .map(|(one, other)| [at(one), at(other)])
            .collect()
    }

    /// How much of the way between two points is within, mm.
    pub fn length_within(&self, from: Point, to: Point) -> f64 {
        self.clip(from, to)
            .iter()
            .map(|[one, other]| distance(*one, *other))
            .sum()
    }
}

pub fn distance(one: Point, other: Point) -> f64 {
    (other[0] - one[0]).hypot(other[1] - one[1])
}
