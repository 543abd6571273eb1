//! Odds ratio of two proportions (first / second), approximate methods.

use super::counts::{EventCount, TwoArms};
use super::distribution::rising_root;
use super::interval::{Arm, Confidence, IntervalMethod, NotEstimable, Ratio, RatioInterval};
use super::score::finite_sample_factor;

/// Woolf log interval for an odds ratio.
///
/// Formula: exp(ln(x1y2/(y1x2)) ± z√(1/x1 + 1/y1 + 1/x2 + 1/y2)), y = n − x.
/// Units: none.
/// Edges: any zero cell cannot be estimated.
/// Source: [woolf1955].
/// Checked: tests/numbers/odds_ratio.csv.
pub fn woolf_interval(arms: TwoArms, level: Confidence) -> Result<RatioInterval, NotEstimable> {
    for (counts, arm) in [(arms.first, Arm::First), (arms.second, Arm::Second)] {
        if counts.events() == 0 {
            return Err(NotEstimable::NoEvents { arm });
        }
        if counts.non_events() == 0 {
            return Err(NotEstimable::OnlyEvents { arm });
        }
    }
    Ok(log_interval(arms, 0.0, level, IntervalMethod::Woolf))
}

/// Haldane–Anscombe log interval for an odds ratio.
///
/// Formula: as Woolf after adding ½ to all four cells, the estimate too.
/// Units: none.
/// Edges: always finite; the estimate is shrunk towards 1.
/// Source: [haldane1956].
/// Checked: tests/numbers/odds_ratio.csv.
pub fn haldane_interval(arms: TwoArms, level: Confidence) -> RatioInterval {
    log_interval(arms, 0.5, level, IntervalMethod::HaldaneAnscombe)
}

fn log_interval(arms: TwoArms, added: f64, level: Confidence, method: IntervalMethod) -> RatioInterval {
    let (x1, y1) = (arms.first.x() + added, arms.first.y() + added);
    let (x2, y2) = (arms.second.x() + added, arms.second.y() + added);
    let estimate = x1 / y1 * (y2 / x2);
    let reach = level.z() * (1.0 / x1 + 1.0 / y1 + 1.0 / x2 + 1.0 / y2).sqrt();
    RatioInterval {
        estimate: Some(Ratio::Finite(estimate)),
        lower: estimate * (-reach).exp(),
        upper: Ratio::Finite(estimate * reach.exp()),
        level,
        method,
    }
}

/// Score interval for an odds ratio.
///
/// Formula: all ψ with (x1 − n1r1)² (1/(n1r1(1−r1)) + 1/(n2r2(1−r2))) at most the squared
/// normal quantile, (r1, r2) most likely under odds(r1) = ψ odds(r2).
/// Units: none.
/// Edges: a zero cell leaves one limit at 0 or unbounded; without events, or with only
/// events, there is no estimate and every ψ is possible.
/// Source: [agresti2013].
/// Checked: tests/numbers/odds_ratio.csv.
pub fn odds_ratio_score_interval(arms: TwoArms, level: Confidence) -> RatioInterval {
    score_interval(arms, level, 1.0, IntervalMethod::Score)
}

/// Miettinen–Nurminen score interval for an odds ratio.
///
/// Formula: as the score interval, with the statistic divided by N/(N−1), N = n1 + n2.
/// Units: none.
/// Edges: as the score interval.
/// Source: [miettinen_nurminen1985].
/// Checked: tests/numbers/odds_ratio.csv.
pub fn miettinen_nurminen_odds_ratio_interval(arms: TwoArms, level: Confidence) -> RatioInterval {
    score_interval(arms, level, finite_sample_factor(arms), IntervalMethod::MiettinenNurminen)
}

fn score_interval(arms: TwoArms, level: Confidence, factor: f64, method: IntervalMethod) -> RatioInterval {
    let z = level.z() * factor.sqrt();
    let lower = match score_upper_limit(arms.swapped(), z) {
        Ratio::Finite(limit) => 1.0 / limit,
        Ratio::Unbounded => 0.0,
    };
    let upper = score_upper_limit(arms, z);
    RatioInterval { estimate: odds_ratio(arms), lower, upper, level, method }
}

/// Sample odds ratio; `None` when neither odds says anything.
pub(crate) fn odds_ratio(arms: TwoArms) -> Option<Ratio> {
    let (a, b) = (arms.first, arms.second);
    let above = a.x() * b.y();
    let below = a.y() * b.x();
    match (above > 0.0, below > 0.0) {
        (false, false) => None,
        (true, false) => Some(Ratio::Unbounded),
        _ => Some(Ratio::Finite(above / below)),
    }
}

fn score_upper_limit(arms: TwoArms, z: f64) -> Ratio {
    let (a, b) = (arms.first, arms.second);
    if a.non_events() == 0 || b.events() == 0 {
        return Ratio::Unbounded;
    }
    let odds = |counts: EventCount| (counts.x() + 0.5) / (counts.y() + 0.5);
    let stride =
        (1.0 / (a.x() + 0.5) + 1.0 / (b.x() + 0.5) + 1.0 / (a.y() + 0.5) + 1.0 / (b.y() + 0.5)).sqrt();
    let log_odds_ratio = rising_root((odds(a) / odds(b)).ln(), stride, |t| {
        let restricted = Restricted::at(arms, t);
        restricted.excess - z * restricted.variance.sqrt()
    });
    Ratio::Finite(log_odds_ratio.exp())
}

/// Expected minus observed events of the first arm, and the variance, at one odds ratio.
pub(crate) struct Restricted {
    pub(crate) excess: f64,
    pub(crate) variance: f64,
}

impl Restricted {
    pub(crate) fn at(arms: TwoArms, log_odds_ratio: f64) -> Self {
        // The quadratic loses no digits for ψ ≥ 1; for ψ < 1 count the second arm instead.
        if log_odds_ratio < 0.0 {
            let other = Self::at(arms.swapped(), -log_odds_ratio);
            return Self { excess: -other.excess, ..other };
        }
        let (a, b) = (arms.first, arms.second);
        let events = a.x() + b.x();
        // Everything divided by ψ, so that no term overflows.
        let inverse = (-log_odds_ratio).exp();
        let beyond = 1.0 - inverse;
        let middle = a.n() + b.n() * inverse - events * beyond;
        let root = (middle * middle + 4.0 * b.n() * events * beyond * inverse).sqrt();
        let r2 = if middle >= 0.0 {
            2.0 * events * inverse / (middle + root)
        } else {
            (root - middle) / (2.0 * b.n() * beyond)
        };
        let expected_second = (b.n() * r2).min(b.n());
        let expected_first = (events - expected_second).clamp(0.0, a.n());
        let share = |expected: f64, n: f64| expected * (n - expected) / n;
        let (v1, v2) = (share(expected_first, a.n()), share(expected_second, b.n()));
        let variance = if v1 > 0.0 && v2 > 0.0 { v1 * v2 / (v1 + v2) } else { 0.0 };
        Self { excess: expected_first - a.x(), variance }
    }
}
