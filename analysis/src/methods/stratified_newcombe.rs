//! Newcombe-type intervals of a difference over strata, with Mantel–Haenszel weights.

use super::counts::{EventCount, Stratum, TwoArms};
use super::interval::{Confidence, Interval, IntervalMethod, NotEstimable};
use super::mantel_haenszel::{comparable, sum};
use super::proportion::{wilson_lower, wilson_upper};

/// One arm over all strata: events and cases of each, with the weight of the stratum.
struct WeightedArm {
    counts: Vec<(f64, EventCount)>,
}

/// Stratified Wilson limits of one arm.
struct Limits {
    estimate: f64,
    lower: f64,
    upper: f64,
    /// Σ w²/n: the reciprocal of the effective number of cases.
    inverse_cases: f64,
}

impl WeightedArm {
    fn of(both: &[TwoArms], arm: fn(&TwoArms) -> EventCount) -> Self {
        let weight = |t: &TwoArms| t.first.n() * (t.second.n() / t.n());
        let total = sum(both, weight);
        Self { counts: both.iter().map(|t| (weight(t) / total, arm(t))).collect() }
    }

    fn sum(&self, f: impl Fn(f64, EventCount) -> f64) -> f64 {
        self.counts.iter().map(|&(w, counts)| f(w, counts)).sum()
    }

    fn limits(&self, z: f64) -> Limits {
        let quantile = z * self.shrinkage();
        Limits {
            estimate: self.sum(|w, counts| w * counts.proportion()),
            // Weights that sum to a hair above 1 must not make a proportion of more than 1.
            lower: self.sum(|w, counts| w * wilson_lower(counts, quantile)).clamp(0.0, 1.0),
            upper: self.sum(|w, counts| w * wilson_upper(counts, quantile)).clamp(0.0, 1.0),
            inverse_cases: self.sum(|w, counts| w * w / counts.n()),
        }
    }

    /// √Σw²v / Σw√v with v = p(1−p)/n: how much less a weighted sum of limits may reach than
    /// each limit alone. Where every proportion is 0 or 1, v = 1/n, its limit as equal
    /// proportions go to 0.
    fn shrinkage(&self) -> f64 {
        let varies = self.counts.iter().any(|(_, c)| c.events() > 0 && c.non_events() > 0);
        let v = |c: EventCount| if varies { c.x() * c.y() / c.n().powi(3) } else { 1.0 / c.n() };
        self.sum(|w, c| w * w * v(c)).sqrt() / self.sum(|w, c| w * v(c).sqrt())
    }
}

/// Stratified Wilson interval of each arm, Mantel–Haenszel weights of the comparison.
///
/// Formula: Σ w times the Wilson limits of each stratum at the quantile z√Σw²v / Σw√v,
/// v = p(1−p)/n and w = (n1n2/N) / Σ(n1n2/N).
/// Units: proportions between 0 and 1; first and second arm.
/// Edges: strata with an empty arm contribute to neither arm.
/// Source: [yan_su2010].
/// Checked: tests/numbers/stratified.csv.
pub fn stratified_wilson_intervals(
    strata: &[Stratum],
    level: Confidence,
) -> Result<(Interval, Interval), NotEstimable> {
    let (first, second) = both_limits(strata, level)?;
    let interval = |limits: Limits| Interval {
        estimate: limits.estimate,
        lower: limits.lower,
        upper: limits.upper,
        level,
        method: IntervalMethod::StratifiedWilson,
    };
    Ok((interval(first), interval(second)))
}

fn both_limits(strata: &[Stratum], level: Confidence) -> Result<(Limits, Limits), NotEstimable> {
    let both = comparable(strata)?;
    let z = level.z();
    Ok((WeightedArm::of(&both, |t| t.first).limits(z), WeightedArm::of(&both, |t| t.second).limits(z)))
}

/// Stratified Newcombe interval in the form of Yan and Su.
///
/// Formula: lower = d − z√(λ1 l1(1−l1) + λ2 u2(1−u2)), upper = d + z√(λ1 u1(1−u1) + λ2 l2(1−l2)),
/// (l, u) stratified Wilson limits, λ = Σ w²/n.
/// Units: proportions between 0 and 1; the difference between −1 and 1.
/// Edges: strata with an empty arm contribute nothing; one stratum gives Newcombe's interval.
/// Source: [yan_su2010].
/// Checked: tests/numbers/stratified.csv.
pub fn stratified_newcombe_yan_su_interval(
    strata: &[Stratum],
    level: Confidence,
) -> Result<Interval, NotEstimable> {
    let (a, b) = both_limits(strata, level)?;
    let spread = |limits: &Limits, p: f64| limits.inverse_cases * p * (1.0 - p);
    let down = level.z() * (spread(&a, a.lower) + spread(&b, b.upper)).sqrt();
    let up = level.z() * (spread(&a, a.upper) + spread(&b, b.lower)).sqrt();
    Ok(around(&a, &b, (down, up), level, IntervalMethod::StratifiedNewcombeYanSu))
}

/// Stratified Newcombe interval by recovering variances from the limits.
///
/// Formula: lower = d − √((p1−l1)² + (u2−p2)²), upper = d + √((u1−p1)² + (p2−l2)²), (l, u)
/// stratified Wilson limits and p the weighted proportions.
/// Units: proportions between 0 and 1; the difference between −1 and 1.
/// Edges: strata with an empty arm contribute nothing; one stratum gives Newcombe's interval.
/// Source: [zou_donner2008].
/// Checked: tests/numbers/stratified.csv.
pub fn stratified_newcombe_recovered_interval(
    strata: &[Stratum],
    level: Confidence,
) -> Result<Interval, NotEstimable> {
    let (a, b) = both_limits(strata, level)?;
    let down = (a.estimate - a.lower).hypot(b.upper - b.estimate);
    let up = (a.upper - a.estimate).hypot(b.estimate - b.lower);
    Ok(around(&a, &b, (down, up), level, IntervalMethod::StratifiedNewcombeRecovered))
}

fn around(
    a: &Limits,
    b: &Limits,
    (down, up): (f64, f64),
    level: Confidence,
    method: IntervalMethod,
) -> Interval {
    let estimate = a.estimate - b.estimate;
    Interval { estimate, lower: estimate - down, upper: estimate + up, level, method }
}
