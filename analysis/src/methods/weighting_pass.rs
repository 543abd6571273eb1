//! Passes over the cases of a weighted comparison.

use nalgebra::{DMatrix, DVector};
use std::ops::Range;

use super::block_odds::Sides;
use super::clustered::numbered;
use super::clustered_influence::CentreInfluence;
use super::interval::NotEstimable;
use super::propensity::TargetPopulation;
use super::row_blocks::{BLOCK, Lane, RowBlock, mirrored};
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
    places: Vec<u32>,
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
            block.add_crossed(&product(&parts.residual, &parts.residual), &mut scores);
            for arm in 0..2 {
                block.add_weighted(&parts.slope[arm], &mut slopes[arm]);
                block.add_weighted(&product(&parts.residual, &parts.deviation[arm]), &mut crossed[arm]);
                own[arm] += product(&parts.deviation[arm], &parts.deviation[arm]).iter().sum::<f64>();
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
        let Sides { with, without } = propensity.chances(first);
        let cases = propensity.in_first_arm()[first..].iter().zip(&self.cases.events[first..]);
        for (i, (in_first, event)) in cases.take(BLOCK).enumerate() {
            let at = self.target.weight_at(*in_first, [with[i], without[i]]);
            let arm = usize::from(!*in_first);
            let apart = f64::from(u8::from(*event)) - self.risks[arm];
            parts.residual[i] = if *in_first { without[i] } else { -with[i] };
            parts.information[i] = with[i] * without[i];
            parts.weight[arm][i] = at.weight / self.weights[arm];
            parts.deviation[arm][i] = parts.weight[arm][i] * apart;
            parts.slope[arm][i] = at.slope / self.weights[arm] * apart;
        }
        parts
    }

    /// Influence of the cases on quantities with these gradients by both risks, by centre.
    pub(super) fn influence(&self, gradients: [Ends; 3]) -> [CentreInfluence; 3] {
        let risks = self.on_risks(gradients);
        [0, 1, 2].map(|quantity| risks.along(gradients[quantity], quantity))
    }

    fn on_risks(&self, gradients: [Ends; 3]) -> RiskInfluence<'_> {
        let bread = &self.cases.propensity.fit.bread;
        let terms = bread.nrows();
        let zero = || DMatrix::zeros(terms, self.centres);
        let mut derivative = [zero(), zero()];
        let mut of = RiskInfluence {
            sums: self,
            centres: vec![OfCentre::default(); self.centres],
            crossed: [0, 1].map(|_| DMatrix::zeros(terms + 2, self.centres)),
            taken: [zero(), zero()],
        };
        let directions = [0, 1].map(|risk| bread * &self.slopes[risk]);
        self.each_block(|block, first, parts| {
            let places = &self.places[first..first + block.cases];
            let influence = [0, 1].map(|risk| -> Lane {
                let (along, deviation) = (block.combine(&directions[risk]), &parts.deviation[risk]);
                let own = std::array::from_fn(|i| along[i] * parts.information[i] - parts.slope[risk][i]);
                block.add_by_place(&own, places, &mut derivative[risk]);
                std::array::from_fn(|i| along[i] * parts.residual[i] + deviation[i])
            });
            for (crossed, influence) in of.crossed.iter_mut().zip(&influence) {
                block.add_by_place(&product(influence, &parts.residual), places, crossed);
            }
            let mut from = 0;
            for own in places.chunk_by(|one, other| one == other) {
                let cases = from..from + own.len();
                of.centres[own[0] as usize].add(&influence, &gradients, (parts, cases.clone()));
                from = cases.end;
            }
        });
        for (centre, own) in of.centres.iter().enumerate() {
            for risk in 0..2 {
                for arm in 0..2 {
                    of.crossed[risk][(terms + arm, centre)] = own.crossed[risk][arm];
                }
                let along = derivative[risk].column(centre) + &self.slopes[risk] * own.share[risk];
                of.taken[risk].set_column(centre, &(bread * along));
            }
        }
        of
    }
}

/// Influence of the cases on both risks, by centre: that on a quantity that follows from them is a
/// sum of the two.
struct RiskInfluence<'a> {
    sums: &'a WeightedSums<'a>,
    centres: Vec<OfCentre>,
    /// Sum of influence × ψ.
    crossed: [DMatrix<f64>; 2],
    /// What the estimation of the coefficients takes out of a centre's sum.
    taken: [DMatrix<f64>; 2],
}

/// Sums over the cases of a centre.
#[derive(Clone, Copy, Default)]
struct OfCentre {
    /// Influence on each risk.
    influence: Ends,
    /// Squares of the influence on each quantity: taken from those on the risks they would lose what
    /// cancels.
    squares: [f64; 3],
    /// Influence on each risk × ψ of each risk.
    crossed: [Ends; 2],
    /// Share of the weight of each arm.
    share: Ends,
}

impl OfCentre {
    fn add(&mut self, influence: &[Lane; 2], gradients: &[Ends; 3], (parts, cases): (&Parts, Range<usize>)) {
        let mut own = *self;
        for i in cases {
            let both = [influence[0][i], influence[1][i]];
            for (sum, [first, second]) in own.squares.iter_mut().zip(gradients) {
                let along = first * both[0] + second * both[1];
                *sum += along * along;
            }
            for arm in 0..2 {
                own.influence[arm] += both[arm];
                own.crossed[0][arm] += both[0] * parts.deviation[arm][i];
                own.crossed[1][arm] += both[1] * parts.deviation[arm][i];
                own.share[arm] += parts.weight[arm][i];
            }
        }
        *self = own;
    }
}

impl RiskInfluence<'_> {
    fn along(&self, [first, second]: Ends, quantity: usize) -> CentreInfluence {
        let terms = self.taken[0].nrows();
        let mut all = CentreInfluence::zeros(self.centres.len(), terms + 2);
        for (place, own) in self.centres.iter().enumerate() {
            all.sums[place] = first * own.influence[0] + second * own.influence[1];
            all.squares[place] = own.squares[quantity];
            all.taken[(terms, place)] = first * own.share[0];
            all.taken[(terms + 1, place)] = second * own.share[1];
        }
        all.crossed = &self.crossed[0] * first + &self.crossed[1] * second;
        let coefficients = &self.taken[0] * first + &self.taken[1] * second;
        all.taken.rows_mut(0, terms).copy_from(&coefficients);
        all.total.copy_from(&self.sums.total);
        all
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
        let (zero, both) = ([0.0; BLOCK], [[0.0; BLOCK]; 2]);
        Self { residual: zero, information: zero, weight: both, deviation: both, slope: both }
    }
}

/// Weighted risks and the weights they divide by.
fn risks(cases: WeightedCases<'_>, target: TargetPopulation) -> Result<(Ends, Ends), NotEstimable> {
    let (mut events, mut all) = ([0.0; 2], [0.0; 2]);
    let propensity = cases.propensity;
    let outcomes = propensity.in_first_arm().chunks(BLOCK).zip(cases.events.chunks(BLOCK));
    for (number, (arms, events_of)) in outcomes.enumerate() {
        let Sides { with, without } = propensity.chances(number * BLOCK);
        // Sums of sums: rounding does not grow with the number of cases.
        let (mut some, mut part) = ([0.0; 2], [0.0; 2]);
        for (at, (in_first, event)) in arms.iter().zip(events_of).enumerate() {
            let arm = usize::from(!*in_first);
            let weight = target.weight_at(*in_first, [with[at], without[at]]).weight;
            part[arm] += weight;
            some[arm] += if *event { weight } else { 0.0 };
        }
        for arm in 0..2 {
            events[arm] += some[arm];
            all[arm] += part[arm];
        }
    }
    if all.iter().all(|weight| *weight > 0.0 && *weight < 1e300) {
        Ok(([events[0] / all[0], events[1] / all[1]], all))
    } else {
        Err(NotEstimable::NoOverlap)
    }
}

fn product(one: &Lane, other: &Lane) -> Lane {
    std::array::from_fn(|i| one[i] * other[i])
}
