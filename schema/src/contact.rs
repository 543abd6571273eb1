//! The 30-day contact. A case knows its quarter and no date, so the day on which it stands
//! can only be bounded: it is at least the days that have gone by since the quarter ended,
//! or since the case was entered if that was earlier. The registry counts that least day,
//! and so never calls a contact overdue that may be in time.

use crate::instant::Instant;
use crate::period::Quarter;

/// The first day on which the contact is usually made, and the last.
pub const USUAL_DAYS: (i64, i64) = (25, 45);

const SECONDS_A_DAY: i64 = 86_400;

/// How the 30-day contact of a case stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Contact {
    /// Its time has not come for certain.
    Early {
        /// Days until it has.
        opens_in: i64,
    },
    /// It is time.
    Due {
        /// At least this day since the procedure.
        day: i64,
    },
    /// Its time has passed for certain.
    Overdue {
        /// At least this day since the procedure.
        day: i64,
    },
}

impl Contact {
    /// For a case of a quarter that was entered at a moment.
    #[must_use]
    pub fn of(period: Quarter, entered: Instant, now: Instant) -> Self {
        Self::within(USUAL_DAYS, period, entered, now)
    }

    /// The same for a contact that is usually made on other days.
    #[must_use]
    pub(crate) fn within((first, last): (i64, i64), period: Quarter, entered: Instant, now: Instant) -> Self {
        let last_moment = Instant::begin_of(period.next()).unix_seconds() - 1;
        let latest = entered.unix_seconds().min(last_moment);
        let day = now.unix_seconds().div_euclid(SECONDS_A_DAY) - latest.div_euclid(SECONDS_A_DAY);
        if day < first {
            Self::Early { opens_in: first - day }
        } else if day <= last {
            Self::Due { day }
        } else {
            Self::Overdue { day }
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    fn stands(entered: &str, now: &str) -> Contact {
        let at = |text: &str| format!("{text}T09:00:00.000Z").parse::<Instant>().unwrap();
        Contact::of(Quarter::new(2026, 3).unwrap(), at(entered), at(now))
    }

    /// Days between dates: GNU coreutils 9.1, `date -u -d`.
    #[test]
    fn a_case_entered_in_its_quarter_counts_from_its_entry() {
        assert_eq!(stands("2026-07-10", "2026-07-10"), Contact::Early { opens_in: 25 });
        assert_eq!(stands("2026-07-10", "2026-08-03"), Contact::Early { opens_in: 1 });
        assert_eq!(stands("2026-07-10", "2026-08-04"), Contact::Due { day: 25 });
        assert_eq!(stands("2026-07-10", "2026-08-24"), Contact::Due { day: 45 });
        assert_eq!(stands("2026-07-10", "2026-08-25"), Contact::Overdue { day: 46 });
    }

    #[test]
    fn a_case_entered_later_counts_from_the_end_of_its_quarter() {
        // The last day of the quarter is 30 September.
        assert_eq!(stands("2026-11-20", "2026-11-25"), Contact::Overdue { day: 56 });
        assert_eq!(stands("2026-10-20", "2026-10-25"), Contact::Due { day: 25 });
        assert_eq!(stands("2026-10-20", "2026-10-24"), Contact::Early { opens_in: 1 });
    }

    #[test]
    fn a_clock_set_back_makes_nothing_due() {
        assert_eq!(stands("2026-07-10", "2026-07-01"), Contact::Early { opens_in: 34 });
    }
}
