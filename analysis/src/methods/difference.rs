//! Closed-form intervals for a difference of two proportions (first − second).

use super::counts::{EventCount, TwoArms};
use super::interval::{Confidence, Interval, IntervalMethod};
use super::proportion::{wilson_corrected_lower, wilson_lower, wilson_upper};

/// Newcombe hybrid score interval for a difference (his method 10).
///
/// Formula: with d = p1 − p2 and Wilson limits (l, u) of each arm, lower =
/// d − √((p1−l1)² + (u2−p2)²), upper = d + √((u1−p1)² + (p2−l2)²).
/// Units: proportions between 0 and 1; the difference between −1 and 1.
/// Edges: stays within −1 and 1; no events in either arm still gives a width.
/// Source: [newcombe1998b].
/// Checked: tests/numbers/difference.csv.
pub fn newcombe_interval(arms: TwoArms, level: Confidence) -> Interval {
    let reach_up = newcombe_reach_up(arms, level);
    let reach_down = newcombe_reach_up(arms.swapped(), level);
    around(arms, reach_down, reach_up, level, IntervalMethod::Newcombe)
}

fn newcombe_reach_up(arms: TwoArms, level: Confidence) -> f64 {
    let z = level.z();
    let above_first = wilson_upper(arms.first, z) - arms.first.proportion();
    let below_second = arms.second.proportion() - wilson_lower(arms.second, z);
    above_first.hypot(below_second)
}

/// Newcombe hybrid score interval with continuity correction (his method 11).
///
/// Formula: as Newcombe, with the continuity-corrected Wilson limits of each arm.
/// Units: proportions between 0 and 1; the difference between −1 and 1.
/// Edges: stays within −1 and 1; no events in either arm still gives a width.
/// Source: [newcombe1998b].
/// Checked: tests/numbers/difference.csv.
pub fn newcombe_corrected_interval(arms: TwoArms, level: Confidence) -> Interval {
    let reach_up = newcombe_corrected_reach_up(arms, level);
    let reach_down = newcombe_corrected_reach_up(arms.swapped(), level);
    around(arms, reach_down, reach_up, level, IntervalMethod::NewcombeCorrected)
}

fn newcombe_corrected_reach_up(arms: TwoArms, level: Confidence) -> f64 {
    let z = level.z();
    let above_first = 1.0 - wilson_corrected_lower(arms.first.complement(), z) - arms.first.proportion();
    let below_second = arms.second.proportion() - wilson_corrected_lower(arms.second, z);
    above_first.hypot(below_second)
}

/// Agresti–Caffo interval for a difference.
///
/// Formula: d ± z√(q1(1−q1)/(n1+2) + q2(1−q2)/(n2+2)) with q = (x+1)/(n+2) and d = q1 − q2.
/// Units: proportions between 0 and 1; the limits are not clipped.
/// Edges: the estimate is p1 − p2, but the limits lie around q1 − q2.
/// Source: [agresti_caffo2000].
/// Checked: tests/numbers/difference.csv.
pub fn agresti_caffo_interval(arms: TwoArms, level: Confidence) -> Interval {
    let shifted = |counts: EventCount| (counts.x() + 1.0) / (counts.n() + 2.0);
    let variance =
        |counts: EventCount| shifted(counts) * ((counts.y() + 1.0) / (counts.n() + 2.0)) / (counts.n() + 2.0);
    let centre = shifted(arms.first) - shifted(arms.second);
    let reach = level.z() * (variance(arms.first) + variance(arms.second)).sqrt();
    Interval {
        estimate: arms.difference(),
        lower: centre - reach,
        upper: centre + reach,
        level,
        method: IntervalMethod::AgrestiCaffo,
    }
}

/// Wald interval for a difference.
///
/// Formula: d ± z√(p1(1−p1)/n1 + p2(1−p2)/n2), with d = p1 − p2.
/// Units: proportions between 0 and 1; the limits are not clipped.
/// Edges: zero width when both proportions are 0 or 1; given only for comparison
/// with publications that used it, never to decide.
/// Source: [newcombe1998b].
/// Checked: tests/numbers/difference.csv.
pub fn wald_difference_interval(arms: TwoArms, level: Confidence) -> Interval {
    let variance = |counts: EventCount| counts.x() * counts.y() / (counts.n() * counts.n() * counts.n());
    let reach = level.z() * (variance(arms.first) + variance(arms.second)).sqrt();
    around(arms, reach, reach, level, IntervalMethod::Wald)
}

fn around(arms: TwoArms, down: f64, up: f64, level: Confidence, method: IntervalMethod) -> Interval {
    let estimate = arms.difference();
    Interval { estimate, lower: estimate - down, upper: estimate + up, level, method }
}
