//! Covariances of the coefficients of a logistic regression whose cases resemble each other
//! within clusters.

use std::sync::Arc;

use nalgebra::DMatrix;

use super::cluster_sums::ClusterSums;
use super::clustered::{ClusteredFit, at_least_two};
use super::coefficient_variance::{ClusterParts, CoefficientVariance, Correction, Parts};
use super::interval::{IntervalMethod, NotEstimable};
use super::leverage::Leverages;
use super::logistic::LogisticFit;

/// Cluster-robust variance CR0 of a logistic regression.
///
/// Formula: M (Σ clusters s s') M, M the inverse information, s = Σ cases (y − p)x; normal limits.
/// Units: those of the coefficients, squared.
/// Edges: too small with fewer than some forty clusters; one cluster is refused.
/// Source: [liang_zeger1986].
/// Checked: tests/numbers/logistic.csv.
pub fn cr0_variance<'f>(clustered: &ClusteredFit<'f>) -> Result<CoefficientVariance<'f>, NotEstimable> {
    clustered.at_least_two()?;
    scaled(clustered, Correction::Factor { factor: 1.0, student: false }, IntervalMethod::WaldCr0)
}

/// Cluster-robust variance CR1 of a logistic regression.
///
/// Formula: CR0 times G / (G − 1), G clusters; Student's limits with G − 1 degrees of freedom.
/// Units: those of the coefficients, squared.
/// Edges: one cluster is refused.
/// Source: [cameron_miller2015].
/// Checked: tests/numbers/logistic.csv.
pub fn cr1_variance<'f>(clustered: &ClusteredFit<'f>) -> Result<CoefficientVariance<'f>, NotEstimable> {
    let clusters = clustered.at_least_two()?;
    let factor = clusters / (clusters - 1.0);
    scaled(clustered, Correction::Factor { factor, student: true }, IntervalMethod::WaldCr1)
}

/// Cluster-robust variance CR1S of a logistic regression.
///
/// Formula: CR0 times G / (G − 1) · (n − 1) / (n − k), k coefficients; Student's limits with G − 1
/// degrees of freedom.
/// Units: those of the coefficients, squared.
/// Edges: one cluster is refused; a fit with a finite maximum has n > k.
/// Source: [cameron_miller2015].
/// Checked: tests/numbers/logistic.csv.
pub fn cr1s_variance<'f>(clustered: &ClusteredFit<'f>) -> Result<CoefficientVariance<'f>, NotEstimable> {
    let clusters = clustered.at_least_two()?;
    let (cases, terms) = (clustered.of_case.len() as f64, clustered.fit.units.terms() as f64);
    let factor = clusters / (clusters - 1.0) * (cases - 1.0) / (cases - terms);
    scaled(clustered, Correction::Factor { factor, student: true }, IntervalMethod::WaldCr1S)
}

/// Cluster-robust variance CR2 of a logistic regression, with Satterthwaite degrees of freedom.
///
/// Formula: M (Σ clusters u u') M, u = Z'(I − ZMZ')^(−½)e, Z the cluster's terms times √(p(1 − p)), e
/// its Pearson residuals, M the inverse information, the symmetric root of the positive part;
/// degrees of freedom (Σ P_gg)² / Σ P_gh², P the covariance of the clusters' parts in the contrast
/// if cases are independent with variance p(1 − p).
/// Units: those of the coefficients, squared.
/// Edges: the root is taken on the weighted scale, where it needs only matrices of the size of the
/// coefficients; another root gives standard errors some tenths of a percent apart. A direction
/// that a cluster determines alone, as the indicator of a centre does, is left out. One cluster is
/// refused.
/// Source: [bell_mccaffrey2002], [pustejovsky_tipton2018].
/// Checked: tests/numbers/cluster_variance.csv.
pub fn cr2_variance<'f>(clustered: &ClusteredFit<'f>) -> Result<CoefficientVariance<'f>, NotEstimable> {
    clustered.at_least_two()?;
    cr2_from_sums(clustered.fit, &clustered.sums())
}

/// The same where the sums over the clusters are known.
pub(crate) fn cr2_from_sums<'f>(
    fit: &'f LogisticFit<'f>,
    sums: &ClusterSums,
) -> Result<CoefficientVariance<'f>, NotEstimable> {
    at_least_two(sums.informations.len())?;
    let leverages = Leverages::of(&fit.bread, &sums.informations)?;
    let contributions = leverages.contributions(&sums.scores);
    let correction = Correction::Leverage(leverages);
    Ok(summed((fit, &sums.of_case), contributions, correction, IntervalMethod::WaldCr2))
}

fn scaled<'f>(
    clustered: &ClusteredFit<'f>,
    correction: Correction,
    method: IntervalMethod,
) -> Result<CoefficientVariance<'f>, NotEstimable> {
    let mut contributions = clustered.scores();
    for mut column in contributions.column_iter_mut() {
        let carried = &clustered.fit.bread * &column;
        column.copy_from(&carried);
    }
    Ok(summed((clustered.fit, &clustered.of_case), contributions, correction, method))
}

fn summed<'f>(
    (fit, of_case): (&'f LogisticFit<'f>, &Arc<Vec<u32>>),
    contributions: DMatrix<f64>,
    correction: Correction,
    method: IntervalMethod,
) -> CoefficientVariance<'f> {
    let factor = if let Correction::Factor { factor, .. } = correction { factor } else { 1.0 };
    let terms = contributions.nrows();
    let mut standard = DMatrix::zeros(terms, terms);
    for column in contributions.column_iter() {
        standard.ger(factor, &column, &column, 1.0);
    }
    let mut sizes = vec![0.0; contributions.ncols()];
    let alike = of_case.chunk_by(|one, other| one == other);
    alike.for_each(|run| sizes[run[0] as usize] += run.len() as f64);
    let parts =
        Parts::Clusters(ClusterParts { of_case: Arc::clone(of_case), sizes, contributions, correction });
    CoefficientVariance { fit, method, standard, parts }
}
