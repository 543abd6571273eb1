//! Covariances of the coefficients of a logistic regression when its cases are independent.

use std::sync::Arc;

use nalgebra::{DMatrix, DVector, DVectorView};

use super::interval::{IntervalMethod, NotEstimable};
use super::lanes::{BLOCK, Lane};
use super::leverage::Leverages;
use super::logistic::LogisticFit;
use super::row_blocks::{RowBlock, mirrored};
use super::wald::WaldEstimate;

/// Covariance of the coefficients of one fit, by the method that names it.
#[derive(Clone, Debug, PartialEq)]
pub struct CoefficientVariance<'f> {
    pub(super) fit: &'f LogisticFit<'f>,
    pub(super) method: IntervalMethod,
    /// On standardised columns.
    pub(super) standard: DMatrix<f64>,
    pub(super) parts: Parts,
}

/// Whose contributions add up to the variance.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Parts {
    /// The model's.
    Model,
    /// Those of the cases, squared and summed, times the factor.
    Cases { factor: f64 },
    /// Those of the clusters.
    Clusters(ClusterParts),
}

/// Contributions of the clusters.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct ClusterParts {
    pub(super) of_case: Arc<Vec<u32>>,
    /// Cases of each.
    pub(super) sizes: Vec<f64>,
    /// Inverse information × score, one column a cluster.
    pub(super) contributions: DMatrix<f64>,
    pub(super) correction: Correction,
}

/// What stands in for the few degrees of freedom of few clusters.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Correction {
    /// A factor of the variance; with it Student's distribution, one less than the clusters.
    Factor { factor: f64, student: bool },
    /// The contributions are free of the cluster's own pull on the fit.
    Leverage(Leverages),
}

/// Why some numbers are not a contrast of the coefficients.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("a contrast of {found} weights for {coefficients} coefficients (the intercept is one)")]
pub struct ContrastError {
    /// Weights given.
    pub found: usize,
    /// Coefficients of the fit.
    pub coefficients: usize,
}

/// Weights of the coefficients, intercept first.
#[derive(Clone, Debug, PartialEq)]
pub struct Contrast(Vec<f64>);

impl Contrast {
    /// # Errors
    /// Not one weight a coefficient of the fit.
    pub fn new(fit: &LogisticFit<'_>, weights: &[f64]) -> Result<Self, ContrastError> {
        let (found, coefficients) = (weights.len(), fit.units.terms());
        if found == coefficients {
            Ok(Self(weights.to_vec()))
        } else {
            Err(ContrastError { found, coefficients })
        }
    }
}

impl<'f> CoefficientVariance<'f> {
    /// The fit it belongs to.
    pub fn fit(&self) -> &'f LogisticFit<'f> {
        self.fit
    }

    /// The covariance matrix, intercept first.
    pub fn matrix(&self) -> DMatrix<f64> {
        self.fit.units.covariance(&self.standard)
    }

    /// Number of clusters, where there are any.
    pub fn clusters(&self) -> Option<usize> {
        self.cluster_parts().map(|parts| parts.contributions.ncols())
    }

    pub(super) fn cluster_parts(&self) -> Option<&ClusterParts> {
        match &self.parts {
            Parts::Clusters(parts) => Some(parts),
            Parts::Model | Parts::Cases { .. } => None,
        }
    }

    /// The coefficients without each of the clusters, to first order and intercept first; nothing
    /// where the variance does not know what clusters do to the fit.
    pub(crate) fn without_each_cluster(&self) -> Vec<Vec<f64>> {
        let Parts::Clusters(ClusterParts {
            contributions, correction: Correction::Leverage(leverages), ..
        }) = &self.parts
        else {
            return Vec::new();
        };
        let contributions = contributions.column_iter().enumerate();
        let without = |(cluster, contribution): (usize, DVectorView<'_, f64>)| {
            let moved = leverages.moved_without(cluster, &contribution.into_owned())?;
            Some(self.fit.units.coefficients(&(&self.fit.standard + moved)))
        };
        contributions.filter_map(without).collect()
    }

    /// Each coefficient, intercept first; one that does not vary between clusters, as that of a
    /// cluster's own indicator, has no standard error.
    pub fn coefficients(&self) -> Vec<Result<WaldEstimate, NotEstimable>> {
        let terms = self.fit.units.terms();
        let unit = |term: usize| (0..terms).map(|other| f64::from(u8::from(other == term))).collect();
        (0..terms).map(|term| self.contrast(&Contrast(unit(term)))).collect()
    }

    /// A weighted sum of the coefficients.
    pub fn contrast(&self, contrast: &Contrast) -> Result<WaldEstimate, NotEstimable> {
        let direction = self.fit.units.contrast(&contrast.0);
        self.along(&direction, direction.dot(&self.fit.standard))
    }

    /// An estimate whose gradient by the standardised coefficients is `direction`.
    pub(super) fn along(
        &self,
        direction: &DVector<f64>,
        estimate: f64,
    ) -> Result<WaldEstimate, NotEstimable> {
        let variance = direction.dot(&(&self.standard * direction));
        let model = direction.dot(&(&self.fit.bread * direction));
        // What is left of a difference that is 0 but for rounding is no variance.
        if variance <= 1e-18 * model {
            return Err(NotEstimable::NoVariation);
        }
        let degrees_of_freedom = match &self.parts {
            Parts::Clusters(ClusterParts { correction, contributions, .. }) => match correction {
                Correction::Factor { student: false, .. } => None,
                Correction::Factor { student: true, .. } => Some(contributions.ncols() as f64 - 1.0),
                Correction::Leverage(leverages) => {
                    let working = leverages.working_variance(direction);
                    if working.trace <= 1e-9 * model {
                        return Err(NotEstimable::NoVariation);
                    }
                    Some(working.trace * working.trace / working.squares)
                }
            },
            _ => None,
        };
        WaldEstimate::new(estimate, variance, degrees_of_freedom, self.method)
    }
}

/// Model variance of a logistic regression.
///
/// Formula: (X'WX)⁻¹, W diagonal with p(1 − p); normal limits.
/// Units: those of the coefficients, squared.
/// Edges: right only if the model holds and cases are independent.
/// Source: [mccullagh_nelder1989].
/// Checked: tests/numbers/logistic.csv.
pub fn model_variance<'f>(fit: &'f LogisticFit<'f>) -> CoefficientVariance<'f> {
    let (method, standard) = (IntervalMethod::WaldModel, fit.bread.clone());
    CoefficientVariance { fit, method, standard, parts: Parts::Model }
}

/// Robust variance HC0 of a logistic regression.
///
/// Formula: M (Σ (y − p)² xx') M, M the inverse information; normal limits.
/// Units: those of the coefficients, squared.
/// Edges: allows for a wrong model, not for cases that resemble each other.
/// Source: [white1982].
/// Checked: tests/numbers/logistic.csv.
pub fn hc0_variance<'f>(fit: &'f LogisticFit<'f>) -> CoefficientVariance<'f> {
    over_cases(fit, 1.0, IntervalMethod::WaldHc0)
}

/// Robust variance HC1 of a logistic regression.
///
/// Formula: HC0 times n / (n − k), k coefficients; normal limits.
/// Units: those of the coefficients, squared.
/// Edges: as HC0; a fit with a finite maximum has n > k.
/// Source: [mackinnon_white1985].
/// Checked: tests/numbers/logistic.csv.
pub fn hc1_variance<'f>(fit: &'f LogisticFit<'f>) -> CoefficientVariance<'f> {
    let (cases, terms) = (fit.probabilities.len() as f64, fit.units.terms() as f64);
    over_cases(fit, cases / (cases - terms), IntervalMethod::WaldHc1)
}

fn over_cases<'f>(fit: &'f LogisticFit<'f>, factor: f64, method: IntervalMethod) -> CoefficientVariance<'f> {
    let terms = fit.units.terms();
    let mut meat = DMatrix::zeros(terms, terms);
    let mut block = RowBlock::of(fit.cases.design, &fit.units);
    for first in (0..fit.probabilities.len()).step_by(BLOCK) {
        block.read(first, 1);
        let mut squares = Lane::ZERO;
        for (place, square) in squares.iter_mut().take(block.cases).enumerate() {
            *square = factor * fit.residual(first + place).powi(2);
        }
        block.add_crossed(&squares, &mut meat);
    }
    let meat = mirrored(meat);
    // Column by column: the products are then the same on every machine.
    let half: Vec<DVector<f64>> = fit.bread.column_iter().map(|column| &meat * column).collect();
    let standard = DMatrix::from_fn(terms, terms, |i, j| fit.bread.column(i).dot(&half[j]));
    CoefficientVariance { fit, method, standard, parts: Parts::Cases { factor } }
}
