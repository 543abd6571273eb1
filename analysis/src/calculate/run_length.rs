//! How long a chart runs until it signals, before its first case.

use std::num::NonZeroU32;

use super::calculation::Calculation;
use super::cells::{Cells, Estimate, number};
use super::column::{Column, Output};
use super::input::Input;
use super::line::Cell;
use super::table::Table;
use super::trouble::Trouble;
use crate::methods::cusum::{ExpectedProbability, Threshold, WatchedChange};
use crate::methods::run_length::{
    ActualOddsRatio, PlannedThreshold, RunLength, SteadyChart, average_run_length, signal_within,
    threshold_for_run_length,
};

pub(super) fn family() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "average_run_length",
            "steiner2000, brook_evans1972",
            "Average number of cases until a chart signals",
            |chart: SteadyChart, threshold: Threshold, actual: ActualOddsRatio| {
                average_run_length(chart, threshold, actual).map(Estimate)
            },
        ),
        C::new(
            "signal_within",
            "steiner2000, brook_evans1972",
            "Probability that a chart signals within a number of cases",
            |chart: SteadyChart, threshold: Threshold, actual: ActualOddsRatio, cases: NonZeroU32| {
                signal_within(chart, threshold, actual, cases.get()).map(Estimate)
            },
        ),
        C::new(
            "threshold_for_run_length",
            "steiner2000",
            "Lowest threshold of a chart for a wanted run length in control",
            |chart: SteadyChart, wanted: RunLength| threshold_for_run_length(chart, wanted),
        ),
    ]
}

impl Input for SteadyChart {
    fn columns() -> Vec<Column> {
        let expected =
            Column::value("expected", "the probability of the event that every case is expected to have");
        [vec![expected], WatchedChange::columns()].concat()
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let row = table.first();
        let expected = row.checked("expected", ExpectedProbability::new)?;
        let change = WatchedChange::read(table)?;
        Self::new(expected, change).map_err(|error| row.trouble("expected", error.into()))
    }
}

impl Input for ActualOddsRatio {
    fn columns() -> Vec<Column> {
        vec![Column::parameter("actual", "the odds at work over the odds expected; 1 is in control").or("1")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        table.parameter("actual")?.checked("actual", Self::new)
    }
}

impl Input for RunLength {
    fn columns() -> Vec<Column> {
        vec![Column::parameter("run_length", "the average number of cases wanted until a false signal")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        table.parameter("run_length")?.checked("run_length", Self::new)
    }
}

impl Cells for PlannedThreshold {
    const COLUMNS: &'static [Output] = &[
        Output::new("threshold", "height at which the sum signals"),
        Output::new("in_control_run_length", "average number of cases until a false signal"),
    ];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.threshold.height()), number(self.in_control_run_length)]
    }
}
