//! From a description to the paths of each layer.

use super::fill::{Hatch, around, sparse};
use super::object::{Plan, Storey};
use super::plane::{Contour, Point, Region, distance};
use super::{Class, Job, PURGE_AT, Sliced, Sparse, Stack, write};
use std::f64::consts::{FRAC_PI_2, TAU};

/// How far skirts and rafts reach beyond what they are for, mm.
const SKIRT_AT: f64 = 5.0;
const RAFT_BEYOND: f64 = 3.0;
/// Spacing of support, mm; layers of its interface, and how much wider than solid they are spaced.
const SUPPORT_SPACING: f64 = 2.5;
const INTERFACE: (usize, f64) = (2, 1.2);
/// Half a tower's side and the spacing of its lines, mm.
const TOWER: (f64, f64) = (6.0, 1.5);

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
struct Place {
    z: f64,
    height: f64,
    object: Option<usize>,
    stack: Option<usize>,
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

    fn place(&self, foot: f64, layer: usize, object: Option<usize>, stack: Option<usize>) -> Place {
        Place {
            z: foot + self.top_of(layer),
            height: self.height_of(layer),
            object,
            stack,
        }
    }

    /// How far apart beads of the usual width lie in a solid, mm.
    fn spacing(&self, height: f64) -> f64 {
        self.bead.area(self.width, height) / height
    }

    fn wall_width(&self, wall: u32) -> f64 {
        let own = self.wall_widths.get(wall as usize);
        own.copied().unwrap_or(self.width)
    }

    fn outermost(&self) -> f64 {
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

    /// Walls from inside out, what is left within them, and how many there are.
    fn walls(&self, region: &Region, place: Place) -> (Vec<Path>, Option<Region>, u32) {
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

    fn is_spiral(&self, place: Place) -> bool {
        place
            .object
            .is_some_and(|object| matches!(self.objects[object].shape, super::Shape::Spiral { .. }))
    }

    /// A bead that fills what is left in the middle of something thin.
    fn middle_bead(&self, class: Class, region: &Region, left: f64, place: Place) -> Path {
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

    fn skin(
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

    fn infill(&self, zone: &Region, number: usize, place: Place) -> Vec<Path> {
        if self.infill <= 0.0 {
            return Vec::new();
        }
        let strokes = sparse(
            zone,
            self.pattern,
            number,
            self.angle.to_radians(),
            self.spacing(place.height),
            self.infill / 100.0,
            (self.width * (0.5 - self.overlap), self.joined),
        );
        let tool = usize::from(self.tower.is_some());
        strokes
            .iter()
            .map(|stroke| Path {
                tool,
                ..self.stroke(Class::SparseInfill, stroke, self.width, place)
            })
            .collect()
    }

    fn support(&self, region: &Region, to_go: usize, place: Place) -> Vec<Path> {
        let is_interface = to_go <= INTERFACE.0;
        let hatch = Hatch {
            angle: if is_interface { 0.0 } else { FRAC_PI_2 },
            spacing: if is_interface {
                self.spacing(place.height) * INTERFACE.1
            } else {
                SUPPORT_SPACING
            },
            fitted: is_interface,
            short: self.width / 2.0,
            joined: true,
        };
        let class = if is_interface {
            Class::SupportInterface
        } else {
            Class::Support
        };
        let lines = hatch.lines(region).0;
        lines
            .iter()
            .map(|stroke| self.stroke(class, stroke, self.width, place))
            .collect()
    }

    fn raft_layer(&self, outline: Contour, number: usize) -> Layer {
        let place = Place {
            z: self.first_layer * (number + 1) as f64,
            height: self.first_layer,
            object: None,
            stack: None,
        };
        let spacing = self.spacing(self.first_layer);
        let hatch = Hatch {
            angle: FRAC_PI_2 * (number % 2) as f64,
            spacing: if number == 0 { 2.0 * spacing } else { spacing },
            fitted: true,
            short: self.width / 2.0,
            joined: true,
        };
        let region = Region {
            outer: outline,
            holes: Vec::new(),
        };
        let lines = hatch.lines(&region).0;
        let paths = lines
            .iter()
            .map(|stroke| self.stroke(Class::Raft, stroke, self.width, place))
            .collect();
        Layer {
            z: place.z,
            paths,
            below: None,
        }
    }

    /// The tower's layer: lines before the first tool's paths, loops before the second tool's.
    fn tower(&self, at: Point, number: usize, layer: &mut Layer) {
        let place = self.place(0.0, number, None, None);
        let outer = |by: f64| Contour::Rect {
            centre: at,
            half: [TOWER.0 - by; 2],
        };
        let spacing = self.spacing(place.height);
        let tool = layer.paths.iter().map(|path| path.tool).max().unwrap_or(0);
        let loops = [0.5, 1.5].map(|turn| Path {
            tool,
            ..self.ring(
                Class::Tower,
                outer(self.width / 2.0 + spacing * (turn - 0.5)),
                place,
            )
        });
        let hatch = Hatch {
            angle: FRAC_PI_2 * (number % 2) as f64,
            spacing: TOWER.1,
            fitted: false,
            short: 0.5 * self.width,
            joined: true,
        };
        let region = Region {
            outer: outer(self.width / 2.0 + 1.5 * spacing),
            holes: Vec::new(),
        };
        let lines = hatch.lines(&region).0;
        let lines = lines
            .iter()
            .map(|stroke| self.stroke(Class::Tower, stroke, self.width, place));
        let mut paths: Vec<Path> = lines.collect();
        let (first, second): (Vec<Path>, Vec<Path>) =
            layer.paths.drain(..).partition(|path| path.tool == 0);
        paths.extend(first);
        paths.extend(loops);
        paths.extend(second);
        layer.paths = paths;
    }

    /// One turn of a spiral; the first begins with nothing, one more ends with nothing.
    fn turn(&self, outline: Contour, first: bool, last: bool, place: Place) -> Path {
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
    fn stroke(&self, class: Class, points: &[Point], width: f64, place: Place) -> Path {
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
    fn ring(&self, class: Class, contour: Contour, place: Place) -> Path {
        self.stroke(class, &around(contour), self.width, place)
    }

    /// A wall's loop, with its seam.
    fn wall(&self, class: Class, contour: Contour, width: f64, place: Place) -> Path {
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
