//! Lines that fill a region, and loops along its contours.

use super::Pattern;
use super::plane::{Contour, Point, Region, distance};

/// Lines in one direction; each is given with those joined to it.
pub struct Hatch {
    /// Radians.
    pub angle: f64,
    pub spacing: f64,
    /// Whether the spacing is changed a little so that the lines fill the region from side to side.
    pub fitted: bool,
    /// By how much the lines' ends stay within the region, mm.
    pub short: f64,
    pub joined: bool,
}

impl Hatch {
    /// The lines that fill the region, and the spacing they really have.
    pub fn lines(&self, region: &Region) -> (Vec<Vec<Point>>, f64) {
        let along = [self.angle.cos(), self.angle.sin()];
        let across = [-along[1], along[0]];
        let (begin, end) = region.span(across);
        let mut spacing = self.spacing;
        let places: Vec<f64> = if self.fitted {
            let count = ((end - begin) / spacing).round().max(1.0);
            spacing = (end - begin) / count;
            (0..count as u32)
                .map(|line| begin + spacing * (f64::from(line) + 0.5))
                .collect()
        } else {
            // The same places on every layer, so that layers lie on each other.
            let middle = f64::midpoint(begin, end);
            let most = ((end - begin) / 2.0 / spacing).ceil() as i32;
            (-most..=most)
                .map(|line| middle + spacing * (f64::from(line) + 0.25))
                .filter(|place| (begin..end).contains(place))
                .collect()
        };
        let mut strokes: Vec<Vec<Point>> = Vec::new();
        let Some(ends) = region.inset(self.short) else {
            return (strokes, spacing);
        };
        // Joints run along the very edge, on either side of it by rounding.
        let joints = region.inset(self.short - 1e-6).unwrap();
        let (from, to) = ends.span(along);
        for (number, place) in places.iter().enumerate() {
            let at = |far: f64| {
                [
                    across[0] * place + along[0] * far,
                    across[1] * place + along[1] * far,
                ]
            };
            let mut pieces = ends.clip(at(from - 1.0), at(to + 1.0));
            if number % 2 == 1 {
                pieces.reverse();
                pieces.iter_mut().for_each(|piece| piece.reverse());
            }
            for [one, other] in pieces {
                if distance(one, other) < 0.05 {
                    continue;
                }
                let last = strokes.last_mut().filter(|stroke| {
                    let end = stroke[stroke.len() - 1];
                    let way = distance(end, one);
                    self.joined
                        && way < 3.0 * spacing
                        && joints.length_within(end, one) > way * (1.0 - 1e-6) - 1e-6
                });
                match last {
                    Some(stroke) => stroke.extend([one, other]),
                    None => strokes.push(vec![one, other]),
                }
            }
        }
        (strokes, spacing)
    }
}

/// Sparse infill: `dense` is the spacing of a solid, `share` how much of the volume is filled.
pub fn sparse(
    zone: &Region,
    pattern: Pattern,
    number: usize,
    angle: f64,
    dense: f64,
    share: f64,
    ends: (f64, bool),
) -> Vec<Vec<Point>> {
    let quarter = std::f64::consts::FRAC_PI_2;
    let turns: Vec<f64> = match pattern {
        Pattern::Lines if number.is_multiple_of(2) => vec![0.0],
        Pattern::Lines => vec![quarter],
        Pattern::Grid => vec![0.0, quarter],
        Pattern::Triangles => (0..3)
            .map(|turn| f64::from(turn) * std::f64::consts::FRAC_PI_3)
            .collect(),
        Pattern::Concentric => return concentric(zone, dense / share, ends.0),
    };
    let spacing = dense / share * turns.len() as f64;
    let mut strokes = Vec::new();
    for turn in turns {
        let hatch = Hatch {
            angle: angle + turn,
            spacing,
            fitted: false,
            short: ends.0,
            joined: ends.1,
        };
        strokes.extend(hatch.lines(zone).0);
    }
    strokes
}

fn concentric(zone: &Region, spacing: f64, short: f64) -> Vec<Vec<Point>> {
    let mut strokes: Vec<Vec<Point>> = Vec::new();
    let Some(ends) = zone.inset(short) else {
        return strokes;
    };
    let mut depth = spacing / 2.0;
    while let Some(contour) = zone.outer.grown(-depth) {
        depth += spacing;
        let ring = around(contour);
        let mut begun = false;
        for pair in ring.windows(2) {
            for [one, other] in ends.clip(pair[0], pair[1]) {
                match strokes.last_mut() {
                    Some(stroke) if begun && distance(stroke[stroke.len() - 1], one) < 1e-9 => {
                        stroke.push(other);
                    }
                    _ => strokes.push(vec![one, other]),
                }
                begun = true;
            }
        }
    }
    strokes
}

/// A contour as straight pieces, closed: its last point is its first.
pub fn around(contour: Contour) -> Vec<Point> {
    match contour {
        Contour::Rect { centre, half } => [
            [-1.0, -1.0],
            [1.0, -1.0],
            [1.0, 1.0],
            [-1.0, 1.0],
            [-1.0, -1.0],
        ]
        .map(|[x, y]| [centre[0] + x * half[0], centre[1] + y * half[1]])
        .to_vec(),
        Contour::Circle { centre, radius } => {
            let count = (std::f64::consts::TAU * radius / 0.8).ceil().max(24.0) as u32;
            (0..=count)
                .map(|point| {
                    let turn = std::f64::consts::TAU * f64::from(point % count) / f64::from(count);
                    [
                        centre[0] + radius * turn.cos(),
                        centre[1] + radius * turn.sin(),
                    ]
                })
                .collect()
        }
    }
}
