//! Intervals for one proportion.

use super::counts::EventCount;
use super::distribution::{beta_quantile, beta_upper_quantile};
use super::interval::{Confidence, Interval, IntervalMethod};

/// Wilson score interval for one proportion.
///
/// Formula: with p = x/n and z the two-sided normal quantile, the limits are
/// (p + z²/2n ± z√(p(1−p)/n + z²/4n²)) / (1 + z²/n).
/// Units: proportions between 0 and 1, never percentages.
/// Edges: x = 0 gives a lower limit of exactly 0; x = n an upper limit of exactly 1.
/// Source: [wilson1927].
/// Checked: tests/numbers/one_proportion.csv.
pub fn wilson_interval(counts: EventCount, level: Confidence) -> Interval {
    let z = level.z();
    Interval {
        estimate: counts.proportion(),
        lower: wilson_lower(counts, z),
        upper: wilson_upper(counts, z),
        level,
        method: IntervalMethod::Wilson,
    }
}

/// Lower Wilson limit; written as a quotient without subtraction, so that a rare
/// event keeps all its digits.
pub(crate) fn wilson_lower(counts: EventCount, z: f64) -> f64 {
    let (x, n, y) = (counts.x(), counts.n(), counts.y());
    if counts.events() == 0 {
        return 0.0;
    }
    let centre = x + z * z / 2.0;
    let reach = z * (x * y / n + z * z / 4.0).sqrt();
    x * x / n / (centre + reach)
}

/// Upper Wilson limit, with the digits of a rare event kept.
pub(crate) fn wilson_upper(counts: EventCount, z: f64) -> f64 {
    let (x, n, y) = (counts.x(), counts.n(), counts.y());
    if counts.non_events() == 0 {
        return 1.0;
    }
    let centre = x + z * z / 2.0;
    let reach = z * (x * y / n + z * z / 4.0).sqrt();
    (centre + reach) / (n + z * z)
}

/// Clopper–Pearson exact interval for one proportion.
///
/// Formula: lower = quantile α/2 of Beta(x, n−x+1), upper = quantile 1−α/2 of
/// Beta(x+1, n−x); found by bracketed root finding on an incomplete beta function of
/// our own, because the inverse in statrs loses digits from about a thousand cases.
/// Units: proportions between 0 and 1.
/// Edges: x = 0 gives a lower limit of exactly 0, x = n an upper limit of exactly 1.
/// Source: [clopper_pearson1934].
/// Checked: tests/numbers/one_proportion.csv.
pub fn clopper_pearson_interval(counts: EventCount, level: Confidence) -> Interval {
    let tail = level.tail();
    Interval {
        estimate: counts.proportion(),
        lower: clopper_pearson_lower(counts, tail),
        upper: clopper_pearson_upper(counts, tail),
        level,
        method: IntervalMethod::ClopperPearson,
    }
}

fn clopper_pearson_lower(counts: EventCount, tail: f64) -> f64 {
    if counts.events() == 0 {
        return 0.0;
    }
    beta_quantile(counts.x(), counts.y() + 1.0, tail)
}

fn clopper_pearson_upper(counts: EventCount, tail: f64) -> f64 {
    if counts.non_events() == 0 {
        return 1.0;
    }
    beta_upper_quantile(counts.x() + 1.0, counts.y(), tail)
}
