//! One pass over the cases of a logistic regression.

use nalgebra::{DMatrix, DVector};

use pulp::{Arch, Simd, WithSimd};

use super::block_odds::{Sides, split};
use super::lanes::{BLOCK, Lane, sum_of};
use super::logistic_cases::LogisticCases;
use super::parts::over_parts_of;
use super::row_blocks::{RowBlock, Units, mirrored};

/// Likelihood, score and information at some coefficients.
pub(super) struct Pass {
    pub(super) log_likelihood: f64,
    pub(super) score: DVector<f64>,
    pub(super) information: DMatrix<f64>,
    /// One a case; empty for a sample of the cases.
    pub(super) probabilities: Vec<f64>,
}

/// The coefficients at which a pass is made.
pub(super) struct At<'a> {
    pub(super) cases: LogisticCases<'a>,
    pub(super) units: &'a Units,
    pub(super) coefficients: &'a DVector<f64>,
}

impl At<'_> {
    /// Over all cases; the information stays 0 unless asked for. `room` is memory for the
    /// probabilities, such as those of a pass that is done with.
    pub(super) fn pass(&self, informed: bool, mut room: Vec<f64>) -> Pass {
        let cases = self.cases.design.cases();
        if room.len() != cases {
            room = vec![0.0; cases];
        }
        let sums = over_parts_of(
            &mut room,
            |first, probabilities| self.sums(first, 1, informed, probabilities),
            Sums::add,
        );
        sums.pass(room)
    }

    /// Over every `stride`-th case.
    pub(super) fn sample(&self, stride: usize) -> Pass {
        self.sums(0, stride, true, &mut []).pass(Vec::new())
    }

    /// Over the cases from the first on that have a probability, or to the last where none has.
    fn sums(&self, start: usize, stride: usize, informed: bool, probabilities: &mut [f64]) -> Sums {
        let Self { cases, units, coefficients } = self;
        let end = if probabilities.is_empty() { cases.design.cases() } else { start + probabilities.len() };
        let mut sums = Sums::none(units.terms());
        let mut block = RowBlock::of(cases.design, units);
        for first in (start..end).step_by(BLOCK * stride) {
            block.read(first, stride);
            let events = cases.events[first..].iter().step_by(stride);
            let outcomes = Outcomes::of(&block.combine(coefficients), block.cases, events.take(block.cases));
            sums.log_likelihood += outcomes.log_likelihood;
            block.add_weighted(&outcomes.residuals, &mut sums.score);
            if informed {
                block.add_crossed(&outcomes.weights, &mut sums.information);
            }
            if let Some(own) = probabilities.get_mut(first - start..first - start + block.cases) {
                own.copy_from_slice(&outcomes.probabilities[..block.cases]);
            }
        }
        sums
    }
}

/// What the cases add up to; of the information the lower triangle.
struct Sums {
    log_likelihood: f64,
    score: DVector<f64>,
    information: DMatrix<f64>,
}

impl Sums {
    fn none(terms: usize) -> Self {
        Self { log_likelihood: 0.0, score: DVector::zeros(terms), information: DMatrix::zeros(terms, terms) }
    }

    fn add(mut self, other: Self) -> Self {
        self.log_likelihood += other.log_likelihood;
        self.score += other.score;
        self.information += other.information;
        self
    }

    fn pass(self, probabilities: Vec<f64>) -> Pass {
        let Self { log_likelihood, score, information } = self;
        Pass { log_likelihood, score, information: mirrored(information), probabilities }
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
    fn of<'a>(log_odds: &Lane, cases: usize, events: impl Iterator<Item = &'a bool>) -> Self {
        let mut had = [false; BLOCK];
        had.iter_mut().zip(events).for_each(|(had, event)| *had = *event);
        Arch::new().dispatch(Judging { log_odds, cases, had: &had })
    }
}

struct Judging<'a> {
    log_odds: &'a Lane,
    cases: usize,
    had: &'a [bool; BLOCK],
}

impl WithSimd for Judging<'_> {
    type Output = Outcomes;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Outcomes {
        let Self { log_odds, cases, had } = self;
        let Sides { with, without } = split(log_odds, cases);
        let (mut residuals, mut likelier, mut behind) = (Lane::ZERO, Lane::ONE, Lane::ZERO);
        for case in 0..BLOCK {
            residuals[case] = if had[case] { without[case] } else { -with[case] };
            let odds = if had[case] { log_odds[case] } else { -log_odds[case] };
            behind[case] = if odds < 0.0 { odds } else { 0.0 };
        }
        for case in 0..cases {
            likelier[case] = if with[case] > without[case] { with[case] } else { without[case] };
        }
        // A product of at most 256 factors from one half has one logarithm for the whole block.
        let mut product = [1.0; 8];
        for some in likelier.chunks_exact(8) {
            product.iter_mut().zip(some).for_each(|(product, factor)| *product *= factor);
        }
        let log_likelihood = sum_of(simd, &behind) + libm::log(product.iter().product());
        Outcomes { probabilities: with, residuals, weights: with.times(&without), log_likelihood }
    }
}
