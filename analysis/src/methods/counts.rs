//! Counts of events: one group, two arms, one stratum.

use std::num::NonZeroU32;

use serde::{Deserialize, Serialize};

/// Why two numbers are not a count of events.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CountError {
    /// A proportion of no cases has no meaning.
    #[error("a count of events needs at least one case")]
    NoCases,
    /// More events than cases: two columns were probably swapped.
    #[error("{events} events cannot come from {total} cases")]
    MoreEventsThanCases {
        /// Events given.
        events: u32,
        /// Cases given.
        total: u32,
    },
}

/// Events among at least one case.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "UncheckedCount")]
pub struct EventCount {
    events: u32,
    total: u32,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct UncheckedCount {
    events: u32,
    total: u32,
}

impl TryFrom<UncheckedCount> for EventCount {
    type Error = CountError;

    fn try_from(raw: UncheckedCount) -> Result<Self, CountError> {
        Self::new(raw.events, raw.total)
    }
}

impl EventCount {
    /// `events` out of `total` cases.
    ///
    /// # Errors
    /// No cases at all, or more events than cases.
    pub fn new(events: u32, total: u32) -> Result<Self, CountError> {
        if total == 0 {
            return Err(CountError::NoCases);
        }
        if events > total {
            return Err(CountError::MoreEventsThanCases { events, total });
        }
        Ok(Self { events, total })
    }

    /// The same, where a group without cases is ordinary and gives `None`.
    ///
    /// # Errors
    /// More events than cases.
    pub fn if_any(events: u32, total: u32) -> Result<Option<Self>, CountError> {
        match Self::new(events, total) {
            Err(CountError::NoCases) if events == 0 => Ok(None),
            Err(CountError::NoCases) => Err(CountError::MoreEventsThanCases { events, total }),
            other => other.map(Some),
        }
    }

    /// Number of events.
    pub fn events(self) -> u32 {
        self.events
    }

    /// Number of cases.
    pub fn total(self) -> u32 {
        self.total
    }

    /// Number of cases without the event.
    pub fn non_events(self) -> u32 {
        self.total - self.events
    }

    /// Share of cases with the event, between 0 and 1.
    pub fn proportion(self) -> f64 {
        self.x() / self.n()
    }

    /// The same cases, counting those without the event.
    #[must_use]
    pub fn complement(self) -> Self {
        Self { events: self.non_events(), total: self.total }
    }

    /// No event in so many cases.
    pub(crate) fn none_of(total: NonZeroU32) -> Self {
        Self { events: 0, total: total.get() }
    }

    /// `events` out of the cases of `counts`, held at all of them.
    pub(crate) fn of_same_total(counts: Self, events: u32) -> Self {
        Self { events: events.min(counts.total), total: counts.total }
    }

    pub(crate) fn x(self) -> f64 {
        f64::from(self.events)
    }

    pub(crate) fn n(self) -> f64 {
        f64::from(self.total)
    }

    pub(crate) fn y(self) -> f64 {
        f64::from(self.non_events())
    }
}

/// Events and non-events that need not be whole numbers: what a plan expects to see.
#[derive(Clone, Copy)]
pub(crate) struct Expected {
    pub(crate) events: f64,
    pub(crate) non_events: f64,
}

impl Expected {
    pub(crate) fn n(self) -> f64 {
        self.events + self.non_events
    }

    pub(crate) fn proportion(self) -> f64 {
        self.events / self.n()
    }
}

impl From<EventCount> for Expected {
    fn from(counts: EventCount) -> Self {
        Self { events: counts.x(), non_events: counts.y() }
    }
}

/// Two independent arms; every difference is first − second, every ratio first / second.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct TwoArms {
    /// The arm whose name stands first in the comparison.
    pub first: EventCount,
    /// The arm it is compared with.
    pub second: EventCount,
}

impl TwoArms {
    /// The same comparison seen from the other side.
    #[must_use]
    pub fn swapped(self) -> Self {
        Self { first: self.second, second: self.first }
    }

    /// Difference of proportions, first − second.
    pub fn difference(self) -> f64 {
        // A common denominator keeps equal proportions of unequal arms at exactly 0.
        let (a, b) = (self.first, self.second);
        (a.x() * b.n() - b.x() * a.n()) / (a.n() * b.n())
    }

    /// Ratio of proportions, first / second, where the second arm has events.
    pub(crate) fn ratio_of_proportions(self) -> f64 {
        let (a, b) = (self.first, self.second);
        a.x() * b.n() / (b.x() * a.n())
    }

    /// Cases in both arms together.
    pub(crate) fn n(self) -> f64 {
        self.first.n() + self.second.n()
    }
}

/// One stratum (for instance one centre); an arm without cases is `None`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Stratum {
    /// First arm, if it has any case here.
    pub first: Option<EventCount>,
    /// Second arm, if it has any case here.
    pub second: Option<EventCount>,
}

impl Stratum {
    /// Both arms, when both have cases: only then can they be compared here.
    pub fn arms(self) -> Option<TwoArms> {
        Some(TwoArms { first: self.first?, second: self.second? })
    }

    /// The same stratum seen from the other side.
    #[must_use]
    pub fn swapped(self) -> Self {
        Self { first: self.second, second: self.first }
    }
}

impl From<TwoArms> for Stratum {
    fn from(arms: TwoArms) -> Self {
        Self { first: Some(arms.first), second: Some(arms.second) }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn impossible_counts_are_refused_with_their_values() {
        assert_eq!(EventCount::new(0, 0), Err(CountError::NoCases));
        let error = EventCount::new(5, 4).unwrap_err();
        assert_eq!(error.to_string(), "5 events cannot come from 4 cases");
        assert_eq!(EventCount::if_any(0, 0), Ok(None));
        assert!(EventCount::if_any(1, 0).is_err());
        assert!(serde_json::from_str::<EventCount>(r#"{"events":5,"total":4}"#).is_err());
    }

    #[test]
    fn equal_proportions_of_unequal_arms_differ_by_exactly_nothing() {
        let arms =
            TwoArms { first: EventCount::new(1, 10).unwrap(), second: EventCount::new(3, 30).unwrap() };
        assert_eq!(arms.difference().to_bits(), 0);
    }
}
