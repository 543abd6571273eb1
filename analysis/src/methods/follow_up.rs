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
        let mut sorted = cases.to_vec();
        sorted.sort_unstable_by_key(|case| case.days);
        let mut left = sorted.len();
        let (mut survival, mut greenwood) = (1.0, 0.0);
        let mut days = Vec::new();
        for same_day in sorted.chunk_by(|a, b| a.days == b.days) {
            let events = same_day.iter().filter(|case| case.ended == Ended::Event).count();
            if events > 0 {
                let (at_risk, died) = (left as f64, events as f64);
                survival *= (at_risk - died) / at_risk;
                greenwood += died / (at_risk * (at_risk - died));
                let day = same_day[0].days;
                days.push(EventDay { day, at_risk, events: died, survival, greenwood });
            }
            left -= same_day.len();
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
