//! What is assumed and what is wanted before a comparison starts.

use std::num::NonZeroU32;

use serde::{Deserialize, Serialize};

use super::counts::{EventCount, TwoArms};
use super::interval::Arm;

/// Why a number cannot be part of a plan.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// With a proportion of 0 or 1 nothing varies.
    #[error("an assumed proportion of {proportion} in the {arm} arm does not lie strictly between 0 and 1")]
    Proportion {
        /// The arm.
        arm: Arm,
        /// The number given.
        proportion: f64,
    },
    /// A one-sided error rate from one half on decides by a coin.
    #[error("a one-sided error rate of {alpha} does not lie between 0 and 0.5; write 2.5 % as 0.025")]
    Alpha {
        /// The number given.
        alpha: f64,
    },
    /// The lower bound catches an error rate given in place of the power.
    #[error("a power of {power} is not at least 0.5 and below 1; write 90 % as 0.9")]
    Power {
        /// The number given.
        power: f64,
    },
    /// With a proportion of 0 or 1 nothing varies.
    #[error("an assumed proportion of {proportion} does not lie strictly between 0 and 1")]
    OneProportion {
        /// The number given.
        proportion: f64,
    },
    /// A width that no interval needs or has.
    #[error("a half-width of {half_width} does not lie strictly between 0 and 1; write 1 point as 0.01")]
    HalfWidth {
        /// The number given.
        half_width: f64,
    },
    /// A ratio of arm sizes nobody would plan.
    #[error("{ratio} cases of the second arm for one of the first does not lie between 0.001 and 1000")]
    Allocation {
        /// The number given.
        ratio: f64,
    },
}

/// Probability of showing non-inferiority where it is just not true, strictly between 0 and ½.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct OneSidedAlpha(f64);

/// Wanted probability of showing non-inferiority when the assumptions hold: at least ½, below 1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct WantedPower(f64);

/// Cases of the second arm for each case of the first, between 1/1000 and 1000.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct Allocation(f64);

impl OneSidedAlpha {
    /// The error rate that belongs to a two-sided interval of 95 %.
    pub const TWO_AND_A_HALF_PERCENT: Self = Self(0.025);

    /// A rate such as 0.025.
    ///
    /// # Errors
    /// 0 or less, 0.5 or more, or not a number.
    pub fn new(alpha: f64) -> Result<Self, PlanError> {
        if alpha > 0.0 && alpha < 0.5 { Ok(Self(alpha)) } else { Err(PlanError::Alpha { alpha }) }
    }

    /// The rate as a probability.
    pub fn alpha(self) -> f64 {
        self.0
    }
}

impl WantedPower {
    /// A power such as 0.9.
    ///
    /// # Errors
    /// Below 0.5, 1 or more, or not a number.
    pub fn new(power: f64) -> Result<Self, PlanError> {
        if (0.5..1.0).contains(&power) { Ok(Self(power)) } else { Err(PlanError::Power { power }) }
    }

    /// The power as a probability.
    pub fn power(self) -> f64 {
        self.0
    }
}

impl Allocation {
    /// As many cases in the second arm as in the first.
    pub const EQUAL: Self = Self(1.0);

    /// A ratio n2/n1 such as 2.
    ///
    /// # Errors
    /// Below 0.001, above 1000, or not a number.
    pub fn new(ratio: f64) -> Result<Self, PlanError> {
        if (0.001..=1000.0).contains(&ratio) { Ok(Self(ratio)) } else { Err(PlanError::Allocation { ratio }) }
    }

    /// n2/n1.
    pub fn ratio(self) -> f64 {
        self.0
    }

    /// Cases of the second arm for so many of the first, rounded up.
    ///
    /// 10 × 1.1 is a hair above 11 in binary and must not become 12.
    pub(super) fn second(self, first: f64) -> f64 {
        (first * self.0 * (1.0 - 4.0 * f64::EPSILON)).ceil().max(1.0)
    }
}

macro_rules! checked_number {
    ($($name:ident),*) => {$(
        impl TryFrom<f64> for $name {
            type Error = $crate::methods::plan::PlanError;

            fn try_from(number: f64) -> Result<Self, Self::Error> {
                Self::new(number)
            }
        }

        impl From<$name> for f64 {
            fn from(number: $name) -> f64 {
                number.0
            }
        }
    )*};
}

pub(super) use checked_number;

checked_number!(OneSidedAlpha, WantedPower, Allocation);

/// Proportions assumed to be true, each strictly between 0 and 1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "UncheckedProportions")]
pub struct Proportions {
    first: f64,
    second: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct UncheckedProportions {
    first: f64,
    second: f64,
}

impl TryFrom<UncheckedProportions> for Proportions {
    type Error = PlanError;

    fn try_from(raw: UncheckedProportions) -> Result<Self, PlanError> {
        Self::new(raw.first, raw.second)
    }
}

impl Proportions {
    /// Proportions such as 0.95 and 0.96 of the first and the second arm.
    ///
    /// # Errors
    /// 0 or less, 1 or more, or not a number.
    pub fn new(first: f64, second: f64) -> Result<Self, PlanError> {
        for (arm, proportion) in [(Arm::First, first), (Arm::Second, second)] {
            if !(proportion > 0.0 && proportion < 1.0) {
                return Err(PlanError::Proportion { arm, proportion });
            }
        }
        Ok(Self { first, second })
    }

    /// Proportion of the first arm.
    pub fn first(self) -> f64 {
        self.first
    }

    /// Proportion of the second arm.
    pub fn second(self) -> f64 {
        self.second
    }
}

/// A comparison to be planned; `M` is a margin of the difference or of the ratio.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Planned<M> {
    /// What is assumed to be true.
    pub proportions: Proportions,
    /// The margin, on the side its outcome demands.
    pub margin: M,
    /// One-sided error rate of the decision.
    pub alpha: OneSidedAlpha,
}

/// What a sample size has to achieve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Goal {
    /// Probability of showing non-inferiority.
    pub power: WantedPower,
    /// n2/n1.
    pub allocation: Allocation,
}

/// Cases of both arms.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ArmSizes {
    /// Cases of the first arm.
    pub first: NonZeroU32,
    /// Cases of the second arm.
    pub second: NonZeroU32,
}

impl ArmSizes {
    /// Both arms before anything happened.
    pub(super) fn without_events(self) -> TwoArms {
        TwoArms { first: EventCount::none_of(self.first), second: EventCount::none_of(self.second) }
    }

    /// Cases of both arms as numbers.
    pub(super) fn as_numbers(self) -> (f64, f64) {
        (f64::from(self.first.get()), f64::from(self.second.get()))
    }
}

/// Most cases of one arm that are ever called a plan.
pub const MOST_CASES: u32 = 1_000_000_000;

/// Why no sample size exists: an answer to print, not a fault.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum CannotPlan {
    /// No sample size shows what is assumed to be false.
    #[error(
        "the assumed {assumed} does not lie on the acceptable side of the margin {margin}: \
         no number of cases shows non-inferiority"
    )]
    BeyondMargin {
        /// Assumed difference or ratio.
        assumed: f64,
        /// Difference or ratio at the margin.
        margin: f64,
    },
    /// The assumption is so close to the margin that the answer is no plan.
    #[error("more than {MOST_CASES} cases would be needed in one arm")]
    TooManyCases,
    /// Cases of the same centre resemble each other so much that only more centres help.
    #[error("{centres} centres are too few: more than {bound} are needed, whatever their number of cases")]
    TooFewCentres {
        /// Centres given.
        centres: u32,
        /// Number of centres that has to be exceeded.
        bound: f64,
    },
    /// Looks that may never decide.
    #[error("no look has anything to spend: nothing is ever shown")]
    NothingToSpend,
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_percentage_and_an_error_rate_in_the_wrong_place_are_refused() {
        for wrong in [0.0, 0.5, 2.5, -0.025, f64::NAN] {
            assert!(OneSidedAlpha::new(wrong).is_err(), "{wrong}");
        }
        for wrong in [0.1, 0.2, 1.0, 90.0, f64::NAN] {
            assert!(WantedPower::new(wrong).is_err(), "{wrong}");
        }
        for wrong in [0.0, 0.0009, 1001.0, f64::NAN, f64::INFINITY] {
            assert!(Allocation::new(wrong).is_err(), "{wrong}");
        }
        for (first, second) in [(0.0, 0.1), (0.1, 1.0), (f64::NAN, 0.1), (0.5, 5.0)] {
            assert!(Proportions::new(first, second).is_err(), "{first} {second}");
        }
        let error = Proportions::new(0.1, 95.0).unwrap_err();
        assert!(error.to_string().contains("95 in the second arm"), "{error}");
    }

    #[test]
    fn json_is_checked_like_code() {
        assert!(serde_json::from_str::<Proportions>(r#"{"first":0.1,"second":0.2}"#).is_ok());
        assert!(serde_json::from_str::<Proportions>(r#"{"first":0.1,"second":1.2}"#).is_err());
        assert!(serde_json::from_str::<Goal>(r#"{"power":0.9,"allocation":2.0}"#).is_ok());
        assert!(serde_json::from_str::<Goal>(r#"{"power":0.1,"allocation":2.0}"#).is_err());
    }

    #[test]
    fn a_whole_number_of_cases_is_not_rounded_up() {
        assert_eq!(Allocation::new(1.1).unwrap().second(10.0).to_bits(), 11.0_f64.to_bits());
        assert_eq!(Allocation::new(1.5).unwrap().second(233.0).to_bits(), 350.0_f64.to_bits());
        assert_eq!(Allocation::new(0.001).unwrap().second(1.0).to_bits(), 1.0_f64.to_bits());
    }
}
