//! What every interval says: estimate, limits, level and method.

use serde::{Deserialize, Serialize};

use super::distribution::normal_upper_quantile;
pub use super::interval_method::IntervalMethod;

/// Why a number is not a two-sided confidence level.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("a confidence level of {level} is not at least 0.5 and below 1; write 95 % as 0.95")]
pub struct ConfidenceError {
    /// The number given.
    pub level: f64,
}

/// Two-sided confidence level: a proportion, at least 0.5 and below 1.
///
/// The lower bound catches an error rate (0.05) given in place of a level.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct Confidence(f64);

impl Confidence {
    /// The level that decides non-inferiority.
    pub const NINETY_FIVE: Self = Self(0.95);

    /// A level such as 0.95.
    ///
    /// # Errors
    /// Below 0.5, 1 or more, or not a number.
    pub fn new(level: f64) -> Result<Self, ConfidenceError> {
        if (0.5..1.0).contains(&level) { Ok(Self(level)) } else { Err(ConfidenceError { level }) }
    }

    /// The level as a proportion.
    pub fn level(self) -> f64 {
        self.0
    }

    /// Error rate left on each side.
    pub fn tail(self) -> f64 {
        (1.0 - self.0) / 2.0
    }

    /// Two-sided quantile of the standard normal distribution.
    pub(crate) fn z(self) -> f64 {
        normal_upper_quantile(self.tail())
    }
}

impl TryFrom<f64> for Confidence {
    type Error = ConfidenceError;

    fn try_from(level: f64) -> Result<Self, ConfidenceError> {
        Self::new(level)
    }
}

impl From<Confidence> for f64 {
    fn from(level: Confidence) -> f64 {
        level.0
    }
}

/// An estimate with two-sided confidence limits, on the natural scale of the estimate.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Interval {
    /// Point estimate.
    pub estimate: f64,
    /// Lower limit.
    pub lower: f64,
    /// Upper limit.
    pub upper: f64,
    /// Two-sided confidence level.
    pub level: Confidence,
    /// How the limits were computed.
    pub method: IntervalMethod,
}

/// A ratio that may lie beyond every number.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Ratio {
    /// A number from 0.
    Finite(f64),
    /// No upper end: the second arm has nothing to divide by.
    Unbounded,
}

impl Ratio {
    /// The number, infinite where there is none; for comparing, never for printing.
    pub fn or_infinity(self) -> f64 {
        match self {
            Self::Finite(value) => value,
            Self::Unbounded => f64::INFINITY,
        }
    }

    /// One divided by it: an upper limit of the swapped ratio is a lower limit of the ratio.
    pub(super) fn reciprocal(self) -> f64 {
        match self {
            Self::Finite(value) => 1.0 / value,
            Self::Unbounded => 0.0,
        }
    }
}

/// A ratio with two-sided confidence limits.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct RatioInterval {
    /// Point estimate; `None` when both sides of the ratio are 0.
    pub estimate: Option<Ratio>,
    /// Lower limit, from 0.
    pub lower: f64,
    /// Upper limit.
    pub upper: Ratio,
    /// Two-sided confidence level.
    pub level: Confidence,
    /// How the limits were computed.
    pub method: IntervalMethod,
}

impl RatioInterval {
    /// From the interval of its natural logarithm.
    pub(crate) fn of_logarithm(log: Interval) -> Self {
        let ratio = |log: f64| match libm::exp(log) {
            value if value.is_finite() => Ratio::Finite(value),
            _ => Ratio::Unbounded,
        };
        let Interval { estimate, lower, upper, level, method } = log;
        let lower = libm::exp(lower);
        Self { estimate: Some(ratio(estimate)), lower, upper: ratio(upper), level, method }
    }
}

/// Which of two arms.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Arm {
    /// The first arm.
    First,
    /// The second arm.
    Second,
}

impl std::fmt::Display for Arm {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::First => "first",
            Self::Second => "second",
        })
    }
}

/// Why a quantity cannot be estimated: an answer to print, not a fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, thiserror::Error)]
#[serde(tag = "reason", rename_all = "snake_case")]
pub enum NotEstimable {
    /// An arm has no cases.
    #[error("the {arm} arm has no cases")]
    EmptyArm {
        /// The arm.
        arm: Arm,
    },
    /// An arm has no event, so its logarithm does not exist.
    #[error("the {arm} arm has no events")]
    NoEvents {
        /// The arm.
        arm: Arm,
    },
    /// Every case of an arm has the event, so its odds do not exist.
    #[error("every case of the {arm} arm has the event")]
    OnlyEvents {
        /// The arm.
        arm: Arm,
    },
    /// An exact test would have to enumerate too many tables.
    #[error("{tables} tables are too many for an exact test; use a score test")]
    TooManyTables {
        /// Tables with these arm sizes.
        tables: u64,
    },
    /// Counts with fewer than two categories, more than 100, or nothing counted.
    #[error("a set takes from 2 to 100 categories, at least one of them seen")]
    NothingToSpread,
    /// An exact test would have to count too many arrangements.
    #[error("{values} values are too many for an exact method; use the approximation")]
    TooManyArrangements {
        /// Values in both arms.
        values: usize,
    },
    /// Two values are equal where the method assumes that none are.
    #[error("equal values have another exact distribution; use the approximation")]
    TiedValues,
    /// No pair of order statistics reaches the level.
    #[error("{found} values are too few for an interval at this level")]
    TooFewForLevel {
        /// Values present.
        found: usize,
    },
    /// Nobody was followed long enough.
    #[error("day {day} lies beyond the last follow-up on day {last_day}")]
    FollowUpTooShort {
        /// The day asked for.
        day: u32,
        /// The last day anyone was followed.
        last_day: u32,
    },
    /// Some combination of covariates is constant or repeats another.
    #[error("the covariates are collinear: leave one out")]
    Collinear,
    /// The likelihood has no finite maximum.
    #[error("some combination of covariates separates events from non-events: no finite estimate exists")]
    Separated,
    /// One covariate alone keeps the likelihood from having a maximum.
    #[error("column {column} alone separates events from non-events: no finite estimate exists")]
    SeparatedByColumn {
        /// Column, from 1.
        column: usize,
    },
    /// The search for the maximum did not settle.
    #[error("the estimate did not settle in {rounds} rounds")]
    NotConverged {
        /// Rounds tried.
        rounds: usize,
    },
    /// Some combination of covariates decides the arm of a case.
    #[error("the covariates nearly or fully decide the arm: the arms do not overlap")]
    NoOverlap,
    /// Too few clusters to vary between each other.
    #[error("{found} cluster where a variance between clusters needs two")]
    TooFewClusters {
        /// Clusters present.
        found: usize,
    },
    /// The statistic does not exist on some resample.
    #[error("the statistic does not exist on some resample, or nothing was resampled")]
    StatisticMissingOnResample,
    /// No stratum has cases in both arms.
    #[error("no stratum has cases in both arms")]
    NoStratumWithBothArms,
    /// Too few strata have events and non-events in both arms together.
    #[error("{found} informative strata where the method needs {needed}")]
    TooFewStrata {
        /// Informative strata.
        found: usize,
        /// Strata needed.
        needed: usize,
    },
    /// The method needs more centres.
    #[error("{found} centres where the method needs {needed}")]
    TooFewCentres {
        /// Centres present.
        found: usize,
        /// Centres needed.
        needed: usize,
    },
    /// Neither arm of a centre varies, so the centre gives its difference no variance.
    #[error("centre {place} has no variation in either arm; take the variance from all centres together")]
    NoVariationAtCentre {
        /// Place in the order given, from 1.
        place: usize,
    },
    /// One effect common to all centres was assumed, so new centres have no distribution.
    #[error("one common effect was assumed: choose a method that estimates the variance between centres")]
    OneCommonEffect,
    /// Every centre has only events or none, so that their spread has no finite estimate.
    #[error("every centre has only events or none: their spread has no finite estimate")]
    CentresAllOrNone,
    /// The centres' log odds spread over more than one distribution can describe.
    #[error("the log odds of the centres have a standard deviation of 5 or more: too far apart to pool")]
    CentresTooFarApart,
    /// One side of a ratio is 0 in every stratum.
    #[error("one side of the ratio is 0 in every stratum")]
    NoFiniteRatio,
    /// The method needs more values than an arm has.
    #[error("the {arm} arm has {found} values where the method needs {needed}")]
    TooFewValues {
        /// The arm.
        arm: Arm,
        /// Values present.
        found: usize,
        /// Values needed.
        needed: usize,
    },
    /// A limit is too far out for a number: too few values that vary too much.
    #[error("the limits lie beyond the range of numbers: too few values that vary too much")]
    LimitsTooWide,
    /// A chart's run length is too long to be computed.
    #[error(
        "the run length is too long to be computed: watch for a larger change, lower the threshold or ask for fewer cases"
    )]
    RunLengthOutOfReach,
    /// Two judges used one and the same category throughout.
    #[error("both used one category throughout, so nothing can be agreed beyond chance")]
    OneCategory,
    /// Two judges never differed, so nothing tells how sure that is.
    #[error("they never differed, so agreement beyond chance has no sampling error")]
    NeverDiffered,
    /// Nothing varies, so there is no standard error.
    #[error("the values do not vary, so no standard error exists")]
    NoVariation,
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_level_is_not_an_error_rate_and_not_a_percentage() {
        for wrong in [0.05, 0.4999, 1.0, 95.0, -0.95, f64::NAN, f64::INFINITY] {
            assert!(Confidence::new(wrong).is_err(), "{wrong}");
        }
        for right in [0.5, 0.8, 0.95, 0.999] {
            assert!(Confidence::new(right).is_ok(), "{right}");
        }
    }

    #[test]
    fn an_interval_survives_json() {
        let interval = Interval {
            estimate: 0.1,
            lower: -0.2,
            upper: 0.3,
            level: Confidence::NINETY_FIVE,
            method: IntervalMethod::MiettinenNurminen,
        };
        let text = serde_json::to_string(&interval).unwrap();
        assert!(text.contains(r#""method":"miettinen_nurminen""#), "{text}");
        assert_eq!(serde_json::from_str::<Interval>(&text).unwrap(), interval);
    }
}
