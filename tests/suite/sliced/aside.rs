//! What stands beside the part or under it: supports, rafts and towers.

use super::fill::Hatch;
use super::plane::{Contour, Point, Region};
use super::slice::{Layer, Path, Place};
use super::{Class, Job};
use std::f64::consts::FRAC_PI_2;

/// Spacing of support, mm; layers of its interface, and how much wider than solid they are spaced.
const SUPPORT_SPACING: f64 = 2.5;
const INTERFACE: (usize, f64) = (2, 1.2);
/// Half a tower's side and the spacing of its lines, mm.
const TOWER: (f64, f64) = (6.0, 1.5);

impl Job {
    pub fn support(&self, region: &Region, to_go: usize, place: Place) -> Vec<Path> {
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

    pub fn raft_layer(&self, outline: Contour, number: usize) -> Layer {
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
    pub fn tower(&self, at: Point, number: usize, layer: &mut Layer) {
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
            joined: self.tower_walls,
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
        let mut others: Vec<Path> = loops.into();
        if !self.tower_walls {
            others = paths.split_off(paths.len() / 2);
            others.iter_mut().for_each(|path| path.tool = tool);
        }
        let (first, second): (Vec<Path>, Vec<Path>) =
            layer.paths.drain(..).partition(|path| path.tool == 0);
        paths.extend(first);
        paths.extend(others);
        paths.extend(second);
        layer.paths = paths;
    }
}
