//! Laws of pooling that hold for every valid input.

use proptest::prelude::*;
use quietbeam_analysis::methods::between_centres::{
    CentreModel, common_effect, der_simonian_laird, paule_mandel, restricted_maximum_likelihood,
};
use quietbeam_analysis::methods::centre_effects::{
    CentreEffect, log_odds_ratios, log_odds_ratios_size_matched, log_risk_ratios,
    log_risk_ratios_size_matched, risk_differences, risk_differences_by_common_rates,
};
use quietbeam_analysis::methods::counts::{EventCount, Stratum};
use quietbeam_analysis::methods::heterogeneity::{heterogeneity, tau_heterogeneity};
use quietbeam_analysis::methods::interval::{Confidence, Interval, NotEstimable};
use quietbeam_analysis::methods::pooling::{
    PooledEffect, pooled_hartung_knapp, pooled_hartung_knapp_ad_hoc, pooled_normal, prediction_interval,
    prediction_interval_hartung_knapp,
};

use crate::laws::{level, strata};

type Between = fn(&[CentreEffect]) -> Result<CentreModel, NotEstimable>;

const RANDOM: [Between; 3] = [der_simonian_laird, paule_mandel, restricted_maximum_likelihood];

type Limits = fn(&CentreModel, Confidence) -> Result<PooledEffect, NotEstimable>;

const LIMITS: [Limits; 3] =
    [|model, level| Ok(pooled_normal(model, level)), pooled_hartung_knapp, pooled_hartung_knapp_ad_hoc];

fn effect(estimate: f64, variance: f64) -> CentreEffect {
    CentreEffect::new(estimate, variance).unwrap()
}

/// Ordinary centres: estimates near each other, variances within a factor of a million.
fn centres() -> impl Strategy<Value = Vec<CentreEffect>> {
    let one = (-3.0..3.0_f64, -8.0..4.0_f64).prop_map(|(estimate, log)| effect(estimate, log.exp()));
    prop::collection::vec(one, 2..12)
}

/// Anything the type allows, with ends and equal values over-represented.
fn extreme_centres() -> impl Strategy<Value = Vec<CentreEffect>> {
    let estimate = prop_oneof![Just(0.0), Just(-1e12), Just(1e12), -1.0..1.0_f64, -1e12..1e12_f64];
    let variance = prop_oneof![Just(1e-24), Just(1e24), Just(1.0), (-55.0..55.0_f64).prop_map(f64::exp)];
    prop::collection::vec((estimate, variance).prop_map(|(y, v)| effect(y, v)), 1..9)
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * (1.0 + a.abs().max(b.abs()))
}

fn sound(interval: &Interval) -> bool {
    interval.lower.is_finite()
        && interval.upper.is_finite()
        && interval.lower <= interval.estimate
        && interval.estimate <= interval.upper
}

fn inside(inner: &Interval, outer: &Interval) -> bool {
    let slack = 1e-12 * (outer.upper - outer.lower);
    outer.lower <= inner.lower + slack && inner.upper <= outer.upper + slack
}

/// Σw(y−m)² by its plain definition, written apart from the method.
fn squares(effects: &[CentreEffect], tau_squared: f64) -> f64 {
    let weights: Vec<f64> = effects.iter().map(|e| 1.0 / (e.variance() + tau_squared)).collect();
    let total: f64 = weights.iter().sum();
    let mean = effects.iter().zip(&weights).map(|(e, w)| w * e.estimate()).sum::<f64>() / total;
    effects.iter().zip(&weights).map(|(e, w)| w * (e.estimate() - mean).powi(2)).sum()
}

/// Restricted log-likelihood by its plain definition.
fn restricted(effects: &[CentreEffect], tau_squared: f64) -> f64 {
    let total: f64 = effects.iter().map(|e| 1.0 / (e.variance() + tau_squared)).sum();
    let logs: f64 = effects.iter().map(|e| (e.variance() + tau_squared).ln()).sum();
    -0.5 * (logs + total.ln() + squares(effects, tau_squared))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn order_sign_and_unit(effects in centres(), at in level(), unit in 1e-4..1e4_f64) {
        let reversed: Vec<_> = effects.iter().rev().copied().collect();
        let negated: Vec<_> = effects.iter().map(|e| effect(-e.estimate(), e.variance())).collect();
        let scaled: Vec<_> =
            effects.iter().map(|e| effect(unit * e.estimate(), unit * unit * e.variance())).collect();
        for between in RANDOM.into_iter().chain([common_effect as Between]) {
            let model = between(&effects).unwrap();
            let tau = model.between().tau_squared;
            prop_assert_eq!(between(&reversed).unwrap().between(), model.between());
            let (other, larger) = (between(&negated).unwrap(), between(&scaled).unwrap());
            prop_assert!(close(other.between().tau_squared, tau));
            prop_assert!(close(larger.between().tau_squared / unit / unit, tau));
            for limits in LIMITS {
                let pooled = limits(&model, at).unwrap();
                prop_assert_eq!(limits(&between(&reversed).unwrap(), at).unwrap().interval, pooled.interval);
                let (mirror, large) = (limits(&other, at).unwrap(), limits(&larger, at).unwrap());
                prop_assert!(close(mirror.interval.lower, -pooled.interval.upper));
                prop_assert!(close(mirror.interval.upper, -pooled.interval.lower));
                prop_assert!(close(large.interval.lower / unit, pooled.interval.lower));
                prop_assert!(close(large.p, pooled.p));
                prop_assert!(close(pooled.shares.iter().sum(), 1.0));
            }
        }
    }

    #[test]
    fn widens_with_the_level_and_prediction_is_wider(effects in centres(), a in level(), b in level()) {
        let (low, high) = if a.level() < b.level() { (a, b) } else { (b, a) };
        for between in RANDOM {
            let model = between(&effects).unwrap();
            for limits in LIMITS {
                let (narrow, wide) = (limits(&model, low).unwrap(), limits(&model, high).unwrap());
                prop_assert!(sound(&narrow.interval) && inside(&narrow.interval, &wide.interval));
            }
            let normal = pooled_normal(&model, low).interval;
            let ad_hoc = pooled_hartung_knapp_ad_hoc(&model, low).unwrap().interval;
            prop_assert!(inside(&normal, &ad_hoc));
            if effects.len() < 3 {
                continue;
            }
            let predicted = prediction_interval(&model, low).unwrap();
            prop_assert!(inside(&normal, &predicted), "{normal:?} {predicted:?}");
            let knapp = pooled_hartung_knapp(&model, low).unwrap().interval;
            prop_assert!(inside(&knapp, &prediction_interval_hartung_knapp(&model, low).unwrap()));
            prop_assert!(inside(&predicted, &prediction_interval(&model, high).unwrap()));
        }
    }

    #[test]
    fn each_method_of_tau_solves_its_own_problem(effects in centres(), elsewhere in -12.0..4.0_f64) {
        let df = (effects.len() - 1) as f64;
        let solved = paule_mandel(&effects).unwrap().between().tau_squared;
        let excess = squares(&effects, solved) - df;
        let solves = if solved > 0.0 { excess.abs() < 1e-8 * df } else { excess <= 1e-9 };
        prop_assert!(solves, "{excess} at {solved}");
        let likeliest = restricted_maximum_likelihood(&effects).unwrap().between().tau_squared;
        let height = restricted(&effects, likeliest);
        for other in [0.0, elsewhere.exp(), 0.99 * likeliest, 1.01 * likeliest] {
            prop_assert!(restricted(&effects, other) <= height + 1e-9, "{other} above {likeliest}");
        }
        // DerSimonian–Laird: the τ² at which Q has its own expectation.
        let moment = der_simonian_laird(&effects).unwrap().between().tau_squared;
        let weights: Vec<f64> = effects.iter().map(|e| 1.0 / e.variance()).collect();
        let total: f64 = weights.iter().sum();
        let expected = df + moment * (total - weights.iter().map(|w| w * w).sum::<f64>() / total);
        let q = heterogeneity(&effects).unwrap().q.statistic;
        let solves = if moment > 0.0 { close(expected / q, 1.0) } else { q <= df * (1.0 + 1e-12) };
        prop_assert!(solves, "{expected} {q}");
    }

    #[test]
    fn equal_variances_give_one_tau(estimates in prop::collection::vec(-2.0..2.0_f64, 2..10), v in 0.01..1.0_f64) {
        // All three are then the sample variance of the estimates less v.
        let mean = estimates.iter().sum::<f64>() / estimates.len() as f64;
        let sample = estimates.iter().map(|y| (y - mean).powi(2)).sum::<f64>() / (estimates.len() - 1) as f64;
        let effects: Vec<_> = estimates.iter().map(|y| effect(*y, v)).collect();
        for between in RANDOM {
            let tau = between(&effects).unwrap().between().tau_squared;
            prop_assert!(close(tau, (sample - v).max(0.0)), "{tau} {sample} {v}");
        }
    }

    #[test]
    fn no_tau_is_a_common_effect(estimate in -1.0..1.0_f64, logs in prop::collection::vec(-4.0..4.0_f64, 2..8), at in level()) {
        let effects: Vec<_> = logs.iter().map(|log| effect(estimate, log.exp())).collect();
        let common = pooled_normal(&common_effect(&effects).unwrap(), at).interval;
        for between in RANDOM {
            let model = between(&effects).unwrap();
            prop_assert_eq!(model.between().tau_squared.to_bits(), 0);
            prop_assert_eq!(pooled_normal(&model, at).interval, common);
            let by_tau = tau_heterogeneity(&model).unwrap();
            prop_assert_eq!((by_tau.i_squared_from_tau, by_tau.h_squared_from_tau), (0.0, 1.0));
        }
    }

    #[test]
    fn nothing_valid_breaks_it(effects in extreme_centres(), at in level()) {
        for between in RANDOM.into_iter().chain([common_effect as Between]) {
            let Ok(model) = between(&effects) else {
                prop_assert_eq!(effects.len(), 1);
                continue;
            };
            let tau = model.between().tau_squared;
            prop_assert!(tau.is_finite() && tau >= 0.0);
            for limits in LIMITS {
                if let Ok(pooled) = limits(&model, at) {
                    prop_assert!(sound(&pooled.interval) && (0.0..=1.0).contains(&pooled.p), "{pooled:?}");
                    prop_assert!(pooled.statistic.is_finite());
                }
            }
            for predicted in [prediction_interval, prediction_interval_hartung_knapp] {
                if let Ok(interval) = predicted(&model, at) {
                    prop_assert!(sound(&interval));
                }
            }
            if let Ok(by_tau) = tau_heterogeneity(&model) {
                prop_assert!((0.0..=1.0).contains(&by_tau.i_squared_from_tau) && by_tau.h_squared_from_tau >= 1.0);
            }
            if let Ok(by_q) = heterogeneity(&effects) {
                prop_assert!((0.0..=1.0).contains(&by_q.q.p) && (0.0..=1.0).contains(&by_q.i_squared_from_q));
            }
        }
    }

    #[test]
    fn swapping_arms_swaps_the_sign(strata in strata(), at in level()) {
        let swapped: Vec<Stratum> = strata.iter().map(|stratum| stratum.swapped()).collect();
        type Effects = fn(&[Stratum]) -> Result<Vec<Option<CentreEffect>>, NotEstimable>;
        let scales: [Effects; 6] = [
            risk_differences,
            risk_differences_by_common_rates,
            |strata| Ok(log_odds_ratios(strata)),
            |strata| Ok(log_odds_ratios_size_matched(strata)),
            |strata| Ok(log_risk_ratios(strata)),
            |strata| Ok(log_risk_ratios_size_matched(strata)),
        ];
        for scale in scales {
            let (Ok(one), Ok(two)) = (scale(&strata), scale(&swapped)) else {
                prop_assert!(scale(&strata).is_err() && scale(&swapped).is_err());
                continue;
            };
            for ((stratum, a), b) in strata.iter().zip(&one).zip(&two) {
                // A centre is left out when an arm has no cases, and for no other reason.
                prop_assert_eq!((a.is_some(), b.is_some()), (stratum.arms().is_some(), stratum.arms().is_some()));
                let (Some(a), Some(b)) = (a, b) else { continue };
                prop_assert!(close(a.estimate(), -b.estimate()) && close(a.variance() / b.variance(), 1.0));
                prop_assert!(CentreEffect::new(a.estimate(), a.variance()).is_ok(), "{a:?}");
            }
            let effects: Vec<_> = one.into_iter().flatten().collect();
            let mirror: Vec<_> = two.into_iter().flatten().collect();
            let (Ok(model), Ok(other)) = (common_effect(&effects), common_effect(&mirror)) else { continue };
            let (a, b) = (pooled_normal(&model, at).interval, pooled_normal(&other, at).interval);
            prop_assert!(close(a.lower, -b.upper) && close(a.upper, -b.lower));
        }
    }
}

#[test]
fn a_centre_without_events_keeps_its_place() {
    let stratum = |x1, n1, x2, n2| Stratum {
        first: Some(EventCount::new(x1, n1).unwrap()),
        second: Some(EventCount::new(x2, n2).unwrap()),
    };
    let strata = [stratum(2, 100, 5, 100), stratum(0, 300, 0, 100), stratum(1, 80, 4, 90)];
    assert_eq!(risk_differences(&strata), Err(NotEstimable::NoVariationAtCentre { place: 2 }));
    let by_common_rates = risk_differences_by_common_rates(&strata).unwrap()[1].unwrap();
    assert_eq!(by_common_rates.estimate().to_bits(), 0);
    assert!(by_common_rates.variance() > 0.0);
    assert!(log_odds_ratios_size_matched(&strata)[1].unwrap().estimate().abs() < 1e-15);
    assert!(log_risk_ratios_size_matched(&strata)[1].unwrap().estimate().abs() < 1e-15);
    // One half pulls an uneven centre without events towards the larger arm.
    assert!((log_odds_ratios(&strata)[1].unwrap().estimate() - (201.0_f64 / 601.0).ln()).abs() < 1e-12);
    let none = [stratum(0, 100, 5, 100), stratum(0, 300, 0, 100)];
    assert!(risk_differences_by_common_rates(&none).is_err());
}
