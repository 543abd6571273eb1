//! Robust and cluster-robust variances and standardised effects against R and NumPy.

use quietbeam_analysis::methods::cluster_variance::{
    cr0_variance, cr1_variance, cr1s_variance, cr2_variance,
};
use quietbeam_analysis::methods::clustered::ClusteredFit;
use quietbeam_analysis::methods::coefficient_variance::{
    CoefficientVariance, hc0_variance, hc1_variance, model_variance,
};
use quietbeam_analysis::methods::design::indicators;
use quietbeam_analysis::methods::interval::Confidence;
use quietbeam_analysis::methods::logistic::{LogisticFit, logistic_regression};
use quietbeam_analysis::methods::logistic_cases::LogisticCases;
use quietbeam_analysis::methods::standardisation::{
    RatioOf, StandardisedEffects, difference_covariates_sampled, effects_covariates_fixed,
    effects_covariates_sampled, log_ratio_covariates_sampled, standardise,
};
use quietbeam_analysis::methods::wald::WaldEstimate;

use crate::reference::{Comparison, Row, Tolerance, rows};
use crate::regression_sets::{ESTIMABLE, RegressionSet, place};

/// R stops when the deviance changes by less than 1e-8 of itself.
const R: Tolerance = Tolerance::Relative(1e-7);

/// Matrices of the size of the data on the side of the reference.
const NUMPY: Tolerance = Tolerance::Relative(1e-8);

fn variance<'f>(name: &str, fit: &'f LogisticFit<'f>, centres: &[u32]) -> CoefficientVariance<'f> {
    let clustered = ClusteredFit::new(fit, centres).unwrap();
    match name {
        "model" => model_variance(fit),
        "hc0" => hc0_variance(fit),
        "hc1" => hc1_variance(fit),
        "cr0" => cr0_variance(&clustered).unwrap(),
        "cr1" => cr1_variance(&clustered).unwrap(),
        "cr1s" => cr1s_variance(&clustered).unwrap(),
        "cr2" => cr2_variance(&clustered).unwrap(),
        other => panic!("{other}"),
    }
}

fn effect(effects: &StandardisedEffects, name: &str) -> WaldEstimate {
    match name {
        "risk1" => effects.first_risk,
        "risk0" => effects.second_risk,
        "difference" => effects.difference,
        "log_ratio" => effects.log_ratio,
        "log_odds_ratio" => effects.log_odds_ratio,
        other => panic!("{other}"),
    }
}

fn effects(variance: &CoefficientVariance<'_>, covariates: &str) -> StandardisedEffects {
    let standardised = standardise(variance, 1).unwrap();
    match covariates {
        "fixed" => effects_covariates_fixed(&standardised).unwrap(),
        _ => effects_covariates_sampled(&standardised).unwrap(),
    }
}

/// The effects that can be had without the others, where the cases are a sample; some of them with 40
/// cases beside the model, as `cluster_variance.py` has it.
fn sampled_alone(variance: &CoefficientVariance<'_>, row: &Row) -> Option<WaldEstimate> {
    if row.text("covariates") != "sampled" {
        return None;
    }
    let standardised = standardise(variance, 1).unwrap();
    let ratio = |of, beside| log_ratio_covariates_sampled(&standardised, of, beside);
    let found = match row.text("effect") {
        "difference" => difference_covariates_sampled(&standardised),
        "log_ratio" => ratio(RatioOf::Event, 0),
        "log_ratio_beside" => ratio(RatioOf::Event, 40),
        "log_ratio_of_absence" => ratio(RatioOf::NoEvent, 0),
        "log_ratio_of_absence_beside" => ratio(RatioOf::NoEvent, 40),
        _ => return None,
    };
    Some(found.unwrap())
}

fn of<'r>(all: &'r [Row], set: &str) -> impl Iterator<Item = &'r Row> {
    all.iter().filter(move |row| row.text("set_id") == set)
}

#[test]
fn standard_errors_of_coefficients() {
    let mut comparison = Comparison::new("coefficient variances", "R glm, sandwich");
    let all = rows("logistic.csv");
    for name in ESTIMABLE {
        let set = RegressionSet::read(name);
        let design = set.design();
        let fit = logistic_regression(LogisticCases::new(&design, &set.events).unwrap()).unwrap();
        for kind in ["model", "hc0", "hc1", "cr0", "cr1", "cr1s"] {
            let variance = variance(kind, &fit, &set.centres);
            let (coefficients, matrix) = (variance.coefficients(), variance.matrix());
            for row in of(&all, name) {
                let term = place(row.text("term"));
                let expected: f64 = row.number(&format!("se_{kind}"));
                let found = coefficients[term].unwrap().standard_error;
                comparison.value(&format!("{} {kind}", row.name()), found, expected, R);
                comparison.value(&row.name(), matrix[(term, term)].sqrt(), expected, R);
            }
        }
    }
    comparison.finish(380);
}

#[test]
fn cr2_with_satterthwaite_degrees_of_freedom() {
    let mut comparison = Comparison::new("CR2", "NumPy, matrices of the size of the data");
    let (coefficients, marginal) = (rows("cluster_variance.csv"), rows("standardised.csv"));
    for name in ESTIMABLE {
        for centres in ["0", "1"] {
            let mut set = RegressionSet::read(name);
            if centres == "1" {
                set.columns.extend(indicators(&set.centres));
            }
            let design = set.design();
            let fit = logistic_regression(LogisticCases::new(&design, &set.events).unwrap()).unwrap();
            let variance = variance("cr2", &fit, &set.centres);
            let found = variance.coefficients();
            let wanted =
                |row: &&Row| row.text("centres_in_model") == centres && row.text("root") == "weighted";
            for row in of(&coefficients, name).filter(wanted) {
                compare(&mut comparison, row, found[place(row.text("term"))].unwrap());
            }
            for row in of(&marginal, name).filter(wanted) {
                if let Some(found) = sampled_alone(&variance, row) {
                    compare(&mut comparison, row, found);
                }
                if row.text("effect").contains("_beside") || row.text("effect").ends_with("_absence") {
                    continue;
                }
                let effects = effects(&variance, row.text("covariates"));
                compare(&mut comparison, row, effect(&effects, row.text("effect")));
            }
        }
    }
    comparison.finish(350);
}

fn compare(comparison: &mut Comparison, row: &Row, found: WaldEstimate) {
    for (column, value) in [
        ("estimate", found.estimate),
        ("se", found.standard_error),
        ("df", found.degrees_of_freedom.unwrap()),
    ] {
        comparison.value(&format!("{} {column}", row.name()), value, row.number(column), NUMPY);
    }
}

#[test]
fn standardised_effects() {
    let mut comparison = Comparison::new("standardised effects", "R glm, own influence functions in R");
    let all = rows("standardised_effects.csv");
    for name in ESTIMABLE {
        let set = RegressionSet::read(name);
        let design = set.design();
        let fit = logistic_regression(LogisticCases::new(&design, &set.events).unwrap()).unwrap();
        for row in of(&all, name) {
            let variance = variance(row.text("variance"), &fit, &set.centres);
            let effects = effects(&variance, row.text("covariates"));
            let found = effect(&effects, row.text("effect"));
            comparison.value(&row.name(), found.estimate, row.number("estimate"), R);
            comparison.value(&row.name(), found.standard_error, row.number("se"), R);
            if found.degrees_of_freedom.is_none() {
                let interval = found.interval(Confidence::NINETY_FIVE).unwrap();
                comparison.value(&row.name(), interval.lower, row.number("lower_normal"), R);
                comparison.value(&row.name(), interval.upper, row.number("upper_normal"), R);
            }
        }
    }
    comparison.finish(300);
}
