//! A day of the calendar.

use std::fmt;
use std::str::FromStr;

/// A day of the Gregorian calendar, written `2027-03-31` (ISO 8601).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Date {
    year: u16,
    month: u8,
    day: u8,
}

/// Why a text is no date.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DateError {
    /// It does not have the form.
    #[error("`{0}` is not a date; write year, month and day as `2027-03-31`")]
    Form(String),
    /// There is no such day.
    #[error("there is no day `{0}`")]
    NoSuchDay(String),
}

impl Date {
    /// This day, if there is one.
    #[must_use]
    pub const fn new(year: u16, month: u8, day: u8) -> Option<Self> {
        let is_leap =
            year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400));
        let days = match month {
            1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
            4 | 6 | 9 | 11 => 30,
            2 if is_leap => 29,
            2 => 28,
            _ => return None,
        };
        if year == 0 || year > 9999 || day == 0 || day > days {
            return None;
        }
        Some(Self { year, month, day })
    }

    /// The day that begins so many days after 1970-01-01.
    ///
    /// H. Hinnant, "chrono-compatible low-level date algorithms", `civil_from_days` (memory): the
    /// year is begun in March, so that a leap day is its last.
    #[must_use]
    pub fn from_days(since_1970: u32) -> Option<Self> {
        let days = u64::from(since_1970) + 719_468;
        let (era, of_era) = (days / 146_097, days % 146_097);
        let year_of_era = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
        let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
        let march_month = (5 * of_year + 2) / 153;
        let day = of_year - (153 * march_month + 2) / 5 + 1;
        let month = if march_month < 10 {
            march_month + 3
        } else {
            march_month - 9
        };
        let year = year_of_era + era * 400 + u64::from(month <= 2);
        Self::new(
            u16::try_from(year).ok()?,
            u8::try_from(month).ok()?,
            u8::try_from(day).ok()?,
        )
    }
}

impl FromStr for Date {
    type Err = DateError;

    fn from_str(text: &str) -> Result<Self, DateError> {
        let shown = || text.chars().take(40).collect::<String>();
        let mut parts = text.trim().split('-');
        let mut number = |digits: usize| {
            parts
                .next()
                .filter(|part| {
                    part.len() == digits && part.bytes().all(|byte| byte.is_ascii_digit())
                })
                .and_then(|part| part.parse::<u16>().ok())
                .ok_or_else(|| DateError::Form(shown()))
        };
        let (year, month, day) = (number(4)?, number(2)?, number(2)?);
        if parts.next().is_some() {
            return Err(DateError::Form(shown()));
        }
        // Two digits always fit.
        u8::try_from(month)
            .ok()
            .zip(u8::try_from(day).ok())
            .and_then(|(month, day)| Self::new(year, month, day))
            .ok_or_else(|| DateError::NoSuchDay(shown()))
    }
}

impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_read_written_and_ordered() {
        let early: Date = "2026-11-24".parse().unwrap();
        assert_eq!(early.to_string(), "2026-11-24");
        assert!(early < "2026-12-01".parse().unwrap());
        assert!(early < "2027-01-01".parse().unwrap());
        assert!("2024-02-29".parse::<Date>().is_ok());
        for wrong in [
            "2026-02-29",
            "1900-02-29",
            "2026-04-31",
            "2026-00-10",
            "2026-13-01",
            "0000-01-01",
        ] {
            assert!(
                matches!(wrong.parse::<Date>(), Err(DateError::NoSuchDay(_))),
                "{wrong}"
            );
        }
        for wrong in [
            "",
            "2026",
            "2026-1-1",
            "24-11-2026",
            "2026-11-24-1",
            "2026/11/24",
            "+026-11-24",
        ] {
            assert!(
                matches!(wrong.parse::<Date>(), Err(DateError::Form(_))),
                "{wrong}"
            );
        }
    }

    #[test]
    fn days_since_1970_match_the_calendar() {
        let day = |days| Date::from_days(days).unwrap().to_string();
        assert_eq!(day(0), "1970-01-01");
        assert_eq!(day(31 + 28), "1970-03-01");
        // 30 years with 7 leap days; 2000 was a leap year.
        assert_eq!(day(30 * 365 + 7), "2000-01-01");
        assert_eq!(day(30 * 365 + 7 + 59), "2000-02-29");
        // Every day follows the one before it, for 200 years.
        let mut before = Date::from_days(0).unwrap();
        for days in 1..73_000 {
            let next = Date::from_days(days).unwrap();
            assert!(next > before);
            before = next;
        }
        // 2100 is no leap year.
        assert_eq!(day(47_540), "2100-02-28");
        assert_eq!(day(47_541), "2100-03-01");
    }
}
