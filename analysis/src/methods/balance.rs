//! How different two arms were before the procedure.

use super::counts::TwoArms;
use super::interval::{Arm, NotEstimable};
use super::sample::Sample;

/// Standardised difference of proportions.
///
/// Formula: (p1 − p2) / √((p1(1−p1) + p2(1−p2)) / 2).
/// Units: standard deviations, first − second.
/// Edges: when both proportions are 0 or 1 there is no spread: 0 if they are equal is not
/// invented, the answer is "cannot be estimated".
/// Source: [austin2009].
/// Checked: tests/numbers/balance.csv.
pub fn standardised_difference_of_proportions(arms: TwoArms) -> Result<f64, NotEstimable> {
    let (p1, p2) = (arms.first.proportion(), arms.second.proportion());
    standardise(arms.difference(), p1 * (1.0 - p1), p2 * (1.0 - p2))
}

/// Standardised difference of means.
///
/// Formula: (m1 − m2) / √((s1² + s2²) / 2), s² with divisor n − 1.
/// Units: standard deviations, first − second.
/// Edges: needs two values an arm and some spread.
/// Source: [austin2009].
/// Checked: tests/numbers/balance.csv.
pub fn standardised_difference_of_means(first: &Sample, second: &Sample) -> Result<f64, NotEstimable> {
    let (a, b) = (first.moments(Arm::First)?, second.moments(Arm::Second)?);
    standardise(a.mean - b.mean, a.variance, b.variance)
}

fn standardise(difference: f64, first: f64, second: f64) -> Result<f64, NotEstimable> {
    let spread = ((first + second) / 2.0).sqrt();
    if spread > 0.0 { Ok(difference / spread) } else { Err(NotEstimable::NoVariation) }
}
