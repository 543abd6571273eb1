//! Closed-form intervals for a difference of two proportions (first − second).

use super::counts::TwoArms;
use super::interval::{Confidence, Interval, IntervalMethod};
use super::proportion::{wilson_lower, wilson_upper};

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

/// Wald interval for a difference.
///
/// Formula: d ± z√(p1(1−p1)/n1 + p2(1−p2)/n2), with d = p1 − p2.
/// Units: proportions between 0 and 1; the limits are not clipped.
/// Edges: zero width when both proportions are 0 or 1; given only for comparison
/// with publications that used it, never to decide.
/// Source: [newcombe1998b].
/// Checked: tests/numbers/difference.csv.
pub fn wald_difference_interval(arms: TwoArms, level: Confidence) -> Interval {
    let variance =
        |counts: super::counts::EventCount| counts.x() * counts.y() / (counts.n() * counts.n() * counts.n());
    let reach = level.z() * (variance(arms.first) + variance(arms.second)).sqrt();
    around(arms, reach, reach, level, IntervalMethod::Wald)
}

fn around(arms: TwoArms, down: f64, up: f64, level: Confidence, method: IntervalMethod) -> Interval {
    let estimate = arms.difference();
    Interval { estimate, lower: estimate - down, upper: estimate + up, level, method }
}
