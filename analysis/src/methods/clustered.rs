//! The cases of a regression by cluster: by centre, as a rule.

use nalgebra::DMatrix;

use super::interval::NotEstimable;
use super::lanes::{BLOCK, Lane};
use super::logistic::LogisticFit;
use super::row_blocks::{RowBlock, mirrored};

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
    pub(super) of_case: Vec<u32>,
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
        if self.clusters < 2 {
            return Err(NotEstimable::TooFewClusters { found: self.clusters });
        }
        Ok(self.clusters as f64)
    }

    /// Score of each cluster, one column each, on standardised columns.
    pub(super) fn scores(&self) -> DMatrix<f64> {
        let mut scores = self.no_scores();
        self.each_block(|block, first, places| {
            block.add_by_place(&self.residuals(first, places.len()), places, &mut scores);
        });
        scores
    }

    /// Score and information of each cluster. A block of one cluster is summed at once: cases that
    /// stand by centre cost no more than the fit itself.
    pub(super) fn scores_and_informations(&self) -> (DMatrix<f64>, Vec<DMatrix<f64>>) {
        let terms = self.fit.units.terms();
        let mut scores = self.no_scores();
        let mut sums = vec![DMatrix::zeros(terms, terms); self.clusters];
        let mut row = vec![0.0; terms];
        self.each_block(|block, first, places| {
            block.add_by_place(&self.residuals(first, places.len()), places, &mut scores);
            let mut weights = Lane::ZERO;
            let fitted = &self.fit.probabilities[first..first + places.len()];
            weights.iter_mut().zip(fitted).for_each(|(weight, p)| *weight = p * (1.0 - p));
            if places.iter().all(|place| *place == places[0]) {
                block.add_crossed(&weights, &mut sums[places[0] as usize]);
                return;
            }
            for (at, place) in places.iter().enumerate() {
                block.copy_row(at, &mut row);
                add_square(weights[at], &row, &mut sums[*place as usize]);
            }
        });
        (scores, sums.into_iter().map(mirrored).collect())
    }

    fn no_scores(&self) -> DMatrix<f64> {
        DMatrix::zeros(self.fit.units.terms(), self.clusters)
    }

    /// Outcome − fitted probability of the cases of a block.
    fn residuals(&self, first: usize, cases: usize) -> Lane {
        let mut residuals = Lane::ZERO;
        let own = residuals.iter_mut().take(cases).enumerate();
        own.for_each(|(at, residual)| *residual = self.fit.residual(first + at));
        residuals
    }

    /// Every block with its first case and the clusters of its cases.
    fn each_block(&self, mut with: impl FnMut(&RowBlock<'_>, usize, &[u32])) {
        let mut block = RowBlock::of(self.fit.cases.design, &self.fit.units);
        for first in (0..self.of_case.len()).step_by(BLOCK) {
            block.read(first, 1);
            with(&block, first, &self.of_case[first..first + block.cases]);
        }
    }
}

/// Adds weight × row × row' to the lower triangle.
fn add_square(weight: f64, row: &[f64], sum: &mut DMatrix<f64>) {
    let terms = row.len();
    for (column, own) in sum.as_mut_slice().chunks_mut(terms).enumerate() {
        let weighted = weight * row[column];
        for (sum, value) in own[column..].iter_mut().zip(&row[column..]) {
            *sum += weighted * value;
        }
    }
}

/// Labels as numbers from 0 in their order, and how many there are.
pub(super) fn numbered(labels: &[u32]) -> (Vec<u32>, usize) {
    // Cases that stand by cluster leave little to sort and to look up.
    let alike = || labels.chunk_by(|one, other| one == other);
    let mut distinct: Vec<u32> = alike().map(|run| run[0]).collect();
    distinct.sort_unstable();
    distinct.dedup();
    let mut of_case = Vec::with_capacity(labels.len());
    for run in alike() {
        let place = distinct.partition_point(|other| *other < run[0]);
        of_case.resize(of_case.len() + run.len(), u32::try_from(place).unwrap_or(u32::MAX));
    }
    (of_case, distinct.len())
}
