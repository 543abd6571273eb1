//! Two proportions against 50-digit arithmetic and statsmodels.

use quietbeam_analysis::methods::counts::TwoArms;
use quietbeam_analysis::methods::difference::{
    agresti_caffo_interval, newcombe_corrected_interval, newcombe_interval, wald_difference_interval,
};
use quietbeam_analysis::methods::interval::{Confidence, Interval, NotEstimable};
use quietbeam_analysis::methods::null_test::{NullDifference, OneSidedTest};
use quietbeam_analysis::methods::score::{
    farrington_manning_test, mee_interval, miettinen_nurminen_interval, miettinen_nurminen_test,
    proportions_under_difference, wald_difference_test,
};

use crate::reference::{Comparison, Tolerance, rows};

const SOURCE: &str = "50-digit evaluation, confirmed by numerical maximisation of the likelihood \
                      (score) and by statsmodels confint_proportions_2indep (Newcombe, Wald)";

/// The reference limits are roots of a 50-digit function rounded to double; ours are double
/// roots, whose last digits the square root in the statistic takes.
const INTERVAL: Tolerance = Tolerance::Absolute(1e-9);

fn check_interval(method: &'static str, compute: fn(TwoArms, Confidence) -> Interval) {
    let mut comparison = Comparison::new(method, SOURCE);
    for row in rows("difference.csv").iter().filter(|row| row.text("method") == method) {
        comparison.interval(row, compute(row.arms(), row.level()), INTERVAL);
    }
    comparison.finish(200);
}

#[test]
fn newcombe() {
    check_interval("newcombe", newcombe_interval);
}

#[test]
fn miettinen_nurminen() {
    check_interval("miettinen_nurminen", miettinen_nurminen_interval);
}

#[test]
fn mee() {
    check_interval("mee", mee_interval);
}

#[test]
fn wald() {
    check_interval("wald", wald_difference_interval);
}

#[test]
fn newcombe_corrected() {
    check_interval("newcombe_cc", newcombe_corrected_interval);
}

#[test]
fn agresti_caffo() {
    check_interval("agresti_caffo", agresti_caffo_interval);
}

const TESTS: &str = "50-digit evaluation; statsmodels test_proportions_2indep with its issue #10269 mended";

fn check_test(
    method: &'static str,
    compute: impl Fn(TwoArms, NullDifference) -> Result<OneSidedTest<NullDifference>, NotEstimable>,
) {
    let mut comparison = Comparison::new(method, TESTS);
    for row in rows("difference_tests.csv").iter().filter(|row| row.text("method") == method) {
        let null = NullDifference::new(row.number("null")).expect("a null difference");
        comparison.test(row, compute(row.arms(), null), INTERVAL);
        if method != "wald_blackwelder" {
            let (r1, r2) = proportions_under_difference(row.arms(), null);
            comparison.value(&row.name(), r1, row.number("restricted_p1"), INTERVAL);
            comparison.value(&row.name(), r2, row.number("restricted_p2"), INTERVAL);
        }
    }
    comparison.finish(300);
}

#[test]
fn farrington_manning() {
    check_test("farrington_manning", |arms, null| Ok(farrington_manning_test(arms, null)));
}

#[test]
fn miettinen_nurminen_one_sided() {
    check_test("miettinen_nurminen", |arms, null| Ok(miettinen_nurminen_test(arms, null)));
}

#[test]
fn wald_blackwelder() {
    check_test("wald_blackwelder", wald_difference_test);
}
