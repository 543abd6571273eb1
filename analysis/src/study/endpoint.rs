//! The endpoints, and what a case says about each.

use super::cohort::CaseRow;
use super::request::ComparisonRequest;
use crate::methods::non_inferiority::{Margin, MarginSize};
use quietbeam_schema::vocabulary::{AcuteSuccess, MarginScale};
use serde::{Deserialize, Serialize};

/// An endpoint with a margin.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Endpoint {
    /// The endpoint that belongs to the procedure was shown in full; partial success is failure.
    AcuteSuccess,
    /// A major complication or death within 30 days, whatever showed it.
    // The other spelling stands in what was kept before both were one.
    #[serde(rename = "major_within_30_days", alias = "major_within30_days")]
    MajorWithin30Days,
    /// A major complication or death before the patient left the hospital, whatever showed it.
    MajorBeforeDischarge,
}

/// What one case says about an endpoint.
pub(super) enum Outcome {
    Event,
    NoEvent,
    Unknown,
    /// Nothing was attempted, so there is nothing to succeed or fail.
    NotAttempted,
}

impl Endpoint {
    /// All endpoints.
    pub const ALL: [Self; 3] = [Self::AcuteSuccess, Self::MajorWithin30Days, Self::MajorBeforeDischarge];

    /// The name in a table.
    pub fn label(self) -> &'static str {
        match self {
            Self::AcuteSuccess => "Acute success",
            Self::MajorWithin30Days => "Major complications within 30 days",
            Self::MajorBeforeDischarge => "Major complications before discharge",
        }
    }

    /// As written in plans and JSON.
    pub fn code(self) -> &'static str {
        match self {
            Self::AcuteSuccess => "acute_success",
            Self::MajorWithin30Days => "major_within_30_days",
            Self::MajorBeforeDischarge => "major_before_discharge",
        }
    }

    /// Reads a code in upper or lower case.
    pub fn from_code(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|endpoint| endpoint.code().eq_ignore_ascii_case(text.trim()))
    }

    /// The codes, for a sentence.
    pub fn codes_joined() -> String {
        Self::ALL.map(Self::code).join(", ")
    }

    /// On which side zero-fluoroscopy would be worse: `lower` or `higher`. A ratio is of what nobody
    /// wants.
    pub fn worse_when(self, scale: MarginScale) -> &'static str {
        if self.is_harm() || scale == MarginScale::RiskRatio { "higher" } else { "lower" }
    }

    /// A margin on the side that the endpoint demands.
    pub fn margin_of(self, size: MarginSize) -> Margin {
        if self.is_harm() { Margin::Harm(size) } else { Margin::Benefit(size) }
    }

    /// The margin that was asked.
    pub fn margin(self, request: &ComparisonRequest) -> Margin {
        self.margin_of(if self.is_harm() { request.major_harm_margin() } else { request.success_margin() })
    }

    /// Whether a case had the event; `None` when it is not known or nothing was attempted.
    pub(super) fn event(self, case: &CaseRow) -> Option<bool> {
        match self.outcome(case) {
            Outcome::Event => Some(true),
            Outcome::NoEvent => Some(false),
            Outcome::Unknown | Outcome::NotAttempted => None,
        }
    }

    pub(super) fn outcome(self, case: &CaseRow) -> Outcome {
        let harm = |had| match had {
            Some(true) => Outcome::Event,
            Some(false) => Outcome::NoEvent,
            None => Outcome::Unknown,
        };
        match self {
            Self::AcuteSuccess => match case.acute_success {
                Some(AcuteSuccess::Yes) => Outcome::Event,
                Some(AcuteSuccess::Partial | AcuteSuccess::No) => Outcome::NoEvent,
                Some(AcuteSuccess::NotAttempted) => Outcome::NotAttempted,
                None => Outcome::Unknown,
            },
            Self::MajorWithin30Days => harm(case.major_within_30_days),
            Self::MajorBeforeDischarge => harm(case.major_before_discharge),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::Endpoint;

    #[test]
    fn an_endpoint_is_written_by_its_code_and_read_by_what_stood_there_before() {
        for endpoint in Endpoint::ALL {
            assert_eq!(serde_json::to_value(endpoint).unwrap(), endpoint.code());
        }
        let before: Endpoint = serde_json::from_str("\"major_within30_days\"").unwrap();
        assert_eq!(before, Endpoint::MajorWithin30Days);
    }
}
