//! One number a case, for as many cases as a pass works on at once, and sums over them.
//!
//! Sums run in the order of the cases with plain products and additions, and nothing is
//! contracted: numbers beside each other are worked on at once by the widest arithmetic of the
//! machine, and no width changes a digit.

use std::ops::{Deref, DerefMut};

use pulp::{Arch, Simd, WithSimd};

use super::column::STRETCH;

/// Cases of one block.
pub(super) const BLOCK: usize = STRETCH;

/// One number a case of the block. It begins where the widest registers read without touching two
/// lines of the cache: inner products of lanes that do not take twice as long.
#[derive(Clone, Copy)]
#[repr(align(64))]
pub(super) struct Lane([f64; BLOCK]);

impl Lane {
    /// Nothing in every case.
    pub(super) const ZERO: Self = Self([0.0; BLOCK]);

    /// One in every case.
    pub(super) const ONE: Self = Self([1.0; BLOCK]);

    /// A number for each place in the block.
    pub(super) fn from_fn(number: impl FnMut(usize) -> f64) -> Self {
        Self(std::array::from_fn(number))
    }

    /// Case by case.
    #[inline(always)]
    pub(super) fn times(&self, other: &Self) -> Self {
        let mut product = Self::ZERO;
        product.set_to_product(self, other);
        product
    }

    /// The same where a lane is at hand.
    #[inline(always)]
    pub(super) fn set_to_product(&mut self, one: &Self, other: &Self) {
        for (product, (one, other)) in self.iter_mut().zip(one.iter().zip(other.iter())) {
            *product = one * other;
        }
    }
}

impl Deref for Lane {
    type Target = [f64; BLOCK];

    fn deref(&self) -> &Self::Target {
        &self.0
    }
}

impl DerefMut for Lane {
    fn deref_mut(&mut self) -> &mut Self::Target {
        &mut self.0
    }
}

/// Partial sums of an inner product.
const SUMS: usize = 16;

/// The inner products of one lane with others side by side, each in sixteen interleaved sums: what
/// is read of the one serves all of them, and no sum waits for itself.
#[inline(always)]
pub(super) fn dots<S: Simd, const MANY: usize>(simd: S, one: &Lane, others: [&Lane; MANY]) -> [f64; MANY] {
    let registers = SUMS / S::F64_LANES;
    let one = S::as_simd_f64s(one.as_slice()).0;
    let others = others.map(|other| S::as_simd_f64s(other.as_slice()).0);
    let mut sums = [[simd.splat_f64s(0.0); SUMS]; MANY];
    let mut at = 0;
    while at < one.len() {
        for register in 0..registers {
            let own = one[at + register];
            for (sums, other) in sums.iter_mut().zip(&others) {
                let product = simd.mul_f64s(own, other[at + register]);
                sums[register] = simd.add_f64s(sums[register], product);
            }
        }
        at += registers;
    }
    let mut products = [0.0; MANY];
    for (product, own) in products.iter_mut().zip(&sums) {
        let mut sums = [0.0; SUMS];
        let apart = S::as_mut_simd_f64s(&mut sums).0;
        apart.iter_mut().zip(own).for_each(|(apart, own)| *apart = *own);
        *product = folded(&sums);
    }
    products
}

#[inline(always)]
fn folded(sums: &[f64; SUMS]) -> f64 {
    let halves: [f64; 8] = std::array::from_fn(|lane| sums[lane] + sums[lane + 8]);
    let quarters: [f64; 4] = std::array::from_fn(|lane| halves[lane] + halves[lane + 4]);
    (quarters[0] + quarters[2]) + (quarters[1] + quarters[3])
}

/// The sum over all cases.
#[inline(always)]
pub(super) fn sum_of<S: Simd>(simd: S, lane: &Lane) -> f64 {
    let [sum] = dots(simd, &Lane::ONE, [lane]);
    sum
}

/// The same from outside a pass by the widest arithmetic.
pub(super) fn total(lane: &Lane) -> f64 {
    Arch::new().dispatch(Totalling(lane))
}

struct Totalling<'a>(&'a Lane);

impl WithSimd for Totalling<'_> {
    type Output = f64;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> f64 {
        sum_of(simd, self.0)
    }
}

/// Adds a multiple of each lane, one after the other.
#[inline(always)]
pub(super) fn add_multiples<S: Simd, const MANY: usize>(
    simd: S,
    weighted: [(&Lane, f64); MANY],
    total: &mut Lane,
) {
    let lanes = weighted.map(|(lane, weight)| (S::as_simd_f64s(lane.as_slice()).0, simd.splat_f64s(weight)));
    for (at, total) in S::as_mut_simd_f64s(total.as_mut_slice()).0.iter_mut().enumerate() {
        for (lane, weight) in &lanes {
            *total = simd.add_f64s(*total, simd.mul_f64s(*weight, lane[at]));
        }
    }
}
