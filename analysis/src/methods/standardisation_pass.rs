//! The pass over the cases of a standardisation: their risks in either arm, and what variances need
//! to know of them.

use nalgebra::{DVector, Matrix2};

use super::block_odds::{Sides, sides};
use super::coefficient_variance::{ClusterParts, CoefficientVariance, Parts};
use super::lanes::{BLOCK, Lane, total};
use super::logistic::LogisticFit;
use super::parts::over_parts;
use super::row_blocks::RowBlock;

/// One for each arm, the first arm's first.
type Ends<T> = [T; 2];

/// What the cases of a fit add up to when all of them are put into either arm.
pub(super) struct Averages {
    /// Mean probability in each arm.
    pub(super) risks: Ends<f64>,
    /// Of each risk, by the standardised coefficients.
    pub(super) gradients: Ends<DVector<f64>>,
    /// Of each variance the sums of the probabilities over its clusters; empty where it has none.
    sums: Vec<Ends<Vec<f64>>>,
    /// Σ of the products of the probabilities in the arms.
    products: Matrix2<f64>,
    /// Σ probability × (y − p) × terms, of each arm.
    carried: Ends<DVector<f64>>,
}

/// What the cases add to the variance of the risks because they are a sample themselves.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Own<'v> {
    /// The clusters, with the sums of the probabilities in each arm over them.
    Clusters(&'v ClusterParts, Ends<Vec<f64>>),
    /// The scatter of the cases about the two risks, with what it has in common with their scores.
    Cases(Matrix2<f64>),
}

impl Averages {
    /// With the treatment in a column, for variances of the fit that have these clusters, or none.
    pub(super) fn of(fit: &LogisticFit<'_>, treatment: usize, clusters: Vec<Option<&ClusterParts>>) -> Self {
        let apart = clusters.iter().any(Option::is_none);
        let pass = Pass { fit, treatment, clusters, apart };
        let cases = fit.probabilities.len();
        let mut averages = over_parts(cases, |first, end| pass.over(first, end), Self::add);
        averages.risks = averages.risks.map(|sum| sum / cases as f64);
        averages.gradients = averages.gradients.map(|sum| sum / cases as f64);
        averages
    }

    fn add(mut self, other: Self) -> Self {
        for arm in 0..2 {
            self.risks[arm] += other.risks[arm];
            self.gradients[arm] += &other.gradients[arm];
            self.carried[arm] += &other.carried[arm];
        }
        for (own, more) in self.sums.iter_mut().flatten().zip(other.sums.iter().flatten()) {
            own.iter_mut().zip(more).for_each(|(sum, more)| *sum += more);
        }
        self.products += other.products;
        self
    }

    /// What the cases add to the variance that stands at a place among those given to the pass.
    ///
    /// Without clusters it is Σ(m − r)(m − r)'/n², m the probabilities of a case in the arms and r
    /// the risks; where the cases' own scores count, that plus C + C', C = Σ m s'/n, s the influence
    /// of a case on the risks by the coefficients. ss' is in the variance of the coefficients.
    pub(super) fn own<'v>(&self, place: usize, variance: &'v CoefficientVariance<'_>) -> Own<'v> {
        match &variance.parts {
            Parts::Clusters(parts) => Own::Clusters(parts, self.sums[place].clone()),
            Parts::Model => Own::Cases(self.scatter(variance)),
            Parts::Cases { factor } => {
                let cases = variance.fit.probabilities.len() as f64;
                let common = Matrix2::from_fn(|one, other| {
                    self.carried[one].dot(&(&variance.fit.bread * &self.gradients[other])) / cases
                });
                Own::Cases((self.scatter(variance) + common + common.transpose()) * *factor)
            }
        }
    }

    fn scatter(&self, variance: &CoefficientVariance<'_>) -> Matrix2<f64> {
        let cases = variance.fit.probabilities.len() as f64;
        let about = |one: usize, other: usize| {
            self.products[(one, other)] - cases * self.risks[one] * self.risks[other]
        };
        Matrix2::from_fn(|one, other| about(one, other) / (cases * cases))
    }
}

struct Pass<'a, 'f> {
    fit: &'a LogisticFit<'f>,
    treatment: usize,
    clusters: Vec<Option<&'a ClusterParts>>,
    /// Some variance has no clusters.
    apart: bool,
}

impl Pass<'_, '_> {
    fn over(&self, first: usize, end: usize) -> Averages {
        let Self { fit, treatment, clusters, .. } = self;
        let zero = || [DVector::zeros(fit.units.terms()), DVector::zeros(fit.units.terms())];
        let none = |parts: &Option<&ClusterParts>| {
            let clusters = parts.map_or(0, |parts| parts.sizes.len());
            [vec![0.0; clusters], vec![0.0; clusters]]
        };
        let mut averages = Averages {
            risks: [0.0; 2],
            gradients: zero(),
            sums: clusters.iter().map(none).collect(),
            products: Matrix2::zeros(),
            carried: zero(),
        };
        let values = [1.0, 0.0].map(|value| fit.units.standardised(*treatment, value));
        let mut block = RowBlock::of(fit.cases.design, &fit.units);
        for first in (first..end).step_by(BLOCK) {
            block.read(first, 1);
            let given = block.set_term(*treatment, Some(values[0]));
            let probabilities = [0, 1].map(|arm| {
                block.set_term(*treatment, Some(values[arm]));
                let Sides { with, without } = sides(&block.combine(&fit.standard), block.cases);
                block.add_weighted(&with.times(&without), &mut averages.gradients[arm]);
                with
            });
            block.set_term(*treatment, given);
            self.add_block(&block, first, &probabilities, &mut averages);
        }
        averages
    }

    fn add_block(&self, block: &RowBlock<'_>, first: usize, probabilities: &[Lane; 2], to: &mut Averages) {
        let sums = [0, 1].map(|arm| total(&probabilities[arm]));
        for (parts, own) in self.clusters.iter().zip(&mut to.sums) {
            let Some(parts) = parts else { continue };
            let places = &parts.of_case[first..first + block.cases];
            let of_one = places.iter().all(|place| *place == places[0]);
            for (arm, own) in own.iter_mut().enumerate() {
                if of_one {
                    own[places[0] as usize] += sums[arm];
                } else {
                    let both = places.iter().zip(probabilities[arm].iter());
                    both.for_each(|(place, probability)| own[*place as usize] += probability);
                }
            }
        }
        (0..2).for_each(|arm| to.risks[arm] += sums[arm]);
        if self.apart {
            let residuals = self.fit.residuals(first);
            for one in 0..2 {
                block.add_weighted(&probabilities[one].times(&residuals), &mut to.carried[one]);
                for other in 0..2 {
                    to.products[(one, other)] += total(&probabilities[one].times(&probabilities[other]));
                }
            }
        }
    }
}
