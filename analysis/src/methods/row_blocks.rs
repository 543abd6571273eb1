//! Blocks of cases with an intercept and standardised covariates, and sums over them.
//!
//! Sums run in the order of the rows with plain products and additions, so that a result is the
//! same on every machine.

use nalgebra::{DMatrix, DVector};

use super::column::Column;
use super::design::Design;
use super::interval::NotEstimable;

/// Cases of one block: ten columns of it stay in the fastest cache.
pub(super) const BLOCK: usize = 256;

/// One number a case of the block.
pub(super) type Lane = [f64; BLOCK];

/// Mean and standard deviation of every column: coefficients and matrices are kept in these
/// units, so that no unit or origin of a covariate costs digits.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Units {
    means: Vec<f64>,
    spreads: Vec<f64>,
    /// Largest distance from the mean, in standard deviations.
    reaches: Vec<f64>,
}

impl Units {
    /// `Collinear` when a column is constant: it repeats the intercept.
    pub(super) fn of(design: &Design) -> Result<Self, NotEstimable> {
        let cases = design.cases() as f64;
        let mut units = Self { means: Vec::new(), spreads: Vec::new(), reaches: Vec::new() };
        for column in (0..design.columns()).map(|j| design.column(j)) {
            let ends = column.ends().filter(|(low, high)| low != high);
            let (low, high) = ends.ok_or(NotEstimable::Collinear)?;
            let mean = sum(column, |v| v) / cases;
            let spread = (sum(column, |v| (v - mean) * (v - mean)) / cases).sqrt();
            units.means.push(mean);
            units.spreads.push(spread);
            units.reaches.push((high - mean).max(mean - low) / spread);
        }
        Ok(units)
    }

    /// The furthest a step of standardised coefficients, term by term, moves the log odds of a case.
    pub(super) fn furthest_move(&self, step: &DVector<f64>) -> f64 {
        let reaches = std::iter::once(&1.0).chain(&self.reaches);
        step.iter().zip(reaches).map(|(s, reach)| (s * reach).abs()).fold(0.0, f64::max)
    }

    /// Terms of the regression: the intercept and the columns.
    pub(super) fn terms(&self) -> usize {
        self.means.len() + 1
    }

    /// Coefficients on standardised columns from a contrast on the given ones:
    /// c'β = (B'c)'γ where β = Bγ.
    pub(super) fn contrast(&self, given: &[f64]) -> DVector<f64> {
        let intercept = given[0];
        DVector::from_fn(self.terms(), |term, _| match term.checked_sub(1) {
            None => intercept,
            Some(j) => (given[term] - intercept * self.means[j]) / self.spreads[j],
        })
    }

    /// Coefficients of the given columns, intercept first.
    pub(super) fn coefficients(&self, standard: &DVector<f64>) -> Vec<f64> {
        (0..self.terms()).map(|term| self.contrast(&self.unit(term)).dot(standard)).collect()
    }

    /// The covariance of the coefficients of the given columns.
    pub(super) fn covariance(&self, standard: &DMatrix<f64>) -> DMatrix<f64> {
        let contrasts: Vec<_> = (0..self.terms()).map(|term| self.contrast(&self.unit(term))).collect();
        DMatrix::from_fn(self.terms(), self.terms(), |i, j| contrasts[i].dot(&(standard * &contrasts[j])))
    }

    /// A value of a term after the intercept, in standard units.
    pub(super) fn standardised(&self, term: usize, value: f64) -> f64 {
        (value - self.means[term - 1]) / self.spreads[term - 1]
    }

    fn unit(&self, term: usize) -> Vec<f64> {
        (0..self.terms()).map(|other| f64::from(u8::from(other == term))).collect()
    }
}

fn sum(column: &Column, term: impl Fn(f64) -> f64) -> f64 {
    match column {
        Column::Many(values) => sum_of_sums(values, |value| term(*value)),
        Column::Two { values, other } => {
            let [first, second] = values.map(term);
            sum_of_sums(other, |other| if *other { second } else { first })
        }
    }
}

/// Rounding does not grow with the number of cases.
fn sum_of_sums<T>(cases: &[T], term: impl Fn(&T) -> f64) -> f64 {
    let part = |chunk: &[T]| chunk.iter().map(&term).sum::<f64>();
    cases.chunks(64 * BLOCK).map(|many| many.chunks(BLOCK).map(part).sum::<f64>()).sum()
}

/// Up to [`BLOCK`] cases; rows beyond them are zero.
pub(super) struct RowBlock {
    terms: Vec<Lane>,
    /// Cases in the block.
    pub(super) cases: usize,
}

impl RowBlock {
    pub(super) fn new(terms: usize) -> Self {
        Self { terms: vec![[0.0; BLOCK]; terms], cases: 0 }
    }

    /// Reads cases `first`, `first + stride`, … until the block or the design is full.
    pub(super) fn read(&mut self, design: &Design, units: &Units, first: usize, stride: usize) {
        self.cases = (design.cases() - first).div_ceil(stride).min(BLOCK);
        let (intercept, columns) = self.terms.split_at_mut(1);
        let (used, rest) = intercept[0].split_at_mut(self.cases);
        used.fill(1.0);
        rest.fill(0.0);
        for (j, lane) in columns.iter_mut().enumerate() {
            let (mean, scale) = (units.means[j], 1.0 / units.spreads[j]);
            let standardised = |value: f64| (value - mean) * scale;
            match design.column(j) {
                Column::Many(values) => {
                    fill(lane, self.cases, &values[first..], stride, |value| standardised(*value));
                }
                Column::Two { values, other } => {
                    let [one, two] = values.map(standardised);
                    fill(lane, self.cases, &other[first..], stride, |other| if *other { two } else { one });
                }
            }
        }
    }

    /// Gives one term the same value in every case.
    pub(super) fn set_term(&mut self, term: usize, value: f64) {
        self.terms[term][..self.cases].fill(value);
    }

    /// The terms of one case.
    pub(super) fn copy_row(&self, place: usize, row: &mut [f64]) {
        for (value, lane) in row.iter_mut().zip(&self.terms) {
            *value = lane[place];
        }
    }

    /// Σ terms × weights, for each case.
    pub(super) fn combine(&self, weights: &DVector<f64>) -> Lane {
        let mut total = [0.0; BLOCK];
        for (lane, weight) in self.terms.iter().zip(weights.iter()) {
            for (sum, value) in total.iter_mut().zip(lane) {
                *sum += weight * value;
            }
        }
        total
    }

    /// Adds Σ case weight × term.
    pub(super) fn add_weighted(&self, weights: &Lane, sums: &mut DVector<f64>) {
        self.each_product(weights, 0, |term, total| sums[term] += total);
    }

    /// Adds Σ case weight × term over the cases of each place, a column a place.
    pub(super) fn add_by_place(&self, weights: &Lane, places: &[u32], sums: &mut DMatrix<f64>) {
        for (term, lane) in self.terms.iter().enumerate() {
            for ((weight, value), place) in weights.iter().zip(lane).zip(places) {
                sums[(term, *place as usize)] += weight * value;
            }
        }
    }

    /// Adds Σ case weight × term × term to the lower triangle.
    pub(super) fn add_crossed(&self, weights: &Lane, sums: &mut DMatrix<f64>) {
        let mut weighted = [0.0; BLOCK];
        for (column, lane) in self.terms.iter().enumerate() {
            for ((product, weight), value) in weighted.iter_mut().zip(weights).zip(lane) {
                *product = weight * value;
            }
            self.each_product(&weighted, column, |row, total| sums[(row, column)] += total);
        }
    }

    /// Inner products of a lane with every term from `first` on.
    fn each_product(&self, lane: &Lane, first: usize, mut add: impl FnMut(usize, f64)) {
        let last = self.terms.len() - 1;
        for term in (first..=last).step_by(4) {
            let four = [term, term + 1, term + 2, term + 3].map(|t| &self.terms[t.min(last)]);
            for (t, total) in (term..=last).zip(dot(lane, four)) {
                add(t, total);
            }
        }
    }
}

/// Every `stride`-th value as the lane's first `cases` numbers, and zero behind them.
fn fill<T>(lane: &mut Lane, cases: usize, from: &[T], stride: usize, value: impl Fn(&T) -> f64) {
    let (used, rest) = lane.split_at_mut(cases);
    // Neighbours are read several at once; a stepping iterator would read them one by one.
    if stride == 1 {
        used.iter_mut().zip(from).for_each(|(place, next)| *place = value(next));
    } else {
        used.iter_mut().zip(from.iter().step_by(stride)).for_each(|(place, next)| *place = value(next));
    }
    rest.fill(0.0);
}

/// Four inner products at once, each in four interleaved sums.
fn dot(one: &Lane, others: [&Lane; 4]) -> [f64; 4] {
    let mut sums = [[0.0; 4]; 4];
    for start in (0..BLOCK).step_by(4) {
        for (sum, other) in sums.iter_mut().zip(others) {
            for lane in 0..4 {
                sum[lane] += one[start + lane] * other[start + lane];
            }
        }
    }
    sums.map(|s| (s[0] + s[1]) + (s[2] + s[3]))
}

/// Copies the lower triangle to the upper one.
pub(super) fn mirrored(mut lower: DMatrix<f64>) -> DMatrix<f64> {
    lower.fill_upper_triangle_with_lower_triangle();
    lower
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn sums_over_blocks_are_the_sums_over_rows() {
        let cases = 3 * BLOCK + 17;
        let columns: Vec<Vec<f64>> =
            (1..=5).map(|j| (0..cases).map(|i| ((i * j * 37) % 101) as f64 + 1e6).collect()).collect();
        let design = Design::new(cases, &columns).unwrap();
        let units = Units::of(&design).unwrap();
        let mut block = RowBlock::new(6);
        let (mut crossed, mut weighted) = (DMatrix::zeros(6, 6), DVector::zeros(6));
        for first in (0..cases).step_by(BLOCK) {
            block.read(&design, &units, first, 1);
            block.add_crossed(&[1.0; BLOCK], &mut crossed);
            block.add_weighted(&[1.0; BLOCK], &mut weighted);
        }
        for a in 0..6 {
            for b in 0..=a {
                let value = |t: usize, i: usize| match t {
                    0 => 1.0,
                    t => (columns[t - 1][i] - units.means[t - 1]) / units.spreads[t - 1],
                };
                let expected: f64 = (0..cases).map(|i| value(a, i) * value(b, i)).sum();
                assert!((crossed[(a, b)] - expected).abs() < 1e-8, "{a} {b}");
            }
        }
        assert_eq!(weighted[0], cases as f64);
        assert!(weighted.iter().skip(1).all(|v| v.abs() < 1e-6));
    }
}
