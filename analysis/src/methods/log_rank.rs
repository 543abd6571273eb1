//! Log-rank test of two groups, plain and over strata.

use serde::{Deserialize, Serialize};

use super::association::ChiSquareTest;
use super::follow_up::{FollowUp, by_day};
use super::interval::NotEstimable;

/// Cases of two groups in one stratum.
#[derive(Clone, Copy, Debug)]
pub struct TwoGroups<'a> {
    /// First group.
    pub first: &'a [FollowUp],
    /// Second group.
    pub second: &'a [FollowUp],
}

/// A log-rank test with what it rests on.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LogRankTest {
    /// Observed minus expected events of the first group: negative when it fares better.
    pub excess: f64,
    /// Hypergeometric variance of the excess.
    pub variance: f64,
    /// Chi-square of no difference.
    pub test: ChiSquareTest,
}

/// Log-rank test over strata; one stratum gives the plain test.
///
/// Formula: chi-square (Σ d1 − n1d/n)² / Σ d(n−d)n1n2/(n²(n−1)) over event days of every stratum.
/// Units: chi-square with 1 degree of freedom; excess in events.
/// Edges: days on which only one group is at risk say nothing; without any other day nothing
/// can be tested.
/// Source: [mantel1966].
/// Checked: tests/numbers/survival_tests.csv.
pub fn log_rank_test(strata: &[TwoGroups<'_>]) -> Result<LogRankTest, NotEstimable> {
    let (mut excess, mut variance) = (0.0, 0.0);
    for stratum in strata {
        let (e, v) = one_stratum(stratum);
        excess += e;
        variance += v;
    }
    if variance <= 0.0 {
        return Err(NotEstimable::NoVariation);
    }
    let test = ChiSquareTest::new(excess * excess / variance, 1.0);
    Ok(LogRankTest { excess, variance, test })
}

fn one_stratum(groups: &TwoGroups<'_>) -> (f64, f64) {
    let (first, second) = (by_day(groups.first), by_day(groups.second));
    let (mut a, mut b) = (first.iter().peekable(), second.iter().peekable());
    let (mut first_at_risk, mut second_at_risk) = (groups.first.len(), groups.second.len());
    let (mut excess, mut variance) = (0.0, 0.0);
    while let Some(day) = a.peek().into_iter().chain(b.peek()).map(|count| count.day).min() {
        let own = a.next_if(|count| count.day == day).copied().unwrap_or_default();
        let other = b.next_if(|count| count.day == day).copied().unwrap_or_default();
        let events = (own.events + other.events) as f64;
        if events > 0.0 {
            let at_risk = (first_at_risk + second_at_risk) as f64;
            let share = first_at_risk as f64 / at_risk;
            excess += own.events as f64 - events * share;
            if at_risk > 1.0 {
                variance += events * (at_risk - events) / (at_risk - 1.0) * share * (1.0 - share);
            }
        }
        first_at_risk -= own.ended;
        second_at_risk -= other.ended;
    }
    (excess, variance)
}
