//! A weighted comparison that is timed, on the cases of the regressions.

use quietbeam_analysis::methods::design::Design;
use quietbeam_analysis::methods::logistic_cases::LogisticCases;
use quietbeam_analysis::methods::propensity::{TargetPopulation, logistic_propensity};
use quietbeam_analysis::methods::weighting::{WeightedCases, hajek_risks, weighted_cr2};

use crate::regression::{CASES, columns};

/// Cases with the treatment told apart from the covariates that its propensity is made of.
pub(crate) struct TreatedCases {
    covariates: Design,
    treated: Vec<bool>,
    events: Vec<bool>,
    centres: Vec<u32>,
}

impl TreatedCases {
    pub(crate) fn draw() -> Self {
        let (columns, events, centres) = columns();
        let treated = columns[0].iter().map(|value| *value == 1.0).collect();
        Self { covariates: Design::new(CASES, &columns[1..]).unwrap(), treated, events, centres }
    }
}

/// The standard error of the overlap-weighted risk difference, clustered by centre.
pub(crate) fn weighted(cases: &TreatedCases) -> f64 {
    let propensity =
        logistic_propensity(LogisticCases::new(&cases.covariates, &cases.treated).unwrap()).unwrap();
    let weighted = WeightedCases::new(&propensity, &cases.events, &cases.centres).unwrap();
    let risks = hajek_risks(weighted, TargetPopulation::Overlap).unwrap();
    weighted_cr2(risks.difference.unwrap()).unwrap().standard_error
}
