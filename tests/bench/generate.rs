//! Jobs for the bench: many layers, several kinds of lines, the same bytes every time.

use std::fmt::Write;

/// A small generator of pseudo-random numbers (xorshift, after Marsaglia 2003).
struct Dice(u64);

impl Dice {
    fn roll(&mut self, below: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 % below
    }
}

/// A job of at least `bytes` bytes: walls of short segments, infill, travel, retractions, comments.
///
/// About nine in ten lines are G1, one in twenty-five a travel, one in thirty a comment; a layer has
/// some 1,500 lines. E is relative.
pub fn job(bytes: usize) -> String {
    let mut out = String::with_capacity(bytes + (1 << 20));
    let mut dice = Dice(0x9e37_79b9_7f4a_7c15);
    out.push_str(
        "; a generated job\nG21\nG90\nM83\nM140 S60\nM104 S150\nM190 S60\nG28\nM109 S210\n",
    );
    out.push_str("G92 E0\nG1 Z0.3 F600\nG1 X10 Y5 F9000\nG1 X100 Y5 E8 F1200\nG1 E-0.8 F2400\n");
    let mut layer = 0_u64;
    while out.len() < bytes {
        // A tall job begins again at the bed: the next of several objects.
        let z = 0.2 + 0.2 * (layer % 1200) as f64;
        let _ = writeln!(out, ";layer {layer}\nG1 Z{z:.1} F600");
        if layer == 1 {
            out.push_str("M106 S200\n");
        }
        let feed = if layer == 0 { 1200 } else { 2700 };
        for island in 0..6 {
            let (cx, cy) = (
                60.0 + 40.0 * (island % 3) as f64,
                80.0 + 60.0 * (island / 3) as f64,
            );
            for wall in 0..3 {
                let radius = 16.0 - 0.45 * f64::from(wall);
                let _ = writeln!(
                    out,
                    ";{}\nG1 X{:.3} Y{cy:.3} F9000\nG1 E0.8 F2400\nG1 F{feed}",
                    if wall == 0 {
                        "outer wall"
                    } else {
                        "inner wall"
                    },
                    cx + radius
                );
                let sides = 60 + dice.roll(12);
                let step = 2.0 * std::f64::consts::PI / sides as f64;
                let e = 2.0 * radius * (step / 2.0).sin() * 0.0338;
                for side in 1..=sides {
                    let angle = step * side as f64;
                    let wobble = dice.roll(40) as f64 / 1000.0;
                    let (x, y) = (cx + radius * angle.cos(), cy + radius * angle.sin());
                    let _ = writeln!(out, "G1 X{:.3} Y{y:.3} E{e:.5}", x + wobble);
                }
                out.push_str("G1 E-0.8 F2400\n");
            }
            let _ = writeln!(
                out,
                ";infill\nG1 X{:.3} Y{:.3} F9000\nG1 E0.8 F2400\nG1 F{feed}",
                cx - 10.0,
                cy - 10.0
            );
            for row in 0..24_u32 {
                let y = cy - 10.0 + 0.85 * f64::from(row);
                let end = if row % 2 == 0 { cx + 10.0 } else { cx - 10.0 };
                let _ = writeln!(
                    out,
                    "G1 X{end:.3} Y{y:.3} E0.67600\nG1 X{end:.3} Y{:.3} E0.02873",
                    y + 0.85
                );
            }
            out.push_str("G1 E-0.8 F2400\n");
        }
        layer += 1;
    }
    out.push_str("M104 S0\nM140 S0\nM107\nG1 X0 Y200 F9000\nM84\n");
    out
}
