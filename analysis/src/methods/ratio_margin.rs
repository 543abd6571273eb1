//! The decision on non-inferiority on the scale of a ratio.

use serde::{Deserialize, Serialize};

use super::interval::{NotEstimable, RatioInterval};
use super::non_inferiority::Conclusion;
use super::null_test::{NullRatio, OneSidedTest};

/// Why a number is not a ratio margin.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum RatioMarginError {
    /// A success may only be allowed to fall.
    #[error("a ratio margin of {ratio} for a benefit does not lie between 0.000001 and 1")]
    BenefitNotBelowOne {
        /// The number given.
        ratio: f64,
    },
    /// A harm may only be allowed to rise.
    #[error("a ratio margin of {ratio} for a harm does not lie between 1 and 1000000")]
    HarmNotAboveOne {
        /// The number given.
        ratio: f64,
    },
}

/// A ratio margin on the side its outcome demands.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(tag = "outcome", content = "ratio", rename_all = "snake_case")]
enum Side {
    Benefit(NullRatio),
    Harm(NullRatio),
}

/// The ratio (first / second) at which the first arm is just unacceptable: below 1 for a
/// benefit, above 1 for a harm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct RatioMargin(#[serde(deserialize_with = "checked_side")] Side);

fn checked_side<'de, D: serde::Deserializer<'de>>(input: D) -> Result<Side, D::Error> {
    #[derive(Deserialize)]
    #[serde(tag = "outcome", content = "ratio", rename_all = "snake_case")]
    enum Unchecked {
        Benefit(f64),
        Harm(f64),
    }
    let margin = match Unchecked::deserialize(input)? {
        Unchecked::Benefit(ratio) => RatioMargin::for_benefit(ratio),
        Unchecked::Harm(ratio) => RatioMargin::for_harm(ratio),
    };
    margin.map(|margin| margin.0).map_err(serde::de::Error::custom)
}

impl RatioMargin {
    /// The smallest acceptable ratio of a success, such as 0.95.
    ///
    /// # Errors
    /// 1 or more, below a millionth, or not a number.
    pub fn for_benefit(ratio: f64) -> Result<Self, RatioMarginError> {
        match NullRatio::new(ratio) {
            Ok(null) if ratio < 1.0 => Ok(Self(Side::Benefit(null))),
            _ => Err(RatioMarginError::BenefitNotBelowOne { ratio }),
        }
    }

    /// The largest acceptable ratio of a harm, such as 1.5.
    ///
    /// # Errors
    /// 1 or less, above a million, or not a number.
    pub fn for_harm(ratio: f64) -> Result<Self, RatioMarginError> {
        match NullRatio::new(ratio) {
            Ok(null) if ratio > 1.0 => Ok(Self(Side::Harm(null))),
            _ => Err(RatioMarginError::HarmNotAboveOne { ratio }),
        }
    }

    /// The ratio under test.
    pub fn null_ratio(self) -> NullRatio {
        match self.0 {
            Side::Benefit(null) | Side::Harm(null) => null,
        }
    }

    /// The one-sided p value of non-inferiority from a test at the margin; `None` for a test
    /// of another ratio.
    pub fn one_sided_p(self, test: &OneSidedTest<NullRatio>) -> Option<f64> {
        if test.null != self.null_ratio() {
            return None;
        }
        Some(match self.0 {
            Side::Benefit(_) => test.p_greater,
            Side::Harm(_) => test.p_less,
        })
    }
}

/// Non-inferiority decided by a two-sided interval of the ratio (first / second).
///
/// Formula: benefit is shown when lower > margin and worse when upper < margin; harm is shown
/// when upper < margin and worse when lower > margin; anything else is not shown.
/// Units: interval and margin are ratios of proportions; the level is the interval's.
/// Edges: a limit exactly on the margin shows nothing; an unbounded upper limit never shows harm acceptable.
/// Source: [consort_noninferiority2012].
/// Checked: beside the code and against the one-sided tests in tests/numbers.
pub fn decide_ratio(interval: &Result<RatioInterval, NotEstimable>, margin: RatioMargin) -> Conclusion {
    let interval = match interval {
        Ok(interval) => interval,
        Err(why) => return Conclusion::CannotConclude { why: *why },
    };
    let edge = margin.null_ratio().ratio();
    let (above, below) = (interval.lower > edge, interval.upper.or_infinity() < edge);
    let (acceptable, unacceptable) = match margin.0 {
        Side::Benefit(_) => (above, below),
        Side::Harm(_) => (below, above),
    };
    if acceptable {
        Conclusion::Shown
    } else if unacceptable {
        Conclusion::WorseBeyondMargin
    } else {
        Conclusion::NotShown
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::interval::{Confidence, IntervalMethod, Ratio};
    use super::*;

    fn check(margin: RatioMargin, lower: f64, upper: Ratio, expected: Conclusion) {
        let interval = RatioInterval {
            estimate: None,
            lower,
            upper,
            level: Confidence::NINETY_FIVE,
            method: IntervalMethod::Koopman,
        };
        assert_eq!(decide_ratio(&Ok(interval), margin), expected, "{margin:?} {lower} {upper:?}");
    }

    #[test]
    fn the_margin_sits_below_one_for_benefit_and_above_for_harm() {
        let harm = RatioMargin::for_harm(1.5).unwrap();
        check(harm, 0.5, Ratio::Finite(1.49), Conclusion::Shown);
        check(harm, 0.5, Ratio::Finite(1.5), Conclusion::NotShown);
        check(harm, 0.5, Ratio::Unbounded, Conclusion::NotShown);
        check(harm, 1.51, Ratio::Unbounded, Conclusion::WorseBeyondMargin);
        let benefit = RatioMargin::for_benefit(0.9).unwrap();
        check(benefit, 0.91, Ratio::Unbounded, Conclusion::Shown);
        check(benefit, 0.9, Ratio::Finite(1.2), Conclusion::NotShown);
        check(benefit, 0.1, Ratio::Finite(0.89), Conclusion::WorseBeyondMargin);
    }

    #[test]
    fn a_margin_on_the_wrong_side_of_one_is_refused_in_code_and_in_json() {
        for wrong in [1.0, 1.1, 0.0, -0.5, f64::NAN] {
            assert!(RatioMargin::for_benefit(wrong).is_err(), "{wrong}");
        }
        for wrong in [1.0, 0.9, f64::INFINITY, f64::NAN] {
            assert!(RatioMargin::for_harm(wrong).is_err(), "{wrong}");
        }
        let text = serde_json::to_string(&RatioMargin::for_harm(1.5).unwrap()).unwrap();
        assert_eq!(text, r#"{"outcome":"harm","ratio":1.5}"#);
        assert!(serde_json::from_str::<RatioMargin>(&text).is_ok());
        assert!(serde_json::from_str::<RatioMargin>(r#"{"outcome":"harm","ratio":0.5}"#).is_err());
    }
}
