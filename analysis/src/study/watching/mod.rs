//! Watching while the registry runs: is a centre's harm out of line with what the network's cases
//! would lead one to expect, and does anything call for a look today? A signal asks a question; it
//! answers none. Strategies are not compared here: that is for a plan.

mod case;
mod centre;
mod chart;
mod checks;
mod expected;
mod signal;

use quietbeam_schema::ids::CentreCode;
use std::collections::BTreeMap;

pub use crate::methods::funnel::FunnelLimits;
pub use crate::methods::interval::Interval;
pub use case::{Charted, WatchCase};
pub use centre::CentreWatch;
pub use chart::{CentreChart, Charts, Course, Funnel, SIGNAL_LINE, WATCHED_ODDS_RATIO};
pub use checks::{Check, SILENT_CASES};
pub use expected::{Expectation, GroupRate};
pub use signal::{Rule, Signal, TAMPONADE_WINDOW};

/// The network as it is watched.
#[derive(Debug, Clone, PartialEq)]
pub struct Watch {
    /// How often a major complication or death is expected.
    pub expectation: Expectation,
    /// Every centre with cases, by code.
    pub centres: Vec<CentreWatch>,
    /// After how many cases on average a chart signals although nothing is wrong; `None` where
    /// that cannot be computed.
    pub false_signal_after: Option<f64>,
}

impl Watch {
    /// Watches cases in any order; within a quarter the order of entry is all that is known.
    pub fn of(mut cases: Vec<WatchCase>) -> Self {
        cases.sort_by_key(|case| (case.period, case.entered));
        let expectation = Expectation::of(&cases);
        let mut centres = BTreeMap::<CentreCode, Vec<WatchCase>>::new();
        for case in cases {
            centres.entry(case.centre).or_default().push(case);
        }
        let watched =
            |(code, cases): (CentreCode, Vec<WatchCase>)| CentreWatch::of(code, &cases, &expectation);
        Self {
            centres: centres.into_iter().map(watched).collect(),
            false_signal_after: chart::false_signal_after(&expectation),
            expectation,
        }
    }

    /// Every signal with its centre, the latest quarter first.
    pub fn signals(&self) -> Vec<(CentreCode, Signal)> {
        let of = |centre: &CentreWatch| {
            centre.signals.iter().map(|one| (centre.chart.code, *one)).collect::<Vec<_>>()
        };
        let mut signals: Vec<(CentreCode, Signal)> = self.centres.iter().flat_map(of).collect();
        signals.sort_by_key(|(_, signal)| std::cmp::Reverse((signal.period, signal.at_case)));
        signals
    }

    /// One centre, and of the network only what it is compared with.
    #[must_use]
    pub fn only(mut self, codes: &[CentreCode]) -> Self {
        self.centres.retain(|centre| codes.contains(&centre.chart.code));
        self
    }
}

#[cfg(test)]
mod tests;
