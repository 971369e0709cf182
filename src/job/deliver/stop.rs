//! Being told to stop: what was begun is taken away, and no names are left half changed.

use std::path::{Path, PathBuf};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

/// The exit code of a run that was told to stop (practice: 128 and the number of the signal that a
/// keyboard sends).
const STOPPED: i32 = 130;

struct State {
    /// Files that were begun and have no other name yet.
    parts: Vec<PathBuf>,
    /// How many are changing names just now.
    busy: usize,
}

static STATE: Mutex<State> = Mutex::new(State {
    parts: Vec::new(),
    busy: 0,
});
static CALM: Condvar = Condvar::new();

fn state() -> MutexGuard<'static, State> {
    STATE.lock().unwrap_or_else(PoisonError::into_inner)
}

/// From here on the process, told to stop from the keyboard or by the system, first waits until no
/// names are changed any more, then takes away what was begun.
pub fn heed() {
    // Where the system has no such thing, or it is heeded already, all goes on as before.
    let _ = ctrlc::set_handler(|| {
        let mut state = state();
        while state.busy > 0 {
            state = CALM.wait(state).unwrap_or_else(PoisonError::into_inner);
        }
        for part in state.parts.drain(..) {
            let _ = std::fs::remove_file(part);
        }
        // Nobody begins anything now: the state is locked.
        std::process::exit(STOPPED);
    });
}

/// While it lives the process does not stop.
#[must_use]
pub struct Busy(());

pub fn busy() -> Busy {
    state().busy += 1;
    Busy(())
}

impl Drop for Busy {
    fn drop(&mut self) {
        let mut state = state();
        state.busy = state.busy.saturating_sub(1);
        CALM.notify_all();
    }
}

/// A file was begun.
pub fn began(part: &Path) {
    state().parts.push(part.to_owned());
}

/// A file that was begun has its last name, or is gone.
pub fn ended(part: &Path) {
    state().parts.retain(|other| other != part);
}
