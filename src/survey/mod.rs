//! What the job builds: layers by deposited height, and which deposit is the part.
//!
//! From motion first; comments are only names. Memory does not grow with the job: one layer's
//! strokes are held at a time, two while the first layers wait to be told apart.
//!
//! Absent here: any requirement, and any limit.

mod cover;
mod heights;
mod layers;
mod pace;
mod stroke;

pub use layers::{Layer, LayerSink, Layers, Totals};
pub use pace::Pace;
pub use stroke::{Deposit, Outside, Spot, Stroke};
