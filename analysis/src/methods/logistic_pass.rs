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
        let mut block = RowBlock::of(cases.design, units);
        for first in (0..cases.design.cases()).step_by(BLOCK * stride) {
            block.read(first, stride);
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

/// Probability of the event and of its absence: from the odds against the likelier side, so that
/// neither loses digits.
pub(super) fn tails(log_odds: f64) -> (f64, f64) {
    let against = libm::exp(-log_odds.abs());
    let likely = 1.0 / (1.0 + against);
    let unlikely = against * likely;
    if log_odds >= 0.0 { (likely, unlikely) } else { (unlikely, likely) }
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
        // The product of at most 256 factors from one half has one logarithm for the whole block.
        let mut product = 1.0;
        for (case, event) in events.enumerate() {
            let odds = log_odds[case];
            let (with, without) = tails(odds);
            outcomes.probabilities[case] = with;
            outcomes.residuals[case] = if *event { without } else { -with };
            outcomes.weights[case] = with * without;
            product *= with.max(without);
            outcomes.log_likelihood += if *event { odds } else { -odds }.min(0.0);
        }
        outcomes.log_likelihood += libm::log(product);
        outcomes
    }
}
