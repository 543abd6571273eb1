//! Regression work that is timed: a million cases, ten columns, fifty centres.

use std::path::Path;

use quietbeam_analysis::methods::cluster_variance::cr1s_variance;
use quietbeam_analysis::methods::clustered::ClusteredFit;
use quietbeam_analysis::methods::design::Design;
use quietbeam_analysis::methods::logistic::logistic_regression;
use quietbeam_analysis::methods::logistic_cases::LogisticCases;
use quietbeam_analysis::methods::standardisation::{effects_covariates_fixed, standardise};

use crate::work::Chance;

pub(crate) const CASES: usize = 1_000_000;
const COLUMNS: usize = 10;
const CENTRES: u32 = 50;

/// Cases with their outcomes and centres; the first column is the treatment.
pub(crate) struct Cases {
    pub(crate) design: Design,
    pub(crate) events: Vec<bool>,
    pub(crate) centres: Vec<u32>,
}

impl Cases {
    pub(crate) fn draw() -> Self {
        let (columns, events, centres) = columns();
        Self { design: Design::new(CASES, &columns).unwrap(), events, centres }
    }
}

pub(crate) fn columns() -> (Vec<Vec<f64>>, Vec<bool>, Vec<u32>) {
    let mut chance = Chance::of(5);
    let mut columns: Vec<Vec<f64>> = (0..COLUMNS).map(|_| Vec::with_capacity(CASES)).collect();
    let (mut events, mut centres) = (Vec::with_capacity(CASES), Vec::with_capacity(CASES));
    let shift: Vec<f64> = (0..CENTRES).map(|_| 0.4 * (chance.uniform() - 0.5)).collect();
    for _ in 0..CASES {
        let centre = chance.whole(0, CENTRES - 1);
        let mut log_odds = -2.0 + shift[centre as usize];
        for (number, column) in columns.iter_mut().enumerate() {
            let value = match number {
                0 => f64::from(u8::from(chance.uniform() < 0.5)),
                1..5 => f64::from(u8::from(chance.uniform() < 0.3)),
                _ => 2.0 * chance.uniform() - 1.0,
            };
            log_odds += 0.1 * (number as f64 - 4.0) * value;
            column.push(value);
        }
        events.push(chance.uniform() < 1.0 / (1.0 + (-log_odds).exp()));
        centres.push(centre);
    }
    (columns, events, centres)
}

/// Little-endian doubles, column after column: outcome, centre, then the design.
pub(crate) fn write(folder: &Path) {
    let (columns, events, centres) = columns();
    let mut bytes = Vec::with_capacity(8 * CASES * (COLUMNS + 2));
    let mut push = |value: f64| bytes.extend_from_slice(&value.to_le_bytes());
    events.iter().for_each(|event| push(f64::from(u8::from(*event))));
    centres.iter().for_each(|centre| push(f64::from(*centre)));
    columns.iter().flatten().for_each(|value| push(*value));
    std::fs::write(folder.join("regression.bin"), bytes).unwrap();
}

/// The standard error of the treatment, clustered by centre.
pub(crate) fn logistic_clustered(cases: &Cases) -> f64 {
    let fit = logistic_regression(LogisticCases::new(&cases.design, &cases.events).unwrap()).unwrap();
    let clustered = ClusteredFit::new(&fit, &cases.centres).unwrap();
    cr1s_variance(&clustered).unwrap().coefficients()[1].unwrap().standard_error
}

/// The standard error of the standardised risk difference, clustered by centre.
pub(crate) fn standardised(cases: &Cases) -> f64 {
    let fit = logistic_regression(LogisticCases::new(&cases.design, &cases.events).unwrap()).unwrap();
    let clustered = ClusteredFit::new(&fit, &cases.centres).unwrap();
    let variance = cr1s_variance(&clustered).unwrap();
    effects_covariates_fixed(&standardise(&variance, 1).unwrap()).unwrap().difference.standard_error
}
