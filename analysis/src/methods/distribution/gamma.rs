//! Incomplete gamma function, for counts that follow a Poisson law.

use super::beta::{Tails, deviance, stirling_error};

/// Tails of the gamma distribution with `shape` > 0 and scale 1 at `x` ≥ 0.
///
/// The density in front is Loader's saddle-point form, as for the beta distribution: the one in
/// statrs takes differences of log-gammas, which costs digits at large counts.
pub fn gamma_tails(shape: f64, x: f64) -> Tails {
    if x <= 0.0 {
        return Tails { lower: 0.0, upper: 1.0 };
    }
    let front = (-stirling_error(shape) - deviance(shape, x)).exp() / (std::f64::consts::TAU * shape).sqrt();
    // Each form converges fast only on its own side of the mean.
    if x < shape + 1.0 {
        let lower = (front * rising_series(shape, x)).min(1.0);
        Tails { lower, upper: 1.0 - lower }
    } else {
        let upper = (front * shape * continued_fraction(shape, x)).min(1.0);
        Tails { lower: 1.0 - upper, upper }
    }
}

/// Number of terms grows with the square root of the shape; no shape of a count needs more.
const TERMS: u32 = 2_000_000;

/// 1 + x/(a+1) + x²/((a+1)(a+2)) + …
fn rising_series(shape: f64, x: f64) -> f64 {
    let (mut sum, mut term) = (1.0, 1.0);
    for k in 1..TERMS {
        term *= x / (shape + f64::from(k));
        sum += term;
        if term <= sum * f64::EPSILON / 4.0 {
            break;
        }
    }
    sum
}

/// Γ(a, x) / (xᵃ e⁻ˣ), by the modified Lentz rule.
fn continued_fraction(shape: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let away_from_zero = |v: f64| if v.abs() < TINY { TINY } else { v };
    let mut denominator = x + 1.0 - shape;
    let mut c = 1.0 / TINY;
    let mut d = 1.0 / away_from_zero(denominator);
    let mut value = d;
    for k in 1..TERMS {
        let k = f64::from(k);
        let numerator = k * (shape - k);
        denominator += 2.0;
        d = 1.0 / away_from_zero(denominator + numerator * d);
        c = away_from_zero(denominator + numerator / c);
        let change = c * d;
        value *= change;
        if (change - 1.0).abs() <= f64::EPSILON {
            break;
        }
    }
    value
}
