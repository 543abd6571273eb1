//! One centre's harm in charts: what happened beside what was expected, case by case and in all.

use super::super::peak::peak;
use super::case::Charted;
use super::expected::Expectation;
use super::{FunnelLimits, Interval};
use crate::methods::cusum::{ExpectedProbability, Threshold, WatchedCase, WatchedChange, signalling_cusum};
use crate::methods::funnel::{Target, exact_funnel_limits};
use crate::methods::interval::Confidence;
use crate::methods::observed_expected::{ExpectedEvents, ObservedExpected, exact_poisson_interval};
use crate::methods::run_length::{ActualOddsRatio, SteadyChart, average_run_length};
use quietbeam_schema::ids::CentreCode;
use serde::{Serialize, Serializer};
use std::collections::BTreeMap;
use std::num::NonZeroU32;

/// The chart is tuned to doubled odds.
pub const WATCHED_ODDS_RATIO: f64 = 2.0;

/// Where the chart signals. Our own choice; the page prints how often it would do so by chance.
pub const SIGNAL_LINE: f64 = 3.0;

/// Limits of the funnel: 1 in 20 and 1 in 500 centres on target lie outside.
const ORDINARY: f64 = 0.95;
const FAR: f64 = 0.998;

/// Every centre with cases in charts.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Charts {
    /// How often a major complication or death is expected.
    pub expectation: Expectation,
    /// The centres by code.
    pub centres: Vec<CentreChart>,
    /// After how many cases on average a chart signals although nothing is wrong; `None` where
    /// that cannot be computed.
    pub false_signal_after: Option<f64>,
}

impl Charts {
    /// Of cases in any order; within a quarter the order of entry is all that is known.
    pub fn of<C: Charted>(mut cases: Vec<C>) -> Self {
        cases.sort_by_key(Charted::order);
        let expectation = Expectation::of(&cases);
        let mut centres = BTreeMap::<CentreCode, Vec<C>>::new();
        for case in cases {
            centres.entry(case.centre()).or_default().push(case);
        }
        let chart = |(code, cases): (CentreCode, Vec<C>)| CentreChart::of(code, &cases, &expectation);
        Self {
            centres: centres.into_iter().map(chart).collect(),
            false_signal_after: false_signal_after(&expectation),
            expectation,
        }
    }
}

/// One centre.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CentreChart {
    /// Its code.
    pub code: CentreCode,
    /// Its cases.
    pub cases: u32,
    /// Those whose 30 days are known; the others stand in no chart.
    pub known: u32,
    /// Major complications and deaths among them.
    pub events: u32,
    /// How many were expected.
    pub expected: f64,
    /// Observed over expected with its exact Poisson interval; `None` where nothing is expected.
    pub ratio: Option<Interval>,
    /// Its place in the funnel; `None` without a known case.
    pub funnel: Option<Funnel>,
    /// The cumulative sum.
    pub course: Course,
}

impl CentreChart {
    /// Of a centre's cases in their order.
    pub(super) fn of<C: Charted>(code: CentreCode, cases: &[C], expectation: &Expectation) -> Self {
        let known: Vec<(&C, bool)> = cases.iter().filter_map(|case| Some((case, case.major()?))).collect();
        let events = known.iter().filter(|(_, major)| *major).count() as u32;
        let expected: f64 = known.iter().map(|(case, _)| expectation.rate(case.group())).sum();
        let ratio = ExpectedEvents::new(expected).ok().map(|expected| {
            exact_poisson_interval(ObservedExpected { observed: events, expected }, Confidence::NINETY_FIVE)
        });
        Self {
            code,
            cases: cases.len() as u32,
            known: known.len() as u32,
            events,
            expected,
            ratio,
            funnel: Funnel::of(events, known.len() as u32, expected),
            course: Course::of(cases, expectation),
        }
    }
}

/// The cumulative sum of a centre, over the cases whose 30 days are known.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Course {
    /// The sum after every case and whether the case was an event; after a signal it starts afresh.
    pub points: Vec<(f64, bool)>,
    /// Where it signalled, as places among all cases of the centre.
    pub(super) signals: Vec<usize>,
}

impl Course {
    fn of<C: Charted>(cases: &[C], expectation: &Expectation) -> Self {
        let (Ok(change), Ok(line)) = (WatchedChange::new(WATCHED_ODDS_RATIO), Threshold::new(SIGNAL_LINE))
        else {
            return Self::default();
        };
        let known: Vec<(usize, WatchedCase)> = cases
            .iter()
            .enumerate()
            .filter_map(|(at, case)| {
                Some((at, WatchedCase { event: case.major()?, expected: expectation.probability(case)? }))
            })
            .collect();
        let watched: Vec<WatchedCase> = known.iter().map(|(_, case)| *case).collect();
        let points = signalling_cusum(&watched, change, line);
        let signals = known.iter().zip(&points).filter(|(_, point)| point.signal).map(|((at, _), _)| *at);
        Self {
            signals: signals.collect(),
            points: watched.iter().zip(&points).map(|(case, point)| (point.height, case.event)).collect(),
        }
    }

    /// The highest point and the case, from 1, at which it was first reached.
    pub fn peak(&self) -> Option<(usize, f64)> {
        peak(self.points.iter().map(|(height, _)| *height))
    }
}

/// A centre's place among limits that a centre on target would keep. The target is what its own
/// kinds of procedure lead one to expect.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Funnel {
    /// Share with a major complication.
    pub share: f64,
    /// Limits that 1 in 20 centres on target would leave.
    pub ordinary: FunnelLimits,
    /// Limits that 1 in 500 would leave.
    pub far: FunnelLimits,
}

impl Funnel {
    fn of(events: u32, known: u32, expected: f64) -> Option<Self> {
        let cases = NonZeroU32::new(known)?;
        let target = Target::new(expected / f64::from(known)).ok()?;
        let limits = |level| Some(exact_funnel_limits(target, cases, Confidence::new(level).ok()?));
        let share = f64::from(events) / f64::from(known);
        Some(Self { share, ordinary: limits(ORDINARY)?, far: limits(FAR)? })
    }

    /// Above the outer limit.
    pub fn is_far_above(&self) -> bool {
        self.share > self.far.upper
    }

    /// Below the outer limit: perhaps better, perhaps not all was reported.
    pub fn is_far_below(&self) -> bool {
        self.share < self.far.lower
    }
}

/// After how many cases on average a chart signals by chance, at the rate of all procedures.
pub(super) fn false_signal_after(expectation: &Expectation) -> Option<f64> {
    let expected = ExpectedProbability::new(expectation.overall).ok()?;
    let chart = SteadyChart::new(expected, WatchedChange::new(WATCHED_ODDS_RATIO).ok()?).ok()?;
    average_run_length(chart, Threshold::new(SIGNAL_LINE).ok()?, ActualOddsRatio::IN_CONTROL).ok()
}

/// The chart in numbers: its highest point, and at which cases of the centre it signalled. The sum
/// after every case would be as good as its rows.
impl Serialize for Course {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct InNumbers {
            highest: Option<f64>,
            at_case: Option<usize>,
            signals_at_cases: Vec<usize>,
        }
        let peak = self.peak();
        InNumbers {
            highest: peak.map(|(_, height)| height),
            at_case: peak.map(|(case, _)| case),
            signals_at_cases: self.signals.iter().map(|at| at + 1).collect(),
        }
        .serialize(serializer)
    }
}
