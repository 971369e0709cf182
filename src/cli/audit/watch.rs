//! Looking on while an audit goes on: being told to stop.

use crate::audit::{Point, Watch};
use crate::cli::console::Console;
use std::sync::atomic::{AtomicBool, Ordering};

/// Set where the process was told to stop.
static STOPPED: AtomicBool = AtomicBool::new(false);

/// The exit code of a run that was told to stop (practice: 128 and the number of the signal that a
/// keyboard sends).
const CODE: i32 = 130;

/// Looks on.
pub(super) struct Onlooker;

impl Onlooker {
    /// From here on, told to stop, the audit finishes what it has in hand; told twice, the process
    /// ends at once, and the store keeps what was committed.
    pub fn heed(_console: &Console) -> Self {
        // Where the system has no such thing, all goes on as before.
        let _ = ctrlc::set_handler(|| {
            if STOPPED.swap(true, Ordering::Relaxed) {
                std::process::exit(CODE);
            }
        });
        Self
    }

    /// Nothing is to be looked at any more.
    pub fn close(self) {}
}

impl Watch for Onlooker {
    fn at(&self, _point: Point) {}

    fn is_stopped(&self) -> bool {
        STOPPED.load(Ordering::Relaxed)
    }
}
