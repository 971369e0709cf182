//! A temperature in use against a limit: how much room there is, as the trade quotes it.

/// Within this share of the limit, in per cent on the Celsius scale, a part is to be tested before it is
/// relied on (the issue's own figure; chosen).
pub const TEST_WITHIN: f64 = 15.0;

/// How far a temperature in use is from a limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Room {
    /// Limit less use, K.
    pub kelvins: f64,
    /// The same in per cent of the limit on the Celsius scale, as the trade quotes it; that scale has an
    /// arbitrary zero, so that the figure means something only for limits well above 0 °C. `None` at or
    /// below 0 °C.
    pub percent: Option<f64>,
}

/// What the room comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Judgement {
    /// There is enough.
    Go,
    /// It is near the limit, or the part bears load for long, which no short-term figure covers.
    Test,
    /// Past the limit.
    NoGo,
}

/// The room between a temperature in use and a limit, both °C.
#[must_use]
pub fn room(limit: f64, service: f64) -> Room {
    let kelvins = limit - service;
    Room {
        kelvins,
        percent: (limit > 0.0).then(|| 100.0 * kelvins / limit),
    }
}

impl Room {
    /// What it comes to; under sustained load plastics creep, so that a test is always due.
    #[must_use]
    pub fn judge(&self, is_sustained: bool) -> Judgement {
        if self.kelvins < 0.0 {
            Judgement::NoGo
        } else if is_sustained || self.percent.is_none_or(|percent| percent <= TEST_WITHIN) {
            Judgement::Test
        } else {
            Judgement::Go
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn judgements_flip_at_their_bounds() {
        // 150 °C less 15 % is 127.5 °C.
        for (service, judgement) in [
            (20.0, Judgement::Go),
            (127.4, Judgement::Go),
            (127.5, Judgement::Test),
            (150.0, Judgement::Test),
            (150.1, Judgement::NoGo),
        ] {
            assert_eq!(room(150.0, service).judge(false), judgement, "{service}");
        }
        assert_eq!(room(150.0, 20.0).judge(true), Judgement::Test);
        assert_eq!(room(150.0, 151.0).judge(true), Judgement::NoGo);
        assert_eq!(room(-10.0, -20.0).percent, None);
        assert_eq!(room(-10.0, -20.0).judge(false), Judgement::Test);
    }

    /// 220 °F, 104.444 °C by NIST SP 811, against 150 °C and 120 °C (references 9 and 10.1).
    #[test]
    fn the_room_is_in_kelvins_and_in_per_cent() {
        let service = (220.0 - 32.0) / 1.8;
        let short = room(150.0, service);
        assert!(
            (short.kelvins - 45.5556).abs() < 1e-4
                && (short.percent.unwrap() - 30.3704).abs() < 1e-4
        );
        let long = room(120.0, service);
        assert!(
            (long.kelvins - 15.5556).abs() < 1e-4 && (long.percent.unwrap() - 12.9630).abs() < 1e-4
        );
    }
}
