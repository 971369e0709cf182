//! Paths as a job's text, and what is true of each line of it.

use super::plane::{Point, Region, distance};
use super::slice::{Layer, Path};
use super::{Class, Comments, Job, Line, Sliced, Stack};
use std::f64::consts::{PI, TAU};
use std::fmt::Write as _;

/// How far filament is drawn back before a travel, and the longest travel without that, mm.
const RETRACTION: f64 = 0.8;
const SHORT_TRAVEL: f64 = 1.5;

/// How a comment names a class.
pub fn name(class: Class) -> &'static str {
    match class {
        Class::OuterWall => "outer wall",
        Class::InnerWall => "inner wall",
        Class::GapBead => "gap fill",
        Class::SolidSkin => "solid infill",
        Class::SparseInfill => "sparse infill",
        Class::Bridge => "bridge",
        Class::Support => "support",
        Class::SupportInterface => "support interface",
        Class::Raft => "raft",
        Class::Skirt => "skirt",
        Class::Brim => "brim",
        Class::Tower => "tower",
        Class::Purge => "purge",
    }
}

/// A class whose name is told for another one.
fn wrong(class: Class) -> Class {
    match class {
        Class::OuterWall => Class::SparseInfill,
        Class::InnerWall => Class::OuterWall,
        Class::SparseInfill => Class::SolidSkin,
        Class::SolidSkin => Class::Support,
        Class::Support => Class::InnerWall,
        other => other,
    }
}

struct Writer<'a> {
    job: &'a Job,
    text: String,
    /// Lines written so far.
    count: usize,
    lines: Vec<Line>,
    stacks: Vec<Stack>,
    at: Point,
    z: f64,
    /// Filament pushed since the last zero, mm, and how much of it is drawn back.
    e: f64,
    back: f64,
    tool: usize,
    told: Option<Class>,
    path: usize,
}

pub fn job(job: &Job, layers: &[Layer], stacks: Vec<Stack>) -> Sliced {
    let mut writer = Writer {
        job,
        text: String::new(),
        count: 0,
        lines: Vec::new(),
        stacks,
        at: [f64::NAN; 2],
        z: f64::NAN,
        e: 0.0,
        back: 0.0,
        tool: 0,
        told: None,
        path: 0,
    };
    writer.begin();
    for (number, layer) in layers.iter().enumerate() {
        writer.layer(number, layer);
    }
    writer.retract();
    writer.say("M104 S0");
    writer.say("M140 S0");
    writer.say("M84");
    Sliced {
        text: writer.text,
        lines: writer.lines,
        stacks: writer.stacks,
    }
}

fn rounded(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}

impl Writer<'_> {
    fn say(&mut self, line: &str) {
        self.count += 1;
        self.text += line;
        self.text.push('\n');
    }

    fn comment(&mut self, comment: &str) {
        if self.job.comments != Comments::Off {
            self.say(&format!("; {comment}"));
        }
    }

    fn begin(&mut self) {
        let job = self.job;
        let (walls, infill) = match job.comments {
            Comments::WrongSettings => (job.walls + 2, (job.infill + 25.0) % 100.0),
            _ => (job.walls, job.infill),
        };
        self.comment(&format!("layer_height = {}", job.layer));
        self.comment(&format!("first_layer_height = {}", job.first_layer));
        self.comment(&format!("filament_diameter = {}", job.filament));
        self.comment("nozzle_diameter = 0.4");
        self.comment(&format!("walls = {walls}"));
        self.comment(&format!("infill_density = {infill}%"));
        for line in [
            "G21",
            "G90",
            "M140 S60",
            "M104 S210",
            "M190 S60",
            "M109 S210",
        ] {
            self.say(line);
        }
        if job.tower.is_some() {
            self.say("T1");
            self.say("M109 S210");
            self.say("T0");
        }
        self.say(if job.relative_e { "M83" } else { "M82" });
        self.say("G28");
        self.say("G92 E0");
        self.say("G0 Z5 F600");
        self.z = 5.0;
    }

    fn layer(&mut self, number: usize, layer: &Layer) {
        if layer.z < self.z - 1e-6 && number > 0 {
            // The next object begins: over all that stands, and down beside it.
            self.retract();
            let over = self.z + 10.0;
            self.lift(over);
            if let Some(first) = layer.paths.first() {
                self.travel(first.start);
            }
        }
        self.comment(&format!("layer {}, Z = {:.3}", number + 1, layer.z));
        if !self.job.relative_e {
            self.say("G92 E0");
            self.e = 0.0;
        }
        for path in &layer.paths {
            self.path(path, layer.below.as_deref());
        }
    }

    fn lift(&mut self, z: f64) {
        if self.z != rounded(z) {
            self.z = rounded(z);
            self.say(&format!("G0 Z{:.3} F600", self.z));
        }
    }

    fn travel(&mut self, to: Point) {
        let to = to.map(rounded);
        if self.at != to {
            self.at = to;
            self.say(&format!("G0 X{:.3} Y{:.3} F9000", to[0], to[1]));
        }
    }

    /// The word E for so much filament, mm.
    fn push(&mut self, length: f64) -> String {
        if self.job.relative_e {
            format!("E{length:.5}")
        } else {
            self.e += length;
            format!("E{:.5}", self.e)
        }
    }

    fn retract(&mut self) {
        if self.back < RETRACTION {
            let word = self.push(self.back - RETRACTION);
            self.say(&format!("G1 {word} F2100"));
            self.back = RETRACTION;
        }
    }

    fn path(&mut self, path: &Path, below: Option<&[Region]>) {
        if path.tool != self.tool {
            self.retract();
            self.say(&format!("T{}", path.tool));
            self.say("G92 E0");
            self.tool = path.tool;
            self.e = 0.0;
        }
        let start = path.start.map(rounded);
        let way = distance(self.at, start);
        if way > SHORT_TRAVEL || way.is_nan() {
            self.retract();
        }
        // Down to a layer only where its path begins, up before the nozzle goes there.
        let rises = rounded(path.start_z) > self.z;
        if rises {
            self.lift(path.start_z);
        }
        self.travel(start);
        self.lift(path.start_z);
        if self.back > 0.0 {
            let word = self.push(self.back);
            self.say(&format!("G1 {word} F2100"));
            self.back = 0.0;
        }
        if self.told != Some(path.class) {
            let said = match self.job.comments {
                Comments::WrongPaths => wrong(path.class),
                _ => path.class,
            };
            self.comment(&format!("type: {}", name(said)));
            self.told = Some(path.class);
        }
        self.path += 1;
        let filament = PI * self.job.filament * self.job.filament / 4.0;
        let speed = if path.class == Class::OuterWall {
            1800
        } else {
            2700
        };
        for (number, step) in path.moves.iter().enumerate() {
            let from = self.at;
            let to = step.to.map(rounded);
            let mut words = String::from("G1");
            let mut centre = None;
            let mut length = distance(from, to);
            if let Some(middle) = step.centre {
                let off = [rounded(middle[0] - from[0]), rounded(middle[1] - from[1])];
                let middle = [from[0] + off[0], from[1] + off[1]];
                length = off[0].hypot(off[1]) * sweep(from, to, middle);
                centre = Some((middle, off));
                words = String::from("G3");
            }
            if length < 1e-9 {
                continue;
            }
            let _ = write!(words, " X{:.3} Y{:.3}", to[0], to[1]);
            if rounded(step.z) != self.z {
                self.z = rounded(step.z);
                let _ = write!(words, " Z{:.3}", self.z);
            }
            if let Some((_, off)) = centre {
                let _ = write!(words, " I{:.3} J{:.3}", off[0], off[1]);
            }
            let volume = self.job.bead.area(step.width, step.height) * step.share * length;
            let _ = write!(words, " {}", self.push(volume / filament));
            if number == 0 {
                let _ = write!(words, " F{speed}");
            }
            self.say(&words);
            self.at = to;
            let centre = centre.map(|(middle, _)| middle);
            let in_air = match below.filter(|_| path.class.is_part()) {
                Some(below) => in_air(from, to, centre, below),
                None => 0.0,
            };
            self.lines.push(Line {
                number: self.count,
                class: path.class,
                object: path.object,
                path: self.path,
                from,
                to,
                centre,
                z: self.z,
                width: step.width,
                height: step.height,
                volume,
                length,
                in_air,
            });
            if path.class == Class::SparseInfill
                && let Some(sparse) = path
                    .stack
                    .and_then(|stack| self.stacks[stack].sparse.as_mut())
            {
                sparse.deposit += volume;
            }
        }
        self.wipe(&path.wipe);
    }

    /// Along the beginning of the loop, drawing filament back.
    fn wipe(&mut self, way: &[Point]) {
        let mut total = 0.0;
        let mut before = self.at;
        let way: Vec<Point> = way.iter().map(|point| point.map(rounded)).collect();
        for to in &way {
            total += distance(before, *to);
            before = *to;
        }
        if total <= 0.0 {
            return;
        }
        self.comment("wipe start");
        for to in way {
            let word = self.push(-RETRACTION * distance(self.at, to) / total);
            self.say(&format!("G1 X{:.3} Y{:.3} {word} F6000", to[0], to[1]));
            self.at = to;
        }
        self.comment("wipe end");
        self.back = RETRACTION;
        self.told = None;
    }
}

/// How far an anticlockwise arc turns, radians.
fn sweep(from: Point, to: Point, centre: Point) -> f64 {
    let angle = |at: Point| (at[1] - centre[1]).atan2(at[0] - centre[0]);
    let turn = (angle(to) - angle(from)).rem_euclid(TAU);
    if turn < 1e-9 { TAU } else { turn }
}

/// How much of a line's middle lies over none of the regions, mm.
fn in_air(from: Point, to: Point, centre: Option<Point>, below: &[Region]) -> f64 {
    let straight = |from: Point, to: Point| {
        let on: f64 = below
            .iter()
            .map(|region| region.length_within(from, to))
            .sum();
        (distance(from, to) - on).max(0.0)
    };
    let Some(centre) = centre else {
        return straight(from, to);
    };
    let radius = distance(from, centre);
    let begin = (from[1] - centre[1]).atan2(from[0] - centre[0]);
    let turn = sweep(from, to, centre) / 64.0;
    let at = |piece: u32| {
        let angle = begin + turn * f64::from(piece);
        [
            centre[0] + radius * angle.cos(),
            centre[1] + radius * angle.sin(),
        ]
    };
    (0..64)
        .map(|piece| straight(at(piece), at(piece + 1)))
        .sum()
}
