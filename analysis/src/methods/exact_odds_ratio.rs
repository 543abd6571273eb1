//! Exact conditional odds ratio and Fisher's test.

use serde::{Deserialize, Serialize};

use super::counts::TwoArms;
use super::distribution::{FixedMargins, Tails, rising_root, sum_from_small};
use super::interval::{Confidence, IntervalMethod, Ratio, RatioInterval};

/// Exact conditional interval for an odds ratio.
///
/// Formula: with all margins fixed, the estimate maximises the conditional likelihood; lower
/// solves P(X ≥ x1) = α/2 and upper P(X ≤ x1) = α/2 in the noncentral hypergeometric law.
/// Units: none.
/// Edges: x1 at the end of its range gives a limit of 0 or unbounded; margins that leave one
/// table only say nothing: no estimate, every ratio possible.
/// Source: [cornfield1956].
/// Checked: tests/numbers/odds_ratio.csv.
pub fn exact_conditional_interval(arms: TwoArms, level: Confidence) -> RatioInterval {
    let margins = FixedMargins::of(arms);
    let observed = arms.first.x();
    let (at_least, at_most) = (observed == margins.least(), observed == margins.most());
    let estimate = match (at_least, at_most) {
        (true, true) => None,
        (true, false) => Some(Ratio::Finite(0.0)),
        (false, true) => Some(Ratio::Unbounded),
        (false, false) => Some(Ratio::Finite(conditional_estimate(arms, &margins))),
    };
    let lower = if at_least { 0.0 } else { lower_limit(arms, &margins, level.tail()) };
    let upper =
        if at_most { Ratio::Unbounded } else { Ratio::Finite(upper_limit(arms, &margins, level.tail())) };
    RatioInterval { estimate, lower, upper, level, method: IntervalMethod::ExactConditional }
}

fn conditional_estimate(arms: TwoArms, margins: &FixedMargins) -> f64 {
    solve(arms, |psi| margins.around_observed(psi).mean - arms.first.x())
}

fn lower_limit(arms: TwoArms, margins: &FixedMargins, tail: f64) -> f64 {
    let wanted = Tails { lower: tail, upper: 1.0 - tail };
    solve(arms, |psi| {
        let split = margins.around_observed(psi);
        wanted.shortfall(Tails { lower: split.at + split.above, upper: split.below })
    })
}

fn upper_limit(arms: TwoArms, margins: &FixedMargins, tail: f64) -> f64 {
    let wanted = Tails { lower: 1.0 - tail, upper: tail };
    solve(arms, |psi| {
        let split = margins.around_observed(psi);
        wanted.shortfall(Tails { lower: split.above, upper: split.at + split.below })
    })
}

fn solve(arms: TwoArms, rising: impl Fn(f64) -> f64) -> f64 {
    let (x1, y1) = (arms.first.x() + 0.5, arms.first.y() + 0.5);
    let (x2, y2) = (arms.second.x() + 0.5, arms.second.y() + 0.5);
    let stride = (1.0 / x1 + 1.0 / y1 + 1.0 / x2 + 1.0 / y2).sqrt();
    rising_root((x1 / y1 * (y2 / x2)).ln(), stride, |t| rising(t.exp())).exp()
}

/// The three p values of an exact test.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ExactTest {
    /// Of a lower risk in the first arm.
    pub p_less: f64,
    /// Of a higher risk in the first arm.
    pub p_greater: f64,
    /// Of any difference.
    pub p_two_sided: f64,
}

/// Probabilities this much above the observed one still count as tied: the same table
/// reached by another product of ratios.
const TIE: f64 = 1.0 + 1e-7;

/// Fisher's exact test of equal proportions.
///
/// Formula: with all margins fixed, P(X ≤ x1), P(X ≥ x1), and two-sided the sum of all
/// probabilities not above that of x1.
/// Units: p values.
/// Edges: margins that leave one table only give p = 1; a probability too small for a double is 0.
/// Source: [fisher1935].
/// Checked: tests/numbers/exact_tests.csv.
pub fn fisher_test(arms: TwoArms) -> ExactTest {
    let margins = FixedMargins::of(arms);
    let (fewest, probabilities) = margins.central_window();
    let place = arms.first.x() - fewest;
    // Counts beyond the window have a probability of 0 in double precision.
    if place < 0.0 {
        return ExactTest { p_less: 0.0, p_greater: 1.0, p_two_sided: 0.0 };
    }
    // Exact: both are whole numbers below 2^53.
    let observed = place as usize;
    if observed >= probabilities.len() {
        return ExactTest { p_less: 1.0, p_greater: 0.0, p_two_sided: 0.0 };
    }
    let limit = probabilities[observed] * TIE;
    let unlikely: Vec<f64> = probabilities.iter().copied().filter(|p| *p <= limit).collect();
    ExactTest {
        p_less: sum_from_small(&probabilities[..=observed]).min(1.0),
        p_greater: sum_from_small(&probabilities[observed..]).min(1.0),
        p_two_sided: sum_from_small(&unlikely).min(1.0),
    }
}
