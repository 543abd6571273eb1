//! Cases as numbers, in the order of the rows. Whoever compares puts those into an order that
//! does not depend on how they were read, so that no rounding does either.

use crate::distinct::distinct;
use crate::methods::column::Column;
use crate::methods::design::Design;
use crate::methods::interval::NotEstimable;
use crate::methods::runs::Runs;
use crate::methods::standardisation::RatioOf;
use std::cmp::Ordering;
use std::sync::Arc;

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
    pub(in crate::study) columns: Vec<Arc<Column>>,
    /// What nobody wants: the ratio of risks is that of this.
    pub(in crate::study) unwanted: RatioOf,
    /// Something within the centres that a variance is clustered by too, such as the operator;
    /// empty where nobody asked.
    pub(in crate::study) within: Vec<u32>,
}

impl Cases {
    /// By centre, arm, outcome and covariates.
    pub(super) fn in_order(self) -> Self {
        let mut order: Vec<usize> = (0..self.events.len()).collect();
        order.sort_by(|one, other| self.compare(*one, *other));
        self.only(&order.into_iter().collect())
    }

    fn compare(&self, one: usize, other: usize) -> Ordering {
        let key = |at: usize| (self.labels[at], self.in_first[at], self.events[at]);
        let differing = || {
            let orders = self.columns.iter().map(|column| column.at(one).total_cmp(&column.at(other)));
            orders.into_iter().find(|order| order.is_ne())
        };
        key(one).cmp(&key(other)).then_with(|| differing().unwrap_or(Ordering::Equal))
    }

    /// Some of the cases, in their order.
    pub(super) fn only(&self, cases: &Runs) -> Self {
        Self {
            in_first: cases.of(&self.in_first),
            events: cases.of(&self.events),
            labels: cases.of(&self.labels),
            columns: self.columns.iter().map(|column| Arc::new(column.only(cases))).collect(),
            unwanted: self.unwanted,
            within: if self.within.is_empty() { Vec::new() } else { cases.of(&self.within) },
        }
    }

    /// How many centres there are.
    pub(super) fn centres(&self) -> usize {
        self.levels().len()
    }

    /// The labels that occur.
    pub(super) fn levels(&self) -> Vec<u32> {
        distinct(self.labels.iter().copied())
    }

    /// Centre indicators and covariates, and the arm last if asked. A column that is the same in
    /// every case tells nothing and is left out.
    pub(super) fn design(&self, with_arm: bool) -> Result<Design, NotEstimable> {
        let cases = self.labels.len();
        let of_level =
            |level: &u32| Arc::new(Column::of_flags(self.labels.iter().map(|label| label == level)));
        let mut columns: Vec<Arc<Column>> = self.levels().iter().skip(1).map(of_level).collect();
        columns.extend(self.columns.iter().filter(|column| column.varies()).cloned());
        columns.extend(with_arm.then(|| Arc::new(Column::of_flags(self.in_first.iter().copied()))));
        // Values are recorded within their limits.
        Design::of_columns(cases, columns).map_err(|_| NotEstimable::NoVariation)
    }
}
