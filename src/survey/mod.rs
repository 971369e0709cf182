//! What the job builds: layers by deposited height, and which deposit is the part.
//!
//! From motion first; comments are only names. Memory does not grow with the job: one layer's
//! strokes are held at a time, two while the first layers wait to be told apart.
//!
//! Absent here: any requirement, and any limit.

mod cover;
mod drawn;
mod figures;
mod filament;
mod head;
mod heights;
mod layer;
mod layers;
mod pace;
mod rows;
mod skyline;
mod standing;
mod stroke;
mod sweep;
mod told;
mod totals;
pub mod walls;

pub use drawn::Retractions;
pub use figures::{Ended, Figures};
pub use filament::{price, weigh};
pub use head::{Near, Reaches, Reaching};
pub use layer::Layer;
pub use layers::{LayerSink, Layers};
pub use pace::Pace;
pub use rows::{Bead, ROW_CAP, Reach, Row, Rows};
pub use stroke::{Deposit, Outside, Spot, Stroke};
pub use told::{Cost, Diameter, Flow, Idle, QuickLayer, Share, Survey, Told, ToolShare};
pub use totals::Totals;
pub use walls::{
    Apart, COUNTED, Carried, Class as PathClass, Densities, LEANS, NameFigures, ObjectFigures,
    Overhang, RegionFigures, Stiffness, WallCount, WallFigures, Where,
};
