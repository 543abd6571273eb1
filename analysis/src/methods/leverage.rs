//! What a cluster's own cases do to the fit at them, in matrices of the size of the coefficients.
//!
//! With Z the terms times the root of the weights, M = LL' the inverse information and
//! K = Z L of one cluster, the hat matrix of the cluster is H = KK' and T = K'K = L'(Z'Z)L has its
//! non-zero eigenvalues. Hence Z'(I − H)^(−½) = L'⁻¹ (I − T)^(−½) L' Z', and no matrix of the size of
//! a cluster is needed.

use nalgebra::{DMatrix, DVector};

use super::interval::NotEstimable;

/// Leverage from which a cluster determines a direction alone, as its own indicator does: its
/// residuals say nothing in that direction, and its part is left out.
const DETERMINED: f64 = 1.0 - 1e-9;

/// One cluster: T and the inverse root of I − T.
#[derive(Clone, Debug, PartialEq)]
struct OwnLeverage {
    share: DMatrix<f64>,
    inverse_root: DMatrix<f64>,
}

/// The leverage of every cluster.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Leverages {
    /// Lower root of the inverse information.
    root: DMatrix<f64>,
    clusters: Vec<OwnLeverage>,
}

/// Variances and covariances of the parts of the clusters in a contrast, if the model holds and
/// cases are independent.
pub(super) struct WorkingVariance {
    /// Σ of the variances.
    pub(super) trace: f64,
    /// Σ of the squares of all variances and covariances.
    pub(super) squares: f64,
    /// Σ of all variances and covariances.
    pub(super) total: f64,
}

impl Leverages {
    /// From the inverse information of all cases and the information of each cluster.
    pub(super) fn of(bread: &DMatrix<f64>, informations: &[DMatrix<f64>]) -> Result<Self, NotEstimable> {
        let root = bread.clone().cholesky().ok_or(NotEstimable::Collinear)?.unpack();
        let own = |information: &DMatrix<f64>| OwnLeverage::of(within(&root, information));
        let clusters = informations.iter().map(own).collect();
        Ok(Self { root, clusters })
    }

    /// The scores of the clusters, one column each, as they would be without the cluster's pull on
    /// the fit, times the inverse information.
    pub(super) fn contributions(&self, scores: &DMatrix<f64>) -> DMatrix<f64> {
        let mut all = scores.clone();
        for (mut column, own) in all.column_iter_mut().zip(&self.clusters) {
            let inner = self.root.tr_mul(&column);
            column.copy_from(&(&self.root * (&own.inverse_root * inner)));
        }
        all
    }

    /// How far the coefficients move, to first order, when a cluster with this contribution leaves:
    /// −L (I − T)⁻¹ L' s of its score s, except in a direction that it determines alone.
    pub(super) fn moved_without(&self, cluster: usize, contribution: &DVector<f64>) -> Option<DVector<f64>> {
        let inner = self.root.solve_lower_triangular(contribution)?;
        Some(-&self.root * (&self.clusters[cluster].inverse_root * inner))
    }

    /// Of the contrast `direction`, in standardised coefficients.
    pub(super) fn working_variance(&self, direction: &DVector<f64>) -> WorkingVariance {
        let inner = self.root.tr_mul(direction);
        let terms = inner.len();
        let (mut together, mut crossed) = (DVector::zeros(terms), DMatrix::zeros(terms, terms));
        let (mut own, mut trace, mut squares) = (0.0, 0.0, 0.0);
        for cluster in &self.clusters {
            let pulled = &cluster.inverse_root * &inner;
            let fitted = &cluster.share * &pulled;
            let (before, removed) = (pulled.dot(&fitted), fitted.norm_squared());
            own += before;
            trace += before - removed;
            squares += (before - removed).powi(2) - removed * removed;
            crossed.ger(1.0, &fitted, &fitted, 1.0);
            together += fitted;
        }
        squares += crossed.norm_squared();
        WorkingVariance { trace, squares, total: own - together.norm_squared() }
    }
}

impl OwnLeverage {
    fn of(share: DMatrix<f64>) -> Self {
        let terms = share.nrows();
        let eigen = share.symmetric_eigen();
        let weigh = |weight: &dyn Fn(f64) -> f64| {
            DMatrix::from_fn(terms, terms, |i, j| {
                let part = |e: usize| {
                    let value = eigen.eigenvalues[e].clamp(0.0, 1.0);
                    eigen.eigenvectors[(i, e)] * weight(value) * eigen.eigenvectors[(j, e)]
                };
                (0..terms).map(part).sum()
            })
        };
        let inverse_root = |value: f64| if value < DETERMINED { 1.0 / (1.0 - value).sqrt() } else { 0.0 };
        Self { share: weigh(&|value| value), inverse_root: weigh(&inverse_root) }
    }
}

/// root' × inner × root, column by column.
fn within(root: &DMatrix<f64>, inner: &DMatrix<f64>) -> DMatrix<f64> {
    let columns: Vec<DVector<f64>> = root.column_iter().map(|c| inner * c).collect();
    let lower = DMatrix::from_fn(root.ncols(), root.ncols(), |i, j| root.column(i).dot(&columns[j]));
    // Rounding must not make it asymmetric.
    DMatrix::from_fn(root.ncols(), root.ncols(), |i, j| (lower[(i, j)] + lower[(j, i)]) / 2.0)
}
