//! Proportions over centres with a random intercept.

use super::calculation::Calculation;
use super::cells::{Cells, number};
use super::centres::Centres;
use super::column::Output;
use super::line::Cell;
use crate::methods::interval::Confidence;
use crate::methods::random_intercept::{RandomIntercept, random_intercept_logistic};

pub(super) fn family() -> Vec<Calculation> {
    vec![Calculation::new(
        "random_intercept_logistic",
        "pinheiro_bates1995, hamza2008, zeger1988",
        "Proportion at the median centre and over all centres, each centre with its own log odds",
        |centres: Centres, level: Confidence| random_intercept_logistic(&centres.counts, level),
    )]
}

impl Cells for RandomIntercept {
    const COLUMNS: &'static [Output] = &[
        Output::new("estimate", "proportion at the median centre"),
        Output::new("lower", "its lower confidence limit"),
        Output::new("upper", "its upper confidence limit"),
        Output::new("marginal", "mean proportion over all centres"),
        Output::new("marginal_lower", "its lower confidence limit"),
        Output::new("marginal_upper", "its upper confidence limit"),
        Output::new("log_odds", "log odds at the median centre"),
        Output::new("se", "standard error of the log odds"),
        Output::new("tau_squared", "variance of the centres' log odds"),
    ];

    fn cells(&self) -> Vec<Cell> {
        let mut cells = self.median_centre.cells();
        cells.extend(self.marginal.cells());
        cells.extend([self.log_odds, self.standard_error, self.tau_squared].map(number));
        cells
    }
}
