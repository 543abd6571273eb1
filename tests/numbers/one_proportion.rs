//! One proportion against 50-digit arithmetic, SciPy, statsmodels and R.

use quietbeam_analysis::methods::counts::EventCount;
use quietbeam_analysis::methods::interval::{Confidence, Interval};
use quietbeam_analysis::methods::proportion::{
    clopper_pearson_interval, jeffreys_interval, mid_p_interval, wilson_corrected_interval, wilson_interval,
};
use quietbeam_analysis::methods::proportion_simple::{agresti_coull_interval, rule_of_three, wald_interval};

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

#[test]
fn wilson_corrected() {
    check("wilson_cc", wilson_corrected_interval, closed_form);
}

#[test]
fn mid_p() {
    check("midp", mid_p_interval, exact);
}

#[test]
fn jeffreys() {
    check("jeffreys", jeffreys_interval, exact);
}

#[test]
fn agresti_coull() {
    check("agresti_coull", agresti_coull_interval, closed_form);
}

#[test]
fn wald() {
    check("wald", wald_interval, closed_form);
}

#[test]
fn no_events() {
    let mut comparison = Comparison::new("rule of three", "50-digit evaluation of 1 - 0.05^(1/n)");
    for row in &rows("rule_of_three.csv") {
        let none = EventCount::new(0, row.number("n")).unwrap();
        let exact = |level| clopper_pearson_interval(none, Confidence::new(level).unwrap()).upper;
        let cases = row.number("n");
        for (column, computed) in [
            ("three_over_n", rule_of_three(cases)),
            ("exact_one_sided_95", exact(0.90)),
            ("clopper_pearson_95", exact(0.95)),
            ("exact_one_sided_99", exact(0.98)),
        ] {
            // The level 0.98 as a double leaves 1 % only to fourteen digits.
            let near = Tolerance::Relative(1e-12);
            comparison.value(&format!("{} {column}", row.name()), computed, row.number(column), near);
        }
    }
    comparison.finish(100);
}
