//! The cases of a regression by cluster: by centre, as a rule.

use nalgebra::DMatrix;

use super::interval::NotEstimable;
use super::logistic::LogisticFit;
use super::row_blocks::{BLOCK, RowBlock};

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
        let terms = self.fit.units.terms();
        let mut scores = DMatrix::zeros(terms, self.clusters);
        let sums = scores.as_mut_slice();
        self.each_row(|case, row| {
            let residual = self.fit.residual(case);
            let own = &mut sums[self.of_case[case] as usize * terms..][..terms];
            for (sum, value) in own.iter_mut().zip(row) {
                *sum += residual * value;
            }
        });
        scores
    }

    /// Information of each cluster, lower triangle row by row, one cluster after the other.
    pub(super) fn informations(&self) -> Vec<f64> {
        let terms = self.fit.units.terms();
        let size = terms * (terms + 1) / 2;
        let mut sums = vec![0.0; size * self.clusters];
        self.each_row(|case, row| {
            let p = self.fit.probabilities[case];
            let weight = p * (1.0 - p);
            let mut own = &mut sums[self.of_case[case] as usize * size..][..size];
            for (term, value) in row.iter().enumerate() {
                let weighted = weight * value;
                let (line, rest) = own.split_at_mut(term + 1);
                for (sum, other) in line.iter_mut().zip(row) {
                    *sum += weighted * other;
                }
                own = rest;
            }
        });
        sums
    }

    /// Calls with every case and its standardised terms, intercept first.
    fn each_row(&self, mut visit: impl FnMut(usize, &[f64])) {
        let terms = self.fit.units.terms();
        let mut block = RowBlock::new(terms);
        let mut row = vec![0.0; terms];
        for first in (0..self.of_case.len()).step_by(BLOCK) {
            block.read(self.fit.cases.design, &self.fit.units, first, 1);
            for place in 0..block.cases {
                block.copy_row(place, &mut row);
                visit(first + place, &row);
            }
        }
    }
}

/// Labels as numbers from 0 in their order, and how many there are.
pub(super) fn numbered(labels: &[u32]) -> (Vec<u32>, usize) {
    let mut distinct = labels.to_vec();
    distinct.sort_unstable();
    distinct.dedup();
    let place = |label: &u32| distinct.partition_point(|other| other < label);
    let of_case = labels.iter().map(|label| u32::try_from(place(label)).unwrap_or(u32::MAX)).collect();
    (of_case, distinct.len())
}
