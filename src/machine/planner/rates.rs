//! The limits that motion is planned within.

/// How speed through corners is limited.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Corner {
    /// By how far a circle touching both moves would cut the corner, mm.
    Deviation(f64),
    /// By the change of the velocity, mm/s.
    Vector(f64),
    /// By the change of each axis' speed, X, Y, Z and E, mm/s.
    PerAxis([f64; 4]),
}

/// Limits of motion; infinite where nobody sets one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rates {
    /// The fastest each axis goes, X, Y, Z and E, mm/s.
    pub speed: [f64; 4],
    /// The greatest acceleration of each axis, mm/s².
    pub axis: [f64; 4],
    /// Acceleration along the path while filament is laid, mm/s².
    pub print: f64,
    /// On travel.
    pub travel: f64,
    /// Of filament alone.
    pub retract: f64,
    /// Through corners.
    pub corner: Corner,
}

impl Rates {
    /// Takes a word of the job that sets limits: `number` is 201 to 205 or 566, and `get` gives the
    /// number behind a letter. Common practice, no source: M201 and M203 by axis, M204 with P, T, R
    /// for print, travel and filament alone or S for both of the first, M205 and M566 (per minute)
    /// the change of speed by axis, M205 J the corner's deviation.
    pub fn say(&mut self, number: i64, get: impl Fn(u8) -> Option<f64>) {
        let positive = |letter: u8| get(letter).filter(|value| *value > 0.0);
        let by_axis = |list: &mut [f64; 4], scale: f64| {
            for (limit, letter) in list.iter_mut().zip(*b"XYZE") {
                if let Some(value) = positive(letter) {
                    *limit = value * scale;
                }
            }
        };
        match number {
            201 => by_axis(&mut self.axis, 1.0),
            203 => by_axis(&mut self.speed, 1.0),
            204 => {
                if let Some(both) = positive(b'S') {
                    self.print = both;
                    self.travel = both;
                }
                self.print = positive(b'P').unwrap_or(self.print);
                self.retract = positive(b'R').unwrap_or(self.retract);
                match (positive(b'T'), positive(b'S')) {
                    // Beside S the older form has T for filament alone.
                    (Some(value), Some(_)) => self.retract = value,
                    (Some(value), None) => self.travel = value,
                    (None, _) => {}
                }
            }
            205 | 566 => {
                if let Some(deviation) = positive(b'J').filter(|_| number == 205) {
                    self.corner = Corner::Deviation(deviation);
                }
                let scale = if number == 566 { 1.0 / 60.0 } else { 1.0 };
                match &mut self.corner {
                    Corner::PerAxis(axes) => by_axis(axes, scale),
                    Corner::Vector(change) => {
                        if let Some(value) = positive(b'X') {
                            *change = value * scale;
                        }
                    }
                    Corner::Deviation(_) => {}
                }
            }
            _ => {}
        }
    }
}
