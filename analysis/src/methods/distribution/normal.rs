//! Standard normal distribution.

use std::f64::consts::SQRT_2;

use libm::erfc;
use statrs::function::erf::erfc_inv;

/// P(Z ≥ z), accurate to a relative error near 1e-14 far into the upper tail.
pub fn normal_upper_tail(z: f64) -> f64 {
    0.5 * erfc(z / SQRT_2)
}

/// P(Z ≤ z).
pub fn normal_lower_tail(z: f64) -> f64 {
    normal_upper_tail(-z)
}

/// The z with P(Z ≥ z) = `p`, for `p` strictly between 0 and 1.
pub fn normal_upper_quantile(p: f64) -> f64 {
    SQRT_2 * erfc_inv(2.0 * p)
}
