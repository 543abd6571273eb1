//! Tails and quantiles against 50-digit arithmetic (mpmath).

use quietbeam_analysis::methods::distribution::{
    beta_quantile, beta_tails, beta_upper_quantile, chi_square_upper_tail, gamma_tails, normal_lower_tail,
    normal_upper_quantile, normal_upper_tail, student_two_sided_p, student_upper_quantile,
};

use crate::reference::{Comparison, Row, Tolerance, rows};

/// Twelve digits: two more than any method is asked for.
const TWELVE_DIGITS: Tolerance = Tolerance::Relative(1e-12);

fn compute(row: &Row) -> f64 {
    let (a, b, at) = (row.number("a"), row.number("b"), row.number("at"));
    match row.text("function") {
        "normal_upper_tail" => normal_upper_tail(at),
        "normal_lower_tail" => normal_lower_tail(at),
        "normal_upper_quantile" => normal_upper_quantile(at),
        "beta_lower_tail" => beta_tails(a, b, at).lower,
        "beta_upper_tail" => beta_tails(a, b, at).upper,
        "beta_quantile" => beta_quantile(a, b, at),
        "beta_upper_quantile" => beta_upper_quantile(a, b, at),
        "gamma_lower_tail" => gamma_tails(a, at).lower,
        "gamma_upper_tail" => gamma_tails(a, at).upper,
        "student_two_sided_p" => student_two_sided_p(at, a),
        "student_upper_quantile" => student_upper_quantile(at, a),
        "chi_square_upper_tail" => chi_square_upper_tail(at, a),
        other => panic!("{other} is not a function under test"),
    }
}

#[test]
fn tails_and_quantiles_keep_twelve_digits() {
    let mut comparison = Comparison::new("distributions", "mpmath 1.4.1, 50 digits");
    for row in &rows("distributions.csv") {
        comparison.value(&row.name(), compute(row), row.number("value"), TWELVE_DIGITS);
    }
    comparison.finish(200);
}
