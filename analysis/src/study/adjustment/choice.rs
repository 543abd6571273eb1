//! The choice of arm as a model of centre and covariates, whatever came of it.

use super::numbers::Numbers;
use crate::methods::design::Design;
use crate::methods::interval::NotEstimable;
use crate::methods::logistic_cases::LogisticCases;
use crate::methods::propensity::{Propensity, logistic_propensity};
use crate::study::cohort::CaseRow;

/// The cases of both arms, as intended, whose choice is modelled.
pub(in crate::study) struct Choice<'n, 'r> {
    numbers: &'n Numbers<'r>,
    in_first: Vec<bool>,
    design: Result<Design, NotEstimable>,
}

impl<'n, 'r> Choice<'n, 'r> {
    /// All that take part by the plan.
    pub(in crate::study) fn new(numbers: &'n Numbers<'r>) -> Self {
        let cases = numbers.choice();
        let design = cases.design(false);
        Self { numbers, in_first: cases.in_first, design }
    }

    /// The cases.
    pub(in crate::study) fn rows(&self) -> &[&'r CaseRow] {
        self.numbers.rows()
    }

    /// Which of them are in the zero-fluoroscopy arm.
    pub(in crate::study) fn in_first(&self) -> &[bool] {
        &self.in_first
    }

    /// The chance of each case to have been in the zero-fluoroscopy arm.
    pub(in crate::study) fn propensity(&self) -> Result<Propensity<'_>, NotEstimable> {
        let design = self.design.as_ref().map_err(|why| *why)?;
        let cases = LogisticCases::new(design, &self.in_first).map_err(|_| NotEstimable::NoVariation)?;
        logistic_propensity(cases)
    }
}
