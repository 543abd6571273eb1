//! Charts, funnels and observed over expected against independent values.

use std::num::NonZeroU32;

use quietbeam_analysis::methods::counts::EventCount;
use quietbeam_analysis::methods::cusum::{
    ExpectedProbability, Threshold, WatchedCase, WatchedChange, cumulative_observed_minus_expected,
    log_likelihood_ratio_score, running_cusum, signalling_cusum,
};
use quietbeam_analysis::methods::funnel::{FunnelLimits, Target, exact_funnel_limits, normal_funnel_limits};
use quietbeam_analysis::methods::interval::{Confidence, Interval};
use quietbeam_analysis::methods::observed_expected::{
    ExpectedEvents, ObservedExpected, byar_interval, exact_poisson_interval, exact_poisson_test,
    mid_p_poisson_interval,
};
use quietbeam_analysis::methods::over_dispersion::{
    WinsorisedShare, additive_scores, multiplicative_scores, unadjusted_scores, winsorised_scores,
};

use crate::reference::{Comparison, Row, Tolerance, rows};

/// Sums of a hundred scores in another order, and limits on a scale that is nearly 1.
const TEN_DIGITS: Tolerance = Tolerance::Relative(1e-10);
/// A difference of tails near 1 divided by a small probability costs digits on the reference's side.
const LIMIT: Tolerance = Tolerance::Absolute(1e-10);

/// Consecutive rows of the same set.
pub(crate) fn sets(file: &'static str) -> Vec<Vec<Row>> {
    let mut sets: Vec<Vec<Row>> = Vec::new();
    for row in rows(file) {
        match sets.last_mut() {
            Some(set) if set[0].text("set_id") == row.text("set_id") => set.push(row),
            _ => sets.push(vec![row]),
        }
    }
    sets
}

#[test]
fn cusum() {
    let mut comparison = Comparison::new("cusum", "NumPy, formula of Steiner and others 2000");
    for set in &sets("cusum.csv") {
        let cases: Vec<WatchedCase> = set
            .iter()
            .map(|row| WatchedCase {
                event: row.text("event") == "1",
                expected: ExpectedProbability::new(row.number("expected")).unwrap(),
            })
            .collect();
        let change = WatchedChange::new(set[0].number("odds_ratio")).unwrap();
        let threshold = Threshold::new(set[0].number("threshold")).unwrap();
        let running = running_cusum(&cases, change);
        let opposite = running_cusum(&cases, change.opposite());
        let points = signalling_cusum(&cases, change, threshold);
        let sums = cumulative_observed_minus_expected(&cases);
        for (place, row) in set.iter().enumerate() {
            let point = points[place];
            for (column, value) in [
                ("score", log_likelihood_ratio_score(cases[place], change)),
                ("opposite_score", log_likelihood_ratio_score(cases[place], change.opposite())),
                ("running", running[place]),
                ("opposite_running", opposite[place]),
                ("height", point.height),
                ("observed_minus_expected", sums[place]),
                ("signal", f64::from(u8::from(point.signal))),
            ] {
                let case = format!("{} {column}", row.name());
                comparison.value(&case, value, row.number(column), Tolerance::Absolute(1e-12));
            }
        }
    }
    comparison.finish(5_000);
}

#[test]
fn funnel() {
    let mut comparison = Comparison::new("funnel", "SciPy binom, formula of Spiegelhalter 2005");
    for row in &rows("funnel.csv") {
        let target = Target::new(row.number("target")).unwrap();
        let cases: NonZeroU32 = row.number("n");
        let tail: f64 = row.number("tail");
        let level = Confidence::new(1.0 - 2.0 * tail.min(1.0 - tail)).unwrap();
        let side = |limits: FunnelLimits| if tail < 0.5 { limits.lower } else { limits.upper };
        let (exact, normal) =
            (exact_funnel_limits(target, cases, level), normal_funnel_limits(target, cases, level));
        for (column, value) in [
            ("exact", side(exact)),
            ("exact_within_unit", side(exact.within_unit())),
            ("normal", side(normal)),
            ("normal_within_unit", side(normal.within_unit())),
        ] {
            comparison.value(&format!("{} {column}", row.name()), value, row.number(column), LIMIT);
        }
    }
    comparison.finish(700);
}

#[test]
fn over_dispersion() {
    let mut comparison = Comparison::new("over_dispersion", "NumPy, formula of Spiegelhalter 2005");
    let share = WinsorisedShare::new(0.1).unwrap();
    let none = WinsorisedShare::new(0.0).unwrap();
    for set in &sets("over_dispersion.csv") {
        let centres: Vec<EventCount> = set.iter().map(|row| row.count("x", "n")).collect();
        let target = Target::pooled(&centres).unwrap();
        let unadjusted = unadjusted_scores(&centres, target);
        assert_eq!(winsorised_scores(&unadjusted, none), unadjusted);
        let stretched = multiplicative_scores(&centres, target, share).unwrap();
        let widened = additive_scores(&centres, target, share).unwrap();
        let plain = multiplicative_scores(&centres, target, none).unwrap();
        assert_eq!(stretched.phi, widened.phi);
        for (place, row) in set.iter().enumerate() {
            for (column, value) in [
                ("target", target.proportion()),
                ("unadjusted", unadjusted[place]),
                ("phi", plain.phi),
                ("phi_winsorised", stretched.phi),
                ("tau_squared", widened.tau_squared),
                ("multiplicative", stretched.scores[place]),
                ("additive", widened.scores[place]),
            ] {
                comparison.value(&format!("{} {column}", row.name()), value, row.number(column), TEN_DIGITS);
            }
        }
    }
    comparison.finish(400);
}

fn counts(row: &Row) -> ObservedExpected {
    ObservedExpected {
        observed: row.number("observed"),
        expected: ExpectedEvents::new(row.number("expected")).unwrap(),
    }
}

#[test]
fn observed_over_expected() {
    let mut comparison = Comparison::new("observed_expected", "SciPy chi2 and poisson; R poisson.test");
    for row in &rows("observed_expected.csv") {
        let (counts, level) = (counts(row), row.level());
        let pair = |interval: Interval| (interval.lower, interval.upper);
        let exact = pair(exact_poisson_interval(counts, level));
        let (byar, mid_p) = (pair(byar_interval(counts, level)), pair(mid_p_poisson_interval(counts, level)));
        let test = exact_poisson_test(counts);
        for (column, value) in [
            ("ratio", counts.ratio()),
            ("exact_lower", exact.0),
            ("exact_upper", exact.1),
            ("byar_lower", byar.0),
            ("byar_upper", byar.1),
            ("midp_lower", mid_p.0),
            ("midp_upper", mid_p.1),
            ("p_more", test.p_more),
            ("p_fewer", test.p_fewer),
            ("p_two_sided", test.p_two_sided),
        ] {
            comparison.value(&format!("{} {column}", row.name()), value, row.number(column), TEN_DIGITS);
        }
    }
    comparison.finish(900);
}
