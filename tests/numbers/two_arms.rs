//! Two proportions against 50-digit arithmetic and statsmodels.

use quietbeam_analysis::methods::counts::TwoArms;
use quietbeam_analysis::methods::difference::{newcombe_interval, wald_difference_interval};
use quietbeam_analysis::methods::interval::{Confidence, Interval};
use quietbeam_analysis::methods::score::{
    NullDifference, ScoreTest, farrington_manning_test, mee_interval, miettinen_nurminen_interval,
    miettinen_nurminen_test,
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

fn check_test(method: &'static str, compute: fn(TwoArms, NullDifference) -> ScoreTest) {
    let source = "50-digit evaluation; statsmodels test_proportions_2indep with its issue #10269 mended";
    let mut comparison = Comparison::new(method, source);
    for row in rows("difference_tests.csv").iter().filter(|row| row.text("method") == method) {
        let null = NullDifference::new(row.number("null")).expect("a null difference");
        let test = compute(row.arms(), null);
        for (column, computed) in [
            ("z", test.z),
            ("p_greater", test.p_greater),
            ("p_less", test.p_less),
            ("restricted_p1", test.restricted.0),
            ("restricted_p2", test.restricted.1),
        ] {
            let case = format!("{} {column}", row.name());
            comparison.value(&case, computed, row.number(column), Tolerance::Absolute(1e-9));
        }
    }
    comparison.finish(500);
}

#[test]
fn farrington_manning() {
    check_test("farrington_manning", farrington_manning_test);
}

#[test]
fn miettinen_nurminen_one_sided() {
    check_test("miettinen_nurminen", miettinen_nurminen_test);
}
