//! The cases of a regression by cluster: by centre, as a rule.

use std::sync::Arc;

use nalgebra::DMatrix;

use super::cluster_sums::{ClusterSums, numbered};
use super::interval::NotEstimable;
use super::lanes::BLOCK;
use super::logistic::LogisticFit;
use super::row_blocks::RowBlock;

/// Why some labels are not the clusters of a regression.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{found} cluster labels for {cases} cases")]
pub struct ClusterLabelsError {
    /// Labels given.
    pub found: usize,
    /// Cases of the regression.
    pub cases: usize,
}

/// A fitted regression whose cases resemble each other within clusters.
#[derive(Clone, Debug, PartialEq)]
pub struct ClusteredFit<'f> {
    pub(super) fit: &'f LogisticFit<'f>,
    /// Cluster of each case, from 0, in the order of the labels.
    pub(super) of_case: Arc<Vec<u32>>,
    pub(super) clusters: usize,
}

impl<'f> ClusteredFit<'f> {
    /// One label a case; cases with the same label are one cluster.
    ///
    /// # Errors
    /// Another number of labels than cases.
    pub fn new(fit: &'f LogisticFit<'f>, labels: &[u32]) -> Result<Self, ClusterLabelsError> {
        let (found, cases) = (labels.len(), fit.probabilities.len());
        if found != cases {
            return Err(ClusterLabelsError { found, cases });
        }
        let (of_case, clusters) = numbered(labels);
        Ok(Self { fit, of_case, clusters })
    }

    /// Number of clusters.
    pub fn clusters(&self) -> usize {
        self.clusters
    }

    /// A variance between clusters needs two of them.
    pub(super) fn at_least_two(&self) -> Result<f64, NotEstimable> {
        at_least_two(self.clusters)
    }

    /// Score of each cluster, one column each, on standardised columns.
    pub(super) fn scores(&self) -> DMatrix<f64> {
        let mut sums = ClusterSums::none(self.of_case.clone(), self.clusters, self.fit.units.terms());
        self.each_block(|block, first| sums.add_scores(block, first, &self.fit.residuals(first)));
        sums.scores
    }

    /// Score and information of each cluster.
    pub(super) fn sums(&self) -> ClusterSums {
        let mut sums = ClusterSums::none(self.of_case.clone(), self.clusters, self.fit.units.terms());
        self.each_block(|block, first| {
            sums.add_scores(block, first, &self.fit.residuals(first));
            sums.add_informations(block, first, &self.fit.weights(first));
        });
        sums.whole()
    }

    /// Every block with its first case.
    fn each_block(&self, mut with: impl FnMut(&RowBlock<'_>, usize)) {
        let mut block = RowBlock::of(self.fit.cases.design, &self.fit.units);
        for first in (0..self.of_case.len()).step_by(BLOCK) {
            block.read(first, 1);
            with(&block, first);
        }
    }
}

pub(super) fn at_least_two(clusters: usize) -> Result<f64, NotEstimable> {
    if clusters < 2 {
        return Err(NotEstimable::TooFewClusters { found: clusters });
    }
    Ok(clusters as f64)
}
