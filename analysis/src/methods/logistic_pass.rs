//! One pass over the cases of a logistic regression.

use nalgebra::{DMatrix, DVector};

use super::logistic::LogisticCases;
use super::row_blocks::{BLOCK, Lane, RowBlock, Units, mirrored};

/// Likelihood, score and information at some coefficients.
pub(super) struct Pass {
    pub(super) log_likelihood: f64,
    pub(super) score: DVector<f64>,
    pub(super) information: DMatrix<f64>,
    /// One a case; empty for a sample of the cases.
    pub(super) probabilities: Vec<f64>,
}

impl Pass {
    /// Over every `stride`-th case.
    pub(super) fn at(
        cases: LogisticCases<'_>,
        units: &Units,
        coefficients: &DVector<f64>,
        stride: usize,
    ) -> Self {
        let terms = units.terms();
        let mut pass = Self {
            log_likelihood: 0.0,
            score: DVector::zeros(terms),
            information: DMatrix::zeros(terms, terms),
            probabilities: Vec::with_capacity(if stride == 1 { cases.design.cases() } else { 0 }),
        };
        let mut block = RowBlock::new(terms);
        for first in (0..cases.design.cases()).step_by(BLOCK * stride) {
            block.read(cases.design, units, first, stride);
            let events = cases.events[first..].iter().step_by(stride);
            let outcomes = Outcomes::of(&block.combine(coefficients), events.take(block.cases));
            pass.log_likelihood += outcomes.log_likelihood;
            block.add_weighted(&outcomes.residuals, &mut pass.score);
            block.add_crossed(&outcomes.weights, &mut pass.information);
            if stride == 1 {
                pass.probabilities.extend_from_slice(&outcomes.probabilities[..block.cases]);
            }
        }
        pass.information = mirrored(pass.information);
        pass
    }
}

/// Outcomes of one block against their log odds; zero beyond the last case.
struct Outcomes {
    probabilities: Lane,
    residuals: Lane,
    weights: Lane,
    log_likelihood: f64,
}

impl Outcomes {
    fn of<'a>(log_odds: &Lane, events: impl Iterator<Item = &'a bool>) -> Self {
        let zero = [0.0; BLOCK];
        let mut outcomes = Self { probabilities: zero, residuals: zero, weights: zero, log_likelihood: 0.0 };
        // The product of at most 256 factors up to 2 has one logarithm for the whole block.
        let mut product = 1.0;
        for (case, event) in events.enumerate() {
            let odds = log_odds[case];
            // Both tails from the odds against the likelier side: neither loses digits.
            let against = libm::exp(-odds.abs());
            let whole = 1.0 + against;
            let (likely, unlikely) = (1.0 / whole, against / whole);
            let (with, without) = if odds >= 0.0 { (likely, unlikely) } else { (unlikely, likely) };
            outcomes.probabilities[case] = with;
            outcomes.residuals[case] = if *event { without } else { -with };
            outcomes.weights[case] = likely * unlikely;
            product *= whole;
            if *event != (odds >= 0.0) {
                outcomes.log_likelihood -= odds.abs();
            }
        }
        outcomes.log_likelihood -= libm::log(product);
        outcomes
    }
}
