//! What nobody wants of an endpoint, failure or harm, as a ratio between the arms.

use super::arm::ByArm;
use super::endpoint::Endpoint;
use super::estimate::Estimate;
use super::tally::{Tally, stratum, two_arms};
use crate::methods::counts::{EventCount, Stratum, TwoArms};
use crate::methods::interval::{Confidence, RatioInterval};
use crate::methods::mantel_haenszel::mantel_haenszel_risk_ratio;
use crate::methods::ratio::miettinen_nurminen_ratio_interval;
use crate::methods::standardisation::RatioOf;
use serde::Serialize;

impl Endpoint {
    /// What nobody wants: the event of a harm, the absence of success.
    pub(super) fn unwanted(self) -> RatioOf {
        if self.is_harm() { RatioOf::Event } else { RatioOf::NoEvent }
    }

    /// A count of events as one of what nobody wants.
    pub(super) fn unwanted_of(self, count: EventCount) -> EventCount {
        match self.unwanted() {
            RatioOf::Event => count,
            RatioOf::NoEvent => count.complement(),
        }
    }

    /// The counts of both arms as those of what nobody wants.
    pub(super) fn unwanted_of_arms(self, arms: TwoArms) -> TwoArms {
        TwoArms { first: self.unwanted_of(arms.first), second: self.unwanted_of(arms.second) }
    }

    /// The counts of a centre as those of what nobody wants.
    pub(super) fn unwanted_of_stratum(self, own: &Stratum) -> Stratum {
        let of = |count: Option<EventCount>| count.map(|count| self.unwanted_of(count));
        Stratum { first: of(own.first), second: of(own.second) }
    }

    /// The share of events as one of what nobody wants.
    pub(super) fn unwanted_share(self, proportion: f64) -> f64 {
        match self.unwanted() {
            RatioOf::Event => proportion,
            RatioOf::NoEvent => 1.0 - proportion,
        }
    }

    /// The same in words, as the subject of a ratio.
    pub fn unwanted_in_words(self) -> &'static str {
        match self {
            Self::AcuteSuccess => "failure to reach acute success",
            harm => harm.subject().0,
        }
    }
}

/// Ratios of the proportions of what nobody wants, failure or harm (zero-fluoroscopy / conventional).
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RatioOfUnwanted {
    /// Of all centres together, with score limits.
    pub miettinen_nurminen: Estimate<RatioInterval>,
    /// Within the strata only, with Mantel–Haenszel weights.
    pub within_centres: Estimate<RatioInterval>,
}

impl RatioOfUnwanted {
    /// Of the tallies of the strata.
    pub(super) fn new(
        tallies: &[ByArm<Tally>],
        total: &ByArm<Tally>,
        endpoint: Endpoint,
        level: Confidence,
    ) -> Self {
        let strata: Vec<Stratum> =
            tallies.iter().map(|arms| endpoint.unwanted_of_stratum(&stratum(arms))).collect();
        let both = two_arms(total)
            .map(|two| miettinen_nurminen_ratio_interval(endpoint.unwanted_of_arms(two), level));
        Self {
            miettinen_nurminen: both.into(),
            within_centres: mantel_haenszel_risk_ratio(&strata, level).into(),
        }
    }
}
