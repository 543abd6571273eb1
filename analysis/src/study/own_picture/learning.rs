//! The operators' zero-fluoroscopy cases in their order: does X-ray come to be needed more
//! rarely? By codes that mean something at the own centre alone; by case order, never by date.

use super::super::peak::peak;
use super::super::share::Share;
use super::{FEW, LEVEL, OwnCase};
use crate::methods::cusum::{ExpectedProbability, Threshold, WatchedCase, WatchedChange, signalling_cusum};
use crate::methods::run_length::{ActualOddsRatio, SteadyChart, average_run_length};
use quietbeam_schema::value::OperatorCode;
use quietbeam_schema::vocabulary::Strategy;
use std::collections::BTreeMap;

/// X-ray after all in 5 of 100 cases intended without: published completion is near 95 % (95.1 %
/// in the meta-analysis of Debreceni and others, Front Cardiovasc Med 2023;10:1178783). A
/// yardstick on which to draw, not a standard to be met.
pub const EXPECTED_CROSS_OVER: f64 = 0.05;

/// The chart is tuned to doubled odds.
pub const WATCHED_ODDS_RATIO: f64 = 2.0;

/// Where the chart signals.
pub const SIGNAL_LINE: f64 = 3.0;

/// How many first cases of an operator stand apart; after about 25 a new way of working has
/// settled (published experience, sources A18 and A20 of the dictionary).
pub const FIRST_CASES: usize = 25;

/// All operators.
#[derive(Debug, Clone, PartialEq)]
pub struct Learning {
    /// Each operator with a case intended without X-ray, most cases first.
    pub operators: Vec<Operator>,
    /// Cases intended without X-ray that name no operator.
    pub without_operator: u32,
    /// After how many cases on average the chart signals although nothing is wrong; `None`
    /// where that cannot be computed.
    pub false_signal_after: Option<f64>,
}

/// One operator.
#[derive(Debug, Clone, PartialEq)]
pub struct Operator {
    /// The code.
    pub code: OperatorCode,
    /// Cases intended without X-ray.
    pub cases: u32,
    /// The chart; `None` with too few cases to say.
    pub chart: Option<Chart>,
}

/// X-ray after all, case by case. A complication that called for X-ray is no event here.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    /// X-ray after all in the first 25 cases.
    pub first: Share,
    /// And in the later ones; without cases as long as there are none.
    pub later: Share,
    /// Whether X-ray was used, case by case.
    pub events: Vec<bool>,
    /// The cumulative sum after every case; after a signal it starts afresh.
    pub heights: Vec<f64>,
    /// The cases, from 1, at which it signalled.
    pub signals: Vec<usize>,
}

impl Chart {
    /// The highest point, and the case, from 1, at which it was reached.
    pub fn peak(&self) -> Option<(usize, f64)> {
        peak(self.heights.iter().copied())
    }

    fn of(events: Vec<bool>) -> Option<Self> {
        let expected = ExpectedProbability::new(EXPECTED_CROSS_OVER).ok()?;
        let change = WatchedChange::new(WATCHED_ODDS_RATIO).ok()?;
        let threshold = Threshold::new(SIGNAL_LINE).ok()?;
        let cases: Vec<WatchedCase> =
            events.iter().map(|event| WatchedCase { event: *event, expected }).collect();
        let points = signalling_cusum(&cases, change, threshold);
        let signals = points.iter().enumerate().filter(|(_, point)| point.signal);
        let (first, later) = events.split_at(events.len().min(FIRST_CASES));
        let share = |part: &[bool]| {
            Share::new(part.iter().filter(|event| **event).count() as u32, part.len() as u32, LEVEL)
        };
        Some(Self {
            first: share(first),
            later: share(later),
            signals: signals.map(|(place, _)| place + 1).collect(),
            heights: points.iter().map(|point| point.height).collect(),
            events,
        })
    }
}

impl Learning {
    /// From cases in their order.
    pub(super) fn of(cases: &[OwnCase]) -> Self {
        let mut events = BTreeMap::<OperatorCode, Vec<bool>>::new();
        let mut without_operator = 0;
        for case in cases.iter().filter(|case| case.row.intended == Strategy::Zero) {
            match case.operator {
                Some(code) => {
                    events.entry(code).or_default().push(case.beam_on() && !case.for_a_complication());
                }
                None => without_operator += 1,
            }
        }
        let mut operators: Vec<Operator> = events
            .into_iter()
            .map(|(code, events)| Operator {
                code,
                cases: events.len() as u32,
                chart: if events.len() < FEW as usize { None } else { Chart::of(events) },
            })
            .collect();
        operators.sort_by_key(|operator| std::cmp::Reverse(operator.cases));
        Self { operators, without_operator, false_signal_after: false_signal_after() }
    }
}

fn false_signal_after() -> Option<f64> {
    let expected = ExpectedProbability::new(EXPECTED_CROSS_OVER).ok()?;
    let chart = SteadyChart::new(expected, WatchedChange::new(WATCHED_ODDS_RATIO).ok()?).ok()?;
    average_run_length(chart, Threshold::new(SIGNAL_LINE).ok()?, ActualOddsRatio::IN_CONTROL).ok()
}
