//! Probabilities of an event and of its absence from log odds, a block of cases at a time.
//!
//! The exponential is our own: a library's is one call a case, or contracts products on some
//! machines and so gives other digits there. Plain products and additions, side by side, are the
//! same everywhere.

use pulp::{Arch, NullaryFnOnce};

use super::lanes::{BLOCK, Lane};

/// Probabilities of both outcomes, neither short of digits; zero beyond the last case.
pub(super) struct Sides {
    /// Of the event.
    pub(super) with: Lane,
    /// Of its absence.
    pub(super) without: Lane,
}

/// Of the first `cases` log odds of a block.
pub(super) fn sides(log_odds: &Lane, cases: usize) -> Sides {
    Arch::new().dispatch(Splitting { log_odds, cases })
}

/// The same of the first cases among these, no more than a block holds.
pub(super) fn sides_of(log_odds: &[f64]) -> Sides {
    let cases = log_odds.len().min(BLOCK);
    let mut lane = Lane::ZERO;
    lane[..cases].copy_from_slice(&log_odds[..cases]);
    sides(&lane, cases)
}

struct Splitting<'a> {
    log_odds: &'a Lane,
    cases: usize,
}

impl NullaryFnOnce for Splitting<'_> {
    type Output = Sides;

    #[inline(always)]
    fn call(self) -> Sides {
        split(self.log_odds, self.cases)
    }
}

/// The same as a part of something wider: from the odds against the likelier side, so that neither
/// loses digits.
#[inline(always)]
pub(super) fn split(log_odds: &Lane, cases: usize) -> Sides {
    let mut sides = Sides { with: Lane::ZERO, without: Lane::ZERO };
    let both = sides.with.iter_mut().zip(sides.without.iter_mut());
    for (odds, (with, without)) in log_odds.iter().zip(both) {
        let against = exp_of_negative(-odds.abs());
        let likely = 1.0 / (1.0 + against);
        let unlikely = against * likely;
        let rather_without = *odds < 0.0;
        *with = if rather_without { unlikely } else { likely };
        *without = if rather_without { likely } else { unlikely };
    }
    sides.with[cases..].fill(0.0);
    sides.without[cases..].fill(0.0);
    sides
}

/// The smallest argument: e⁻⁷⁰⁰ is 10⁻³⁰⁴, so that no probability is smaller.
const LEAST: f64 = -700.0;

/// Added to a small number and taken away again it leaves the nearest whole one, which meanwhile
/// stands in the lowest bits: 1.5 · 2⁵².
const ROUNDING: f64 = 6_755_399_441_055_744.0;

/// ln 2 in two parts, of which the first has so few digits that whole multiples of it are exact.
const LN_2: [f64; 2] = [f64::from_bits(0x3fe6_2e42_fee0_0000), f64::from_bits(0x3dea_39ef_3579_3c76)];

/// 1/n! for n = 13, 12, … 0: for arguments up to half of ln 2 the next term is below a tenth of
/// the last digit.
const TAYLOR: [f64; 14] = [
    1.0 / 6_227_020_800.0,
    1.0 / 479_001_600.0,
    1.0 / 39_916_800.0,
    1.0 / 3_628_800.0,
    1.0 / 362_880.0,
    1.0 / 40_320.0,
    1.0 / 5_040.0,
    1.0 / 720.0,
    1.0 / 120.0,
    1.0 / 24.0,
    1.0 / 6.0,
    0.5,
    1.0,
    1.0,
];

/// eˣ for x from −∞ to 0, to the last digit or the one beside it; from −700 on e⁻⁷⁰⁰.
///
/// eˣ = 2ᵏ eʳ with k the whole number nearest to x / ln 2, and Taylor's polynomial for r.
#[inline(always)]
fn exp_of_negative(x: f64) -> f64 {
    let x = if x < LEAST { LEAST } else { x };
    let rounded = x * std::f64::consts::LOG2_E + ROUNDING;
    let whole = rounded - ROUNDING;
    let rest = (x - whole * LN_2[0]) - whole * LN_2[1];
    let mut value = TAYLOR[0];
    for coefficient in &TAYLOR[1..] {
        value = value * rest + coefficient;
    }
    // Adds the whole number to the exponent.
    f64::from_bits(value.to_bits().wrapping_add(rounded.to_bits() << 52))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against the C library's function as translated in libm, itself within one unit of the last
    /// place of the true value.
    #[test]
    fn the_exponential_is_that_of_libm_to_the_last_digits() {
        for step in 0..=7_000_000_u32 {
            let x = -f64::from(step) * 1e-4;
            let (own, libm) = (exp_of_negative(x), libm::exp(x));
            assert!((own - libm).abs() <= 4e-16 * libm, "e^{x}: {own:e}, libm {libm:e}");
        }
        assert_eq!([0.0, -0.0].map(exp_of_negative), [1.0, 1.0]);
        assert_eq!(exp_of_negative(f64::NEG_INFINITY), exp_of_negative(-700.0));
    }

    #[test]
    fn both_sides_are_probabilities_that_mirror_each_other() {
        let mut log_odds = Lane::ZERO;
        for (place, odds) in log_odds.iter_mut().enumerate() {
            *odds = (place as f64 - 128.0) * 0.37;
        }
        let found = sides(&log_odds, BLOCK - 6);
        for (place, odds) in log_odds.iter().enumerate().take(BLOCK - 6) {
            let (with, without) = (found.with[place], found.without[place]);
            assert!((with + without - 1.0).abs() < 3e-16, "{with} {without}");
            let expected = 1.0 / (1.0 + libm::exp(-odds));
            assert!((with - expected).abs() <= 4e-16 * expected, "{with} {expected}");
            let mirror = 256 - place;
            if (1..BLOCK - 6).contains(&mirror) {
                assert_eq!(with, found.without[mirror], "{place}");
            }
        }
        assert_eq!(found.with[BLOCK - 6..], [0.0; 6]);
        assert_eq!(found.without[BLOCK - 6..], [0.0; 6]);
    }
}
