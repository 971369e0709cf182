//! A box, sliced here for tests: walls, skins and infill as asked for.

use std::f64::consts::{FRAC_PI_2, PI};
use std::fmt::Write as _;

/// Filament's section, mm²: 1.75 mm.
const FILAMENT: f64 = PI * 1.75 * 1.75 / 4.0;

/// How infill is laid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pattern {
    /// One way in each layer, turned by a right angle from layer to layer.
    Lines,
    /// Both ways in each layer.
    Grid,
    /// Every layer's walls once more, further in.
    Concentric,
    /// Three ways in each layer.
    Triangles,
}

/// What box to slice: outside measures, mm.
#[derive(Debug, Clone, Copy)]
pub struct Box {
    pub size: [f64; 3],
    pub walls: u32,
    /// 0 to 1.
    pub infill: f64,
    pub pattern: Pattern,
    /// Solid layers at the bottom and on top.
    pub skins: [u32; 2],
    /// Distance of beads side by side, mm.
    pub pitch: f64,
    pub height: f64,
    /// Infill reaches so far upon the innermost wall, mm.
    pub overlap: f64,
    /// The seam stays open by so much, mm.
    pub seam: f64,
    pub comments: bool,
}

impl Default for Box {
    fn default() -> Self {
        Self {
            size: [30.0, 24.0, 6.0],
            walls: 3,
            infill: 0.2,
            pattern: Pattern::Lines,
            skins: [3, 3],
            pitch: 0.45,
            height: 0.2,
            overlap: 0.0,
            seam: 0.0,
            comments: true,
        }
    }
}

struct Pen {
    job: String,
    /// Distance of beads side by side, mm.
    pitch: f64,
    height: f64,
    comments: bool,
    /// Area that infill's beads cover within its zone, mm².
    covered: f64,
}

impl Pen {
    fn say(&mut self, words: &str) {
        if self.comments {
            let _ = writeln!(self.job, ";{words}");
        }
    }

    fn go(&mut self, to: [f64; 2]) {
        let _ = writeln!(self.job, "G0 X{:.4} Y{:.4} F9000", to[0], to[1]);
    }

    fn lay(&mut self, from: [f64; 2], to: [f64; 2]) {
        let length = (to[0] - from[0]).hypot(to[1] - from[1]);
        // Laid side by side at their width, beads fill the layer: a rectangle of width by height.
        let e = length * self.pitch * self.height / FILAMENT;
        let _ = writeln!(self.job, "G1 X{:.4} Y{:.4} E{e:.6} F1800", to[0], to[1]);
    }

    fn ring(&mut self, [left, low, right, high]: [f64; 4], seam: f64) {
        let corners = [[left, low], [right, low], [right, high], [left, high]];
        self.go(corners[0]);
        for (index, from) in corners.iter().enumerate() {
            let mut to = corners[(index + 1) % 4];
            if index == 3 {
                to[1] += seam;
            }
            self.lay(*from, to);
        }
    }

    /// Parallel lines at this angle, so far apart, in a rectangle that reaches `over` beyond its zone.
    fn lines(&mut self, zone: [f64; 4], over: f64, angle: f64, apart: f64) {
        let [left, low, right, high] = zone;
        let along = [angle.cos(), angle.sin()];
        let middle = [f64::midpoint(left, right), f64::midpoint(low, high)];
        let count = ((right - left).hypot(high - low) / apart).ceil() as i32;
        let mut turn = false;
        for index in -count..=count {
            let off = (f64::from(index) + 0.5) * apart;
            let through = [middle[0] - along[1] * off, middle[1] + along[0] * off];
            let laid = [left - over, low - over, right + over, high + over];
            let Some([from, to]) = clip(through, along, laid).filter(|[from, to]| to - from > 0.5)
            else {
                continue;
            };
            let within = clip(through, along, zone).map_or(0.0, |[from, to]| to - from);
            self.covered += within * self.pitch;
            let ends =
                [from, to].map(|far| [through[0] + along[0] * far, through[1] + along[1] * far]);
            let [from, to] = if turn { [ends[1], ends[0]] } else { ends };
            turn = !turn;
            self.go(from);
            self.lay(from, to);
        }
    }
}

/// What of a line lies in a rectangle: from and to along it.
fn clip(
    through: [f64; 2],
    along: [f64; 2],
    [left, low, right, high]: [f64; 4],
) -> Option<[f64; 2]> {
    let (mut from, mut to) = (-1e3, 1e3);
    for (at, way, least, most) in [
        (through[0], along[0], left, right),
        (through[1], along[1], low, high),
    ] {
        if way.abs() < 1e-9 {
            if at < least || at > most {
                return None;
            }
            continue;
        }
        let (one, other) = ((least - at) / way, (most - at) / way);
        from = f64::max(from, one.min(other));
        to = f64::min(to, one.max(other));
    }
    (to > from).then_some([from, to])
}

impl Box {
    /// The width of such a bead as a stadium, mm: (w - h)·h + π·(h/2)² = pitch·h.
    pub fn width(&self) -> f64 {
        self.pitch + self.height * (1.0 - std::f64::consts::FRAC_PI_4)
    }

    /// The job, and the share of its sparse zones that it really fills, 0 to 1.
    pub fn sliced(&self) -> (String, f64) {
        let mut pen = Pen {
            job: "G21\nG90\nM83\nM140 S60\nM104 S210\nM190 S60\nG28\nM109 S210\nG92 E0\n"
                .to_owned(),
            pitch: self.pitch,
            height: self.height,
            comments: self.comments,
            covered: 0.0,
        };
        let layers = (self.size[2] / self.height).round() as u32;
        let [x, y, _] = self.size;
        let inside = f64::from(self.walls) * self.pitch;
        let (mut covered, mut room) = (0.0, 0.0);
        for layer in 0..layers {
            let _ = writeln!(
                pen.job,
                "G1 Z{:.3} F600",
                f64::from(layer + 1) * self.height
            );
            for wall in (0..self.walls).rev() {
                pen.say(if wall == 0 {
                    "outer wall"
                } else {
                    "inner wall"
                });
                pen.ring(self.inset((f64::from(wall) + 0.5) * self.pitch), self.seam);
            }
            let is_skin = layer < self.skins[0] || layer >= layers - self.skins[1];
            let turn = f64::from(layer % 2) * FRAC_PI_2;
            if is_skin {
                pen.say("solid infill");
                pen.lines(self.inset(inside), 0.0, turn, self.pitch);
                continue;
            }
            pen.say("sparse infill");
            pen.covered = 0.0;
            self.fill(&mut pen, inside, turn);
            covered += pen.covered;
            room += (x - 2.0 * inside) * (y - 2.0 * inside);
        }
        (pen.job + "M104 S0\nM140 S0\nM84\n", covered / room)
    }

    /// Its outline, so far further in.
    fn inset(&self, far: f64) -> [f64; 4] {
        let [x, y, _] = self.size;
        [60.0 + far, 60.0 + far, 60.0 + x - far, 60.0 + y - far]
    }

    fn fill(&self, pen: &mut Pen, inside: f64, turn: f64) {
        if self.infill <= 0.0 {
            return;
        }
        let zone = self.inset(inside);
        let apart = self.pitch / self.infill;
        match self.pattern {
            Pattern::Lines => pen.lines(zone, self.overlap, turn, apart),
            Pattern::Grid => {
                for angle in [0.0, FRAC_PI_2] {
                    pen.lines(zone, self.overlap, angle, apart * 2.0);
                }
            }
            Pattern::Triangles => {
                for third in 0..3 {
                    let angle = f64::from(third) * PI / 3.0;
                    pen.lines(zone, self.overlap, angle, apart * 3.0);
                }
            }
            Pattern::Concentric => {
                let mut far = inside + apart / 2.0;
                while 2.0 * far + apart / 2.0 < self.size[0].min(self.size[1]) {
                    let [left, low, right, high] = self.inset(far);
                    pen.covered += 2.0 * (right - left + high - low) * self.pitch;
                    pen.ring([left, low, right, high], 0.0);
                    far += apart;
                }
            }
        }
    }
}
