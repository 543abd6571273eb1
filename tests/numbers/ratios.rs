//! Ratios and odds ratios against 50-digit arithmetic, epiR, SciPy and statsmodels.

use quietbeam_analysis::methods::counts::TwoArms;
use quietbeam_analysis::methods::exact_odds_ratio::{exact_conditional_interval, fisher_test};
use quietbeam_analysis::methods::interval::{Confidence, NotEstimable, RatioInterval};
use quietbeam_analysis::methods::null_test::{NullRatio, OneSidedTest};
use quietbeam_analysis::methods::odds_ratio::{
    haldane_interval, miettinen_nurminen_odds_ratio_interval, odds_ratio_score_interval, woolf_interval,
};
use quietbeam_analysis::methods::ratio::{
    farrington_manning_ratio_test, katz_interval, koopman_interval, miettinen_nurminen_ratio_interval,
    miettinen_nurminen_ratio_test, proportions_under_ratio, wald_linear_ratio_test, wald_log_ratio_test,
};

use crate::reference::{Comparison, Tolerance, rows};

const SOURCE: &str =
    "50-digit evaluation; epiR (Koopman), statsmodels (Katz, Woolf, score), SciPy odds_ratio (exact)";

/// Both are roots rounded to double; a ratio near a million keeps eight digits of its root.
const EIGHT_DIGITS: Tolerance = Tolerance::Relative(1e-8);

fn check(
    file: &'static str,
    method: &'static str,
    compute: impl Fn(TwoArms, Confidence) -> Result<RatioInterval, NotEstimable>,
    tolerance: Tolerance,
) {
    let mut comparison = Comparison::new(method, SOURCE);
    for row in rows(file).iter().filter(|row| row.text("method") == method) {
        comparison.ratio(row, compute(row.arms(), row.level()), tolerance);
    }
    comparison.finish(200);
}

#[test]
fn katz() {
    check("ratio.csv", "rr_katz", katz_interval, EIGHT_DIGITS);
}

#[test]
fn koopman() {
    check("ratio.csv", "rr_koopman", |arms, level| Ok(koopman_interval(arms, level)), EIGHT_DIGITS);
}

#[test]
fn miettinen_nurminen() {
    let method = |arms, level| Ok(miettinen_nurminen_ratio_interval(arms, level));
    check("ratio.csv", "rr_miettinen_nurminen", method, EIGHT_DIGITS);
}

#[test]
fn woolf() {
    check("odds_ratio.csv", "or_woolf", woolf_interval, EIGHT_DIGITS);
}

#[test]
fn haldane() {
    check("odds_ratio.csv", "or_haldane", |arms, level| Ok(haldane_interval(arms, level)), EIGHT_DIGITS);
}

#[test]
fn score() {
    let method = |arms, level| Ok(odds_ratio_score_interval(arms, level));
    check("odds_ratio.csv", "or_score", method, EIGHT_DIGITS);
}

#[test]
fn score_miettinen_nurminen() {
    let method = |arms, level| Ok(miettinen_nurminen_odds_ratio_interval(arms, level));
    check("odds_ratio.csv", "or_score_mn", method, EIGHT_DIGITS);
}

#[test]
fn exact_conditional() {
    let method = |arms, level| Ok(exact_conditional_interval(arms, level));
    // The reference root was itself found in double precision.
    check("odds_ratio.csv", "or_exact_conditional", method, Tolerance::Relative(1e-7));
}

fn check_test(
    method: &'static str,
    compute: impl Fn(TwoArms, NullRatio) -> Result<OneSidedTest<NullRatio>, NotEstimable>,
) {
    let mut comparison = Comparison::new(method, "50-digit evaluation; statsmodels test_proportions_2indep");
    let near = Tolerance::Absolute(1e-9);
    for row in rows("ratio_tests.csv").iter().filter(|row| row.text("method") == method) {
        let null = NullRatio::new(row.number("null")).expect("a null ratio");
        comparison.test(row, compute(row.arms(), null), near);
        if !method.starts_with("wald") {
            let (r1, r2) = proportions_under_ratio(row.arms(), null);
            comparison.value(&row.name(), r1, row.number("restricted_p1"), near);
            comparison.value(&row.name(), r2, row.number("restricted_p2"), near);
        }
    }
    comparison.finish(300);
}

#[test]
fn farrington_manning() {
    check_test("farrington_manning_ratio", |arms, null| Ok(farrington_manning_ratio_test(arms, null)));
}

#[test]
fn miettinen_nurminen_one_sided() {
    check_test("miettinen_nurminen_ratio", |arms, null| Ok(miettinen_nurminen_ratio_test(arms, null)));
}

#[test]
fn wald_log() {
    check_test("wald_log_ratio", wald_log_ratio_test);
}

#[test]
fn wald_linear() {
    check_test("wald_linear_ratio", wald_linear_ratio_test);
}

#[test]
fn fisher() {
    let mut comparison = Comparison::new("fisher", "50-digit enumeration; SciPy fisher_exact");
    for row in rows("exact_tests.csv").iter().filter(|row| row.text("test") == "fisher") {
        let test = fisher_test(row.arms());
        let p = match row.text("alternative") {
            "less" => test.p_less,
            "greater" => test.p_greater,
            _ => test.p_two_sided,
        };
        // Sums of products of ratios: only rounding.
        comparison.value(&row.name(), p, row.number("p"), Tolerance::Relative(1e-10));
    }
    comparison.finish(90);
}

#[test]
fn fisher_of_billions_of_cases_fits_in_memory() {
    let arms = |x1, n1, x2, n2| crate::published::arms(x1, n1, x2, n2);
    let near = fisher_test(arms(2_147_483_647, 4_294_967_295, 2_147_480_000, 4_294_967_290));
    // The normal approximation, z = 0.07865 with a pooled variance, gives 0.9373 (Python math.erfc).
    assert!((near.p_two_sided - 0.937).abs() < 1e-3, "{near:?}");
    let far = fisher_test(arms(4_000_000_000, 4_294_967_295, 1, 4_294_967_290));
    assert_eq!((far.p_less, far.p_greater, far.p_two_sided), (1.0, 0.0, 0.0));
    let swapped = fisher_test(arms(1, 4_294_967_290, 4_000_000_000, 4_294_967_295));
    assert_eq!((swapped.p_less, swapped.p_greater), (0.0, 1.0));
}
