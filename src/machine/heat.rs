//! Heating elements over time: a target, who set it, and the temperature the model gives.

use super::setup::HeatModel;
use super::state::Known;
use crate::finding::Excerpt;
use crate::physics::warmth::Warmth;

/// A target as the job set it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Setting {
    /// The target, °C; 0 is off.
    pub target: Known<f64>,
    /// The word that set it.
    pub by: Option<Excerpt>,
    /// Whether a macro's parameter carried it.
    pub by_macro: bool,
    /// Whether the job waited for it: by a waiting word, or a macro may have.
    pub awaited: Known<bool>,
}

/// One heating element.
#[derive(Debug, Clone)]
pub struct Element {
    /// Its target.
    pub setting: Setting,
    warmth: Warmth,
    since: f64,
}

impl Element {
    pub(super) fn new(model: HeatModel, ambient: f64) -> Self {
        Self {
            setting: Setting::default(),
            warmth: Warmth {
                start: ambient,
                target: 0.0,
                full_power_rest: model.full_power_rest,
                tau: model.tau,
                ambient,
            },
            since: 0.0,
        }
    }

    /// The model's temperature at `clock` seconds into the job, °C; unknown where the target is.
    #[must_use]
    pub fn temperature(&self, clock: f64) -> Known<f64> {
        match self.setting.target {
            Known::Known(_) => Known::Known(self.warmth.at((clock - self.since).max(0.0))),
            Known::Claimed => Known::Claimed,
            // Nothing was said yet: the element is as cold as the room.
            Known::Unknown => Known::Known(self.warmth.ambient),
        }
    }

    /// Whether it has come to rest at its target by `clock`.
    #[must_use]
    pub fn is_settled(&self, clock: f64) -> bool {
        match (self.setting.target, self.temperature(clock)) {
            (Known::Known(target), Known::Known(now)) => (now - target).abs() < 0.5,
            _ => true,
        }
    }

    pub(super) fn set(&mut self, target: f64, clock: f64) {
        let now = match self.temperature(clock) {
            Known::Known(now) => now,
            // A macro heated it to nobody knows what: most likely to near the next target.
            _ => target.max(self.warmth.ambient),
        };
        self.warmth.start = now;
        self.warmth.target = target;
        self.since = clock;
        self.setting.target = Known::Known(target);
    }

    /// The target is reached without the job saying when: a macro saw to it.
    pub(super) fn set_reached(&mut self, target: f64, clock: f64) {
        self.warmth.start = target.max(self.warmth.ambient);
        self.warmth.target = target;
        self.since = clock;
        self.setting.target = Known::Known(target);
    }

    /// Seconds from `clock` until it has come to its target; `both` waits for cooling too. 0 where
    /// that is not known. Where the model says that it never comes, the model is wrong or the job
    /// stands still for ever: what follows the wait is carried out at the target.
    pub(super) fn wait(&mut self, clock: f64, both: bool) -> f64 {
        let Known::Known(target) = self.setting.target else {
            return 0.0;
        };
        let Known::Known(now) = self.temperature(clock) else {
            return 0.0;
        };
        if !both && now >= target {
            return 0.0;
        }
        // A control's wait ends within a degree or two of the target.
        let goal = if now < target {
            target - 1.0
        } else {
            target + 1.0
        };
        if (now - target).abs() <= 1.0 {
            return 0.0;
        }
        let passed = (clock - self.since).max(0.0);
        match self.warmth.reaches(goal) {
            Some(seconds) => (seconds - passed).max(0.0),
            None => {
                self.set_reached(target, clock);
                0.0
            }
        }
    }

    /// A person takes as long as it takes: an element comes to its target meanwhile, and one that is
    /// off goes cold.
    pub(super) fn left_alone(&mut self, clock: f64) {
        if let Known::Known(target) = self.setting.target {
            self.set_reached(target, clock);
        }
    }

    /// Nobody knows how much time has passed (a macro): enough to warm up to its target.
    pub(super) fn given_time(&mut self, clock: f64) {
        if let (Known::Known(target), Known::Known(now)) =
            (self.setting.target, self.temperature(clock))
            && now < target
        {
            self.set_reached(target, clock);
        }
    }
}
