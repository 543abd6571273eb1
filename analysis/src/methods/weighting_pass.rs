//! Passes over the cases of a weighted comparison.

use std::sync::Arc;

use nalgebra::{DMatrix, DVector};

use super::block_odds::{Sides, sides_of};
use super::cluster_sums::numbered;
use super::clustered_influence::CentreInfluence;
use super::interval::NotEstimable;
use super::lanes::{BLOCK, Lane, total};
use super::propensity::TargetPopulation;
use super::row_blocks::{RowBlock, mirrored};
use super::weighting::WeightedCases;

/// One number for each arm, the first arm's first.
pub(super) type Ends = [f64; 2];

/// What the estimating equations sum to, with weights that sum to 1 in each arm.
pub(super) struct WeightedSums<'a> {
    cases: WeightedCases<'a>,
    target: TargetPopulation,
    pub(super) risks: Ends,
    /// Σw of each arm before the weights were made to sum to 1.
    weights: Ends,
    /// Σ dw/d(log odds) (y − risk) x of each arm.
    slopes: [DVector<f64>; 2],
    /// Σψψ'.
    total: DMatrix<f64>,
    /// Place of each case's centre.
    places: Arc<Vec<u32>>,
    centres: usize,
}

impl<'a> WeightedSums<'a> {
    pub(super) fn of(cases: WeightedCases<'a>, target: TargetPopulation) -> Result<Self, NotEstimable> {
        let (risks, weights) = risks(cases, target)?;
        let (places, centres) = numbered(cases.centres);
        let terms = cases.propensity.fit.units.terms();
        let slopes = [DVector::zeros(terms), DVector::zeros(terms)];
        let total = DMatrix::zeros(terms + 2, terms + 2);
        let mut sums = Self { cases, target, risks, weights, slopes, total, places, centres };
        sums.add_up();
        Ok(sums)
    }

    fn add_up(&mut self) {
        let terms = self.slopes[0].len();
        let mut scores = DMatrix::zeros(terms, terms);
        let zero = || DVector::zeros(terms);
        let (mut slopes, mut crossed, mut own) = ([zero(), zero()], [zero(), zero()], [0.0; 2]);
        self.each_block(|block, _, parts| {
            block.add_crossed(&parts.residual.times(&parts.residual), &mut scores);
            for arm in 0..2 {
                block.add_weighted(&parts.slope[arm], &mut slopes[arm]);
                block.add_weighted(&parts.residual.times(&parts.deviation[arm]), &mut crossed[arm]);
                own[arm] += total(&parts.deviation[arm].times(&parts.deviation[arm]));
            }
        });
        self.slopes = slopes;
        self.total.view_mut((0, 0), (terms, terms)).copy_from(&mirrored(scores));
        for arm in 0..2 {
            self.total.view_mut((0, terms + arm), (terms, 1)).copy_from(&crossed[arm]);
            self.total.view_mut((terms + arm, 0), (1, terms)).copy_from(&crossed[arm].transpose());
            self.total[(terms + arm, terms + arm)] = own[arm];
        }
    }

    fn each_block(&self, mut with: impl FnMut(&RowBlock, usize, &Parts)) {
        let fit = &self.cases.propensity.fit;
        let mut block = RowBlock::of(fit.cases.design, &fit.units);
        for first in (0..self.places.len()).step_by(BLOCK) {
            block.read(first, 1);
            with(&block, first, &self.parts(first));
        }
    }

    fn parts(&self, first: usize) -> Parts {
        let mut parts = Parts::default();
        let propensity = self.cases.propensity;
        let Sides { with, without } = sides_of(&propensity.log_odds()[first..]);
        let arms = propensity.in_first_arm()[first..].iter().zip(&self.cases.events[first..]);
        for (i, (in_first, event)) in arms.take(BLOCK).enumerate() {
            let (e, other) = (with[i], without[i]);
            let at = self.target.weight_at(*in_first, [e, other]);
            let arm = usize::from(!*in_first);
            let apart = f64::from(u8::from(*event)) - self.risks[arm];
            parts.residual[i] = if *in_first { other } else { -e };
            parts.information[i] = e * other;
            parts.weight[arm][i] = at.weight / self.weights[arm];
            parts.deviation[arm][i] = parts.weight[arm][i] * apart;
            parts.slope[arm][i] = at.slope / self.weights[arm] * apart;
        }
        parts
    }

    /// Influence of the cases on quantities with these gradients by both risks, by centre.
    pub(super) fn influences<const MANY: usize>(&self, gradients: [Ends; MANY]) -> [CentreInfluence; MANY] {
        let mut along = gradients.map(|gradient| Along::new(self, gradient));
        self.each_block(|block, first, parts| {
            let places = &self.places[first..first + block.cases];
            along.iter_mut().for_each(|own| own.add(block, places, parts));
        });
        along.map(|own| own.finish(self))
    }

    fn along(&self, ends: Ends) -> DVector<f64> {
        &self.slopes[0] * ends[0] + &self.slopes[1] * ends[1]
    }
}

/// What adds up to the influence on one quantity.
struct Along {
    gradient: Ends,
    /// B⁻¹ × the gradient by the coefficients.
    direction: DVector<f64>,
    by_centre: CentreInfluence,
    /// ρ × the derivative of each centre's own equations by the coefficients.
    own: DMatrix<f64>,
    /// The same by the risks, where it is the centre's share of the weight.
    shares: Vec<Ends>,
}

impl Along {
    fn new(sums: &WeightedSums<'_>, gradient: Ends) -> Self {
        let bread = &sums.cases.propensity.fit.bread;
        let (terms, centres) = (bread.nrows(), sums.centres);
        Self {
            gradient,
            direction: bread * sums.along(gradient),
            by_centre: CentreInfluence::zeros(centres, terms + 2),
            own: DMatrix::zeros(terms, centres),
            shares: vec![[0.0; 2]; centres],
        }
    }

    fn add(&mut self, block: &RowBlock<'_>, places: &[u32], parts: &Parts) {
        let Self { gradient, by_centre, .. } = self;
        let terms = self.direction.len();
        let along = block.combine(&self.direction);
        let influence = Lane::from_fn(|i| {
            along[i] * parts.residual[i]
                + gradient[0] * parts.deviation[0][i]
                + gradient[1] * parts.deviation[1][i]
        });
        let derivative = Lane::from_fn(|i| {
            along[i] * parts.information[i]
                - gradient[0] * parts.slope[0][i]
                - gradient[1] * parts.slope[1][i]
        });
        block.add_by_place(&derivative, places, &mut self.own);
        block.add_by_place(&influence.times(&parts.residual), places, &mut by_centre.crossed);
        let squares = influence.times(&influence);
        let crossed = [0, 1].map(|arm| influence.times(&parts.deviation[arm]));
        let mut add = |place: usize, sums: [f64; 6]| {
            by_centre.sums[place] += sums[0];
            by_centre.squares[place] += sums[1];
            by_centre.crossed[(terms, place)] += sums[2];
            by_centre.crossed[(terms + 1, place)] += sums[3];
            self.shares[place][0] += sums[4];
            self.shares[place][1] += sums[5];
        };
        let lanes = [&influence, &squares, &crossed[0], &crossed[1], &parts.weight[0], &parts.weight[1]];
        if places.iter().all(|place| *place == places[0]) {
            add(places[0] as usize, lanes.map(total));
        } else {
            let cases = places.iter().enumerate();
            cases.for_each(|(i, place)| add(*place as usize, lanes.map(|lane| lane[i])));
        }
    }

    fn finish(mut self, sums: &WeightedSums<'_>) -> CentreInfluence {
        let terms = self.direction.len();
        for (centre, share) in self.shares.iter().enumerate() {
            let ends = [self.gradient[0] * share[0], self.gradient[1] * share[1]];
            let coefficients =
                &sums.cases.propensity.fit.bread * (self.own.column(centre) + sums.along(ends));
            let taken = &mut self.by_centre.taken;
            taken.view_mut((0, centre), (terms, 1)).copy_from(&coefficients);
            taken[(terms, centre)] = ends[0];
            taken[(terms + 1, centre)] = ends[1];
        }
        self.by_centre.total.copy_from(&sums.total);
        self.by_centre
    }
}

/// The estimating functions of one block, one lane a part; zero beyond the last case.
struct Parts {
    /// t − e.
    residual: Lane,
    /// e(1−e).
    information: Lane,
    /// w, summing to 1 in each arm.
    weight: [Lane; 2],
    /// w(y − risk).
    deviation: [Lane; 2],
    /// dw/d(log odds) (y − risk).
    slope: [Lane; 2],
}

impl Default for Parts {
    fn default() -> Self {
        let (zero, both) = (Lane::ZERO, [Lane::ZERO; 2]);
        Self { residual: zero, information: zero, weight: both, deviation: both, slope: both }
    }
}

/// Weighted risks and the weights they divide by.
fn risks(cases: WeightedCases<'_>, target: TargetPopulation) -> Result<(Ends, Ends), NotEstimable> {
    let (mut events, mut all) = ([0.0; 2], [0.0; 2]);
    let propensity = cases.propensity;
    let chunks = propensity.log_odds().chunks(BLOCK).zip(propensity.in_first_arm().chunks(BLOCK));
    for ((odds, arms), outcomes) in chunks.zip(cases.events.chunks(BLOCK)) {
        let (mut some, mut part) = ([Lane::ZERO; 2], [Lane::ZERO; 2]);
        let Sides { with, without } = sides_of(odds);
        for (i, (in_first, event)) in arms.iter().zip(outcomes).enumerate() {
            let weight = target.weight_at(*in_first, [with[i], without[i]]).weight;
            let arm = usize::from(!*in_first);
            part[arm][i] = weight;
            some[arm][i] = if *event { weight } else { 0.0 };
        }
        for arm in 0..2 {
            events[arm] += total(&some[arm]);
            all[arm] += total(&part[arm]);
        }
    }
    if all.iter().all(|weight| *weight > 0.0 && *weight < 1e300) {
        Ok(([events[0] / all[0], events[1] / all[1]], all))
    } else {
        Err(NotEstimable::NoOverlap)
    }
}
