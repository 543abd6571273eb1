//! The cases of a logistic regression.

use super::design::Design;
use super::events_per_parameter::EventsPerParameter;
use super::interval::NotEstimable;
use super::row_blocks::Units;

/// Why some outcomes are not those of the cases.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{found} outcomes for {cases} cases")]
pub struct OutcomesError {
    /// Outcomes given.
    pub found: usize,
    /// Cases of the design.
    pub cases: usize,
}

/// Covariates and outcomes of the same cases.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LogisticCases<'a> {
    pub(super) design: &'a Design,
    pub(super) events: &'a [bool],
}

impl<'a> LogisticCases<'a> {
    /// One outcome a case; the regression adds an intercept to the columns of the design.
    ///
    /// # Errors
    /// Another number of outcomes than cases.
    pub fn new(design: &'a Design, events: &'a [bool]) -> Result<Self, OutcomesError> {
        let (found, cases) = (events.len(), design.cases());
        if found == cases { Ok(Self { design, events }) } else { Err(OutcomesError { found, cases }) }
    }

    /// What its columns are standardised by, where there is something to explain.
    pub(super) fn units(self) -> Result<Units, NotEstimable> {
        if self.events_per_parameter().rarer == 0 {
            return Err(NotEstimable::NoVariation);
        }
        Units::of(self.design)
    }

    pub(super) fn events_per_parameter(self) -> EventsPerParameter {
        let events = self.events.iter().filter(|event| **event).count();
        let rarer = events.min(self.events.len() - events);
        EventsPerParameter { rarer, parameters: self.design.columns() }
    }
}
