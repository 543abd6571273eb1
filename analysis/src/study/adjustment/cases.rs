//! Cases as numbers, in an order that does not depend on how they were read, so that no
//! rounding does either.

use super::covariates::Term;
use super::known;
use crate::methods::design::{Design, indicators};
use crate::methods::interval::NotEstimable;
use crate::study::cohort::CaseRow;
use crate::study::endpoint::Endpoint;
use crate::study::population::{Arm, Population};
use quietbeam_schema::ids::CentreCode;
use std::cmp::Ordering;

/// Cases with arm, outcome, centre and covariates, one vector each.
#[derive(Default)]
pub(in crate::study) struct Cases {
    /// In the zero-fluoroscopy arm.
    pub(in crate::study) in_first: Vec<bool>,
    /// Had the event.
    pub(in crate::study) events: Vec<bool>,
    /// The centre as a number.
    pub(in crate::study) labels: Vec<u32>,
    /// The columns of the covariates.
    pub(in crate::study) columns: Vec<Vec<f64>>,
}

impl Cases {
    /// The rows whose arm and outcome are known.
    pub(super) fn new(
        rows: &[&CaseRow],
        endpoint: Endpoint,
        population: Population,
        terms: Vec<Term>,
    ) -> Self {
        let mut centres: Vec<CentreCode> = rows.iter().map(|case| case.centre).collect();
        centres.sort_unstable();
        centres.dedup();
        let mut cases = Self::default();
        let mut values: Vec<Vec<f64>> = vec![Vec::new(); terms.len()];
        for (at, case) in rows.iter().enumerate() {
            let Some((arm, event)) = known(case, endpoint, population) else { continue };
            let before = centres.partition_point(|centre| *centre < case.centre);
            cases.labels.push(before as u32);
            cases.in_first.push(arm == Arm::ZeroFluoroscopy);
            cases.events.push(event);
            values.iter_mut().zip(&terms).for_each(|(values, (_, column))| values.push(column[at]));
        }
        cases.columns = values;
        cases.in_order()
    }

    fn in_order(self) -> Self {
        let mut order: Vec<usize> = (0..self.events.len()).collect();
        order.sort_by(|one, other| self.compare(*one, *other));
        self.only(&order)
    }

    fn compare(&self, one: usize, other: usize) -> Ordering {
        let key = |at: usize| (self.labels[at], self.in_first[at], self.events[at]);
        let differing = || {
            let orders = self.columns.iter().map(|column| column[one].total_cmp(&column[other]));
            orders.into_iter().find(|order| order.is_ne())
        };
        key(one).cmp(&key(other)).then_with(|| differing().unwrap_or(Ordering::Equal))
    }

    /// The cases at these places, in this order.
    pub(super) fn only(&self, places: &[usize]) -> Self {
        Self {
            in_first: places.iter().map(|at| self.in_first[*at]).collect(),
            events: places.iter().map(|at| self.events[*at]).collect(),
            labels: places.iter().map(|at| self.labels[*at]).collect(),
            columns: self
                .columns
                .iter()
                .map(|column| places.iter().map(|at| column[*at]).collect())
                .collect(),
        }
    }

    /// How many centres there are.
    pub(super) fn centres(&self) -> usize {
        let mut labels = self.labels.clone();
        labels.sort_unstable();
        labels.dedup();
        labels.len()
    }

    /// Centre indicators and covariates, and the arm last if asked. A column that is the same in
    /// every case tells nothing and is left out.
    pub(super) fn design(&self, with_arm: bool) -> Result<Design, NotEstimable> {
        let mut columns = indicators(&self.labels);
        columns.extend(self.columns.iter().filter(|column| varies(column)).cloned());
        if with_arm {
            columns.push(self.in_first.iter().map(|first| f64::from(u8::from(*first))).collect());
        }
        // Columns are as long as the cases; values are recorded within their limits.
        Design::new(self.events.len(), &columns).map_err(|_| NotEstimable::NoVariation)
    }
}

fn varies(column: &[f64]) -> bool {
    column.iter().any(|value| *value != column[0])
}
