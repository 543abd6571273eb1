//! Blocks of cases with an intercept and standardised covariates, and sums over them.

use nalgebra::{DMatrix, DVector};
use pulp::{Arch, NullaryFnOnce, Simd, WithSimd};

use super::column::{Column, Few, STRETCH};
use super::design::Design;
use super::interval::NotEstimable;
use super::lanes::{BLOCK, Lane, add_multiples, dots, sum_of};

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
    Few { few: &'d Few, table: Box<[f64; 256]>, steps: Option<Steps> },
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
                Self::Few { few, table, steps: Steps::of(few.values(), mean, scale) }
            }
        }
    }
}

/// Whole numbers that follow each other, such as years: reckoned from their places side by side,
/// to the same digits as in a table, where each is looked up by itself.
struct Steps {
    first: f64,
    mean: f64,
    scale: f64,
}

impl Steps {
    fn of(values: &[f64], mean: f64, scale: f64) -> Option<Self> {
        let first = *values.first()?;
        let follow = values.iter().enumerate().all(|(place, value)| *value == first + place as f64);
        (follow && first.fract() == 0.0).then_some(Self { first, mean, scale })
    }

    #[inline(always)]
    fn at(&self, place: u8) -> f64 {
        (self.first + f64::from(place) - self.mean) * self.scale
    }
}

impl<'d> RowBlock<'d> {
    /// For the cases of a design; none is read yet.
    pub(super) fn of(design: &'d Design, units: &Units) -> Self {
        let column = |j: usize| Standardised::new(design.column(j), units.means[j], units.spreads[j]);
        let terms = units.terms();
        Self {
            columns: (0..design.columns()).map(column).collect(),
            terms: vec![Lane::ZERO; terms],
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
                Standardised::Few { few, table, steps } => {
                    if let Some(place) = few.shared(first / STRETCH).filter(|_| stride == 1) {
                        self.same[term] = Some(table[usize::from(place)]);
                        continue;
                    }
                    let from = &few.which()[first..];
                    // Choosing between two is quicker than looking them up.
                    let [zero, one] = [table[0], table[1]];
                    match steps {
                        _ if few.values().len() == 2 => {
                            fill(lane, self.cases, from, stride, |place| if *place == 0 { zero } else { one })
                        }
                        Some(steps) => fill(lane, self.cases, from, stride, |place| steps.at(*place)),
                        None => fill(lane, self.cases, from, stride, |place| table[usize::from(*place)]),
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

    /// Gives one term the same value in every case, or lets it vary as it was read; the answer is
    /// what makes it again what it was.
    pub(super) fn set_term(&mut self, term: usize, same: Option<f64>) -> Option<f64> {
        let was = std::mem::replace(&mut self.same[term], same);
        match (was, same) {
            (None, Some(_)) => self.varying.retain(|other| *other != term),
            (Some(_), None) => {
                let place = self.varying.partition_point(|other| *other < term);
                self.varying.insert(place, term);
            }
            _ => {}
        }
        was
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
    fn combined<S: Simd>(&self, simd: S, weights: &DVector<f64>) -> Lane {
        let mut total = Lane::ZERO;
        let shared = self.same.iter().zip(weights.iter());
        total[..self.cases].fill(shared.map(|(same, weight)| same.unwrap_or(0.0) * weight).sum());
        let weighted = |term: usize| (&self.terms[term], weights[term]);
        let (threes, rest) = self.varying.as_chunks::<3>();
        threes.iter().for_each(|three| add_multiples(simd, three.map(weighted), &mut total));
        rest.iter().for_each(|term| add_multiples(simd, [weighted(*term)], &mut total));
        total
    }

    /// Adds Σ case weight × term. The weights of rows beyond the last case are zero.
    pub(super) fn add_weighted(&self, weights: &Lane, sums: &mut DVector<f64>) {
        Arch::new().dispatch(Adding { block: self, weights, to: Sums::Once(sums) });
    }

    #[inline(always)]
    fn add_weights<S: Simd>(&self, simd: S, weights: &Lane, sums: &mut DVector<f64>) {
        let whole = sum_of(simd, weights);
        self.each_same(|term, value| sums[term] += value * whole);
        self.each_product(simd, weights, 0, |term, total| sums[term] += total);
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
            for ((weight, value), place) in weights.iter().zip(lane.iter()).zip(places) {
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
    fn add_crosses<S: Simd>(&self, simd: S, weights: &Lane, sums: &mut DMatrix<f64>) {
        let whole = sum_of(simd, weights);
        let mut once = vec![0.0; self.terms.len()];
        self.each_same(|term, value| once[term] = value * whole);
        self.each_product(simd, weights, 0, |term, total| once[term] = total);
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
        let mut weighted = Lane::ZERO;
        for (place, column) in self.varying.iter().enumerate() {
            weighted.set_to_product(weights, &self.terms[*column]);
            self.each_product(simd, &weighted, place, |row, total| sums[(row, *column)] += total);
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
    fn each_product<S: Simd>(&self, simd: S, lane: &Lane, first: usize, mut add: impl FnMut(usize, f64)) {
        let (threes, rest) = self.varying[first..].as_chunks::<3>();
        for three in threes {
            let products = dots(simd, lane, three.map(|term| &self.terms[term]));
            three.iter().zip(products).for_each(|(term, product)| add(*term, product));
        }
        for term in rest {
            let [product] = dots(simd, lane, [&self.terms[*term]]);
            add(*term, product);
        }
    }
}

// A pass over a block by the widest arithmetic of the machine. Written as types: a closure would
// not be made anew for each width.

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

impl WithSimd for Combining<'_, '_> {
    type Output = Lane;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Lane {
        self.block.combined(simd, self.weights)
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

impl WithSimd for Adding<'_, '_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        match self.to {
            Sums::Once(sums) => self.block.add_weights(simd, self.weights, sums),
            Sums::Crossed(sums) => self.block.add_crosses(simd, self.weights, sums),
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
            let mut weights = Lane::ZERO;
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
