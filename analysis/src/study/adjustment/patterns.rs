//! The cases that enter the models, counted by what the models see of them.

use super::numbers::{Entered, Numbers};
use crate::study::arm::Arm;
use crate::study::endpoint::Endpoint;
use crate::study::population::Population;
use quietbeam_schema::vocabulary::MissingCovariate;

/// Cases alike in centre, arm, outcome and every covariate's column.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::study) struct Pattern {
    /// The centre as a number from 1, in the order of the codes.
    pub(in crate::study) centre: u32,
    /// The arm.
    pub(in crate::study) arm: Arm,
    /// Had the event.
    pub(in crate::study) event: bool,
    /// The covariates, in the order of the terms.
    pub(in crate::study) values: Vec<f64>,
    /// How many cases.
    pub(in crate::study) cases: u32,
}

impl Pattern {
    fn alike(&self, other: &Self) -> bool {
        (self.centre, self.arm, self.event) == (other.centre, other.arm, other.event)
            && self.values == other.values
    }
}

/// What the models of an endpoint in a population see: nothing else enters them.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::study) struct Patterns {
    /// The names of the covariates' columns.
    pub(in crate::study) terms: Vec<String>,
    /// Each pattern once, by centre, arm, outcome and covariates.
    pub(in crate::study) patterns: Vec<Pattern>,
}

impl Patterns {
    /// Counts the cases of an endpoint in a population.
    pub(in crate::study) fn new(numbers: &Numbers<'_>, endpoint: Endpoint, population: Population) -> Self {
        Self::of(numbers.entered(endpoint, population, |_, _| true))
    }

    /// The same as intended with the use of intracardiac echo among the covariates.
    pub(in crate::study) fn with_echo(
        numbers: &Numbers<'_>,
        endpoint: Endpoint,
        missing: MissingCovariate,
    ) -> Self {
        Self::of(numbers.entered_with_echo(endpoint, missing))
    }

    fn of(Entered { terms, model, .. }: Entered) -> Self {
        let model = model.in_order();
        let mut patterns: Vec<Pattern> = Vec::new();
        for at in 0..model.events.len() {
            let pattern = Pattern {
                centre: model.labels[at] + 1,
                arm: if model.in_first[at] { Arm::ZeroFluoroscopy } else { Arm::Conventional },
                event: model.events[at],
                values: model.columns.iter().map(|column| column.at(at)).collect(),
                cases: 1,
            };
            // The cases stand in order, so those alike stand together.
            match patterns.last_mut() {
                Some(last) if last.alike(&pattern) => last.cases += 1,
                _ => patterns.push(pattern),
            }
        }
        Self { terms, patterns }
    }

    /// Patterns that a single case has.
    pub(in crate::study) fn of_one_case(&self) -> usize {
        self.patterns.iter().filter(|pattern| pattern.cases == 1).count()
    }
}
