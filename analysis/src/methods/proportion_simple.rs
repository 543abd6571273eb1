//! Textbook approximations for one proportion, for comparison with publications.

use std::num::NonZeroU32;

use super::counts::EventCount;
use super::interval::{Confidence, Interval, IntervalMethod};

/// Agresti–Coull interval for one proportion.
///
/// Formula: with ñ = n + z² and p̃ = (x + z²/2)/ñ, p̃ ± z√(p̃(1−p̃)/ñ), clipped to 0 and 1.
/// Units: proportions between 0 and 1.
/// Edges: limits that fall outside 0 and 1 are clipped.
/// Source: [agresti_coull1998].
/// Checked: tests/numbers/one_proportion.csv.
pub fn agresti_coull_interval(counts: EventCount, level: Confidence) -> Interval {
    let z = level.z();
    let n = counts.n() + z * z;
    let centre = (counts.x() + z * z / 2.0) / n;
    let reach = z * (centre * (1.0 - centre) / n).sqrt();
    clipped(counts, centre, reach, level, IntervalMethod::AgrestiCoull)
}

/// Wald interval for one proportion.
///
/// Formula: p ± z√(p(1−p)/n), clipped to 0 and 1.
/// Units: proportions between 0 and 1.
/// Edges: zero width without events; given only for comparison, never to decide.
/// Source: [newcombe1998a].
/// Checked: tests/numbers/one_proportion.csv.
pub fn wald_interval(counts: EventCount, level: Confidence) -> Interval {
    let p = counts.proportion();
    let reach = level.z() * (p * (1.0 - p) / counts.n()).sqrt();
    clipped(counts, p, reach, level, IntervalMethod::Wald)
}

fn clipped(
    counts: EventCount,
    centre: f64,
    reach: f64,
    level: Confidence,
    method: IntervalMethod,
) -> Interval {
    Interval {
        estimate: counts.proportion(),
        lower: (centre - reach).max(0.0),
        upper: (centre + reach).min(1.0),
        level,
        method,
    }
}

/// Rule of three: rough upper limit of the risk when no event was seen.
///
/// Formula: 3/n; the exact one-sided 95 % limit 1 − 0.05^(1/n) is the Clopper–Pearson upper
/// limit at the two-sided level of 90 %.
/// Units: a proportion; above 1 for fewer than three cases.
/// Edges: every n from 1 has an answer.
/// Source: [hanley_lippman_hand1983].
/// Checked: tests/numbers/rule_of_three.csv.
pub fn rule_of_three(cases: NonZeroU32) -> f64 {
    3.0 / f64::from(cases.get())
}
