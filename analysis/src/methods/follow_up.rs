//! Follow-up in whole days: who is at risk and who has the event on each day.

use serde::{Deserialize, Serialize};

use super::interval::{Arm, NotEstimable};

/// How the follow-up of one case ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Ended {
    /// With the event.
    Event,
    /// Without it: the event may come later.
    Censored,
}

/// One case followed for some whole days after the procedure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct FollowUp {
    /// Days until the event or the last contact.
    pub days: u32,
    /// Which of the two.
    pub ended: Ended,
}

/// How many cases a day was the last of.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct DayCount {
    pub(crate) day: u32,
    /// Cases whose follow-up ended, events included.
    pub(crate) ended: usize,
    pub(crate) events: usize,
}

/// The days on which any follow-up ended, ascending.
///
/// Days are whole and few, cases are many: counting them needs neither a copy nor a sort.
/// Only where somebody was followed for more days than four times the cases are they sorted.
pub(crate) fn by_day(cases: &[FollowUp]) -> Vec<DayCount> {
    let last = cases.iter().map(|case| case.days as usize).max().unwrap_or_default();
    let event = |case: &FollowUp| usize::from(case.ended == Ended::Event);
    if last / 4 > cases.len() {
        let mut sorted = cases.to_vec();
        sorted.sort_unstable_by_key(|case| case.days);
        let same_day = sorted.chunk_by(|a, b| a.days == b.days);
        let count = |same: &[FollowUp]| DayCount {
            day: same[0].days,
            ended: same.len(),
            events: same.iter().map(event).sum(),
        };
        return same_day.map(count).collect();
    }
    let mut counts: Vec<DayCount> =
        (0..=last as u32).map(|day| DayCount { day, ..DayCount::default() }).collect();
    for case in cases {
        let count = &mut counts[case.days as usize];
        count.ended += 1;
        count.events += event(case);
    }
    counts.retain(|count| count.ended > 0);
    counts
}

/// One day with events.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EventDay {
    /// The day.
    pub day: u32,
    /// Cases still followed at its start.
    pub at_risk: f64,
    /// Events on it.
    pub events: f64,
    /// Kaplan–Meier estimate from this day on.
    pub survival: f64,
    /// Greenwood's sum Σ d/(n(n−d)) up to and with this day; infinite once nobody is left.
    pub greenwood: f64,
}

/// The Kaplan–Meier curve of one group.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    days: Vec<EventDay>,
    last_day: u32,
}

impl Curve {
    /// The curve of at least one case.
    ///
    /// # Errors
    /// No case.
    pub fn of(cases: &[FollowUp]) -> Result<Self, NotEstimable> {
        let last_day = cases.iter().map(|case| case.days).max();
        let last_day = last_day.ok_or(NotEstimable::EmptyArm { arm: Arm::First })?;
        let mut left = cases.len();
        let (mut survival, mut greenwood) = (1.0, 0.0);
        let mut days = Vec::new();
        for DayCount { day, ended, events } in by_day(cases) {
            if events > 0 {
                let (at_risk, died) = (left as f64, events as f64);
                survival *= (at_risk - died) / at_risk;
                greenwood += died / (at_risk * (at_risk - died));
                days.push(EventDay { day, at_risk, events: died, survival, greenwood });
            }
            left -= ended;
        }
        Ok(Self { days, last_day })
    }

    /// Days with events, ascending.
    pub fn event_days(&self) -> &[EventDay] {
        &self.days
    }

    /// Last day on which anyone was followed.
    pub fn last_day(&self) -> u32 {
        self.last_day
    }

    /// Estimate at the end of `day` and its Greenwood sum.
    ///
    /// # Errors
    /// Nobody was followed that long and not everybody had had the event.
    pub(crate) fn at(&self, day: u32) -> Result<(f64, f64), NotEstimable> {
        let passed = self.days.partition_point(|step| step.day <= day);
        let (survival, greenwood) = match passed.checked_sub(1) {
            Some(last) => (self.days[last].survival, self.days[last].greenwood),
            None => (1.0, 0.0),
        };
        if day > self.last_day && survival > 0.0 {
            return Err(NotEstimable::FollowUpTooShort { day, last_day: self.last_day });
        }
        Ok((survival, greenwood))
    }
}
