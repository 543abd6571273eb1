//! One proportion against 50-digit arithmetic, SciPy, statsmodels and R.

use quietbeam_analysis::methods::counts::EventCount;
use quietbeam_analysis::methods::interval::{Confidence, Interval};
use quietbeam_analysis::methods::proportion::{clopper_pearson_interval, wilson_interval};

use crate::reference::{Comparison, Row, Tolerance, rows};

const SOURCE: &str = "50-digit evaluation of the formula; statsmodels proportion_confint, R binom.test";

fn check(
    method: &'static str,
    compute: fn(EventCount, Confidence) -> Interval,
    tolerance: fn(&Row) -> Tolerance,
) {
    let mut comparison = Comparison::new(method, SOURCE);
    for row in rows("one_proportion.csv").iter().filter(|row| row.text("method") == method) {
        comparison.interval(row, compute(row.count("x", "n"), row.level()), tolerance(row));
    }
    comparison.finish(1_000);
}

/// A closed form loses a few units in the last place and no more.
fn closed_form(_: &Row) -> Tolerance {
    Tolerance::Absolute(1e-13)
}

/// Above 120 cases the reference itself is a double-precision root, good to ten digits,
/// at a million cases to eight.
fn exact(row: &Row) -> Tolerance {
    Tolerance::Relative(if row.number::<u32>("n") > 100_000 { 1e-8 } else { 1e-10 })
}

#[test]
fn wilson() {
    check("wilson", wilson_interval, closed_form);
}

#[test]
fn clopper_pearson() {
    check("clopper_pearson", clopper_pearson_interval, exact);
}
