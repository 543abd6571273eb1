//! Passes over the cases of a weighted comparison.

use nalgebra::{DMatrix, DVector};

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
        let arms = propensity.in_first_arm()[first..].iter().zip(&self.cases.events[first..]);
        for (i, (log_odds, (in_first, event))) in
            propensity.log_odds()[first..].iter().zip(arms).take(BLOCK).enumerate()
        {
            let at = self.target.weight_at(*in_first, *log_odds);
            let (e, other) = (1.0 / (1.0 + libm::exp(-log_odds)), 1.0 / (1.0 + libm::exp(*log_odds)));
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

    /// Influence of the cases on a quantity with this gradient by both risks, by centre.
    pub(super) fn influence(&self, gradient: Ends) -> CentreInfluence {
        let bread = &self.cases.propensity.fit.bread;
        let terms = bread.nrows();
        let direction = bread * self.along(gradient);
        let mut by_centre = CentreInfluence::zeros(self.centres, terms + 2);
        // ρ × the derivative of each centre's own equations: first by the coefficients, then by
        // the risks, where it is the centre's share of the weight.
        let mut own = DMatrix::zeros(terms, self.centres);
        let mut shares = vec![[0.0; 2]; self.centres];
        self.each_block(|block, first, parts| {
            let along = block.combine(&direction);
            let influence: Lane = std::array::from_fn(|i| {
                along[i] * parts.residual[i]
                    + gradient[0] * parts.deviation[0][i]
                    + gradient[1] * parts.deviation[1][i]
            });
            let derivative: Lane = std::array::from_fn(|i| {
                along[i] * parts.information[i]
                    - gradient[0] * parts.slope[0][i]
                    - gradient[1] * parts.slope[1][i]
            });
            let places = &self.places[first..first + block.cases];
            block.add_by_place(&derivative, places, &mut own);
            block.add_by_place(&product(&influence, &parts.residual), places, &mut by_centre.crossed);
            for (i, place) in places.iter().map(|place| *place as usize).enumerate() {
                by_centre.sums[place] += influence[i];
                by_centre.squares[place] += influence[i] * influence[i];
                for (arm, share) in shares[place].iter_mut().enumerate() {
                    by_centre.crossed[(terms + arm, place)] += influence[i] * parts.deviation[arm][i];
                    *share += parts.weight[arm][i];
                }
            }
        });
        for (centre, share) in shares.iter().enumerate() {
            let ends = [gradient[0] * share[0], gradient[1] * share[1]];
            let coefficients = bread * (own.column(centre) + self.along(ends));
            by_centre.taken.view_mut((0, centre), (terms, 1)).copy_from(&coefficients);
            by_centre.taken[(terms, centre)] = ends[0];
            by_centre.taken[(terms + 1, centre)] = ends[1];
        }
        by_centre.total.copy_from(&self.total);
        by_centre
    }

    fn along(&self, ends: Ends) -> DVector<f64> {
        &self.slopes[0] * ends[0] + &self.slopes[1] * ends[1]
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
    let chunks = propensity.log_odds().chunks(BLOCK).zip(propensity.in_first_arm().chunks(BLOCK));
    for ((odds, arms), outcomes) in chunks.zip(cases.events.chunks(BLOCK)) {
        // Sums of sums: rounding does not grow with the number of cases.
        let (mut some, mut part) = ([0.0; 2], [0.0; 2]);
        for ((log_odds, in_first), event) in odds.iter().zip(arms).zip(outcomes) {
            let (arm, weight) = (usize::from(!*in_first), target.weight_at(*in_first, *log_odds).weight);
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
