//! Pooling centres against metafor, statsmodels and SciPy.

use quietbeam_analysis::methods::between_centres::{
    CentreModel, common_effect, der_simonian_laird, paule_mandel, restricted_maximum_likelihood,
};
use quietbeam_analysis::methods::centre_effects::{
    CentreEffect, log_odds, log_odds_ratios, log_odds_ratios_size_matched, log_risk_ratios,
    log_risk_ratios_size_matched, risk_differences, risk_differences_by_common_rates,
};
use quietbeam_analysis::methods::counts::Stratum;
use quietbeam_analysis::methods::heterogeneity::{heterogeneity, tau_heterogeneity};
use quietbeam_analysis::methods::interval::{Confidence, Interval, NotEstimable};
use quietbeam_analysis::methods::pooling::{
    PooledEffect, pooled_hartung_knapp, pooled_hartung_knapp_ad_hoc, pooled_normal, prediction_interval,
    prediction_interval_hartung_knapp,
};

use crate::reference::{Comparison, Row, Tolerance, rows};

const METAFOR: &str = "metafor escalc, rma; NumPy";
const EXACT: Tolerance = Tolerance::Relative(1e-12);

#[test]
fn effects_of_centres() {
    let all = rows("centre_effects.csv");
    let mut comparison = Comparison::new("centre_effects", METAFOR);
    for row in &all {
        let strata = [row.stratum()];
        let arms = strata[0].arms().unwrap();
        let zero = [arms.first, arms.second].iter().any(|arm| arm.events() == 0 || arm.non_events() == 0);
        let effect = match row.text("measure") {
            // The reference adds one half to a difference, which no method here ever does.
            "difference" if zero => continue,
            "difference" => risk_differences(&strata).unwrap()[0],
            "log_odds_ratio" => log_odds_ratios(&strata)[0],
            "log_risk_ratio" => log_risk_ratios(&strata)[0],
            "log_odds" => Some(log_odds(&[arms.first])[0]),
            other => panic!("{other}"),
        };
        compare(&mut comparison, row, effect.unwrap());
    }
    comparison.finish(750);
}

#[test]
fn effects_of_centres_with_zero_cells() {
    let all = rows("centre_effects_sparse.csv");
    let mut comparison = Comparison::new("centre_effects_sparse", "statsmodels Table2x2, SciPy binom.var");
    for set in ["double_zero", "one_sided", "lopsided"] {
        let of =
            |row: &&Row| row.text("set_id") == set && row.text("measure") == "difference_by_common_rates";
        let strata: Vec<Stratum> = all.iter().filter(of).map(|row| row.stratum()).collect();
        for row in all.iter().filter(|row| row.text("set_id") == set) {
            let place = row.number::<usize>("centre") - 1;
            let effect = match row.text("measure") {
                "difference" => risk_differences(&[row.stratum()]).unwrap()[0],
                "difference_by_common_rates" => risk_differences_by_common_rates(&strata).unwrap()[place],
                "log_odds_ratio_size_matched" => log_odds_ratios_size_matched(&strata)[place],
                "log_risk_ratio_size_matched" => log_risk_ratios_size_matched(&strata)[place],
                other => panic!("{other}"),
            };
            compare(&mut comparison, row, effect.unwrap());
        }
    }
    comparison.finish(80);
}

fn compare(comparison: &mut Comparison, row: &Row, effect: CentreEffect) {
    let estimate: f64 = row.number("estimate");
    // Logarithms of nearly equal odds cancel: what matters is the digits against the variance.
    let tolerance = if estimate.abs() < 1e-3 { Tolerance::Absolute(1e-14) } else { EXACT };
    comparison.value(&row.name(), effect.estimate(), estimate, tolerance);
    comparison.value(&row.name(), effect.variance(), row.number("variance"), EXACT);
}

/// Effects of one set on one scale.
fn effects(all: &[Row], set: &str, measure: &str) -> Vec<CentreEffect> {
    all.iter()
        .filter(|row| row.text("set_id") == set && row.text("measure") == measure)
        .map(|row| CentreEffect::new(row.number("estimate"), row.number("variance")).unwrap())
        .collect()
}

type Pooled = (PooledEffect, Result<Interval, NotEstimable>);

fn pooled(limits: &str, model: &CentreModel, level: Confidence) -> Pooled {
    match limits {
        "normal" => (pooled_normal(model, level), prediction_interval(model, level)),
        "hartung_knapp" => {
            (pooled_hartung_knapp(model, level).unwrap(), prediction_interval_hartung_knapp(model, level))
        }
        // The ad hoc standard error has no prediction interval of its own here.
        "ad_hoc" => (pooled_hartung_knapp_ad_hoc(model, level).unwrap(), Err(NotEstimable::OneCommonEffect)),
        other => panic!("{other}"),
    }
}

#[test]
fn pooled_effects() {
    let all = rows("centre_effects.csv");
    let mut comparison = Comparison::new("pooling", METAFOR);
    for row in &rows("pooling.csv") {
        let effects = effects(&all, row.text("set_id"), row.text("measure"));
        let (model, tolerance) = match row.text("between") {
            "EE" => (common_effect(&effects).unwrap(), 1e-8),
            "DL" => (der_simonian_laird(&effects).unwrap(), 1e-8),
            "PM" => (paule_mandel(&effects).unwrap(), 1e-8),
            // The reference stops its scoring steps at this accuracy of τ².
            "REML" => (restricted_maximum_likelihood(&effects).unwrap(), 1e-6),
            other => panic!("{other}"),
        };
        let (pooled, prediction) = pooled(row.text("limits"), &model, row.level());
        let tau = tau_heterogeneity(&model).ok();
        let mut check = |column: &str, value: f64| {
            let (case, expected) = (format!("{} {column}", row.name()), row.number::<f64>(column));
            // Where τ² is 0 the reference may stop a hair above it.
            let is_zero = ["tau_squared", "i_squared_tau_pct"].contains(&column) && expected < 1e-8;
            let tolerance = if is_zero { Tolerance::Absolute(1e-8) } else { Tolerance::Relative(tolerance) };
            comparison.value(&case, value, expected, tolerance);
        };
        check("tau_squared", model.between().tau_squared);
        check("estimate", pooled.interval.estimate);
        check("se", pooled.standard_error);
        check("lower", pooled.interval.lower);
        check("upper", pooled.interval.upper);
        check("statistic", pooled.statistic);
        check("p", pooled.p);
        if let Ok(prediction) = prediction {
            check("prediction_lower", prediction.lower);
            check("prediction_upper", prediction.upper);
        }
        if let Some(tau) = tau {
            check("i_squared_tau_pct", 100.0 * tau.i_squared_from_tau);
            check("h_squared_tau", tau.h_squared_from_tau);
        }
        let by_q = heterogeneity(&effects).unwrap();
        check("q", by_q.q.statistic);
        check("q_df", by_q.q.degrees_of_freedom);
        check("q_p", by_q.q.p);
        check("i_squared_q_pct", 100.0 * by_q.i_squared_from_q);
        let shares: f64 = pooled.shares.iter().sum();
        assert!((shares - 1.0).abs() < 1e-12, "{}: shares sum to {shares}", row.name());
    }
    comparison.finish(9_000);
}

#[test]
fn what_cannot_be_estimated_is_said() {
    let level = Confidence::NINETY_FIVE;
    let effect = |estimate| CentreEffect::new(estimate, 0.01).unwrap();
    let (one, two) = ([effect(0.2)], [effect(0.2), effect(0.5)]);
    let few = |found, needed| Some(NotEstimable::TooFewCentres { found, needed });
    assert_eq!(common_effect(&[]).err(), few(0, 1));
    for method in [der_simonian_laird, paule_mandel, restricted_maximum_likelihood] {
        assert_eq!(method(&one).err(), few(1, 2));
        let model = method(&two).unwrap();
        assert_eq!(prediction_interval(&model, level).err(), few(2, 3));
    }
    assert_eq!(heterogeneity(&one).err(), few(1, 2));
    let alone = common_effect(&one).unwrap();
    assert!((pooled_normal(&alone, level).interval.estimate - 0.2).abs() < 1e-15);
    assert_eq!(pooled_hartung_knapp(&alone, level).err(), few(1, 2));
    assert_eq!(tau_heterogeneity(&alone).err(), Some(NotEstimable::OneCommonEffect));
    let many = common_effect(&[effect(0.1), effect(0.2), effect(0.4)]).unwrap();
    assert_eq!(prediction_interval(&many, level).err(), Some(NotEstimable::OneCommonEffect));
    // Centres that agree exactly leave Hartung and Knapp without a standard error.
    let agreed = paule_mandel(&[effect(0.3), effect(0.3), effect(0.3)]).unwrap();
    assert_eq!(pooled_hartung_knapp(&agreed, level).err(), Some(NotEstimable::NoVariation));
    assert!(pooled_hartung_knapp_ad_hoc(&agreed, level).is_ok());
    for (estimate, variance) in [(f64::NAN, 1.0), (1e13, 1.0), (0.0, 0.0), (0.0, -1.0), (0.0, f64::INFINITY)]
    {
        assert!(CentreEffect::new(estimate, variance).is_err());
    }
}
