//! Looking on while an audit goes on: progress on a terminal, and being told to stop.

use crate::audit::{Point, Watch};
use indicatif::{HumanDuration, ProgressBar, ProgressDrawTarget, ProgressState, ProgressStyle};
use std::fmt::Write;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::Duration;

/// Set where the process was told to stop.
static STOPPED: AtomicBool = AtomicBool::new(false);

/// The exit code of a run that was told to stop (practice: 128 and the number of the signal that a
/// keyboard sends).
const CODE: i32 = 130;

/// Looks on. Where the standard error is no terminal, nothing is drawn.
pub(super) struct Onlooker {
    bar: ProgressBar,
    known: AtomicU64,
}

impl Onlooker {
    /// From here on, told to stop, the audit finishes what it has in hand; told twice, the process
    /// ends at once, and the store keeps what was committed.
    pub fn heed() -> Self {
        // Where the system has no such thing, all goes on as before.
        let _ = ctrlc::set_handler(|| {
            if STOPPED.swap(true, Ordering::Relaxed) {
                std::process::exit(CODE);
            }
        });
        let bar = ProgressBar::with_draw_target(Some(0), ProgressDrawTarget::stderr());
        bar.enable_steady_tick(Duration::from_millis(200));
        let onlooker = Self {
            bar,
            known: AtomicU64::new(0),
        };
        onlooker.style("{pos} of {len} files so far, {rate}, {elapsed}{msg}");
        onlooker
    }

    fn style(&self, template: &str) {
        let rate = |state: &ProgressState, out: &mut dyn Write| {
            let rate = state.per_sec();
            let places = usize::from(rate < 10.0);
            let _ = write!(out, "{rate:.places$}/s");
        };
        let left = |state: &ProgressState, out: &mut dyn Write| {
            // Before the first file is done nobody knows.
            let _ = match state.pos() {
                0 => write!(out, "{:#}", HumanDuration(state.elapsed())),
                _ => write!(out, "{:#} left", HumanDuration(state.eta())),
            };
        };
        if let Ok(style) = ProgressStyle::with_template(template) {
            let style = style.with_key("rate", rate).with_key("left", left);
            self.bar.set_style(style);
        }
    }

    /// Nothing is to be looked at any more.
    pub fn close(self) {
        self.bar.finish_and_clear();
    }
}

impl Watch for Onlooker {
    fn at(&self, point: Point) {
        match point {
            Point::Found => self.bar.inc_length(1),
            Point::Examined(_) => self.bar.inc(1),
            Point::Known => {
                let known = self.known.fetch_add(1, Ordering::Relaxed) + 1;
                if known.is_multiple_of(1024) {
                    self.bar.set_message(format!(", {known} known"));
                }
            }
            Point::Walked => self.style("{pos} of {len} files, {rate}, {left}{msg}"),
            _ => {}
        }
    }

    fn is_stopped(&self) -> bool {
        STOPPED.load(Ordering::Relaxed)
    }
}
