//! Log-rank test of two groups, plain and over strata.

use serde::{Deserialize, Serialize};

use super::association::ChiSquareTest;
use super::follow_up::{Ended, FollowUp};
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
    let mut all: Vec<(FollowUp, f64)> = groups.first.iter().map(|case| (*case, 1.0)).collect();
    all.extend(groups.second.iter().map(|case| (*case, 0.0)));
    all.sort_unstable_by_key(|(case, _)| case.days);
    let (mut at_risk, mut first_at_risk) = (all.len() as f64, groups.first.len() as f64);
    let (mut excess, mut variance) = (0.0, 0.0);
    for same_day in all.chunk_by(|a, b| a.0.days == b.0.days) {
        let (mut events, mut first_events, mut first_here) = (0.0, 0.0, 0.0);
        for (case, first) in same_day {
            first_here += first;
            if case.ended == Ended::Event {
                events += 1.0;
                first_events += first;
            }
        }
        if events > 0.0 {
            let share = first_at_risk / at_risk;
            excess += first_events - events * share;
            if at_risk > 1.0 {
                variance += events * (at_risk - events) / (at_risk - 1.0) * share * (1.0 - share);
            }
        }
        at_risk -= same_day.len() as f64;
        first_at_risk -= first_here;
    }
    (excess, variance)
}
