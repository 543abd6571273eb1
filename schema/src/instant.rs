//! A moment of the server's clock, for audit and expiry. Never part of a case: a case knows
//! only its quarter and days relative to the procedure.

use crate::period::Quarter;
use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

const MILLISECONDS_A_DAY: i64 = 86_400_000;

/// A moment in UTC, whole milliseconds.
///
/// Its text is RFC 3339 of fixed width (`2026-11-25T09:13:00.123Z`), so that the order of
/// the texts is the order of the moments in any database.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Instant(i64);

/// Why a text is no moment of the registry's clock.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("a time is written in UTC with milliseconds, such as 2026-11-25T09:13:00.123Z")]
pub struct InstantError;

impl Instant {
    /// From milliseconds since 1970-01-01T00:00:00Z, held within the years 1970 to 9999 so
    /// that the text keeps its width.
    #[must_use]
    pub fn from_unix_milliseconds(milliseconds: i64) -> Self {
        Self(milliseconds.clamp(0, 253_402_300_799_999))
    }

    /// Milliseconds since 1970-01-01T00:00:00Z.
    #[must_use]
    pub fn unix_milliseconds(self) -> i64 {
        self.0
    }

    /// Whole seconds since 1970-01-01T00:00:00Z.
    #[must_use]
    pub fn unix_seconds(self) -> i64 {
        self.0.div_euclid(1000)
    }

    /// This moment moved by some seconds, backwards when negative.
    #[must_use]
    pub fn plus_seconds(self, seconds: i64) -> Self {
        Self::from_unix_milliseconds(self.0.saturating_add(seconds.saturating_mul(1000)))
    }

    /// Year, month and day in UTC.
    #[must_use]
    pub fn date(self) -> (i64, u32, u32) {
        civil_from_days(self.0.div_euclid(MILLISECONDS_A_DAY))
    }

    /// The first moment of a quarter in UTC.
    #[must_use]
    pub fn begin_of(quarter: Quarter) -> Self {
        let month = 3 * i64::from(quarter.quarter()) - 2;
        Self(days_from_civil(i64::from(quarter.year()), month, 1) * MILLISECONDS_A_DAY)
    }

    /// The quarter in UTC; the registry's first for any moment before it.
    #[must_use]
    pub fn quarter(self) -> Quarter {
        let (year, month, _) = self.date();
        let quarter = u8::try_from(month.div_ceil(3)).unwrap_or(1);
        u16::try_from(year).ok().and_then(|year| Quarter::new(year, quarter)).unwrap_or(Quarter::FIRST)
    }
}

/// Proleptic Gregorian date of a day number counted from 1970-01-01, by the era method
/// (400 years have 146,097 days; the year is taken to begin in March).
fn civil_from_days(days: i64) -> (i64, u32, u32) {
    let shifted = days + 719_468;
    let era = shifted.div_euclid(146_097);
    let day_of_era = shifted.rem_euclid(146_097);
    let year_of_era = (day_of_era - day_of_era / 1460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month_from_march = (5 * day_of_year + 2) / 153;
    let day = day_of_year - (153 * month_from_march + 2) / 5 + 1;
    let month = if month_from_march < 10 { month_from_march + 3 } else { month_from_march - 9 };
    let year = year_of_era + era * 400 + i64::from(month <= 2);
    (year, month as u32, day as u32)
}

fn days_from_civil(year: i64, month: i64, day: i64) -> i64 {
    let year = if month <= 2 { year - 1 } else { year };
    let era = year.div_euclid(400);
    let year_of_era = year.rem_euclid(400);
    let month_from_march = (month + 9) % 12;
    let day_of_year = (153 * month_from_march + 2) / 5 + day - 1;
    era * 146_097 + year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year - 719_468
}

impl fmt::Display for Instant {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (year, month, day) = self.date();
        let rest = self.0.rem_euclid(MILLISECONDS_A_DAY);
        let (hours, minutes) = (rest / 3_600_000, rest / 60_000 % 60);
        let (seconds, milliseconds) = (rest / 1000 % 60, rest % 1000);
        write!(f, "{year:04}-{month:02}-{day:02}T{hours:02}:{minutes:02}:{seconds:02}.{milliseconds:03}Z")
    }
}

impl fmt::Debug for Instant {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl FromStr for Instant {
    type Err = InstantError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        if text.len() != 24 || !text.is_ascii() {
            return Err(InstantError);
        }
        let number =
            |from: usize, to: usize| text[from..to].parse::<u32>().map(i64::from).map_err(|_| InstantError);
        let days = days_from_civil(number(0, 4)?, number(5, 7)?, number(8, 10)?);
        let clock = (number(11, 13)? * 60 + number(14, 16)?) * 60 + number(17, 19)?;
        let instant = Self(days * MILLISECONDS_A_DAY + clock * 1000 + number(20, 23)?);
        // Writing it again refuses wrong separators, a 31 June and a leap second in one go.
        if instant.to_string() == text { Ok(instant) } else { Err(InstantError) }
    }
}

impl TryFrom<String> for Instant {
    type Error = InstantError;
    fn try_from(text: String) -> Result<Self, Self::Error> {
        text.parse()
    }
}

impl From<Instant> for String {
    fn from(instant: Instant) -> String {
        instant.to_string()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

    use proptest::prelude::*;

    use super::*;

    #[test]
    fn tells_the_quarter_in_utc() {
        let quarter = |text: &str| text.parse::<Instant>().unwrap().quarter().to_string();
        assert_eq!(quarter("2026-11-25T09:13:00.000Z"), "2026Q4");
        assert_eq!(quarter("2026-03-31T23:59:59.999Z"), "2026Q1");
        assert_eq!(quarter("2026-04-01T00:00:00.000Z"), "2026Q2");
        assert_eq!(quarter("1999-12-31T00:00:00.000Z"), "2010Q1");
    }

    #[test]
    fn a_quarter_begins_with_its_first_day() {
        let begins = |year, quarter| Instant::begin_of(Quarter::new(year, quarter).unwrap()).to_string();
        assert_eq!(begins(2026, 1), "2026-01-01T00:00:00.000Z");
        assert_eq!(begins(2026, 3), "2026-07-01T00:00:00.000Z");
        assert_eq!(begins(2027, 4), "2027-10-01T00:00:00.000Z");
    }

    /// Expected values from GNU coreutils 9.1, `date -u -d … +%s`.
    #[test]
    fn agrees_with_a_general_purpose_calendar() {
        for (text, seconds) in [
            ("1970-01-01T00:00:00.000Z", 0),
            ("2000-02-29T12:30:45.000Z", 951_827_445),
            ("2026-11-25T09:13:00.000Z", 1_795_597_980),
            ("2100-03-01T00:00:00.000Z", 4_107_542_400),
        ] {
            assert_eq!(text.parse::<Instant>().unwrap().unix_seconds(), seconds, "{text}");
            assert_eq!(Instant::from_unix_milliseconds(seconds * 1000).to_string(), text);
        }
    }

    #[test]
    fn refuses_every_other_spelling() {
        for wrong in [
            "",
            "2026-11-25T09:13:00Z",
            "2026-11-25T09:13:00.123+00:00",
            "2026-11-25 09:13:00.123Z",
            "2026-02-29T09:13:00.123Z",
            "2026-13-01T09:13:00.123Z",
            "2026-11-25T24:00:00.000Z",
            "2026-11-25T09:13:60.000Z",
            "+026-11-25T09:13:00.123Z",
        ] {
            assert!(wrong.parse::<Instant>().is_err(), "{wrong}");
        }
    }

    proptest! {
        #[test]
        fn text_keeps_value_and_order(one in 0..253_402_300_799_999_i64, other in 0..253_402_300_799_999_i64) {
            let (one, other) = (Instant::from_unix_milliseconds(one), Instant::from_unix_milliseconds(other));
            prop_assert_eq!(one.to_string().parse(), Ok(one));
            prop_assert_eq!(one.cmp(&other), one.to_string().cmp(&other.to_string()));
        }
    }
}
