//! Hypotheses under test and what a one-sided test says about them.

use serde::{Deserialize, Serialize};

use super::distribution::{normal_lower_tail, normal_upper_tail};

/// Why a number is not a null difference.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("a null difference of {difference} does not lie strictly between -1 and 1")]
pub struct NullDifferenceError {
    /// The number given.
    pub difference: f64,
}

/// A difference of proportions under test, strictly between −1 and 1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct NullDifference(f64);

impl NullDifference {
    /// A difference such as 0.02 (two percentage points).
    ///
    /// # Errors
    /// −1 or less, 1 or more, or not a number.
    pub fn new(difference: f64) -> Result<Self, NullDifferenceError> {
        if difference.abs() < 1.0 { Ok(Self(difference)) } else { Err(NullDifferenceError { difference }) }
    }

    /// A margin is already strictly between −1 and 1.
    pub(super) fn from_margin(difference: f64) -> Self {
        Self(difference)
    }

    /// The difference as a proportion.
    pub fn difference(self) -> f64 {
        self.0
    }
}

impl TryFrom<f64> for NullDifference {
    type Error = NullDifferenceError;

    fn try_from(difference: f64) -> Result<Self, NullDifferenceError> {
        Self::new(difference)
    }
}

impl From<NullDifference> for f64 {
    fn from(null: NullDifference) -> f64 {
        null.0
    }
}

/// Why a number is not a null ratio.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("a null ratio of {ratio} does not lie between 0.000001 and 1000000")]
pub struct NullRatioError {
    /// The number given.
    pub ratio: f64,
}

/// A ratio of proportions under test, between a millionth and a million.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct NullRatio(f64);

impl NullRatio {
    /// A ratio such as 1.5.
    ///
    /// # Errors
    /// Below a millionth, above a million, or not a number.
    pub fn new(ratio: f64) -> Result<Self, NullRatioError> {
        if (1e-6..=1e6).contains(&ratio) { Ok(Self(ratio)) } else { Err(NullRatioError { ratio }) }
    }

    /// The ratio.
    pub fn ratio(self) -> f64 {
        self.0
    }
}

impl TryFrom<f64> for NullRatio {
    type Error = NullRatioError;

    fn try_from(ratio: f64) -> Result<Self, NullRatioError> {
        Self::new(ratio)
    }
}

impl From<NullRatio> for f64 {
    fn from(null: NullRatio) -> f64 {
        null.0
    }
}

/// A standardised statistic and both its one-sided p values.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct OneSidedTest<Null> {
    /// The hypothesis under test.
    pub null: Null,
    /// Standardised distance of the observation from the null.
    pub z: f64,
    /// P(Z ≥ z): small when the observation lies above the null.
    pub p_greater: f64,
    /// P(Z ≤ z): small when the observation lies below the null.
    pub p_less: f64,
}

impl<Null> OneSidedTest<Null> {
    /// Both p values of a standard normal statistic.
    pub(crate) fn from_z(null: Null, z: f64) -> Self {
        Self { null, z, p_greater: normal_upper_tail(z), p_less: normal_lower_tail(z) }
    }
}
