//! Average half-widths against an average over every table with SciPy and statsmodels.

use std::num::NonZeroU32;

use proptest::prelude::*;
use quietbeam_analysis::methods::difference::newcombe_interval;
use quietbeam_analysis::methods::interval::Confidence;
use quietbeam_analysis::methods::plan::{Allocation, CannotPlan};
use quietbeam_analysis::methods::precision::{
    AssumedProportion, PlannedPrecision, WantedHalfWidth, cases_for_difference_half_width,
    cases_for_half_width, expected_difference_half_width, expected_half_width, expected_ratio_reach,
};
use quietbeam_analysis::methods::proportion::{clopper_pearson_interval, wilson_interval};
use quietbeam_analysis::methods::ratio::{koopman_interval, miettinen_nurminen_ratio_interval};
use quietbeam_analysis::methods::score::miettinen_nurminen_interval;

use crate::planning::{proportions, sizes};
use crate::reference::{Comparison, Row, Tolerance, rows};

const SOURCE: &str = "precision.py, SciPy binom and statsmodels proportion_confint";

fn some(n: u32) -> NonZeroU32 {
    NonZeroU32::new(n).unwrap()
}

fn assumed(p: f64) -> AssumedProportion {
    AssumedProportion::new(p).unwrap()
}

fn wanted(half_width: f64) -> WantedHalfWidth {
    WantedHalfWidth::new(half_width).unwrap()
}

/// The tails the reference leaves out hold 1e-16 each.
const WIDTH: Tolerance = Tolerance::Relative(1e-10);

#[test]
fn one_proportion() {
    let mut comparison = Comparison::new("half-width, one proportion", SOURCE);
    for row in rows("precision.csv").iter().filter(|row| row.text("method") != "newcombe") {
        let interval = match row.text("method") {
            "wilson" => wilson_interval,
            _ => clopper_pearson_interval,
        };
        let p = assumed(row.number("p1"));
        let width = expected_half_width(some(row.number("n1")), p, row.level(), interval);
        comparison.value(&row.name(), width, row.number("half_width"), WIDTH);
        if !row.text("wanted").is_empty() {
            let cases = cases_for_half_width(wanted(row.number("wanted")), p, row.level(), interval);
            assert_eq!(cases, Ok(some(row.number("fewest"))), "{}", row.name());
        }
    }
    comparison.finish(18);
}

fn planned(row: &Row) -> PlannedPrecision {
    PlannedPrecision {
        half_width: wanted(row.number("wanted")),
        proportions: proportions(row.number("p1"), row.number("p2")),
        allocation: Allocation::new(row.number::<f64>("n2") / row.number::<f64>("n1")).unwrap(),
        level: row.level(),
    }
}

#[test]
fn a_difference() {
    let mut comparison = Comparison::new("half-width, difference", SOURCE);
    for row in rows("precision.csv").iter().filter(|row| row.text("method") == "newcombe") {
        let arms = sizes(row.number("n1"), row.number("n2"));
        let truth = proportions(row.number("p1"), row.number("p2"));
        let width = expected_difference_half_width(arms, truth, row.level(), newcombe_interval);
        comparison.value(&row.name(), width, row.number("half_width"), WIDTH);
        if !row.text("wanted").is_empty() {
            let found = cases_for_difference_half_width(&planned(row), newcombe_interval).unwrap();
            assert_eq!(found.first, some(row.number("fewest")), "{}", row.name());
        }
    }
    comparison.finish(7);
}

#[test]
fn a_ratio() {
    const SOURCE: &str = "precision_ratio.R, base R, chi-square and likelihood bisected";
    let mut comparison = Comparison::new("reach, ratio", SOURCE);
    for row in &rows("precision_ratio.csv") {
        let interval = match row.text("method") {
            "koopman" => koopman_interval,
            _ => miettinen_nurminen_ratio_interval,
        };
        let arms = sizes(row.number("n1"), row.number("n2"));
        let truth = proportions(row.number("p1"), row.number("p2"));
        let reach = expected_ratio_reach(arms, truth, row.level(), interval);
        comparison.value(&row.name(), reach.factor, row.number("factor"), WIDTH);
        comparison.value(&row.name(), reach.unbounded, row.number("unbounded"), WIDTH);
    }
    comparison.finish(36);
}

/// For a large sample the logarithm of Katz, whose variance is 1/x1 − 1/n1 + 1/x2 − 1/n2.
#[test]
fn the_reach_of_a_ratio_goes_from_rare_events_to_more_cases_than_can_be_counted() {
    let level = Confidence::NINETY_FIVE;
    let reach = |n, p| {
        let truth = proportions(p, p);
        expected_ratio_reach(sizes(n, n), truth, level, miettinen_nurminen_ratio_interval)
    };
    let katz = |n: f64, p: f64| (1.959_964 * (2.0 * (1.0 - p) / (n * p)).sqrt()).exp();
    for (n, p) in [(2_000_000, 0.001), (900_000, 0.95), (40_000, 0.3)] {
        let (found, expected) = (reach(n, p), katz(f64::from(n), p));
        assert!((found.factor.ln() / expected.ln() - 1.0).abs() < 2e-3, "{found:?} {expected}");
        assert!(found.unbounded < 1e-300, "{found:?}");
    }
    // Nearly never an event: nearly never an interval, and that of one event in either arm.
    let (rare, one) = (reach(10, 1e-9), reach(10, 1e-12));
    assert!(rare.factor.is_finite() && (rare.factor / one.factor - 1.0).abs() < 1e-6, "{rare:?} {one:?}");
    assert!(1.0 - rare.unbounded < 1e-15, "{rare:?}");
}

#[test]
fn a_width_nobody_can_pay_is_refused_and_hundreds_of_thousands_are_not() {
    let level = Confidence::NINETY_FIVE;
    let impossible = cases_for_half_width(wanted(1e-6), assumed(0.5), level, wilson_interval);
    assert_eq!(impossible, Err(CannotPlan::TooManyCases));
    // z²p(1−p)/w² for a large sample.
    let many = cases_for_half_width(wanted(0.0015), assumed(0.5), level, wilson_interval).unwrap();
    assert!((f64::from(many.get()) - 426_829.0).abs() < 10.0, "{many}");
    let rare = sizes(200_000, 100_000);
    let width =
        expected_difference_half_width(rare, proportions(0.001, 0.001), level, miettinen_nurminen_interval);
    let wald = 1.959_964 * (0.000_999 / 200_000.0_f64 + 0.000_999 / 100_000.0).sqrt();
    assert!((width / wald - 1.0).abs() < 0.02, "{width} {wald}");
    for wrong in [0.0, 1.0, -0.1, f64::NAN] {
        assert!(AssumedProportion::new(wrong).is_err() && WantedHalfWidth::new(wrong).is_err());
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn more_cases_and_lower_levels_are_more_precise(
        n in 2..200_000_u32, p in prop_oneof![0.000_1..0.01_f64, 0.01..0.99_f64], level in 0.8..0.999_f64,
    ) {
        let width = |n, level| {
            expected_half_width(some(n), assumed(p), Confidence::new(level).unwrap(), wilson_interval)
        };
        prop_assert!(width(n, level) > 0.0 && width(2 * n, level) < width(n, level));
        prop_assert!(width(n, level) > width(n, level - 0.1));
    }

    #[test]
    fn the_reach_of_a_ratio_shrinks_with_cases_and_is_the_same_the_other_way_round(
        n in 400..20_000_u32, second in 400..20_000_u32, p1 in 0.02..0.98_f64, p2 in 0.02..0.98_f64,
    ) {
        let reach = |arms, truth| {
            let level = Confidence::NINETY_FIVE;
            expected_ratio_reach(arms, truth, level, miettinen_nurminen_ratio_interval).factor
        };
        let (one, other) = (
            reach(sizes(n, second), proportions(p1, p2)),
            reach(sizes(second, n), proportions(p2, p1)),
        );
        prop_assert!(one > 1.0 && (one / other - 1.0).abs() < 1e-9, "{one} {other}");
        prop_assert!(reach(sizes(2 * n, second), proportions(p1, p2)) < one);
    }

    #[test]
    fn the_cases_found_are_enough_and_one_fewer_is_not(half in 0.005..0.3_f64, p in 0.001..0.999_f64) {
        let level = Confidence::NINETY_FIVE;
        let found = cases_for_half_width(wanted(half), assumed(p), level, wilson_interval).unwrap();
        let width = |n| expected_half_width(n, assumed(p), level, wilson_interval);
        prop_assert!(width(found) <= half);
        if let Some(fewer) = NonZeroU32::new(found.get() - 1) {
            prop_assert!(width(fewer) > half);
        }
    }
}
