//! The window in which a recurrence counts, and how it is written in a plan.

use super::Trouble;
use serde::{Deserialize, Serialize};

/// A recurrence counts after blanking and up to a last day, both in days from the procedure.
/// Described by curves; no verdict hangs on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RecurrenceWindow {
    blanking_days: u32,
    until_day: u32,
}

impl Default for RecurrenceWindow {
    /// About two months of blanking, by the consensus statement of 2024 of the European and other
    /// rhythm societies (from memory: eight weeks), and a year of follow-up.
    fn default() -> Self {
        Self { blanking_days: 60, until_day: 365 }
    }
}

impl RecurrenceWindow {
    /// Days during which a recurrence does not count.
    pub fn blanking_days(self) -> u32 {
        self.blanking_days
    }

    /// The last day that is looked at.
    pub fn until_day(self) -> u32 {
        self.until_day
    }

    /// The window in words.
    pub fn in_words(self) -> String {
        format!("after day {} and up to day {}", self.blanking_days, self.until_day)
    }

    /// Reads a window; nothing written is the usual one.
    pub(super) fn read(form: Option<RecurrenceForm>) -> Result<Self, Vec<(&'static str, Trouble)>> {
        let Some(RecurrenceForm { blanking_days, until_day }) = form else { return Ok(Self::default()) };
        let mut troubles = Vec::new();
        if blanking_days > 180 {
            troubles.push(("/recurrence/blanking_days", Trouble::Blanking(blanking_days)));
        }
        // Follow-up of a case is recorded up to this day.
        if !(blanking_days.saturating_add(30)..=1_500).contains(&until_day) {
            troubles.push(("/recurrence/until_day", Trouble::RecurrenceUntil(until_day)));
        }
        if troubles.is_empty() { Ok(Self { blanking_days, until_day }) } else { Err(troubles) }
    }

    /// As written; nothing for the usual one.
    pub(super) fn form(self) -> Option<RecurrenceForm> {
        let RecurrenceWindow { blanking_days, until_day } = self;
        (self != Self::default()).then_some(RecurrenceForm { blanking_days, until_day })
    }
}

/// The window as written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct RecurrenceForm {
    /// Days during which a recurrence does not count.
    pub blanking_days: u32,
    /// The last day that is looked at.
    pub until_day: u32,
}

impl Default for RecurrenceForm {
    /// What is not written is as usual.
    fn default() -> Self {
        let RecurrenceWindow { blanking_days, until_day } = RecurrenceWindow::default();
        Self { blanking_days, until_day }
    }
}
