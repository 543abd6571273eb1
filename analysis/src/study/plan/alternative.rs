//! The truth for which cases are planned, on the scale of its margin.

use super::PlannedMargin;
use crate::methods::interval::Confidence;
use crate::methods::non_inferiority::Margin;
use crate::methods::plan::{
    Allocation, ArmSizes, CannotPlan, Goal, OneSidedAlpha, PlanError, Planned, Proportions, WantedPower,
};
use crate::methods::power::{farrington_manning_power, farrington_manning_ratio_power};
use crate::methods::ratio_margin::RatioMargin;
use crate::methods::sample_size::{farrington_manning_ratio_sample_size, farrington_manning_sample_size};
use crate::study::endpoint::Endpoint;
use std::num::NonZeroU32;

/// What is taken to be true of both arms, beside the margin that it is held against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::study) enum Alternative {
    /// Proportions of the event.
    Difference(Planned<Margin>),
    /// Proportions of what nobody wants.
    Ratio(Planned<RatioMargin>),
}

impl PlannedMargin {
    /// Whether fewer than all cases fare badly even where zero-fluoroscopy is worse by the whole margin
    /// and the conventional arm does what is expected of it.
    pub(in crate::study) fn leaves_room(self, of: (Endpoint, f64)) -> bool {
        // No level changes a proportion.
        self.worse_by(1.0, of, Confidence::NINETY_FIVE).is_ok()
    }

    /// The truth in which zero-fluoroscopy is worse by a share of the margin, and the conventional
    /// arm does what is expected of it: 0 where the arms are alike, 1 at the margin.
    ///
    /// Formula: p + share · δ for a difference; u · φ^share for a ratio, which is that share of its
    /// logarithm, u being the proportion of what nobody wants.
    ///
    /// # Errors
    /// When a proportion leaves the range from 0 to 1.
    pub(in crate::study) fn worse_by(
        self,
        share: f64,
        (endpoint, expected): (Endpoint, f64),
        level: Confidence,
    ) -> Result<Alternative, PlanError> {
        let alpha = OneSidedAlpha::new(level.tail())?;
        Ok(match self {
            Self::Difference(margin) => {
                let first = expected + share * margin.null_difference().difference();
                let proportions = Proportions::new(first, expected)?;
                Alternative::Difference(Planned { proportions, margin, alpha })
            }
            Self::Ratio(margin) => {
                let second = endpoint.unwanted_share(expected);
                let first = second * libm::pow(margin.null_ratio().ratio(), share);
                let proportions = Proportions::new(first, second)?;
                Alternative::Ratio(Planned { proportions, margin, alpha })
            }
        })
    }
}

impl Alternative {
    /// Cases of each arm after Farrington and Manning, as if they were independent of each other.
    pub(in crate::study) fn cases(self, power: WantedPower) -> Result<u32, CannotPlan> {
        let goal = Goal { power, allocation: Allocation::EQUAL };
        let size = match self {
            Self::Difference(planned) => farrington_manning_sample_size(&planned, goal),
            Self::Ratio(planned) => farrington_manning_ratio_sample_size(&planned, goal),
        };
        size.map(|size| size.first.max(size.second))
    }

    /// The chance of showing non-inferiority with so many cases in each arm, likewise.
    pub(in crate::study) fn power(self, each_arm: NonZeroU32) -> f64 {
        let sizes = ArmSizes { first: each_arm, second: each_arm };
        match self {
            Self::Difference(planned) => farrington_manning_power(&planned, sizes),
            Self::Ratio(planned) => farrington_manning_ratio_power(&planned, sizes),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::methods::non_inferiority::MarginSize;

    fn proportions(margin: PlannedMargin, share: f64, of: (Endpoint, f64)) -> Option<(f64, f64)> {
        let proportions = match margin.worse_by(share, of, Confidence::NINETY_FIVE).ok()? {
            Alternative::Difference(planned) => planned.proportions,
            Alternative::Ratio(planned) => planned.proportions,
        };
        Some((proportions.first(), proportions.second()))
    }

    fn near(found: Option<(f64, f64)>, expected: (f64, f64)) {
        let found = found.unwrap();
        let apart = (found.0 - expected.0).abs().max((found.1 - expected.1).abs());
        assert!(apart < 1e-12, "{found:?}, by hand {expected:?}");
    }

    /// By hand: the cube root of 1.5 is 1.144714242553332, that of 2 is 1.259921049894873.
    #[test]
    fn a_share_is_one_of_the_points_or_of_the_logarithm() {
        let ratio = |times| PlannedMargin::Ratio(RatioMargin::for_harm(times).unwrap());
        let points = |endpoint: Endpoint, size| {
            PlannedMargin::Difference(endpoint.margin_of(MarginSize::new(size).unwrap()))
        };
        let (success, harm) = (Endpoint::AcuteSuccess, Endpoint::MajorWithin30Days);
        let third = 1.0 / 3.0;
        near(proportions(points(success, 0.03), third, (success, 0.95)), (0.94, 0.95));
        near(proportions(points(harm, 0.03), third, (harm, 0.02)), (0.03, 0.02));
        near(proportions(ratio(1.5), third, (success, 0.95)), (0.057_235_712_127_666_6, 0.05));
        near(proportions(ratio(2.0), third, (harm, 0.02)), (0.025_198_420_997_897_46, 0.02));
        near(proportions(ratio(1.5), 0.0, (success, 0.95)), (0.05, 0.05));
        near(proportions(ratio(1.5), 1.0, (success, 0.95)), (0.075, 0.05));
        assert_eq!(proportions(ratio(3.0), 1.0, (success, 0.6)), None);
        assert_eq!(proportions(points(harm, 0.03), 1.0, (harm, 0.98)), None);
    }
}
