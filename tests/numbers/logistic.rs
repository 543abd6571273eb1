//! Logistic regression against R and statsmodels, and its laws.

use proptest::prelude::*;
use quietbeam_analysis::methods::design::Design;
use quietbeam_analysis::methods::firth::firth_regression;
use quietbeam_analysis::methods::interval::NotEstimable;
use quietbeam_analysis::methods::logistic::logistic_regression;
use quietbeam_analysis::methods::logistic_cases::LogisticCases;
use quietbeam_analysis::methods::separation::separating_column;

use crate::reference::{Comparison, Tolerance, rows};
use crate::regression_sets::{ESTIMABLE, RegressionSet, place};

/// The reference stops when the deviance changes by less than 1e-8 of itself.
const NEAR: Tolerance = Tolerance::Relative(1e-7);

#[test]
fn coefficients_and_model_errors() {
    let mut comparison = Comparison::new("logistic", "R glm(binomial); statsmodels Logit");
    let all = rows("logistic.csv");
    for name in ESTIMABLE {
        let set = RegressionSet::read(name);
        let design = set.design();
        let fit = logistic_regression(LogisticCases::new(&design, &set.events).unwrap()).unwrap();
        let (coefficients, covariance) = (fit.coefficients(), fit.inverse_information());
        for row in all.iter().filter(|row| row.text("set_id") == name) {
            let term = place(row.text("term"));
            for (column, computed) in [
                ("coef", coefficients[term]),
                ("se_model", covariance[(term, term)].sqrt()),
                ("log_likelihood", fit.log_likelihood()),
            ] {
                comparison.value(&format!("{} {column}", row.name()), computed, row.number(column), NEAR);
            }
        }
        let mut gradient = vec![0.0; 8];
        gradient[1] = 1.0;
        let influence = fit.influence_along(&gradient).unwrap();
        let row = all.iter().find(|row| row.text("set_id") == name && row.text("term") == "t").unwrap();
        let robust = influence.iter().map(|v| v * v).sum::<f64>().sqrt();
        comparison.value(&format!("{} influence", row.name()), robust, row.number("se_hc0"), NEAR);
        assert!(influence.iter().sum::<f64>().abs() < 1e-9 && fit.influence_along(&[1.0]).is_none());
    }
    comparison.finish(100);
}

fn refusal(columns: &[Vec<f64>], events: &[bool]) -> Option<NotEstimable> {
    let design = Design::new(events.len(), columns).unwrap();
    logistic_regression(LogisticCases::new(&design, events).unwrap()).err()
}

#[test]
fn what_has_no_finite_maximum_is_refused() {
    let set = RegressionSet::read("reg_sep");
    let design = set.design();
    let found = separating_column(&design, &set.events);
    assert!(found.is_some());
    assert_eq!(
        refusal(&set.columns, &set.events),
        found.map(|column| NotEstimable::SeparatedByColumn { column })
    );
    let events: Vec<bool> = (0..40).map(|i| i % 3 == 0).collect();
    let noise: Vec<f64> = (0..40).map(|i| f64::from((i * 7) % 11)).collect();
    assert_eq!(refusal(std::slice::from_ref(&noise), &events), None);
    // A centre without events, as a column of its own.
    let quiet: Vec<f64> = (0..40).map(|i| f64::from(u8::from(i % 3 != 0 && i < 20))).collect();
    let both = [noise.clone(), quiet];
    assert_eq!(refusal(&both, &events), Some(NotEstimable::SeparatedByColumn { column: 2 }));
    // Neither column separates, their sum does.
    let sign = |i: usize| if events[i] { 1.0 } else { -1.0 };
    let other: Vec<f64> = (0..40).map(|i| sign(i) - noise[i]).collect();
    assert_eq!(refusal(&[noise.clone(), other], &events), Some(NotEstimable::Separated));
    let twice = noise.iter().map(|v| 3.0 - 2.0 * v).collect();
    assert_eq!(refusal(&[noise.clone(), twice], &events), Some(NotEstimable::Collinear));
    assert_eq!(refusal(&[noise.clone(), vec![4.0; 40]], &events), Some(NotEstimable::Collinear));
    assert_eq!(refusal(std::slice::from_ref(&noise), &[false; 40]), Some(NotEstimable::NoVariation));
    assert!(LogisticCases::new(&design, &events).is_err());
}

#[test]
fn firth() {
    let mut comparison = Comparison::new("Firth", "R brglm2; NumPy");
    let all = rows("logistic.csv");
    for name in ["lalonde", "reg_a", "reg_b", "reg_small", "reg_sep"] {
        let set = RegressionSet::read(name);
        let design = set.design();
        let fit = firth_regression(LogisticCases::new(&design, &set.events).unwrap()).unwrap();
        let found = fit.variance().coefficients();
        for row in all.iter().filter(|row| row.text("set_id") == name) {
            let found = found[place(row.text("term"))].unwrap();
            comparison.value(&row.name(), found.estimate, row.number("firth_coef"), NEAR);
            comparison.value(&row.name(), found.standard_error, row.number("firth_se"), NEAR);
        }
    }
    comparison.finish(80);
}

#[test]
fn the_penalty_of_a_saturated_model_is_half_a_case_a_cell() {
    // Jeffreys' prior of a proportion: (x + ½) / (n + 1), Firth 1993, section 3.
    for (events, cases) in [(0, 1), (0, 12), (12, 12), (3, 40)] {
        let outcomes: Vec<bool> = (0..cases).map(|i| i < events).collect();
        let design = Design::new(cases, &[]).unwrap();
        let fit = firth_regression(LogisticCases::new(&design, &outcomes).unwrap()).unwrap();
        let expected = (events as f64 + 0.5) / (cases as f64 + 1.0);
        assert!((fit.probabilities()[0] - expected).abs() < 1e-10, "{events}/{cases}");
    }
    // Two arms without events in the first.
    let arms: Vec<f64> = (0..30).map(|i| f64::from(u8::from(i < 10))).collect();
    let outcomes: Vec<bool> = (0..30).map(|i| i >= 26).collect();
    let design = Design::new(30, &[arms]).unwrap();
    let fit = firth_regression(LogisticCases::new(&design, &outcomes).unwrap()).unwrap();
    let expected = (0.5_f64 / 10.5).ln() - (4.5_f64 / 16.5).ln();
    assert!((fit.coefficients()[1] - expected).abs() < 1e-8);
    let constant = Design::new(30, &[vec![2.0; 30]]).unwrap();
    let refused = firth_regression(LogisticCases::new(&constant, &outcomes).unwrap());
    assert_eq!(refused.err(), Some(NotEstimable::Collinear));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn firth_always_answers(
        columns in prop::collection::vec(prop::collection::vec(
            prop_oneof![-1e9..1e9_f64, -1.0..1.0_f64, Just(0.0), Just(1.0)], 14), 0..4),
        outcomes in prop::collection::vec(any::<bool>(), 14),
    ) {
        let design = Design::new(14, &columns).unwrap();
        let answer = firth_regression(LogisticCases::new(&design, &outcomes).unwrap());
        match answer {
            Ok(fit) => {
                prop_assert!(fit.variance().coefficients().iter().flatten().all(|c| c.standard_error > 0.0));
                prop_assert!(fit.probabilities().iter().all(|p| (0.0..=1.0).contains(p)));
            }
            Err(refusal) => prop_assert_eq!(refusal, NotEstimable::Collinear),
        }
    }
}
