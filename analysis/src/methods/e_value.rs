//! How strong an unrecorded cause would have to be to explain a ratio away.

use serde::{Deserialize, Serialize};

use super::interval::{NotEstimable, Ratio, RatioInterval};

/// Why three numbers are not a ratio with its limits.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error(
    "{lower} to {upper} around {estimate} are not a ratio with its limits: they must be from 0 and in order"
)]
pub struct RatioLimitsError {
    /// Estimate given, infinite where unbounded.
    pub estimate: f64,
    /// Lower limit given.
    pub lower: f64,
    /// Upper limit given, infinite where unbounded.
    pub upper: f64,
}

/// A ratio with two-sided confidence limits: from 0, and in order.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RatioLimits {
    estimate: Ratio,
    lower: f64,
    upper: Ratio,
}

impl RatioLimits {
    /// An estimate between its limits.
    ///
    /// # Errors
    /// Negative, not a number, or out of order.
    pub fn new(estimate: Ratio, lower: f64, upper: Ratio) -> Result<Self, RatioLimitsError> {
        let (middle, top) = (estimate.or_infinity(), upper.or_infinity());
        if (0.0..f64::INFINITY).contains(&lower) && lower <= middle && middle <= top {
            Ok(Self { estimate, lower, upper })
        } else {
            Err(RatioLimitsError { estimate: middle, lower, upper: top })
        }
    }

    fn square_root(self) -> Self {
        let root = |ratio| match ratio {
            Ratio::Finite(value) => Ratio::Finite(value.sqrt()),
            Ratio::Unbounded => Ratio::Unbounded,
        };
        Self { estimate: root(self.estimate), lower: self.lower.sqrt(), upper: root(self.upper) }
    }
}

impl TryFrom<RatioInterval> for RatioLimits {
    type Error = NotEstimable;

    fn try_from(interval: RatioInterval) -> Result<Self, NotEstimable> {
        let estimate = interval.estimate.ok_or(NotEstimable::NoFiniteRatio)?;
        Self::new(estimate, interval.lower, interval.upper).map_err(|_| NotEstimable::NoFiniteRatio)
    }
}

/// The smallest risk ratio by which an unrecorded cause must be tied to both the arm and the
/// outcome, beyond what was adjusted for, to explain a ratio away.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct EValue {
    /// To move the estimate to 1.
    pub estimate: Ratio,
    /// To move the nearer limit to 1; exactly 1 when the limits already hold 1.
    pub limit: Ratio,
}

/// E-value of a risk ratio, or of an odds or hazard ratio of a rare outcome.
///
/// Formula: R + √(R(R − 1)) with R the ratio, or its reciprocal where it is below 1; for the
/// limit, R is the limit nearer to 1.
/// Units: a risk ratio from 1.
/// Edges: a ratio of 1 gives 1; a ratio of 0 or without bound cannot be explained away.
/// Source: [vanderweele_ding2017].
/// Checked: tests/numbers/e_value.csv.
pub fn e_value_of_risk_ratio(ratio: RatioLimits) -> EValue {
    let upper = ratio.upper.or_infinity();
    let limit = if ratio.lower > 1.0 {
        e_value(ratio.lower)
    } else if upper < 1.0 {
        e_value(upper)
    } else {
        Ratio::Finite(1.0)
    };
    EValue { estimate: e_value(ratio.estimate.or_infinity()), limit }
}

/// E-value of an odds ratio of a common outcome, by the square root as approximate risk ratio.
///
/// Formula: the E-value of √ratio with limits √lower and √upper.
/// Units: a risk ratio from 1.
/// Edges: as for a risk ratio; meant for outcomes of 15 % of cases and more.
/// Source: [vanderweele_ding2017].
/// Checked: tests/numbers/e_value.csv.
pub fn e_value_of_common_odds_ratio(ratio: RatioLimits) -> EValue {
    e_value_of_risk_ratio(ratio.square_root())
}

fn e_value(ratio: f64) -> Ratio {
    // Written so that a ratio near 1 keeps its digits and a large one does not overflow early.
    let value = if ratio < 1.0 {
        (1.0 + (1.0 - ratio).sqrt()) / ratio
    } else {
        ratio * (1.0 + ((ratio - 1.0) / ratio).sqrt())
    };
    if value.is_finite() { Ratio::Finite(value) } else { Ratio::Unbounded }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn limits(estimate: f64, lower: f64, upper: f64) -> Result<RatioLimits, RatioLimitsError> {
        RatioLimits::new(Ratio::Finite(estimate), lower, Ratio::Finite(upper))
    }

    #[test]
    fn limits_are_in_order_and_numbers() {
        for (estimate, lower, upper) in
            [(0.5, 0.6, 0.7), (0.5, 0.1, 0.4), (1.0, -0.1, 2.0), (f64::NAN, 0.0, 1.0), (1.0, f64::NAN, 1.0)]
        {
            assert!(limits(estimate, lower, upper).is_err(), "{estimate} {lower} {upper}");
        }
    }

    #[test]
    fn ratios_at_the_ends_have_an_answer() {
        let one = e_value_of_risk_ratio(limits(1.0, 1.0, 1.0).unwrap());
        assert_eq!(one, EValue { estimate: Ratio::Finite(1.0), limit: Ratio::Finite(1.0) });
        let none = RatioLimits::new(Ratio::Finite(0.0), 0.0, Ratio::Finite(0.5)).unwrap();
        let none = e_value_of_risk_ratio(none);
        assert_eq!(none.estimate, Ratio::Unbounded);
        assert_eq!(none.limit, Ratio::Finite(2.0 * (1.0 + 0.5_f64.sqrt())));
        let all = RatioLimits::new(Ratio::Unbounded, 0.8, Ratio::Unbounded).unwrap();
        assert_eq!(
            e_value_of_common_odds_ratio(all),
            EValue { estimate: Ratio::Unbounded, limit: Ratio::Finite(1.0) }
        );
    }
}
