//! One centre as it is watched: its charts, what called for a look, and what looks unlike data from
//! a ward.

use super::WatchCase;
use super::chart::CentreChart;
use super::checks::{self, Check};
use super::expected::Expectation;
use super::signal::{self, Signal};
use quietbeam_schema::ids::CentreCode;

/// One centre.
#[derive(Debug, Clone, PartialEq)]
pub struct CentreWatch {
    /// What happened beside what was expected.
    pub chart: CentreChart,
    /// What called for a look, in the order of the rules.
    pub signals: Vec<Signal>,
    /// What looks unlike data from a ward.
    pub checks: Vec<Check>,
}

impl CentreWatch {
    pub(super) fn of(code: CentreCode, cases: &[WatchCase], expectation: &Expectation) -> Self {
        let chart = CentreChart::of(code, cases, expectation);
        Self {
            signals: signal::of(cases, &chart.course, chart.funnel.as_ref()),
            checks: checks::of(cases, chart.funnel.as_ref()),
            chart,
        }
    }
}
