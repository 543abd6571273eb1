//! Ratio of two proportions (first / second).

use super::counts::{EventCount, Expected, TwoArms};
use super::distribution::rising_root;
use super::interval::{Arm, Confidence, IntervalMethod, NotEstimable, Ratio, RatioInterval};
use super::null_test::{NullRatio, OneSidedTest};
use super::score::finite_sample_factor;

/// Katz log interval for a ratio of proportions.
///
/// Formula: exp(ln(p1/p2) ± z√(1/x1 − 1/n1 + 1/x2 − 1/n2)).
/// Units: proportions between 0 and 1; the ratio has none.
/// Edges: an arm without events has no logarithm and cannot be estimated; zero width when
/// every case of both arms has the event.
/// Source: [katz1978].
/// Checked: tests/numbers/ratio.csv.
pub fn katz_interval(arms: TwoArms, level: Confidence) -> Result<RatioInterval, NotEstimable> {
    let variance = log_ratio_variance(arms)?;
    let estimate = arms.ratio_of_proportions();
    let reach = level.z() * variance.sqrt();
    Ok(RatioInterval {
        estimate: Some(Ratio::Finite(estimate)),
        lower: estimate * (-reach).exp(),
        upper: Ratio::Finite(estimate * reach.exp()),
        level,
        method: IntervalMethod::Katz,
    })
}

/// 1/x1 − 1/n1 + 1/x2 − 1/n2, written without subtraction.
fn log_ratio_variance(arms: TwoArms) -> Result<f64, NotEstimable> {
    let part = |counts: EventCount, arm| {
        if counts.events() == 0 {
            return Err(NotEstimable::NoEvents { arm });
        }
        Ok(counts.y() / (counts.x() * counts.n()))
    };
    Ok(part(arms.first, Arm::First)? + part(arms.second, Arm::Second)?)
}

/// Koopman score interval for a ratio of proportions.
///
/// Formula: all φ with |z(φ)| at most the normal quantile, z(φ) = (p1 − φp2) /
/// √(r1(1−r1)/n1 + φ²r2(1−r2)/n2), (r1, r2) most likely under r1 = φr2.
/// Units: proportions between 0 and 1; the ratio has none.
/// Edges: no event in the second arm leaves the upper limit unbounded, none in the first
/// gives a lower limit of 0; without any event there is no estimate.
/// Source: [koopman1984].
/// Checked: tests/numbers/ratio.csv.
pub fn koopman_interval(arms: TwoArms, level: Confidence) -> RatioInterval {
    score_interval(arms, level, 1.0, IntervalMethod::Koopman)
}

/// Miettinen–Nurminen score interval for a ratio of proportions.
///
/// Formula: as Koopman, with the variance multiplied by N/(N−1), N = n1 + n2.
/// Units: proportions between 0 and 1; the ratio has none.
/// Edges: as Koopman.
/// Source: [miettinen_nurminen1985].
/// Checked: tests/numbers/ratio.csv.
pub fn miettinen_nurminen_ratio_interval(arms: TwoArms, level: Confidence) -> RatioInterval {
    score_interval(arms, level, finite_sample_factor(arms), IntervalMethod::MiettinenNurminen)
}

fn score_interval(arms: TwoArms, level: Confidence, factor: f64, method: IntervalMethod) -> RatioInterval {
    let z = level.z() * factor.sqrt();
    let lower = score_upper_limit(arms.swapped(), z).reciprocal();
    RatioInterval { estimate: estimate(arms), lower, upper: score_upper_limit(arms, z), level, method }
}

fn estimate(arms: TwoArms) -> Option<Ratio> {
    match (arms.first.events(), arms.second.events()) {
        (0, 0) => None,
        (_, 0) => Some(Ratio::Unbounded),
        _ => Some(Ratio::Finite(arms.ratio_of_proportions())),
    }
}

fn score_upper_limit(arms: TwoArms, z: f64) -> Ratio {
    if arms.second.events() == 0 {
        return Ratio::Unbounded;
    }
    if arms.first.non_events() == 0 && arms.second.non_events() == 0 {
        // The variance is 0 at the estimate 1 itself; beyond it the equation is linear.
        return Ratio::Finite(1.0 + z * z / arms.second.n());
    }
    let centre =
        ((arms.first.x() + 0.5) / (arms.second.x() + 0.5)).ln() + (arms.second.n() / arms.first.n()).ln();
    let stride = (1.0 / (arms.first.x() + 0.5) + 1.0 / (arms.second.x() + 0.5)).sqrt();
    let log_ratio = rising_root(centre, stride, |t| {
        let line = Line::through(arms, t);
        line.distance - z * line.variance.sqrt()
    });
    Ratio::Finite(log_ratio.exp())
}

/// φp2 − p1 and its restricted variance at one ratio φ, both divided by 1 + φ (squared for
/// the variance) so that they stay finite for any φ.
struct Line {
    distance: f64,
    variance: f64,
    restricted: (f64, f64),
}

impl Line {
    fn through(arms: TwoArms, log_ratio: f64) -> Self {
        let (a, b) = (arms.first, arms.second);
        let (s, r) = shares(log_ratio);
        let (r1, r2) = restricted((a.into(), b.into()), log_ratio);
        Self {
            distance: s * b.proportion() - r * a.proportion(),
            variance: r * r * r1 * (1.0 - r1) / a.n() + s * s * r2 * (1.0 - r2) / b.n(),
            restricted: (r1, r2),
        }
    }
}

/// φ/(1 + φ) and 1/(1 + φ), each with its own digits.
fn shares(log_ratio: f64) -> (f64, f64) {
    (1.0 / (1.0 + (-log_ratio).exp()), 1.0 / (1.0 + log_ratio.exp()))
}

/// The pair of proportions with ratio φ that makes the counts most likely.
pub(crate) fn restricted((a, b): (Expected, Expected), log_ratio: f64) -> (f64, f64) {
    let (s, r) = shares(log_ratio);
    let (up, down) = (s * (a.n() + b.events), r * (b.n() + a.events));
    let root = ((up - down).powi(2) + 4.0 * s * r * a.non_events * b.non_events).sqrt();
    let scale = 2.0 * (a.events + b.events) / (up + down + root);
    ((scale * s).min(1.0), (scale * r).min(1.0))
}

/// Farrington–Manning test of a ratio of proportions.
///
/// Formula: z = (p1 − φp2) / √(r1(1−r1)/n1 + φ²r2(1−r2)/n2), (r1, r2) most likely under r1 = φr2.
/// Units: φ above 0; p values one-sided.
/// Edges: z = 0 when the restricted variance is 0 (no event at all, or only events and φ = 1).
/// Source: [farrington_manning1990].
/// Checked: tests/numbers/ratio_tests.csv.
pub fn farrington_manning_ratio_test(arms: TwoArms, null: NullRatio) -> OneSidedTest<NullRatio> {
    score_test(arms, null, 1.0)
}

/// Miettinen–Nurminen test of a ratio of proportions.
///
/// Formula: the Farrington–Manning z with its variance multiplied by N/(N−1), N = n1 + n2.
/// Units: φ above 0; p values one-sided.
/// Edges: z = 0 when the restricted variance is 0 (no event at all, or only events and φ = 1).
/// Source: [miettinen_nurminen1985].
/// Checked: tests/numbers/ratio_tests.csv.
pub fn miettinen_nurminen_ratio_test(arms: TwoArms, null: NullRatio) -> OneSidedTest<NullRatio> {
    score_test(arms, null, finite_sample_factor(arms))
}

fn score_test(arms: TwoArms, null: NullRatio, factor: f64) -> OneSidedTest<NullRatio> {
    let line = Line::through(arms, null.ratio().ln());
    let spread = (factor * line.variance).sqrt();
    OneSidedTest::from_z(null, if spread > 0.0 { -line.distance / spread } else { 0.0 })
}

/// The pair of proportions with ratio φ that makes the counts most likely.
pub fn proportions_under_ratio(arms: TwoArms, null: NullRatio) -> (f64, f64) {
    Line::through(arms, null.ratio().ln()).restricted
}

/// Wald test of a ratio of proportions on the log scale.
///
/// Formula: z = (ln(p1/p2) − ln φ) / √(1/x1 − 1/n1 + 1/x2 − 1/n2).
/// Units: φ above 0; p values one-sided.
/// Edges: an arm without events, or only events in both, cannot be tested.
/// Source: [katz1978].
/// Checked: tests/numbers/ratio_tests.csv.
pub fn wald_log_ratio_test(arms: TwoArms, null: NullRatio) -> Result<OneSidedTest<NullRatio>, NotEstimable> {
    let spread = log_ratio_variance(arms)?.sqrt();
    if spread <= 0.0 {
        return Err(NotEstimable::NoVariation);
    }
    let distance = arms.ratio_of_proportions().ln() - null.ratio().ln();
    Ok(OneSidedTest::from_z(null, distance / spread))
}

/// Wald test of a ratio of proportions on the linear scale.
///
/// Formula: z = (p1 − φp2) / √(p1(1−p1)/n1 + φ²p2(1−p2)/n2).
/// Units: φ above 0; p values one-sided.
/// Edges: proportions of 0 or 1 in both arms cannot be tested.
/// Source: [farrington_manning1990].
/// Checked: tests/numbers/ratio_tests.csv.
pub fn wald_linear_ratio_test(
    arms: TwoArms,
    null: NullRatio,
) -> Result<OneSidedTest<NullRatio>, NotEstimable> {
    let variance = |counts: EventCount| counts.x() * counts.y() / counts.n().powi(3);
    let phi = null.ratio();
    let spread = (variance(arms.first) + phi * phi * variance(arms.second)).sqrt();
    if spread <= 0.0 {
        return Err(NotEstimable::NoVariation);
    }
    let distance = arms.first.proportion() - phi * arms.second.proportion();
    Ok(OneSidedTest::from_z(null, distance / spread))
}
