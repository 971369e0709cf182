//! What lies between loops: infill, and how much of it is solid.

/// Strokes fill a zone from this share of it on (chosen: skins are laid with a tenth too little, too); those that
/// lie side by side nowhere, and cross, must leave next to nothing.
const FULL: f64 = 0.85;
const FULL_ACROSS: f64 = 0.95;

/// So few strokes do not say how they lie (chosen).
const FEW: u32 = 8;

/// So little of a zone's strokes is what its edges and corners come to (chosen).
const HARDLY: f64 = 0.1;

/// What lies between loops.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Zone {
    /// mm², the beads around it left out; 0 where walls fill it.
    pub area: f64,
    /// Deposit of strokes in it, mm³.
    pub volume: f64,
    /// Length of strokes that lie side by side with others, and of those that lie apart, mm.
    pub solid: f64,
    pub apart: f64,
    /// Length of strokes, and of those that lie upon walls from end to end, mm.
    pub length: f64,
    pub along: f64,
    /// Strokes met; of those looked at closely their length, and how much of it lies upon the walls, mm.
    pub met: u32,
    pub looked: f64,
    pub upon: f64,
}

impl Zone {
    /// Whether strokes fill it.
    pub fn is_full(&self, height: f64) -> bool {
        let full = if self.is_crossed() { FULL_ACROSS } else { FULL };
        self.volume > full * self.area * height
    }

    /// Whether hardly any of its strokes lies side by side with another.
    fn is_crossed(&self) -> bool {
        self.met >= FEW && self.solid < HARDLY * self.length
    }

    /// Area that solid strokes fill, mm², and volume of sparse ones, mm³.
    pub fn split(&self, height: f64) -> (f64, f64) {
        let whole = self.area * height;
        if self.area <= 0.0 {
            return (0.0, 0.0);
        }
        let marked = self.solid + self.apart;
        let share = if self.is_full(height) {
            1.0
        } else if marked <= 0.0 {
            f64::from(!self.is_crossed() && self.volume > 0.8 * whole)
        } else {
            match self.solid / marked {
                share if share < HARDLY => 0.0,
                share if share > 1.0 - HARDLY => 1.0,
                share => share,
            }
        };
        let solid = (self.volume * share / height).min(self.area);
        let upon = if self.looked > 0.0 {
            self.upon / self.looked
        } else {
            0.0
        };
        let along = if self.length > 0.0 {
            self.along / self.length
        } else {
            0.0
        };
        (
            solid,
            self.volume * (1.0 - share) * (1.0 - along) * (1.0 - upon),
        )
    }
}
