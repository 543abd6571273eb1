//! Comparison of doses among exposed cases (first / second).

use serde::{Deserialize, Serialize};

use super::counts::{CountError, EventCount};
use super::distribution::{student_two_sided_p, student_upper_quantile};
use super::interval::{Arm, Confidence, Interval, IntervalMethod, NotEstimable};
use super::sample::{PositiveSample, SampleError};

/// Cases of one arm split into those without and those with a dose.
#[derive(Clone, Debug, PartialEq)]
pub struct Exposure {
    /// Cases with a dose above 0, out of all cases with a known dose.
    pub exposed: EventCount,
    /// Doses of the exposed; `None` when nobody was exposed.
    pub doses: Option<PositiveSample>,
}

/// Splits the doses of one arm for a two-part comparison.
///
/// Formula: cases with a dose of 0 count as not exposed; the others carry their dose.
/// Units: any unit of dose, from 0.
/// Edges: a negative dose is refused; a missing dose must be left out, never given as 0.
/// Source: [lachenbruch2002].
/// Checked: tests/numbers/dose.csv.
pub fn split_by_exposure(doses: &[f64]) -> Result<Exposure, ExposureError> {
    if let Some(index) = doses.iter().position(|dose| *dose < 0.0) {
        return Err(ExposureError::Negative { position: index + 1, dose: doses[index] });
    }
    let above: Vec<f64> = doses.iter().copied().filter(|dose| *dose != 0.0).collect();
    let number = |len: usize| u32::try_from(len).map_err(|_| ExposureError::TooMany);
    let exposed = EventCount::new(number(above.len())?, number(doses.len())?)?;
    let doses = if above.is_empty() { None } else { Some(PositiveSample::new(above)?) };
    Ok(Exposure { exposed, doses })
}

/// Why some numbers are not doses.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum ExposureError {
    /// A dose below 0.
    #[error("dose number {position} is {dose}, below 0")]
    Negative {
        /// Place in the input, from 1.
        position: usize,
        /// The dose.
        dose: f64,
    },
    /// No dose at all.
    #[error(transparent)]
    Count(#[from] CountError),
    /// A dose that is not a usable number.
    #[error(transparent)]
    Value(#[from] SampleError),
    /// More doses than can be counted.
    #[error("more than four thousand million doses")]
    TooMany,
}

/// A ratio of geometric means and what its limits rest on.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct GeometricMeanRatio {
    /// Ratio (first / second) with its limits.
    pub interval: Interval,
    /// Standard error of the natural logarithm of the ratio.
    pub log_standard_error: f64,
    /// Degrees of freedom of Welch and Satterthwaite.
    pub degrees_of_freedom: f64,
    /// Two-sided p value of a ratio of 1.
    pub p_two_sided: f64,
}

/// Ratio of geometric means with Welch limits on the log scale.
///
/// Formula: exp(m1 − m2 ± t s), m and v mean and variance of the logarithms, s² = v1/n1 + v2/n2,
/// t the Student quantile with s⁴ / (v1²/n1²(n1−1) + v2²/n2²(n2−1)) degrees of freedom.
/// Units: any unit of dose above 0, the same in both arms; the ratio has none.
/// Edges: needs two values an arm and some spread; limits beyond the range of numbers are not
/// given; cases without dose belong to the share of exposed cases, never here as 0.
/// Source: [welch1947].
/// Checked: tests/numbers/dose.csv.
pub fn geometric_mean_ratio_welch(
    first: &PositiveSample,
    second: &PositiveSample,
    level: Confidence,
) -> Result<GeometricMeanRatio, NotEstimable> {
    let a = first.logarithms().moments(Arm::First)?;
    let b = second.logarithms().moments(Arm::Second)?;
    let (va, vb) = (a.variance / a.n, b.variance / b.n);
    let variance = va + vb;
    // Logarithms of equal doses may differ in the last digit of their mean: that is no spread.
    let rounding = 10.0 * f64::EPSILON * a.mean.abs().max(b.mean.abs());
    if variance.sqrt() <= rounding {
        return Err(NotEstimable::NoVariation);
    }
    let difference = a.mean - b.mean;
    // As shares of the total, so that tiny variances do not underflow when squared.
    let (sa, sb) = (va / variance, vb / variance);
    let degrees_of_freedom = 1.0 / (sa * sa / (a.n - 1.0) + sb * sb / (b.n - 1.0));
    let log_standard_error = variance.sqrt();
    let reach = student_upper_quantile(level.tail(), degrees_of_freedom) * log_standard_error;
    let (lower, upper) = ((difference - reach).exp(), (difference + reach).exp());
    if lower == 0.0 || upper.is_infinite() {
        return Err(NotEstimable::LimitsTooWide);
    }
    Ok(GeometricMeanRatio {
        interval: Interval {
            estimate: difference.exp(),
            lower,
            upper,
            level,
            method: IntervalMethod::GeometricMeanRatioWelch,
        },
        log_standard_error,
        degrees_of_freedom,
        p_two_sided: student_two_sided_p(difference / log_standard_error, degrees_of_freedom),
    })
}

/// Geometric mean of one arm with Student limits on the log scale.
///
/// Formula: exp(m ± t√(v/n)), m and v mean and variance of the logarithms, t with n − 1 degrees
/// of freedom.
/// Units: those of the doses.
/// Edges: needs two values and some spread; limits beyond the range of numbers are not given.
/// Source: [altman1991].
/// Checked: tests/numbers/dose.csv.
pub fn geometric_mean_interval(doses: &PositiveSample, level: Confidence) -> Result<Interval, NotEstimable> {
    let logs = doses.logarithms().moments(Arm::First)?;
    let standard_error = (logs.variance / logs.n).sqrt();
    if standard_error <= 10.0 * f64::EPSILON * logs.mean.abs() {
        return Err(NotEstimable::NoVariation);
    }
    let reach = student_upper_quantile(level.tail(), logs.n - 1.0) * standard_error;
    let (lower, upper) = ((logs.mean - reach).exp(), (logs.mean + reach).exp());
    if lower == 0.0 || upper.is_infinite() {
        return Err(NotEstimable::LimitsTooWide);
    }
    let method = IntervalMethod::GeometricMean;
    Ok(Interval { estimate: logs.mean.exp(), lower, upper, level, method })
}
