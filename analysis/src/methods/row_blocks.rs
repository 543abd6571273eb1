//! Blocks of cases with an intercept and standardised covariates, and sums over them.
//!
//! Sums run in the order of the rows with plain products and additions, so that a result is the
//! same on every machine.

use nalgebra::{DMatrix, DVector};
use pulp::{Arch, NullaryFnOnce};

use super::column::{Column, Few, STRETCH};
use super::design::Design;
use super::interval::NotEstimable;

/// Cases of one block.
pub(super) const BLOCK: usize = STRETCH;

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

    /// Coefficients on standardised columns from those of the given ones, intercept first.
    pub(super) fn standard(&self, given: &[f64]) -> DVector<f64> {
        let means = self.means.iter().zip(&given[1..]).map(|(mean, slope)| mean * slope).sum::<f64>();
        let slopes = self.spreads.iter().zip(&given[1..]).map(|(spread, slope)| spread * slope);
        DVector::from_iterator(self.terms(), std::iter::once(given[0] + means).chain(slopes))
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
        Column::Few(few) => few.counted().map(|(value, cases)| term(value) * f64::from(cases)).sum(),
    }
}

/// Rounding does not grow with the number of cases.
fn sum_of_sums<T>(cases: &[T], term: impl Fn(&T) -> f64) -> f64 {
    let part = |chunk: &[T]| chunk.iter().map(&term).sum::<f64>();
    cases.chunks(64 * BLOCK).map(|many| many.chunks(BLOCK).map(part).sum::<f64>()).sum()
}

/// Up to [`BLOCK`] cases; rows beyond them are zero.
///
/// Where cases stand in an order, most terms are the same throughout a block: their centre, their
/// arm, often their kind of procedure. What such a term adds to a sum follows from the sum of the
/// weights, so that only the others cost a pass.
pub(super) struct RowBlock<'d> {
    columns: Vec<Standardised<'d>>,
    /// The values of each term that is not the same in all cases of the block.
    terms: Vec<Lane>,
    /// The value of each term that is the same in all cases of the block.
    same: Vec<Option<f64>>,
    /// The terms that are not.
    varying: Vec<usize>,
    /// Cases in the block.
    pub(super) cases: usize,
    /// Cases in the design.
    all: usize,
}

/// A column and what makes its values standardised ones.
enum Standardised<'d> {
    /// The place of each case's value in a table of standardised ones.
    Few { few: &'d Few, table: Box<[f64; 256]> },
    /// The values, from which the mean is taken before they are scaled.
    Many { values: &'d [f64], mean: f64, scale: f64 },
}

impl<'d> Standardised<'d> {
    fn new(column: &'d Column, mean: f64, spread: f64) -> Self {
        let scale = 1.0 / spread;
        match column {
            Column::Many(values) => Self::Many { values, mean, scale },
            Column::Few(few) => {
                let mut table = Box::new([0.0; 256]);
                for (place, value) in table.iter_mut().zip(few.values()) {
                    *place = (value - mean) * scale;
                }
                Self::Few { few, table }
            }
        }
    }
}

impl<'d> RowBlock<'d> {
    /// For the cases of a design; none is read yet.
    pub(super) fn of(design: &'d Design, units: &Units) -> Self {
        let column = |j: usize| Standardised::new(design.column(j), units.means[j], units.spreads[j]);
        let terms = units.terms();
        Self {
            columns: (0..design.columns()).map(column).collect(),
            terms: vec![[0.0; BLOCK]; terms],
            same: vec![None; terms],
            varying: Vec::with_capacity(terms),
            cases: 0,
            all: design.cases(),
        }
    }

    /// Reads cases `first`, `first + stride`, … until the block or the design is full; a block without
    /// strides begins where a stretch does.
    pub(super) fn read(&mut self, first: usize, stride: usize) {
        Arch::new().dispatch(Reading { block: self, first, stride });
    }

    #[inline(always)]
    fn fill_terms(&mut self, first: usize, stride: usize) {
        self.cases = (self.all - first).div_ceil(stride).min(BLOCK);
        self.same[0] = Some(1.0);
        self.varying.clear();
        for term in 1..self.terms.len() {
            let lane = &mut self.terms[term];
            match &self.columns[term - 1] {
                Standardised::Few { few, table } => {
                    if let Some(place) = few.shared(first / STRETCH).filter(|_| stride == 1) {
                        self.same[term] = Some(table[usize::from(place)]);
                        continue;
                    }
                    let from = &few.which()[first..];
                    // Choosing between two is quicker than looking them up.
                    let [zero, one] = [table[0], table[1]];
                    match few.values().len() {
                        2 => {
                            fill(lane, self.cases, from, stride, |place| if *place == 0 { zero } else { one })
                        }
                        _ => fill(lane, self.cases, from, stride, |place| table[usize::from(*place)]),
                    }
                }
                Standardised::Many { values, mean, scale } => {
                    fill(lane, self.cases, &values[first..], stride, |value| (value - mean) * scale);
                }
            }
            self.same[term] = None;
            self.varying.push(term);
        }
    }

    /// Gives one term the same value in every case.
    pub(super) fn set_term(&mut self, term: usize, value: f64) {
        self.same[term] = Some(value);
        self.varying.retain(|other| *other != term);
    }

    /// The terms of one case.
    pub(super) fn copy_row(&self, place: usize, row: &mut [f64]) {
        for (term, value) in row.iter_mut().enumerate() {
            *value = self.same[term].unwrap_or(self.terms[term][place]);
        }
    }

    /// Σ terms × weights, for each case.
    pub(super) fn combine(&self, weights: &DVector<f64>) -> Lane {
        Arch::new().dispatch(Combining { block: self, weights })
    }

    #[inline(always)]
    fn combined(&self, weights: &DVector<f64>) -> Lane {
        let mut total = [0.0; BLOCK];
        let shared = self.same.iter().zip(weights.iter());
        total[..self.cases].fill(shared.map(|(same, weight)| same.unwrap_or(0.0) * weight).sum());
        for term in &self.varying {
            add_multiple(&self.terms[*term], weights[*term], &mut total);
        }
        total
    }

    /// Adds Σ case weight × term. The weights of rows beyond the last case are zero.
    pub(super) fn add_weighted(&self, weights: &Lane, sums: &mut DVector<f64>) {
        Arch::new().dispatch(Adding { block: self, weights, to: Sums::Once(sums) });
    }

    #[inline(always)]
    fn add_weights(&self, weights: &Lane, sums: &mut DVector<f64>) {
        let whole = sum_of(weights);
        self.each_same(|term, value| sums[term] += value * whole);
        self.each_product(weights, 0, |term, total| sums[term] += total);
    }

    /// Adds Σ case weight × term over the cases of each place, a column a place.
    pub(super) fn add_by_place(&self, weights: &Lane, places: &[u32], sums: &mut DMatrix<f64>) {
        if let Some(place) = places.first().filter(|place| places.iter().all(|other| other == *place)) {
            let mut own: DVector<f64> = sums.column(*place as usize).into_owned();
            self.add_weighted(weights, &mut own);
            sums.set_column(*place as usize, &own);
            return;
        }
        for (term, lane) in self.terms.iter().enumerate() {
            let same = self.same[term];
            for ((weight, value), place) in weights.iter().zip(lane).zip(places) {
                sums[(term, *place as usize)] += weight * same.unwrap_or(*value);
            }
        }
    }

    /// Adds Σ case weight × term × term to the lower triangle. The weights of rows beyond the last
    /// case are zero.
    pub(super) fn add_crossed(&self, weights: &Lane, sums: &mut DMatrix<f64>) {
        Arch::new().dispatch(Adding { block: self, weights, to: Sums::Crossed(sums) });
    }

    #[inline(always)]
    fn add_crosses(&self, weights: &Lane, sums: &mut DMatrix<f64>) {
        let whole = sum_of(weights);
        let mut once = vec![0.0; self.terms.len()];
        self.each_same(|term, value| once[term] = value * whole);
        self.each_product(weights, 0, |term, total| once[term] = total);
        // A term that is the same everywhere crosses another as often as that one occurs.
        self.each_same(|term, value| {
            for (other, total) in once.iter().enumerate() {
                if other >= term {
                    sums[(other, term)] += value * total;
                } else if self.same[other].is_none() {
                    sums[(term, other)] += value * total;
                }
            }
        });
        let mut weighted = [0.0; BLOCK];
        for (place, column) in self.varying.iter().enumerate() {
            multiply(weights, &self.terms[*column], &mut weighted);
            self.each_product(&weighted, place, |row, total| sums[(row, *column)] += total);
        }
    }

    #[inline(always)]
    fn each_same(&self, mut with: impl FnMut(usize, f64)) {
        for (term, same) in self.same.iter().enumerate() {
            if let Some(value) = same {
                with(term, *value);
            }
        }
    }

    /// Inner products of a lane with every varying term from the place `first` among them on.
    #[inline(always)]
    fn each_product(&self, lane: &Lane, first: usize, mut add: impl FnMut(usize, f64)) {
        for term in &self.varying[first..] {
            add(*term, dot(lane, &self.terms[*term]));
        }
    }
}

// A pass over a block by the widest arithmetic of the machine. Numbers beside each other are
// worked on at once and nothing is contracted, so that the width changes no digit. Written as
// types: a closure would not be made anew for each width.

struct Reading<'a, 'd> {
    block: &'a mut RowBlock<'d>,
    first: usize,
    stride: usize,
}

impl NullaryFnOnce for Reading<'_, '_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        self.block.fill_terms(self.first, self.stride);
    }
}

struct Combining<'a, 'd> {
    block: &'a RowBlock<'d>,
    weights: &'a DVector<f64>,
}

impl NullaryFnOnce for Combining<'_, '_> {
    type Output = Lane;

    #[inline(always)]
    fn call(self) -> Lane {
        self.block.combined(self.weights)
    }
}

struct Adding<'a, 'd> {
    block: &'a RowBlock<'d>,
    weights: &'a Lane,
    to: Sums<'a>,
}

enum Sums<'a> {
    Once(&'a mut DVector<f64>),
    Crossed(&'a mut DMatrix<f64>),
}

impl NullaryFnOnce for Adding<'_, '_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        match self.to {
            Sums::Once(sums) => self.block.add_weights(self.weights, sums),
            Sums::Crossed(sums) => self.block.add_crosses(self.weights, sums),
        }
    }
}

/// Every `stride`-th value as the lane's first `cases` numbers, and zero behind them.
#[inline(always)]
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

#[inline(always)]
fn add_multiple(lane: &Lane, weight: f64, total: &mut Lane) {
    for (sum, value) in total.iter_mut().zip(lane) {
        *sum += weight * value;
    }
}

#[inline(always)]
fn multiply(one: &Lane, other: &Lane, product: &mut Lane) {
    for (product, (one, other)) in product.iter_mut().zip(one.iter().zip(other)) {
        *product = one * other;
    }
}

#[inline(always)]
pub(super) fn sum_of(lane: &Lane) -> f64 {
    dot(&[1.0; BLOCK], lane)
}

/// The inner product, in sixteen interleaved sums.
#[inline(always)]
fn dot(one: &Lane, other: &Lane) -> f64 {
    let mut sums = [0.0; 16];
    for (some, others) in one.as_chunks::<16>().0.iter().zip(other.as_chunks::<16>().0) {
        sums = std::array::from_fn(|lane| sums[lane] + some[lane] * others[lane]);
    }
    let halves: [f64; 8] = std::array::from_fn(|lane| sums[lane] + sums[lane + 8]);
    let quarters: [f64; 4] = std::array::from_fn(|lane| halves[lane] + halves[lane + 4]);
    (quarters[0] + quarters[2]) + (quarters[1] + quarters[3])
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
        let mut columns: Vec<Vec<f64>> =
            (1..=3).map(|j| (0..cases).map(|i| ((i * j * 37) % 101) as f64 + 1e6).collect()).collect();
        // More values than a byte tells apart, and one that is the same in most blocks.
        columns.push((0..cases).map(|i| (i as f64).sqrt()).collect());
        columns.push((0..cases).map(|i| f64::from(u8::from(i < BLOCK + 9))).collect());
        let design = Design::new(cases, &columns).unwrap();
        let units = Units::of(&design).unwrap();
        let mut block = RowBlock::of(&design, &units);
        let (mut crossed, mut weighted) = (DMatrix::zeros(6, 6), DVector::zeros(6));
        for first in (0..cases).step_by(BLOCK) {
            block.read(first, 1);
            let mut weights = [0.0; BLOCK];
            weights[..block.cases].fill(1.0);
            block.add_crossed(&weights, &mut crossed);
            block.add_weighted(&weights, &mut weighted);
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
