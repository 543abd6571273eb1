//! Score methods for a difference of two proportions (first − second): the variance
//! is taken where the null hypothesis holds, not where the data fell.

use super::counts::{EventCount, Expected, TwoArms};
use super::distribution::{Point, root_between};
use super::interval::{Confidence, Interval, IntervalMethod, NotEstimable};
use super::null_test::{NullDifference, OneSidedTest};

/// Farrington–Manning test of a difference.
///
/// Formula: z = (p1 − p2 − δ) / √(r1(1−r1)/n1 + r2(1−r2)/n2), where (r1, r2) maximise
/// the likelihood subject to r1 − r2 = δ.
/// Units: δ and proportions between −1 and 1; p values one-sided.
/// Edges: z = 0 when the restricted variance is 0 (δ = 0 and no event, or only events).
/// Source: [farrington_manning1990].
/// Checked: tests/numbers/difference_tests.csv.
pub fn farrington_manning_test(arms: TwoArms, null: NullDifference) -> OneSidedTest<NullDifference> {
    score_test(arms, null, 1.0)
}

/// Miettinen–Nurminen test of a difference.
///
/// Formula: the Farrington–Manning z with its variance multiplied by N/(N−1), N = n1 + n2.
/// Units: δ and proportions between −1 and 1; p values one-sided.
/// Edges: z = 0 when the restricted variance is 0 (δ = 0 and no event, or only events).
/// Source: [miettinen_nurminen1985].
/// Checked: tests/numbers/difference_tests.csv.
pub fn miettinen_nurminen_test(arms: TwoArms, null: NullDifference) -> OneSidedTest<NullDifference> {
    score_test(arms, null, finite_sample_factor(arms))
}

fn score_test(arms: TwoArms, null: NullDifference, factor: f64) -> OneSidedTest<NullDifference> {
    let variance = factor * restricted_variance(arms, null.difference());
    let distance = arms.difference() - null.difference();
    OneSidedTest::from_z(null, if variance > 0.0 { distance / variance.sqrt() } else { 0.0 })
}

/// The pair of proportions with the null difference that makes the counts most likely.
pub fn proportions_under_difference(arms: TwoArms, null: NullDifference) -> (f64, f64) {
    restricted_proportions((arms.first.into(), arms.second.into()), null.difference())
}

/// Wald test of a difference, as used by Blackwelder.
///
/// Formula: z = (p1 − p2 − δ) / √(p1(1−p1)/n1 + p2(1−p2)/n2).
/// Units: δ and proportions between −1 and 1; p values one-sided.
/// Edges: proportions of 0 or 1 in both arms cannot be tested.
/// Source: [blackwelder1982].
/// Checked: tests/numbers/difference_tests.csv.
pub fn wald_difference_test(
    arms: TwoArms,
    null: NullDifference,
) -> Result<OneSidedTest<NullDifference>, NotEstimable> {
    let variance = |counts: EventCount| counts.x() * counts.y() / counts.n().powi(3);
    let spread = (variance(arms.first) + variance(arms.second)).sqrt();
    if spread <= 0.0 {
        return Err(NotEstimable::NoVariation);
    }
    Ok(OneSidedTest::from_z(null, (arms.difference() - null.difference()) / spread))
}

/// Miettinen–Nurminen score interval for a difference.
///
/// Formula: all δ with |z(δ)| at most the two-sided normal quantile, z(δ) that of the
/// Miettinen–Nurminen test; each limit found in a bracket between the estimate and ±1.
/// Units: proportions between 0 and 1; the difference between −1 and 1.
/// Edges: 0/n against n/n reaches exactly ±1; no events in either arm gives a width.
/// Source: [miettinen_nurminen1985].
/// Checked: tests/numbers/difference.csv.
pub fn miettinen_nurminen_interval(arms: TwoArms, level: Confidence) -> Interval {
    score_interval(arms, level, finite_sample_factor(arms), IntervalMethod::MiettinenNurminen)
}

/// Mee score interval for a difference.
///
/// Formula: as Miettinen–Nurminen without the factor N/(N−1): all δ that the
/// Farrington–Manning test does not reject.
/// Units: proportions between 0 and 1; the difference between −1 and 1.
/// Edges: 0/n against n/n reaches exactly ±1; no events in either arm gives a width.
/// Source: [mee1984].
/// Checked: tests/numbers/difference.csv.
pub fn mee_interval(arms: TwoArms, level: Confidence) -> Interval {
    score_interval(arms, level, 1.0, IntervalMethod::Mee)
}

fn score_interval(arms: TwoArms, level: Confidence, factor: f64, method: IntervalMethod) -> Interval {
    let z = level.z() * factor.sqrt();
    Interval {
        estimate: arms.difference(),
        lower: -score_upper_limit(&[Weighted::alone(arms.swapped())], z),
        upper: score_upper_limit(&[Weighted::alone(arms)], z),
        level,
        method,
    }
}

/// N / (N − 1) of Miettinen and Nurminen.
pub(crate) fn finite_sample_factor(arms: TwoArms) -> f64 {
    arms.n() / (arms.n() - 1.0)
}

/// Two arms with the weight of their difference and a factor on their variance.
pub(crate) struct Weighted {
    pub(crate) arms: TwoArms,
    pub(crate) weight: f64,
    pub(crate) variance_factor: f64,
}

impl Weighted {
    fn alone(arms: TwoArms) -> Self {
        Self { arms, weight: 1.0, variance_factor: 1.0 }
    }
}

/// Weighted difference; the weights sum to 1.
pub(crate) fn weighted_difference(parts: &[Weighted]) -> f64 {
    parts.iter().map(|part| part.weight * part.arms.difference()).sum()
}

/// Variance of the weighted difference where every difference equals `delta`.
pub(crate) fn weighted_variance(parts: &[Weighted], delta: f64) -> f64 {
    parts
        .iter()
        .map(|part| part.weight.powi(2) * part.variance_factor * restricted_variance(part.arms, delta))
        .sum()
}

/// Largest δ at which the weighted score statistic stays within `z`.
///
/// Works on (δ − d) − z√V(δ), which is finite everywhere, negative just above the
/// estimate d and not negative at 1, where the restricted variance vanishes.
pub(crate) fn score_upper_limit(parts: &[Weighted], z: f64) -> f64 {
    let estimate = weighted_difference(parts);
    let excess = |delta: f64| (delta - estimate) - z * weighted_variance(parts, delta).sqrt();
    let top = Point { x: 1.0, f: 1.0 - estimate };
    if top.f <= 0.0 {
        return 1.0;
    }
    root_between(excess, inside(excess, estimate), top)
}

/// A point above the estimate, or the estimate, where the statistic is within bounds.
///
/// With no event at all (or only events) the variance is 0 at the estimate itself but
/// grows faster than the distance beside it, so the estimate would pass for the limit.
fn inside(excess: impl Fn(f64) -> f64, estimate: f64) -> Point {
    let mut here = Point { x: estimate, f: excess(estimate) };
    let mut step = 1.0 - estimate;
    // Beside the estimate the excess is negative up to about z²/n: 2^-64 reaches any count.
    for _ in 0..64 {
        if here.f < 0.0 {
            break;
        }
        step /= 2.0;
        here = Point { x: estimate + step, f: excess(estimate + step) };
    }
    here
}

/// r1(1−r1)/n1 + r2(1−r2)/n2 at the proportions restricted to differ by `delta`.
pub(crate) fn restricted_variance(arms: TwoArms, delta: f64) -> f64 {
    let (r1, r2) = restricted_proportions((arms.first.into(), arms.second.into()), delta);
    r1 * (1.0 - r1) / arms.first.n() + r2 * (1.0 - r2) / arms.second.n()
}

/// The pair of proportions with difference `delta` that makes the counts most likely.
///
/// The log-likelihood is concave along the line, so its slope has one root: the
/// closed-form cubic gives a start and a bracketed Newton iteration the last digits,
/// which the cubic loses when events are rare.
pub(crate) fn restricted_proportions((first, second): (Expected, Expected), delta: f64) -> (f64, f64) {
    if delta >= 0.0 {
        let low = LowerArm { low: second, high: first, gap: delta }.most_likely();
        (low + delta, low)
    } else {
        let low = LowerArm { low: first, high: second, gap: -delta }.most_likely();
        (low, low - delta)
    }
}

/// The likelihood as a function of the lower proportion q; the higher one is q + gap.
struct LowerArm {
    low: Expected,
    high: Expected,
    gap: f64,
}

impl LowerArm {
    fn most_likely(&self) -> f64 {
        let top = 1.0 - self.gap;
        if top <= 0.0 || self.slope(0.0) <= 0.0 {
            return 0.0;
        }
        if self.slope(top) >= 0.0 {
            return top;
        }
        let (mut below, mut above) = (0.0, top);
        let mut q = self.cubic_start();
        if !(q > below && q < above) {
            q = top / 2.0;
        }
        // Newton doubles the digits; halving alone would end within 1,100 rounds.
        for _ in 0..2_000 {
            let slope = self.slope(q);
            if slope > 0.0 {
                below = q
            } else {
                above = q
            }
            let newton = q - slope / self.curvature(q);
            let next = if newton > below && newton < above { newton } else { (below + above) / 2.0 };
            if (next - q).abs() <= 2.0 * f64::EPSILON * q {
                return next;
            }
            q = next;
        }
        q
    }

    /// Derivative of the log-likelihood; a cell without cases contributes nothing.
    fn slope(&self, q: f64) -> f64 {
        let high = q + self.gap;
        share(self.low.events, q) + share(self.high.events, high)
            - share(self.low.non_events, 1.0 - q)
            - share(self.high.non_events, (1.0 - self.gap) - q)
    }

    /// Second derivative, always negative.
    fn curvature(&self, q: f64) -> f64 {
        let high = q + self.gap;
        -(share(share(self.low.events, q), q)
            + share(share(self.high.events, high), high)
            + share(share(self.low.non_events, 1.0 - q), 1.0 - q)
            + share(share(self.high.non_events, (1.0 - self.gap) - q), (1.0 - self.gap) - q))
    }

    /// Middle root of the likelihood cubic by the trigonometric formula of
    /// Farrington and Manning, whose first proportion is the higher one here.
    fn cubic_start(&self) -> f64 {
        let (p1, p2, s) = (self.high.proportion(), self.low.proportion(), self.gap);
        let theta = self.low.n() / self.high.n();
        let a = 1.0 + theta;
        let b = -(1.0 + theta + p1 + theta * p2 + s * (theta + 2.0));
        let c = s * s + s * (2.0 * p1 + theta + 1.0) + p1 + theta * p2;
        let d = -p1 * s * (1.0 + s);
        let third = b / (3.0 * a);
        let v = third.powi(3) - b * c / (6.0 * a * a) + d / (2.0 * a);
        let u = (third * third - c / (3.0 * a)).max(0.0).sqrt().copysign(v);
        let w = (std::f64::consts::PI + (v / u.powi(3)).clamp(-1.0, 1.0).acos()) / 3.0;
        2.0 * u * w.cos() - third - s
    }
}

/// `cases / p`, where no cases give 0 even at p = 0.
fn share(cases: f64, p: f64) -> f64 {
    if cases == 0.0 { 0.0 } else { cases / p }
}
