//! What the cases of each cluster of a regression add up to.

use std::sync::Arc;

use nalgebra::DMatrix;

use super::lanes::Lane;
use super::row_blocks::{RowBlock, mirrored};

/// What the clusters of a regression add up to, on standardised columns.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct ClusterSums {
    /// Cluster of each case, from 0.
    pub(super) of_case: Arc<Vec<u32>>,
    /// Score of each cluster, one column each.
    pub(super) scores: DMatrix<f64>,
    /// Information of each cluster.
    pub(super) informations: Vec<DMatrix<f64>>,
}

impl ClusterSums {
    /// Nothing yet.
    pub(super) fn none(of_case: Arc<Vec<u32>>, clusters: usize, terms: usize) -> Self {
        Self {
            of_case,
            scores: DMatrix::zeros(terms, clusters),
            informations: vec![DMatrix::zeros(terms, terms); clusters],
        }
    }

    /// The same for labels, one a case.
    pub(super) fn by(labels: &[u32], terms: usize) -> Self {
        let (of_case, clusters) = numbered(labels);
        Self::none(of_case, clusters, terms)
    }

    /// Adds the scores of a block's cases by their residuals.
    pub(super) fn add_scores(&mut self, block: &RowBlock<'_>, first: usize, residuals: &Lane) {
        let places = &self.of_case[first..first + block.cases];
        block.add_by_place(residuals, places, &mut self.scores);
    }

    /// Adds the information of a block's cases by their weights. A block of one cluster is summed at
    /// once: cases that stand by centre cost no more than the fit itself.
    pub(super) fn add_informations(&mut self, block: &RowBlock<'_>, first: usize, weights: &Lane) {
        let places = &self.of_case[first..first + block.cases];
        if places.iter().all(|place| *place == places[0]) {
            block.add_crossed(weights, &mut self.informations[places[0] as usize]);
            return;
        }
        let mut row = vec![0.0; self.scores.nrows()];
        for (at, place) in places.iter().enumerate() {
            block.copy_row(at, &mut row);
            add_square(weights[at], &row, &mut self.informations[*place as usize]);
        }
    }

    /// The sums of other cases with these clusters.
    pub(super) fn add(mut self, other: Self) -> Self {
        self.scores += other.scores;
        self.informations.iter_mut().zip(other.informations).for_each(|(sum, own)| *sum += own);
        self
    }

    /// When every block was added: until then an information is a lower triangle.
    pub(super) fn whole(mut self) -> Self {
        self.informations = self.informations.into_iter().map(mirrored).collect();
        self
    }

    /// The information of all clusters.
    pub(super) fn information(&self) -> DMatrix<f64> {
        let terms = self.scores.nrows();
        self.informations.iter().fold(DMatrix::zeros(terms, terms), |sum, own| sum + own)
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
pub(super) fn numbered(labels: &[u32]) -> (Arc<Vec<u32>>, usize) {
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
    (Arc::new(of_case), distinct.len())
}
