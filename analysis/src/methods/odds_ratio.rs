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
    let lower = score_upper_limit(arms.swapped(), z).reciprocal();
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
        let (a, b) = (arms.first, arms.second);
        let (events, non_events) = (a.x() + b.x(), a.y() + b.y());
        // The odds are √ψ u and u/√ψ with u the one positive root of
        // non_events u² + slope u − events = 0: no term of it cancels, however large ψ is.
        let root = (log_odds_ratio / 2.0).exp();
        let slope = root * (a.n() - events) + (b.n() - events) / root;
        let reach = slope.hypot(2.0 * (events * non_events).sqrt());
        let u =
            if slope >= 0.0 { 2.0 * events / (slope + reach) } else { (reach - slope) / (2.0 * non_events) };
        let (first, second) = (Expected::at(a, u * root), Expected::at(b, u / root));
        let variance = 1.0 / (1.0 / first.variance + 1.0 / second.variance);
        // The margins are fixed: what one arm has too many the other lacks. The smaller
        // count knows it better.
        let excess = if first.events <= second.events { first.events - a.x() } else { b.x() - second.events };
        Self { excess, variance }
    }
}

/// Expected events of one arm at some odds, and their binomial variance.
struct Expected {
    events: f64,
    variance: f64,
}

impl Expected {
    fn at(counts: EventCount, odds: f64) -> Self {
        let events = counts.n() / (1.0 + 1.0 / odds);
        Self { events, variance: events / (1.0 + odds) }
    }
}
