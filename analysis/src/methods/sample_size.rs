//! Sample sizes for showing non-inferiority of one proportion to another.

use serde::{Deserialize, Serialize};

use super::non_inferiority::Margin;
use super::plan::{CannotPlan, Goal, MOST_CASES, Planned};
use super::plan_terms::{
    blackwelder, difference_on_acceptable_side, farrington_manning, farrington_manning_ratio,
    ratio_on_acceptable_side, wald_log_ratio,
};
use super::ratio_margin::RatioMargin;

/// Cases that a plan needs, before any inflation for centres, losses or missing outcomes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct SampleSize {
    /// Cases of the first arm as the formula gives them.
    pub first_unrounded: f64,
    /// Cases of the first arm, rounded up.
    pub first: u32,
    /// Cases of the second arm: θ times the rounded first, rounded up.
    pub second: u32,
}

/// Sample size for non-inferiority of a difference after Blackwelder.
///
/// Formula: n1 = (z_α + z_β)² (p1(1−p1) + p2(1−p2)/θ) / (p1 − p2 − δ)², n2 = θn1, rounded up
/// in this order; δ is −margin for a benefit, +margin for a harm.
/// Units: cases; proportions between 0 and 1.
/// Edges: an assumption on or beyond the margin has no sample size; rare events make it too
/// small, because the test itself does not keep its error rate then.
/// Source: [blackwelder1982].
/// Checked: tests/numbers/sample_size.csv.
pub fn blackwelder_sample_size(planned: &Planned<Margin>, goal: Goal) -> Result<SampleSize, CannotPlan> {
    difference_on_acceptable_side(planned)?;
    rounded_up(blackwelder(planned, goal.allocation.ratio()).cases(planned.alpha, goal.power), goal)
}

/// Sample size for non-inferiority of a difference after Farrington and Manning.
///
/// Formula: n1 = (z_α√V0 + z_β√V1)² / (p1 − p2 − δ)², V = p1(1−p1) + p2(1−p2)/θ, V1 at the
/// assumed proportions, V0 at those with difference δ that are most likely in a large sample
/// of the assumed ones; n2 = θn1, rounded up in this order.
/// Units: cases; proportions between 0 and 1.
/// Edges: an assumption on or beyond the margin has no sample size.
/// Source: [farrington_manning1990].
/// Checked: tests/numbers/sample_size.csv.
pub fn farrington_manning_sample_size(
    planned: &Planned<Margin>,
    goal: Goal,
) -> Result<SampleSize, CannotPlan> {
    difference_on_acceptable_side(planned)?;
    rounded_up(farrington_manning(planned, goal.allocation.ratio()).cases(planned.alpha, goal.power), goal)
}

/// Sample size for non-inferiority of a ratio after Farrington and Manning.
///
/// Formula: n1 = (z_α√V0 + z_β√V1)² / (p1 − φp2)², V = p1(1−p1) + φ²p2(1−p2)/θ, V1 at the
/// assumed proportions, V0 at those with ratio φ that are most likely in a large sample of
/// the assumed ones; n2 = θn1, rounded up in this order.
/// Units: cases; φ is first over second.
/// Edges: an assumption on or beyond the margin has no sample size.
/// Source: [farrington_manning1990].
/// Checked: tests/numbers/sample_size_ratio.csv.
pub fn farrington_manning_ratio_sample_size(
    planned: &Planned<RatioMargin>,
    goal: Goal,
) -> Result<SampleSize, CannotPlan> {
    ratio_on_acceptable_side(planned)?;
    let terms = farrington_manning_ratio(planned, goal.allocation.ratio());
    rounded_up(terms.cases(planned.alpha, goal.power), goal)
}

/// Sample size for non-inferiority of a ratio on the log scale.
///
/// Formula: n1 = (z_α + z_β)² ((1−p1)/p1 + (1−p2)/(θp2)) / (ln(p1/p2) − ln φ)², n2 = θn1,
/// rounded up in this order.
/// Units: cases; φ is first over second.
/// Edges: an assumption on or beyond the margin has no sample size.
/// Source: [katz1978].
/// Checked: tests/numbers/sample_size_ratio.csv.
pub fn wald_log_ratio_sample_size(
    planned: &Planned<RatioMargin>,
    goal: Goal,
) -> Result<SampleSize, CannotPlan> {
    ratio_on_acceptable_side(planned)?;
    rounded_up(wald_log_ratio(planned, goal.allocation.ratio()).cases(planned.alpha, goal.power), goal)
}

fn rounded_up(first_unrounded: f64, goal: Goal) -> Result<SampleSize, CannotPlan> {
    let first = first_unrounded.ceil().max(1.0);
    let second = goal.allocation.second(first);
    let most = f64::from(MOST_CASES);
    if !(first <= most && second <= most) {
        return Err(CannotPlan::TooManyCases);
    }
    // Whole numbers far below the largest.
    Ok(SampleSize { first_unrounded, first: first as u32, second: second as u32 })
}
