//! Upper tail of the chi-square distribution.

use statrs::function::gamma::gamma_ur;

use super::normal::normal_upper_tail;

/// P(X ≥ `x`) with `df` > 0 degrees of freedom.
pub fn chi_square_upper_tail(x: f64, df: f64) -> f64 {
    if x <= 0.0 {
        return 1.0;
    }
    if df == 1.0 {
        return 2.0 * normal_upper_tail(x.sqrt());
    }
    if x.is_infinite() {
        return 0.0;
    }
    gamma_ur(df / 2.0, x / 2.0)
}
