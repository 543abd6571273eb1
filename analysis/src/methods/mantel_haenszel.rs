//! Mantel–Haenszel estimates over strata, for instance centres.

use super::counts::{Stratum, TwoArms};
use super::interval::{Confidence, Interval, IntervalMethod, NotEstimable};

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
    let sums = DifferenceSums::over(strata)?;
    let estimate = sums.difference / sums.weight;
    let variance = (estimate * sums.p + sums.q) / (sums.weight * sums.weight);
    if variance <= 0.0 {
        return Err(NotEstimable::NoVariation);
    }
    let reach = level.z() * variance.sqrt();
    Ok(Interval {
        estimate,
        lower: estimate - reach,
        upper: estimate + reach,
        level,
        method: IntervalMethod::MantelHaenszelSato,
    })
}

#[derive(Default)]
struct DifferenceSums {
    weight: f64,
    difference: f64,
    p: f64,
    q: f64,
}

impl DifferenceSums {
    fn over(strata: &[Stratum]) -> Result<Self, NotEstimable> {
        let both: Vec<TwoArms> = comparable(strata)?;
        Ok(both.iter().fold(Self::default(), |sums, arms| sums.with(arms)))
    }

    fn with(self, arms: &TwoArms) -> Self {
        let (x1, n1, y1) = (arms.first.x(), arms.first.n(), arms.first.y());
        let (x2, n2, y2) = (arms.second.x(), arms.second.n(), arms.second.y());
        let n = arms.n();
        let (s1, s2) = (n1 / n, n2 / n);
        Self {
            weight: self.weight + n1 * s2,
            difference: self.difference + (x1 * s2 - x2 * s1),
            p: self.p + (s1 * s1 * x2 - s2 * s2 * x1 + s1 * s2 * (n2 - n1) / 2.0),
            q: self.q + (x1 * y2 + x2 * y1) / (2.0 * n),
        }
    }
}

/// Strata with both arms, in an order of their own so that the order in which centres
/// are listed does not change a digit.
fn comparable(strata: &[Stratum]) -> Result<Vec<TwoArms>, NotEstimable> {
    let mut both: Vec<TwoArms> = strata.iter().filter_map(|stratum| stratum.arms()).collect();
    if both.is_empty() {
        return Err(NotEstimable::NoStratumWithBothArms);
    }
    both.sort_by_key(|arms| {
        (arms.first.total(), arms.second.total(), arms.first.events(), arms.second.events())
    });
    Ok(both)
}
