//! Score and exact intervals for one proportion.

use super::counts::EventCount;
use super::distribution::{Tails, beta_quantile, beta_upper_quantile, rising_root_on_logits, tails};
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

/// Wilson score interval with continuity correction (Newcombe's method 4).
///
/// Formula: lower = (2x + z² − 1 − z√(z² − 2 − 1/n + 4x(n−x+1)/n)) / (2(n + z²)); the upper limit
/// is 1 minus the lower limit of the complement; always the full correction 1/2n.
/// Units: proportions between 0 and 1.
/// Edges: x = 0 gives a lower limit of exactly 0, x = n an upper limit of exactly 1.
/// Source: [newcombe1998a].
/// Checked: tests/numbers/one_proportion.csv.
pub fn wilson_corrected_interval(counts: EventCount, level: Confidence) -> Interval {
    let z = level.z();
    Interval {
        estimate: counts.proportion(),
        lower: wilson_corrected_lower(counts, z),
        upper: 1.0 - wilson_corrected_lower(counts.complement(), z),
        level,
        method: IntervalMethod::WilsonCorrected,
    }
}

/// Lower limit of Newcombe's method 4; the quotient of product and larger root keeps the
/// digits of a rare event.
pub(crate) fn wilson_corrected_lower(counts: EventCount, z: f64) -> f64 {
    let (x, n, y) = (counts.x(), counts.n(), counts.y());
    if counts.events() == 0 {
        return 0.0;
    }
    let root = z * (z * z + (2.0 * x - 1.0) * (2.0 * y + 1.0) / n).sqrt();
    let product = (2.0 * x - 1.0).powi(2) / (2.0 * n);
    (product / (2.0 * x + z * z - 1.0 + root)).min(1.0)
}

/// Mid-P exact interval for one proportion.
///
/// Formula: lower solves P(X > x) + ½P(X = x) = α/2, upper P(X < x) + ½P(X = x) = α/2.
/// Units: proportions between 0 and 1.
/// Edges: x = 0 gives a lower limit of exactly 0 and an upper limit of 1 − α^(1/n).
/// Source: [lancaster1961].
/// Checked: tests/numbers/one_proportion.csv.
pub fn mid_p_interval(counts: EventCount, level: Confidence) -> Interval {
    let tail = level.tail();
    let lower = || mid_p_limit(counts, Tails { lower: tail, upper: 1.0 - tail });
    let upper = || mid_p_limit(counts, Tails { lower: 1.0 - tail, upper: tail });
    Interval {
        estimate: counts.proportion(),
        lower: if counts.events() == 0 { 0.0 } else { lower() },
        upper: if counts.non_events() == 0 { 1.0 } else { upper() },
        level,
        method: IntervalMethod::MidP,
    }
}

/// The proportion at which the mid-probabilities of more and of fewer events are as wanted.
fn mid_p_limit(counts: EventCount, wanted: Tails) -> f64 {
    let (x, y) = (counts.x(), counts.y());
    let centre = ((x + 0.5) / (y + 0.5)).ln();
    let stride = (1.0 / (x + 0.5) + 1.0 / (y + 0.5)).sqrt();
    let root = rising_root_on_logits(centre, stride, |at| {
        // P(X ≥ x) and P(X ≥ x + 1), with P(X ≥ 0) = 1 and P(X ≥ n + 1) = 0.
        let sure = Tails { lower: 1.0, upper: 0.0 };
        let never = Tails { lower: 0.0, upper: 1.0 };
        let at_least = if counts.events() == 0 { sure } else { tails(x, y + 1.0, at) };
        let above = if counts.non_events() == 0 { never } else { tails(x + 1.0, y, at) };
        wanted.shortfall(Tails {
            lower: (at_least.lower + above.lower) / 2.0,
            upper: (at_least.upper + above.upper) / 2.0,
        })
    });
    root.x
}

/// Jeffreys interval for one proportion.
///
/// Formula: quantiles α/2 and 1−α/2 of Beta(x+½, n−x+½).
/// Units: proportions between 0 and 1.
/// Edges: x = 0 gives a lower limit of 0, x = n an upper limit of 1; the other end keeps α/2.
/// Source: [brown_cai_dasgupta2001].
/// Checked: tests/numbers/one_proportion.csv.
pub fn jeffreys_interval(counts: EventCount, level: Confidence) -> Interval {
    let (a, b) = (counts.x() + 0.5, counts.y() + 0.5);
    let lower = || beta_quantile(a, b, level.tail());
    let upper = || beta_upper_quantile(a, b, level.tail());
    Interval {
        estimate: counts.proportion(),
        lower: if counts.events() == 0 { 0.0 } else { lower() },
        upper: if counts.non_events() == 0 { 1.0 } else { upper() },
        level,
        method: IntervalMethod::Jeffreys,
    }
}
