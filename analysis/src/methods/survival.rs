//! Freedom from the event at a day, and its difference between two groups.

use serde::{Deserialize, Serialize};

use super::distribution::normal_upper_tail;
use super::follow_up::Curve;
use super::interval::{Confidence, Interval, IntervalMethod, NotEstimable};
use super::null_test::{NullDifference, OneSidedTest};

/// Kaplan–Meier estimate at a day with linear limits.
///
/// Formula: S ± zS√G, G Greenwood's sum Σ d/(n(n−d)), clipped to 0 and 1.
/// Units: proportion free of the event at the end of the day.
/// Edges: before the first event, after the last case, or beyond the follow-up there is no
/// standard error and no interval.
/// Source: [kaplan_meier1958].
/// Checked: tests/numbers/survival.csv.
pub fn kaplan_meier_linear_interval(
    curve: &Curve,
    day: u32,
    level: Confidence,
) -> Result<Interval, NotEstimable> {
    let (s, spread) = estimate(curve, day)?;
    let reach = level.z() * s * spread;
    limits(s, (s - reach).max(0.0), (s + reach).min(1.0), level, IntervalMethod::KaplanMeierLinear)
}

/// Kaplan–Meier estimate at a day with log limits.
///
/// Formula: S exp(±z√G), G Greenwood's sum, the upper limit clipped to 1.
/// Units: proportion free of the event at the end of the day.
/// Edges: as the linear limits.
/// Source: [kalbfleisch_prentice2002].
/// Checked: tests/numbers/survival.csv.
pub fn kaplan_meier_log_interval(
    curve: &Curve,
    day: u32,
    level: Confidence,
) -> Result<Interval, NotEstimable> {
    let (s, spread) = estimate(curve, day)?;
    let reach = (level.z() * spread).exp();
    limits(s, s / reach, (s * reach).min(1.0), level, IntervalMethod::KaplanMeierLog)
}

/// Kaplan–Meier estimate at a day with log–log limits.
///
/// Formula: S^exp(±z√G/ln S), G Greenwood's sum.
/// Units: proportion free of the event at the end of the day.
/// Edges: as the linear limits; always between 0 and 1.
/// Source: [kalbfleisch_prentice2002].
/// Checked: tests/numbers/survival.csv.
pub fn kaplan_meier_log_log_interval(
    curve: &Curve,
    day: u32,
    level: Confidence,
) -> Result<Interval, NotEstimable> {
    let (s, spread) = estimate(curve, day)?;
    let reach = (level.z() * spread / s.ln()).exp();
    limits(s, s.powf(1.0 / reach), s.powf(reach), level, IntervalMethod::KaplanMeierLogLog)
}

/// S and √G where both are usable.
fn estimate(curve: &Curve, day: u32) -> Result<(f64, f64), NotEstimable> {
    let (survival, greenwood) = curve.at(day)?;
    if survival <= 0.0 || greenwood <= 0.0 {
        return Err(NotEstimable::NoVariation);
    }
    Ok((survival, greenwood.sqrt()))
}

fn limits(
    estimate: f64,
    lower: f64,
    upper: f64,
    level: Confidence,
    method: IntervalMethod,
) -> Result<Interval, NotEstimable> {
    Ok(Interval { estimate, lower, upper, level, method })
}

/// Difference of freedom from the event at a day, linear limits.
///
/// Formula: S1 − S2 ± z√(S1²G1 + S2²G2).
/// Units: difference of proportions, first − second, not clipped.
/// Edges: a group beyond its follow-up is not estimated; without any event before the day
/// nothing varies.
/// Source: [klein2007].
/// Checked: tests/numbers/survival_tests.csv.
pub fn survival_difference_interval(
    first: &Curve,
    second: &Curve,
    day: u32,
    level: Confidence,
) -> Result<Interval, NotEstimable> {
    let (difference, standard_error) = difference(first, second, day)?;
    let reach = level.z() * standard_error;
    let method = IntervalMethod::SurvivalDifference;
    limits(difference, difference - reach, difference + reach, level, method)
}

/// Difference of freedom from the event at a day, recovered from log–log limits.
///
/// Formula: d − √((S1−l1)² + (u2−S2)²) to d + √((u1−S1)² + (S2−l2)²), (l, u) log–log limits.
/// Units: difference of proportions, first − second.
/// Edges: each group needs its own log–log interval.
/// Source: [zou_donner2008].
/// Checked: tests/numbers/survival_tests.csv.
pub fn survival_difference_recovered_interval(
    first: &Curve,
    second: &Curve,
    day: u32,
    level: Confidence,
) -> Result<Interval, NotEstimable> {
    let a = kaplan_meier_log_log_interval(first, day, level)?;
    let b = kaplan_meier_log_log_interval(second, day, level)?;
    let d = a.estimate - b.estimate;
    let down = (a.estimate - a.lower).hypot(b.upper - b.estimate);
    let up = (a.upper - a.estimate).hypot(b.estimate - b.lower);
    limits(d, d - down, d + up, level, IntervalMethod::SurvivalDifferenceRecovered)
}

/// Test of a difference of freedom from the event at a day, for instance at a margin.
///
/// Formula: z = (S1 − S2 − δ) / √(S1²G1 + S2²G2).
/// Units: δ as a difference of proportions; p values one-sided.
/// Edges: as the interval.
/// Source: [klein2007].
/// Checked: tests/numbers/survival_tests.csv.
pub fn survival_difference_test(
    first: &Curve,
    second: &Curve,
    day: u32,
    null: NullDifference,
) -> Result<OneSidedTest<NullDifference>, NotEstimable> {
    let (difference, standard_error) = difference(first, second, day)?;
    Ok(OneSidedTest::from_z(null, (difference - null.difference()) / standard_error))
}

fn difference(first: &Curve, second: &Curve, day: u32) -> Result<(f64, f64), NotEstimable> {
    let (a, b) = (first.at(day)?, second.at(day)?);
    let variance = |(s, greenwood): (f64, f64)| if s > 0.0 { s * s * greenwood } else { 0.0 };
    let both = variance(a) + variance(b);
    if both <= 0.0 {
        return Err(NotEstimable::NoVariation);
    }
    Ok((a.0 - b.0, both.sqrt()))
}

/// A mean time free of the event up to a day, with its standard error, both in days.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct RestrictedMean {
    /// Area under the curve.
    pub days: f64,
    /// Its standard error.
    pub standard_error: f64,
}

/// Restricted mean time free of the event.
///
/// Formula: the area under the curve up to τ; variance Σ A² d/(n(n−d)) over event days before τ,
/// A the area from that day to τ.
/// Units: days.
/// Edges: τ beyond the follow-up of a curve that has not reached 0 is not estimated.
/// Source: [royston_parmar2013].
/// Checked: tests/numbers/survival_tests.csv.
pub fn restricted_mean(curve: &Curve, until: u32) -> Result<RestrictedMean, NotEstimable> {
    curve.at(until)?;
    let before: Vec<_> = curve.event_days().iter().filter(|step| step.day < until).collect();
    let mut variance = 0.0;
    let mut area = 0.0;
    let mut end = f64::from(until);
    for step in before.iter().rev() {
        let day = f64::from(step.day);
        area += step.survival * (end - day);
        if area > 0.0 {
            variance += area * area * step.events / (step.at_risk * (step.at_risk - step.events));
        }
        end = day;
    }
    Ok(RestrictedMean { days: area + end, standard_error: variance.sqrt() })
}

/// A difference of restricted means with its interval and two-sided p value.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct RestrictedMeanDifference {
    /// Difference (first − second) in days.
    pub interval: Interval,
    /// Standard error in days.
    pub standard_error: f64,
    /// Two-sided p value of no difference.
    pub p_two_sided: f64,
}

/// Difference of restricted mean times free of the event.
///
/// Formula: difference ± z√(sum of both variances).
/// Units: days, first − second.
/// Edges: each group needs follow-up to τ; without any event nothing varies.
/// Source: [royston_parmar2013].
/// Checked: tests/numbers/survival_tests.csv.
pub fn restricted_mean_difference(
    first: &Curve,
    second: &Curve,
    until: u32,
    level: Confidence,
) -> Result<RestrictedMeanDifference, NotEstimable> {
    let (a, b) = (restricted_mean(first, until)?, restricted_mean(second, until)?);
    let standard_error = a.standard_error.hypot(b.standard_error);
    if standard_error <= 0.0 {
        return Err(NotEstimable::NoVariation);
    }
    let d = a.days - b.days;
    let reach = level.z() * standard_error;
    Ok(RestrictedMeanDifference {
        interval: limits(d, d - reach, d + reach, level, IntervalMethod::RestrictedMeanDifference)?,
        standard_error,
        p_two_sided: (2.0 * normal_upper_tail((d / standard_error).abs())).min(1.0),
    })
}
