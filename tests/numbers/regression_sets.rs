//! The data sets of the regression checks: outcome, treatment, centre and six covariates.

use quietbeam_analysis::methods::design::Design;

use crate::reference::{Row, rows};

/// Columns of the regression, in order; the treatment is the first.
pub(crate) const COLUMNS: [&str; 7] = ["t", "x1", "x2", "x3", "x4", "x5", "x6"];

/// Sets on which a finite maximum exists.
pub(crate) const ESTIMABLE: [&str; 4] = ["lalonde", "reg_a", "reg_b", "reg_small"];

/// One data set.
#[derive(Clone)]
pub(crate) struct RegressionSet {
    pub(crate) columns: Vec<Vec<f64>>,
    pub(crate) events: Vec<bool>,
    pub(crate) centres: Vec<u32>,
}

impl RegressionSet {
    pub(crate) fn read(name: &str) -> Self {
        let all = rows("covariates.csv");
        let own: Vec<&Row> = all.iter().filter(|row| row.text("set_id") == name).collect();
        Self {
            columns: COLUMNS.map(|c| own.iter().map(|row| row.number(c)).collect()).to_vec(),
            events: own.iter().map(|row| row.text("y") == "1").collect(),
            centres: own.iter().map(|row| row.number("site")).collect(),
        }
    }

    pub(crate) fn design(&self) -> Design {
        Design::new(self.events.len(), &self.columns).unwrap()
    }
}

/// Place of a term among the coefficients.
pub(crate) fn place(term: &str) -> usize {
    COLUMNS.iter().position(|c| *c == term).map_or(0, |j| j + 1)
}
