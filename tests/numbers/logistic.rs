//! Logistic regression against R and statsmodels, and its laws.

use quietbeam_analysis::methods::design::Design;
use quietbeam_analysis::methods::interval::NotEstimable;
use quietbeam_analysis::methods::logistic::{LogisticCases, logistic_regression};
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
