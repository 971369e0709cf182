//! The paths that fill an outline: walls, skins and infill.

use super::fill::{Hatch, around, sparse};
use super::plane::{Contour, Point, Region, distance};
use super::slice::{Move, Path, Place};
use super::{Class, Job};
use std::f64::consts::{FRAC_PI_2, TAU};

impl Job {
    /// Walls from inside out, what is left within them, and how many there are.
    pub fn walls(&self, region: &Region, place: Place) -> (Vec<Path>, Option<Region>, u32) {
        let spacing = |width: f64| self.bead.area(width, place.height) / place.height;
        // From the outline to the outermost wall's side that counts as filled.
        let mut edge = (self.outermost() - spacing(self.outermost())) / 2.0;
        let thickness = region.thickness();
        let asked = if self.is_spiral(place) { 1 } else { self.walls };
        let mut rings = Vec::new();
        let mut count = 0;
        while count < asked {
            let width = self.wall_width(count);
            let own = spacing(width);
            let next = edge + own;
            if thickness.is_some_and(|thickness| thickness < 2.0 * next - 1e-9) {
                break;
            }
            let Some(middle) = region.inset(edge + own / 2.0) else {
                break;
            };
            let class = if count == 0 {
                Class::OuterWall
            } else {
                Class::InnerWall
            };
            for contour in middle.contours() {
                rings.push(self.wall(class, contour, width, place));
            }
            edge = next;
            count += 1;
        }
        let mut zone = region.inset(edge);
        if let Some(left) = thickness.map(|thickness| thickness - 2.0 * edge)
            && left < 1.3 * self.spacing(place.height)
        {
            zone = None;
            if left > 0.2 * self.spacing(place.height) {
                let is_wall = count < asked && left > 0.7 * self.spacing(place.height);
                let class = if is_wall {
                    Class::InnerWall
                } else {
                    Class::GapBead
                };
                count += u32::from(is_wall);
                rings.push(self.middle_bead(class, region, left, place));
            }
        }
        rings.reverse();
        (rings, zone, count)
    }

    pub fn is_spiral(&self, place: Place) -> bool {
        place
            .object
            .is_some_and(|object| matches!(self.objects[object].shape, super::Shape::Spiral { .. }))
    }

    /// A bead that fills what is left in the middle of something thin.
    pub fn middle_bead(&self, class: Class, region: &Region, left: f64, place: Place) -> Path {
        let width = self.bead.width(left, place.height);
        let thickness = region.thickness().unwrap();
        if !region.holes.is_empty() {
            let ring = region.outer.grown(-thickness / 2.0).unwrap();
            return self.stroke(class, &around(ring), width, place);
        }
        let (centre, half) = (region.outer.centre(), region.outer.half());
        let long = usize::from(half[1] > half[0]);
        // It ends as far from the walls' inner edges at its ends as at its sides.
        let far = half[long] - thickness / 2.0;
        let mut ends = [centre, centre];
        ends[0][long] -= far;
        ends[1][long] += far;
        self.stroke(class, &ends, width, place)
    }

    pub fn skin(
        &self,
        zone: &Region,
        layer: usize,
        bridged: Option<[f64; 2]>,
        place: Place,
    ) -> Vec<Path> {
        let turn = if layer.is_multiple_of(2) {
            0.0
        } else {
            FRAC_PI_2
        };
        let hatch = Hatch {
            angle: if bridged.is_some() {
                0.0
            } else {
                self.angle.to_radians() + turn
            },
            spacing: self.spacing(place.height),
            fitted: true,
            short: self.width * (0.5 - self.overlap),
            joined: self.joined && bridged.is_none(),
        };
        let (strokes, spacing) = hatch.lines(zone);
        let width = self.bead.width(spacing, place.height);
        let mut paths = Vec::new();
        for stroke in strokes {
            let Some([from, to]) = bridged else {
                paths.push(self.stroke(Class::SolidSkin, &stroke, width, place));
                continue;
            };
            // A straight line along X: on one leg, over the air, on the other leg.
            let y = stroke[0][1];
            let mut stops = [stroke[0], [from, y], [to, y], stroke[1]];
            stops.sort_by(|one, other| one[0].total_cmp(&other[0]));
            if stroke[0][0] > stroke[1][0] {
                stops.reverse();
            }
            for (pair, class) in
                stops
                    .windows(2)
                    .zip([Class::SolidSkin, Class::Bridge, Class::SolidSkin])
            {
                paths.push(self.stroke(class, pair, width, place));
            }
        }
        paths
    }

    pub fn infill(&self, zone: &Region, number: usize, place: Place) -> Vec<Path> {
        if self.infill <= 0.0 {
            return Vec::new();
        }
        let height = place
            .object
            .map_or(1.0, |object| self.objects[object].height);
        let share = self.infill / 100.0 * (1.0 - (1.0 - self.fades) * place.z / height);
        let lines = |zone: &Region, share: f64| {
            sparse(
                zone,
                self.pattern,
                number,
                self.angle.to_radians(),
                self.spacing(place.height),
                share,
                (self.width * (0.5 - self.overlap), self.joined),
            )
        };
        let strokes = match self.core {
            None => lines(zone, share),
            Some((rim, core)) => {
                let mut band = zone.clone();
                band.holes.extend(zone.outer.grown(-rim));
                let mut strokes = lines(zone, share * core);
                strokes.extend(lines(&band, share * (1.0 - core)));
                strokes
            }
        };
        let tool = usize::from(self.tower.is_some());
        strokes
            .iter()
            .map(|stroke| Path {
                tool,
                ..self.stroke(Class::SparseInfill, stroke, self.width, place)
            })
            .collect()
    }

    /// One turn of a spiral; the first begins with nothing, one more ends with nothing.
    pub fn turn(&self, outline: Contour, first: bool, last: bool, place: Place) -> Path {
        let width = self.outermost();
        let ring = around(outline.grown(-width / 2.0).unwrap());
        let foot = place.z - place.height;
        let count = ring.len() - 1;
        let far = |step: usize| step as f64 / count as f64;
        let moves = (1..=count).map(|step| Move {
            to: ring[step],
            centre: None,
            z: if last {
                place.z
            } else {
                foot + place.height * far(step)
            },
            width,
            height: place.height,
            share: match (first, last) {
                (true, _) => far(step) - 0.5 / count as f64,
                (_, true) => 1.0 - far(step) + 0.5 / count as f64,
                _ => 1.0,
            },
        });
        Path {
            start_z: if last { place.z } else { foot },
            moves: moves.collect(),
            ..self.stroke(Class::OuterWall, &ring, width, place)
        }
    }

    /// Straight pieces, one after another.
    pub fn stroke(&self, class: Class, points: &[Point], width: f64, place: Place) -> Path {
        let moves = points[1..].iter().map(|to| Move {
            to: *to,
            centre: None,
            z: place.z,
            width,
            height: place.height,
            share: 1.0,
        });
        Path {
            class,
            object: place.object,
            stack: place.stack,
            tool: 0,
            start: points[0],
            start_z: place.z,
            moves: moves.collect(),
            wipe: Vec::new(),
        }
    }

    /// A whole loop with nothing special about it.
    pub fn ring(&self, class: Class, contour: Contour, place: Place) -> Path {
        self.stroke(class, &around(contour), self.width, place)
    }

    /// A wall's loop, with its seam.
    pub fn wall(&self, class: Class, contour: Contour, width: f64, place: Place) -> Path {
        let sway = if class == Class::InnerWall {
            self.sway
        } else {
            0.0
        };
        if let Contour::Circle { centre, radius } = contour
            && self.arcs
        {
            assert!(
                self.ramp == 0.0 && sway == 0.0,
                "arcs have one width and height"
            );
            let end = TAU - self.seam_gap / radius;
            let at = |turn: f64| {
                [
                    centre[0] + radius * turn.cos(),
                    centre[1] + radius * turn.sin(),
                ]
            };
            let stops = [at(0.0), at(end / 2.0), at(end)];
            let mut path = self.stroke(class, &stops, width, place);
            path.moves
                .iter_mut()
                .for_each(|step| step.centre = Some(centre));
            return path;
        }
        let ring = Ring::new(around(contour));
        let total = ring.length;
        let end = total - self.seam_gap + self.ramp;
        let mut marks: Vec<f64> = ring.marks.clone();
        marks.extend(ring.marks.iter().map(|mark| mark + total));
        if sway > 0.0 {
            let pieces = (total / 3.0).ceil() as u32;
            marks.extend((1..pieces).map(|piece| total * f64::from(piece) / f64::from(pieces)));
        }
        for step in 0..=8 {
            let far = self.ramp * f64::from(step) / 8.0;
            marks.extend([far, total + far]);
        }
        marks.retain(|mark| *mark > 1e-6 && *mark < end - 1e-6);
        marks.push(end);
        marks.sort_by(f64::total_cmp);
        marks.dedup_by(|one, other| (*one - *other).abs() < 0.01);
        let waves = (total / 12.0).round().max(1.0);
        let mut before = 0.0;
        let mut moves = Vec::new();
        for mark in marks {
            let middle = f64::midpoint(before, mark);
            before = mark;
            let share = if middle < self.ramp {
                middle / self.ramp
            } else if middle > total {
                1.0 - (middle - total) / self.ramp
            } else {
                1.0
            };
            let below = if mark < self.ramp {
                1.0 - mark / self.ramp
            } else {
                0.0
            };
            moves.push(Move {
                to: ring.at(mark),
                centre: None,
                z: place.z - place.height * below,
                width: width * (1.0 + sway * (TAU * waves * middle / total).sin()),
                height: place.height,
                share,
            });
        }
        let wipe = if self.wipe > 0.0 {
            let corners = ring.marks.iter().map(|mark| mark + total);
            let corners = corners.filter(|mark| *mark > end + 1e-6 && *mark < end + self.wipe);
            let stops = corners.chain([end + self.wipe]);
            stops.map(|mark| ring.at(mark)).collect()
        } else {
            Vec::new()
        };
        let low = if self.ramp > 0.0 { place.height } else { 0.0 };
        Path {
            start_z: place.z - low,
            moves,
            wipe,
            ..self.stroke(class, &[ring.at(0.0)], width, place)
        }
    }
}

/// A closed way that can be followed by length.
struct Ring {
    points: Vec<Point>,
    /// How far each point is from the first, mm.
    marks: Vec<f64>,
    length: f64,
}

impl Ring {
    fn new(points: Vec<Point>) -> Self {
        let mut marks = vec![0.0];
        for pair in points.windows(2) {
            marks.push(marks[marks.len() - 1] + distance(pair[0], pair[1]));
        }
        let length = marks[marks.len() - 1];
        Self {
            points,
            marks,
            length,
        }
    }

    /// The point so far along, round and round.
    fn at(&self, far: f64) -> Point {
        let far = far.rem_euclid(self.length);
        let next = self.marks.partition_point(|mark| *mark <= far);
        let next = next.clamp(1, self.points.len() - 1);
        let (from, to) = (self.points[next - 1], self.points[next]);
        let share = (far - self.marks[next - 1]) / (self.marks[next] - self.marks[next - 1]);
        [
            from[0] + (to[0] - from[0]) * share,
            from[1] + (to[1] - from[1]) * share,
        ]
    }
}
