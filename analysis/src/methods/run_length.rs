//! How long a cumulative sum runs until it signals, where every case has the same expected probability.

use serde::{Deserialize, Serialize};

use super::cusum::{ExpectedProbability, Threshold, WatchedCase, WatchedChange, log_likelihood_ratio_score};
use super::excursion::{Budget, Excursion, Steps};
use super::interval::NotEstimable;

/// Why a chart's run length is not computed.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("an expected probability of {probability} does not lie between 0.0001 and 0.9999")]
pub struct SteadyChartError {
    /// The probability given.
    pub probability: f64,
}

/// A chart on which every case has the same expected probability, between 0.0001 and 0.9999: what the
/// threshold is planned on before the first case.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SteadyChart {
    expected: ExpectedProbability,
    change: WatchedChange,
}

impl SteadyChart {
    /// A chart for cases of one expected probability.
    ///
    /// # Errors
    /// A probability so near to 0 or 1 that the chart climbs or falls for ever.
    pub fn new(expected: ExpectedProbability, change: WatchedChange) -> Result<Self, SteadyChartError> {
        let probability = expected.probability();
        if (1e-4..=1.0 - 1e-4).contains(&probability) {
            Ok(Self { expected, change })
        } else {
            Err(SteadyChartError { probability })
        }
    }

    fn steps(self, actual: ActualOddsRatio) -> Steps {
        let score =
            |event| log_likelihood_ratio_score(WatchedCase { event, expected: self.expected }, self.change);
        let p = self.expected.probability();
        let odds = actual.0 * p / (1.0 - p);
        let (event, none) = (odds / (1.0 + odds), 1.0 / (1.0 + odds));
        if self.change.odds_ratio() > 1.0 {
            Steps { up: score(true), up_probability: event, down: -score(false), down_probability: none }
        } else {
            Steps { up: score(false), up_probability: none, down: -score(true), down_probability: event }
        }
    }
}

/// Why a number is not the odds ratio at work.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("an odds ratio of {odds_ratio} at work does not lie between 0.001 and 1000")]
pub struct ActualOddsRatioError {
    /// The number given.
    pub odds_ratio: f64,
}

/// True odds of the event over the expected odds, between 0.001 and 1000; 1 is in control.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct ActualOddsRatio(f64);

impl ActualOddsRatio {
    /// The event is as probable as expected.
    pub const IN_CONTROL: Self = Self(1.0);

    /// An odds ratio such as 2.
    ///
    /// # Errors
    /// Out of range, or not a number.
    pub fn new(odds_ratio: f64) -> Result<Self, ActualOddsRatioError> {
        if (1e-3..=1e3).contains(&odds_ratio) {
            Ok(Self(odds_ratio))
        } else {
            Err(ActualOddsRatioError { odds_ratio })
        }
    }
}

impl TryFrom<f64> for ActualOddsRatio {
    type Error = ActualOddsRatioError;

    fn try_from(odds_ratio: f64) -> Result<Self, ActualOddsRatioError> {
        Self::new(odds_ratio)
    }
}

impl From<ActualOddsRatio> for f64 {
    fn from(actual: ActualOddsRatio) -> f64 {
        actual.0
    }
}

/// Average number of cases until a chart that starts at 0 signals.
///
/// Formula: E/q, with E the average number of cases until the chart is back at 0 or signals, and q the
/// probability that it signals before it is back; both are sums over the heights it can reach on the way,
/// which takes the place of a Markov chain on rounded heights and leaves no rounding of them.
/// Units: cases.
/// Edges: "cannot be estimated" where the sums would take too long: a tiny watched change or a high threshold.
/// Source: [steiner2000], [brook_evans1972].
/// Checked: tests/numbers/run_length.csv.
pub fn average_run_length(
    chart: SteadyChart,
    threshold: Threshold,
    actual: ActualOddsRatio,
) -> Result<f64, NotEstimable> {
    run_length(chart.steps(actual), threshold.height(), &mut Budget::of_one())
}

fn run_length(steps: Steps, threshold: f64, budget: &mut Budget) -> Result<f64, NotEstimable> {
    let mut excursion = Excursion::start(steps, threshold);
    let (mut cases, mut signalled) = (0.0, 0.0);
    while excursion.going() > NEGLIGIBLE * signalled {
        budget.take(1, excursion.states())?;
        cases += excursion.going();
        signalled += excursion.step().signalled;
    }
    let average: f64 = cases / signalled;
    if average.is_finite() { Ok(average) } else { Err(NotEstimable::RunLengthOutOfReach) }
}

/// What may still happen on the way is nothing beside what has happened, once it is below this share.
const NEGLIGIBLE: f64 = 1e-17;

/// Probability that a chart that starts at 0 signals within so many cases.
///
/// Formula: Σₜ uₜ G(n − t), with uₜ the probability of being back at 0 after t cases without a signal and G(m)
/// the probability of a signal within m cases of leaving 0, both as for the average run length.
/// Units: a probability.
/// Edges: no cases, no signal; "cannot be estimated" where the sums would take too long.
/// Source: [steiner2000], [brook_evans1972].
/// Checked: tests/numbers/run_length.csv.
pub fn signal_within(
    chart: SteadyChart,
    threshold: Threshold,
    actual: ActualOddsRatio,
    cases: u32,
) -> Result<f64, NotEstimable> {
    let mut budget = Budget::of_one();
    let mut excursion = Excursion::start(chart.steps(actual), threshold.height());
    let (mut returns, mut signals) = (Vec::new(), vec![0.0]);
    let mut signalled = 0.0;
    for case in 1..=cases as usize {
        if excursion.going() <= NEGLIGIBLE * signalled {
            break;
        }
        budget.take(1, excursion.states())?;
        let ended = excursion.step();
        signalled += ended.signalled;
        signals.push(signalled);
        if ended.returned > 0.0 {
            returns.push((case, ended.returned));
        }
    }
    let at_zero = visits_to_zero(&returns, cases as usize, &mut budget)?;
    let within = |left: usize| signals[left.min(signals.len() - 1)];
    let sum: f64 = at_zero.iter().rev().enumerate().map(|(left, visit)| visit * within(left)).sum();
    Ok(sum.min(1.0))
}

/// Probability of being at 0 after every number of cases from none on, without a signal before.
fn visits_to_zero(
    returns: &[(usize, f64)],
    cases: usize,
    budget: &mut Budget,
) -> Result<Vec<f64>, NotEstimable> {
    budget.take(cases, returns.len())?;
    let mut visits = vec![1.0];
    for case in 1..=cases {
        let past = returns.iter().take_while(|(after, _)| *after <= case);
        visits.push(past.map(|(after, share)| visits[case - after] * share).sum());
    }
    Ok(visits)
}

/// Why a number is not a run length to plan for.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("an average run length of {cases} cases does not lie between 1 and 1000000000")]
pub struct RunLengthError {
    /// The number given.
    pub cases: f64,
}

/// An average run length to plan for, between 1 and a thousand million cases.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct RunLength(f64);

impl RunLength {
    /// A number of cases such as 5000.
    ///
    /// # Errors
    /// Out of range, or not a number.
    pub fn new(cases: f64) -> Result<Self, RunLengthError> {
        if (1.0..=1e9).contains(&cases) { Ok(Self(cases)) } else { Err(RunLengthError { cases }) }
    }
}

impl TryFrom<f64> for RunLength {
    type Error = RunLengthError;

    fn try_from(cases: f64) -> Result<Self, RunLengthError> {
        Self::new(cases)
    }
}

impl From<RunLength> for f64 {
    fn from(length: RunLength) -> f64 {
        length.0
    }
}

/// A threshold and the run length it gives.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlannedThreshold {
    /// The threshold.
    pub threshold: Threshold,
    /// Average number of cases until a false signal.
    pub in_control_run_length: f64,
}

/// The lowest threshold, to a millionth of it, whose in-control run length is at least the wanted one.
///
/// Formula: bisection on the threshold; the run length rises with it in steps, because a chart can reach
/// only some heights.
/// Units: logarithm of a likelihood ratio; cases.
/// Edges: the height of one step up where that already suffices. The run length reached may lie well above the wanted one where the steps are high. "Cannot be
/// estimated" where no threshold up to 100 suffices or the sums would take too long.
/// Source: [steiner2000].
/// Checked: tests/numbers/run_length.csv.
pub fn threshold_for_run_length(
    chart: SteadyChart,
    wanted: RunLength,
) -> Result<PlannedThreshold, NotEstimable> {
    let (steps, mut budget) = (chart.steps(ActualOddsRatio::IN_CONTROL), Budget::of_a_search());
    let mut length = |threshold| run_length(steps, threshold, &mut budget);
    // Up to the height of one step the first step up signals; there is nothing to choose below.
    let (mut low, mut high) = (steps.up, steps.up);
    let mut reached = length(high)?;
    while reached < wanted.0 {
        if high >= 100.0 {
            return Err(NotEstimable::RunLengthOutOfReach);
        }
        // Run lengths grow exponentially with the threshold: leaping would cost more than it gains.
        low = high;
        high = (high + 1.0).min(100.0);
        reached = length(high)?;
    }
    while high - low > 1e-6 * high {
        let middle = low + (high - low) / 2.0;
        let there = length(middle)?;
        if there < wanted.0 {
            low = middle;
        } else {
            (high, reached) = (middle, there);
        }
    }
    let threshold = Threshold::new(high).map_err(|_| NotEstimable::RunLengthOutOfReach)?;
    Ok(PlannedThreshold { threshold, in_control_run_length: reached })
}
