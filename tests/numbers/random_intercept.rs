//! The random-intercept logistic model against lme4.

use proptest::prelude::*;
use quietbeam_analysis::methods::counts::EventCount;
use quietbeam_analysis::methods::interval::{Confidence, NotEstimable};
use quietbeam_analysis::methods::random_intercept::random_intercept_logistic;

use crate::laws::{count, level};
use crate::reference::{Comparison, Row, Tolerance, rows};

const LEVEL: Confidence = Confidence::NINETY_FIVE;

fn of_set(all: &[Row], set: &str, events: &str, total: &str) -> Vec<EventCount> {
    all.iter().filter(|row| row.text("set_id") == set).map(|row| row.count(events, total)).collect()
}

#[test]
fn fits_of_lme4() {
    let tables = rows("centre_effects.csv");
    let tables: Vec<Row> = tables.into_iter().filter(|row| row.text("measure") == "difference").collect();
    let mut comparison = Comparison::new("random_intercept", "lme4 glmer, 25 points; metafor rma.glmm");
    for row in rows("random_intercept.csv").iter().filter(|row| row.text("tool") == "lme4_nAGQ25") {
        let arm = row.text("arm");
        let centres = of_set(&tables, row.text("set_id"), &format!("x{arm}"), &format!("n{arm}"));
        let fit = random_intercept_logistic(&centres, LEVEL).unwrap();
        let mut check = |column: &str, value, tolerance| {
            comparison.value(&format!("{} {column}", row.name()), value, row.number(column), tolerance);
        };
        // The optimiser of the reference stops in the fifth digit.
        check("log_odds", fit.log_odds, Tolerance::Absolute(2e-5));
        check("tau_squared", fit.tau_squared, Tolerance::Relative(1e-4));
        check("se", fit.standard_error, Tolerance::Relative(1e-3));
        check("median_centre", fit.median_centre.estimate, Tolerance::Relative(2e-5));
        check("lower", fit.median_centre.lower, Tolerance::Relative(1e-3));
        check("upper", fit.median_centre.upper, Tolerance::Relative(1e-3));
    }
    comparison.finish(120);
}

#[test]
fn little_and_much_spread() {
    let counts = rows("random_intercept_counts.csv");
    let mut comparison = Comparison::new("random_intercept_edges", "lme4 glmer, 25 points; R integrate");
    for row in &rows("random_intercept_edges.csv") {
        let fit = random_intercept_logistic(&of_set(&counts, row.text("set_id"), "x", "n"), LEVEL).unwrap();
        // 25 points are too few for the reference where events are rare and the spread is large.
        let coarse = if row.text("set_id") == "large_rare_15" { 10.0 } else { 1.0 };
        let mut check = |column: &str, value, tolerance| {
            comparison.value(&format!("{} {column}", row.name()), value, row.number(column), tolerance);
        };
        check("log_odds", fit.log_odds, Tolerance::Absolute(coarse * 1e-5));
        check("tau_squared", fit.tau_squared, Tolerance::Absolute(coarse * 3e-5));
        check("se", fit.standard_error, Tolerance::Relative(1e-3));
        check("marginal", fit.marginal.estimate, Tolerance::Relative(coarse * 1e-5));
    }
    comparison.finish(48);
}

#[test]
fn the_same_without_gauss_hermite_points() {
    let counts = rows("random_intercept_counts.csv");
    let mut comparison = Comparison::new("random_intercept_exact", "NumPy trapezoid rule, SciPy root");
    for row in &rows("random_intercept_exact.csv") {
        let fit = random_intercept_logistic(&of_set(&counts, row.text("set_id"), "x", "n"), LEVEL).unwrap();
        for (column, value, digits) in [
            ("log_odds", fit.log_odds, 1e-9),
            ("tau_squared", fit.tau_squared, 1e-9),
            // The reference differences its slopes numerically.
            ("se", fit.standard_error, 1e-7),
            ("marginal", fit.marginal.estimate, 1e-9),
        ] {
            let case = format!("{} {column}", row.name());
            comparison.value(&case, value, row.number(column), Tolerance::Relative(digits));
        }
    }
    comparison.finish(40);
}

fn counts(pairs: &[(u32, u32)]) -> Vec<EventCount> {
    pairs.iter().map(|(x, n)| EventCount::new(*x, *n).unwrap()).collect()
}

#[test]
fn what_cannot_be_estimated_is_said() {
    let fit = |pairs: &[(u32, u32)]| random_intercept_logistic(&counts(pairs), LEVEL);
    let few = |found| Err(NotEstimable::TooFewCentres { found, needed: 2 });
    assert_eq!(fit(&[]), few(0));
    assert_eq!(fit(&[(3, 10)]), few(1));
    assert_eq!(fit(&[(0, 10), (0, 900)]), Err(NotEstimable::NoVariation));
    assert_eq!(fit(&[(10, 10), (900, 900)]), Err(NotEstimable::NoVariation));
    assert_eq!(fit(&[(0, 10), (9, 9), (0, 4)]), Err(NotEstimable::CentresAllOrNone));
    // Single cases say nothing of a spread between centres.
    assert_eq!(fit(&[(0, 1), (1, 1), (1, 1)]), Err(NotEstimable::CentresAllOrNone));
    let mut nearly = vec![(0, 1000); 60];
    nearly.extend([(1000, 1000); 60]);
    nearly.push((500, 1000));
    assert_eq!(fit(&nearly), Err(NotEstimable::CentresTooFarApart));
}

#[test]
fn centres_that_agree_give_the_plain_proportion() {
    let fit = random_intercept_logistic(&counts(&[(10, 100), (20, 200), (5, 50)]), LEVEL).unwrap();
    assert_eq!(fit.tau_squared.to_bits(), 0);
    assert!((fit.median_centre.estimate - 0.1).abs() < 1e-14);
    // The plain logistic model: variance of the log odds 1/x + 1/(n − x).
    assert!((fit.standard_error - (1.0 / 35.0 + 1.0 / 315.0_f64).sqrt()).abs() < 1e-12);
    for (a, b) in [
        (fit.marginal.estimate, fit.median_centre.estimate),
        (fit.marginal.lower, fit.median_centre.lower),
        (fit.marginal.upper, fit.median_centre.upper),
    ] {
        assert!((a - b).abs() < 1e-12);
    }
}

/// Log-likelihood by its plain definition: the trapezoid rule over ±12 standard deviations.
fn log_likelihood(centres: &[EventCount], log_odds: f64, tau: f64) -> f64 {
    let one = |centre: &EventCount| {
        let (x, n) = (f64::from(centre.events()), f64::from(centre.total()));
        let term = |step: i32| {
            let u = f64::from(step) / 100.0;
            let eta = log_odds + tau * u;
            x * eta - n * (eta.max(0.0) + (-eta.abs()).exp().ln_1p()) - u * u / 2.0
        };
        let highest = (-1200..=1200).map(term).fold(f64::NEG_INFINITY, f64::max);
        highest + (-1200..=1200).map(|step| (term(step) - highest).exp()).sum::<f64>().ln()
    };
    centres.iter().map(one).sum()
}

/// Centres of ordinary size whose log odds differ by anything from nothing to much.
fn ordinary() -> impl Strategy<Value = Vec<EventCount>> {
    let centre = |most: f64| {
        (2_u32..120, 0.0..1.0_f64).prop_map(move |(n, share)| {
            let events = (f64::from(n) * share * most).round() as u32;
            EventCount::new(events.min(n), n).unwrap()
        })
    };
    prop_oneof![Just(0.05), Just(0.3), Just(1.0)]
        .prop_flat_map(move |most| prop::collection::vec(centre(most), 2..9))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_other_place_is_likelier(centres in ordinary(), beside in -1.0..1.0_f64, tau in 0.0..4.0_f64) {
        let Ok(fit) = random_intercept_logistic(&centres, LEVEL) else { return Ok(()) };
        let own = fit.tau_squared.sqrt();
        let highest = log_likelihood(&centres, fit.log_odds, own);
        for (b, t) in [(beside, tau), (0.0, 0.0), (0.1 * beside, own), (0.0, 0.1 * tau + own), (0.0, 0.9 * own)] {
            let other = log_likelihood(&centres, fit.log_odds + b, t);
            prop_assert!(other <= highest + 1e-9, "{other} above {highest} at {b} {t}: {fit:?}");
        }
    }

    #[test]
    fn order_level_and_the_other_outcome(centres in ordinary(), a in level(), b in level()) {
        let (low, high) = if a.level() < b.level() { (a, b) } else { (b, a) };
        let reversed: Vec<_> = centres.iter().rev().copied().collect();
        let others: Vec<_> = centres.iter().map(|centre| centre.complement()).collect();
        let fit = random_intercept_logistic(&centres, low);
        prop_assert_eq!(random_intercept_logistic(&reversed, low), fit);
        let Ok(fit) = fit else {
            prop_assert!(random_intercept_logistic(&others, low).is_err());
            return Ok(());
        };
        let wide = random_intercept_logistic(&centres, high).unwrap();
        let other = random_intercept_logistic(&others, low).unwrap();
        prop_assert!((other.log_odds + fit.log_odds).abs() < 1e-7);
        prop_assert!((other.tau_squared - fit.tau_squared).abs() < 1e-7 * (1.0 + fit.tau_squared));
        for (narrow, wide, other) in [
            (fit.median_centre, wide.median_centre, other.median_centre),
            (fit.marginal, wide.marginal, other.marginal),
        ] {
            prop_assert!(wide.lower <= narrow.lower && narrow.lower <= narrow.estimate);
            prop_assert!(narrow.estimate <= narrow.upper && narrow.upper <= wide.upper);
            prop_assert!((other.lower + narrow.upper - 1.0).abs() < 1e-6);
        }
        // The mean over centres lies between the median centre and one half.
        let (median, marginal) = (fit.median_centre.estimate, fit.marginal.estimate);
        prop_assert!((marginal - 0.5).abs() <= (median - 0.5).abs() + 1e-12);
        prop_assert!((marginal - 0.5) * (median - 0.5) >= -1e-12);
    }

    #[test]
    fn nothing_valid_breaks_it(
        centres in prop::collection::vec(prop_oneof![
            5 => count(),
            1 => (0..=u32::MAX).prop_map(|x| EventCount::new(x, u32::MAX).unwrap()),
        ], 1..20),
        at in level(),
    ) {
        if let Ok(fit) = random_intercept_logistic(&centres, at) {
            prop_assert!(fit.log_odds.is_finite() && fit.tau_squared >= 0.0 && fit.tau_squared < 25.0);
            prop_assert!(fit.standard_error.is_finite() && fit.standard_error > 0.0, "{fit:?}");
            for interval in [fit.median_centre, fit.marginal] {
                prop_assert!(0.0 <= interval.lower && interval.lower <= interval.estimate, "{fit:?}");
                prop_assert!(interval.estimate <= interval.upper && interval.upper <= 1.0, "{fit:?}");
            }
        }
    }
}
