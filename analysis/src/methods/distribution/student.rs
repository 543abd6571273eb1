//! Student's t distribution, for any positive degrees of freedom.

use super::beta::{beta_tails, beta_upper_quantile_odds};

/// P(|T| ≥ |t|) with `df` > 0 degrees of freedom.
pub fn student_two_sided_p(t: f64, df: f64) -> f64 {
    let square = t * t;
    // Take the tail from whichever of the two complementary arguments is small.
    if square < df {
        beta_tails(0.5, df / 2.0, square / (df + square)).upper
    } else {
        beta_tails(df / 2.0, 0.5, df / (df + square)).lower
    }
}

/// The t with P(T ≥ t) = `p`, for `p` strictly between 0 and ½, `df` > 0.
pub fn student_upper_quantile(p: f64, df: f64) -> f64 {
    (df * beta_upper_quantile_odds(0.5, df / 2.0, 2.0 * p)).sqrt()
}
