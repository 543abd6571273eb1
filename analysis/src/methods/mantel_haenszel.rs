//! Mantel–Haenszel estimates over strata, for instance centres.

use super::counts::{EventCount, Stratum, TwoArms};
use super::interval::{Confidence, Interval, IntervalMethod, NotEstimable, Ratio, RatioInterval};

/// Mantel–Haenszel risk difference with the variance of Sato.
///
/// Formula: d = Σ(x1n2 − x2n1)/N / W, W = Σ n1n2/N; variance (dP + Q)/W² with
/// P = Σ[n1²x2 − n2²x1 + n1n2(n2−n1)/2]/N² and Q = Σ[x1(n2−x2) + x2(n1−x1)]/2N; normal limits.
/// Units: proportions between 0 and 1; the limits are not clipped.
/// Edges: a stratum with an empty arm contributes nothing; without any event, or with only
/// events, the variance is 0 and no interval is given.
/// Source: [sato1989].
/// Checked: tests/numbers/stratified.csv.
pub fn mantel_haenszel_difference_sato(
    strata: &[Stratum],
    level: Confidence,
) -> Result<Interval, NotEstimable> {
    let both = comparable(strata)?;
    let estimate = common_difference(&both);
    let p = sum(&both, |t| {
        let (s1, s2) = (t.first.n() / t.n(), t.second.n() / t.n());
        let imbalance = (t.second.n() - t.first.n()) / 2.0;
        s1 * s1 * t.second.x() - s2 * s2 * t.first.x() + s1 * s2 * imbalance
    });
    let q = sum(&both, |t| (t.first.x() * t.second.y() + t.second.x() * t.first.y()) / (2.0 * t.n()));
    // Where nothing varies the two parts cancel; what rounding leaves is not a variance.
    let spread = estimate * p + q;
    let spread = if spread > 1e-12 * q { spread } else { 0.0 };
    let variance = spread / sum(&both, weight).powi(2);
    normal_limits(estimate, variance, level, IntervalMethod::MantelHaenszelSato)
}

/// Mantel–Haenszel risk difference with the variance of Greenland and Robins.
///
/// Formula: d as for Sato; variance Σ(x1y1n2³ + x2y2n1³)/(n1n2N²) / (Σ n1n2/N)², y = n − x.
/// Units: proportions between 0 and 1; the limits are not clipped.
/// Edges: as Sato; less reliable than Sato when many strata are small.
/// Source: [greenland_robins1985].
/// Checked: tests/numbers/stratified.csv.
pub fn mantel_haenszel_difference_greenland_robins(
    strata: &[Stratum],
    level: Confidence,
) -> Result<Interval, NotEstimable> {
    let both = comparable(strata)?;
    let spread = sum(&both, |t| {
        let part =
            |own: EventCount, other: EventCount| own.x() * own.y() / own.n() * (other.n() / t.n()).powi(2);
        part(t.first, t.second) + part(t.second, t.first)
    });
    let variance = spread / sum(&both, weight).powi(2);
    normal_limits(common_difference(&both), variance, level, IntervalMethod::MantelHaenszelGreenlandRobins)
}

/// Mantel–Haenszel odds ratio with the variance of Robins, Breslow and Greenland.
///
/// Formula: ΣR/ΣS, R = x1y2/N, S = y1x2/N; variance of the logarithm ΣPR/2(ΣR)² +
/// Σ(PS + QR)/2ΣRΣS + ΣQS/2(ΣS)², P = (x1 + y2)/N, Q = (y1 + x2)/N.
/// Units: none.
/// Edges: a stratum with an empty arm contributes nothing; a ratio of 0 or without bound has
/// no logarithm and is not estimated.
/// Source: [robins_breslow_greenland1986].
/// Checked: tests/numbers/stratified.csv.
pub fn mantel_haenszel_odds_ratio(
    strata: &[Stratum],
    level: Confidence,
) -> Result<RatioInterval, NotEstimable> {
    let both = comparable(strata)?;
    let (r, s) = odds_parts(&both);
    if r <= 0.0 || s <= 0.0 {
        return Err(NotEstimable::NoFiniteRatio);
    }
    let term = |f: fn(Parts) -> f64| sum(&both, |t| f(Parts::of(t)));
    let variance = term(|t| t.p * t.r) / (2.0 * r * r)
        + term(|t| t.p * t.s + t.q * t.r) / (2.0 * r * s)
        + term(|t| t.q * t.s) / (2.0 * s * s);
    Ok(log_limits(r / s, variance, level, IntervalMethod::MantelHaenszelOddsRatio))
}

/// ΣR and ΣS of the Mantel–Haenszel odds ratio.
pub(crate) fn odds_parts(both: &[TwoArms]) -> (f64, f64) {
    (sum(both, |t| Parts::of(t).r), sum(both, |t| Parts::of(t).s))
}

/// The four products of one stratum in the variance of the odds ratio.
struct Parts {
    r: f64,
    s: f64,
    p: f64,
    q: f64,
}

impl Parts {
    fn of(t: &TwoArms) -> Self {
        let (x1, y1, x2, y2) = (t.first.x(), t.first.y(), t.second.x(), t.second.y());
        let n = t.n();
        Self { r: x1 * y2 / n, s: y1 * x2 / n, p: (x1 + y2) / n, q: (y1 + x2) / n }
    }
}

/// Mantel–Haenszel risk ratio with the variance of Greenland and Robins.
///
/// Formula: Σ(x1n2/N) / Σ(x2n1/N); variance of the logarithm Σ(n1n2X − x1x2N)/N² over the
/// product of both sums, X = x1 + x2.
/// Units: none.
/// Edges: a stratum with an empty arm contributes nothing; a ratio of 0 or without bound has
/// no logarithm and is not estimated.
/// Source: [greenland_robins1985].
/// Checked: tests/numbers/stratified.csv.
pub fn mantel_haenszel_risk_ratio(
    strata: &[Stratum],
    level: Confidence,
) -> Result<RatioInterval, NotEstimable> {
    let both = comparable(strata)?;
    let above = sum(&both, |t| t.first.x() * (t.second.n() / t.n()));
    let below = sum(&both, |t| t.second.x() * (t.first.n() / t.n()));
    if above <= 0.0 || below <= 0.0 {
        return Err(NotEstimable::NoFiniteRatio);
    }
    let spread = sum(&both, |t| {
        let events = t.first.x() + t.second.x();
        let (s1, s2) = (t.first.n() / t.n(), t.second.n() / t.n());
        s1 * s2 * events - t.first.x() * t.second.x() / t.n()
    });
    let variance = spread / (above * below);
    Ok(log_limits(above / below, variance, level, IntervalMethod::MantelHaenszelRiskRatio))
}

fn weight(t: &TwoArms) -> f64 {
    t.first.n() * (t.second.n() / t.n())
}

fn common_difference(both: &[TwoArms]) -> f64 {
    let difference = |t: &TwoArms| (t.first.x() * t.second.n() - t.second.x() * t.first.n()) / t.n();
    sum(both, difference) / sum(both, weight)
}

pub(crate) fn sum(both: &[TwoArms], f: impl Fn(&TwoArms) -> f64) -> f64 {
    both.iter().map(f).sum()
}

fn normal_limits(
    estimate: f64,
    variance: f64,
    level: Confidence,
    method: IntervalMethod,
) -> Result<Interval, NotEstimable> {
    if variance <= 0.0 {
        return Err(NotEstimable::NoVariation);
    }
    let reach = level.z() * variance.sqrt();
    Ok(Interval { estimate, lower: estimate - reach, upper: estimate + reach, level, method })
}

fn log_limits(estimate: f64, variance: f64, level: Confidence, method: IntervalMethod) -> RatioInterval {
    let reach = level.z() * variance.max(0.0).sqrt();
    let upper = estimate * reach.exp();
    RatioInterval {
        estimate: Some(Ratio::Finite(estimate)),
        lower: estimate * (-reach).exp(),
        // One event against a million in opposite directions: no number is large enough.
        upper: if upper.is_finite() { Ratio::Finite(upper) } else { Ratio::Unbounded },
        level,
        method,
    }
}

/// Strata with both arms, in an order of their own so that the order in which centres
/// are listed does not change a digit.
pub(crate) fn comparable(strata: &[Stratum]) -> Result<Vec<TwoArms>, NotEstimable> {
    let mut both: Vec<TwoArms> = strata.iter().filter_map(|stratum| stratum.arms()).collect();
    if both.is_empty() {
        return Err(NotEstimable::NoStratumWithBothArms);
    }
    both.sort_by_key(|arms| {
        (arms.first.total(), arms.second.total(), arms.first.events(), arms.second.events())
    });
    Ok(both)
}
