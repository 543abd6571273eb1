//! Laws of weighted comparisons.

use proptest::prelude::*;
use quietbeam_analysis::methods::case_weights::CaseWeights;
use quietbeam_analysis::methods::design::Design;
use quietbeam_analysis::methods::interval::{Arm, Confidence, NotEstimable};
use quietbeam_analysis::methods::logistic_cases::LogisticCases;
use quietbeam_analysis::methods::positivity::{PropensityBounds, positivity};
use quietbeam_analysis::methods::propensity::{TargetPopulation, logistic_propensity};
use quietbeam_analysis::methods::weighted_balance::{
    WeightedIndicator, WeightedValues, weighted_means_by_raw_spread, weighted_means_by_weighted_spread,
    weighted_proportions_by_raw_spread,
};
use quietbeam_analysis::methods::weighting::{
    WeightedCases, WeightedContrast, WeightedRisks, hajek_risks, weighted_cr1, weighted_cr2,
    weighted_for_these_centres,
};

const TARGETS: [TargetPopulation; 4] = [
    TargetPopulation::FirstArm,
    TargetPopulation::SecondArm,
    TargetPopulation::Whole,
    TargetPopulation::Overlap,
];

/// One case: arm, event, centre, a measured covariate and one that is present or absent.
type Case = (bool, bool, u32, f64, bool);

fn cases() -> impl Strategy<Value = Vec<Case>> {
    let case = (any::<bool>(), prop::bool::weighted(0.3), 0..5_u32, -3.0..3.0_f64, any::<bool>());
    prop::collection::vec(case, 30..90)
}

fn risks(cases: &[Case], target: TargetPopulation) -> Result<WeightedRisks, NotEstimable> {
    let column = |value: fn(&Case) -> f64| cases.iter().map(value).collect();
    adjusted(cases, &[column(|c| c.3), column(|c| f64::from(u8::from(c.4)))], target)
}

fn adjusted(
    cases: &[Case],
    columns: &[Vec<f64>],
    target: TargetPopulation,
) -> Result<WeightedRisks, NotEstimable> {
    let design = Design::new(cases.len(), columns).unwrap();
    let arms: Vec<bool> = cases.iter().map(|c| c.0).collect();
    let events: Vec<bool> = cases.iter().map(|c| c.1).collect();
    let centres: Vec<u32> = cases.iter().map(|c| c.2).collect();
    let propensity = logistic_propensity(LogisticCases::new(&design, &arms).unwrap())?;
    hajek_risks(WeightedCases::new(&propensity, &events, &centres).unwrap(), target)
}

/// Every number of a contrast; the sign is that of the estimate alone.
fn numbers(contrast: WeightedContrast) -> Vec<f64> {
    let mut all = vec![contrast.estimate.abs(), contrast.standard_error];
    if let Ok(errors) = contrast.by_centre {
        all.extend([errors.cr0, errors.cr1, errors.cr2, errors.cr2_degrees_of_freedom]);
    }
    all
}

fn alike(one: &[f64], other: &[f64]) -> bool {
    let near = |(a, b): (&f64, &f64)| (a - b).abs() <= 1e-6 * (1e-3 + a.abs().max(b.abs()));
    one.len() == other.len() && one.iter().zip(other).all(near)
}

fn swapped(target: TargetPopulation) -> TargetPopulation {
    match target {
        TargetPopulation::FirstArm => TargetPopulation::SecondArm,
        TargetPopulation::SecondArm => TargetPopulation::FirstArm,
        same => same,
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn swapping_the_arms_swaps_the_sign_and_order_does_not_matter(cases in cases(), turn in 0..30_usize) {
        let other: Vec<Case> = cases.iter().map(|c| (!c.0, c.1, c.2, c.3, c.4)).collect();
        let mut turned = cases.clone();
        turned.rotate_left(turn);
        for target in TARGETS {
            let (Ok(one), Ok(two), Ok(three)) =
                (risks(&cases, target), risks(&other, swapped(target)), risks(&turned, target))
            else { continue };
            for (a, b, c) in [
                (one.difference, two.difference, three.difference),
                (one.log_ratio, two.log_ratio, three.log_ratio),
            ] {
                let (Ok(a), Ok(b), Ok(c)) = (a, b, c) else {
                    prop_assert!(a.is_err() && b.is_err() && c.is_err());
                    continue
                };
                prop_assert!((a.estimate + b.estimate).abs() < 1e-8, "{target:?} {a:?} {b:?}");
                prop_assert!(alike(&numbers(a), &numbers(b)), "{target:?} {a:?} {b:?}");
                prop_assert!(alike(&numbers(a), &numbers(c)), "{target:?} {a:?} {c:?}");
                prop_assert!(numbers(a).iter().all(|v| v.is_finite()));
                if let Ok(errors) = a.by_centre {
                    prop_assert!(errors.cr2_degrees_of_freedom >= 1.0 - 1e-6, "{errors:?}");
                    prop_assert!(errors.cr0 < errors.cr1 && errors.centres >= 2);
                }
            }
        }
    }

    #[test]
    fn what_is_estimated_is_a_number_and_the_limits_hold_it(
        drawn in prop::collection::vec(
            (any::<bool>(), any::<bool>(), 0..4_u32, prop_oneof![
                Just(0.0), Just(1.0), Just(1e15), Just(-1e15), Just(1e-300), -1e-8..1e-8, -1e9..1e9,
            ], any::<bool>()),
            1..40,
        ),
    ) {
        for target in TARGETS {
            let Ok(risks) = risks(&drawn, target) else { continue };
            prop_assert!((0.0..=1.0).contains(&risks.first) && (0.0..=1.0).contains(&risks.second));
            for contrast in [risks.difference, risks.log_ratio].into_iter().flatten() {
                prop_assert!(numbers(contrast).iter().all(|v| v.is_finite()), "{contrast:?}");
                for wald in [weighted_for_these_centres, weighted_cr1, weighted_cr2].map(|errors| errors(contrast)) {
                    let Ok(interval) = wald.and_then(|wald| wald.interval(Confidence::NINETY_FIVE)) else { continue };
                    prop_assert!(interval.lower < interval.estimate && interval.estimate < interval.upper);
                }
            }
        }
    }

    #[test]
    fn without_covariates_it_is_the_raw_difference(cases in cases()) {
        let of = |first: bool| {
            let own: Vec<&Case> = cases.iter().filter(|c| c.0 == first).collect();
            let (n, x) = (own.len() as f64, own.iter().filter(|c| c.1).count() as f64);
            (x / n, (x / n) * (1.0 - x / n) / n)
        };
        let ((p1, v1), (p2, v2)) = (of(true), of(false));
        for target in TARGETS {
            let Ok(risks) = adjusted(&cases, &[], target) else {
                prop_assert!(p1.is_nan() || p2.is_nan());
                continue
            };
            prop_assert!((risks.first - p1).abs() < 1e-13 && (risks.second - p2).abs() < 1e-13);
            if let Ok(contrast) = risks.difference {
                prop_assert!((contrast.standard_error - (v1 + v2).sqrt()).abs() < 1e-12);
            } else {
                prop_assert!(v1 == 0.0 || v2 == 0.0);
            }
        }
    }

    #[test]
    fn overlap_weights_balance_what_the_propensity_holds(cases in cases()) {
        let values: Vec<f64> = cases.iter().map(|c| c.3).collect();
        let present: Vec<bool> = cases.iter().map(|c| c.4).collect();
        let columns = [values.clone(), present.iter().map(|p| f64::from(u8::from(*p))).collect()];
        let design = Design::new(cases.len(), &columns).unwrap();
        let arms: Vec<bool> = cases.iter().map(|c| c.0).collect();
        let Ok(propensity) = logistic_propensity(LogisticCases::new(&design, &arms).unwrap()) else {
            return Ok(());
        };
        let weights = propensity.weights(TargetPopulation::Overlap).unwrap();
        let measured = WeightedValues::new(&weights, &values).unwrap();
        prop_assert!(weighted_means_by_raw_spread(measured).unwrap().abs() < 1e-7);
        let indicator = WeightedIndicator::new(&weights, &present).unwrap();
        if let Ok(difference) = weighted_proportions_by_raw_spread(indicator) {
            prop_assert!(difference.abs() < 1e-7);
        }
    }

    #[test]
    fn an_effective_sample_is_no_larger_than_the_sample(
        drawn in prop::collection::vec((any::<bool>(), prop_oneof![0.0..1.0, Just(0.0), Just(1e100), Just(1e-300)]), 2..60),
        values in prop::collection::vec(prop_oneof![-1e100..1e100, -1.0..1.0, Just(0.1)], 60),
    ) {
        let arms: Vec<bool> = drawn.iter().map(|d| d.0).collect();
        let Ok(weights) = CaseWeights::new(&arms, drawn.iter().map(|d| d.1).collect()) else { return Ok(()) };
        for arm in [Arm::First, Arm::Second] {
            let (size, cases) = (weights.effective_sample_size(arm), weights.cases(arm) as f64);
            prop_assert!(size >= 1.0 - 1e-12 && size <= cases, "{size} {cases}");
            let share = weights.largest_share(arm);
            prop_assert!(share > 0.0 && share <= 1.0 && share * cases >= 1.0 - 1e-12);
        }
        let measured = WeightedValues::new(&weights, &values[..arms.len()]).unwrap();
        for computed in [weighted_means_by_raw_spread(measured), weighted_means_by_weighted_spread(measured)] {
            prop_assert!(computed.map_or(true, f64::is_finite), "{computed:?}");
        }
        let constant = vec![0.1; arms.len()];
        let constant = WeightedValues::new(&weights, &constant).unwrap();
        prop_assert!(weighted_means_by_raw_spread(constant).is_err());
        prop_assert!(weighted_means_by_weighted_spread(constant).is_err());
    }
}

#[test]
fn what_cannot_be_weighted_is_refused() {
    let case = |first, event, value: i32| (first, event, 0, f64::from(value), value % 3 == 0);
    let cases: Vec<Case> = (0..40).map(|i| case(i % 2 == 0, i % 5 == 0, (i * 7) % 11)).collect();
    let of = |change: fn(&Case) -> Case| -> Vec<Case> { cases.iter().map(change).collect() };
    let overlap = TargetPopulation::Overlap;
    let one_centre = risks(&cases, overlap).unwrap().difference.unwrap();
    assert_eq!(one_centre.by_centre, Err(NotEstimable::TooFewClusters { found: 1 }));
    let one_arm = risks(&of(|c| (true, c.1, c.2, c.3, c.4)), overlap);
    assert_eq!(one_arm, Err(NotEstimable::EmptyArm { arm: Arm::Second }));
    let decided = risks(&of(|c| (c.3 > 5.0, c.1, c.2, c.3, c.4)), overlap);
    assert_eq!(decided, Err(NotEstimable::NoOverlap));
    let no_event = risks(&of(|c| (c.0, c.1 && c.0, c.2, c.3, c.4)), overlap).unwrap();
    assert_eq!(
        (no_event.second, no_event.difference),
        (0.0, Err(NotEstimable::NoEvents { arm: Arm::Second }))
    );
    let only = risks(&of(|c| (c.0, c.1 || c.0, c.2, c.3, c.4)), overlap).unwrap();
    assert_eq!(only.log_ratio, Err(NotEstimable::OnlyEvents { arm: Arm::First }));
    for (low, high) in [(0.0, 0.9), (0.1, 1.0), (0.9, 0.1), (f64::NAN, 0.9), (0.5, 0.5)] {
        assert!(PropensityBounds::new(low, high).is_err(), "{low} {high}");
    }
}

#[test]
fn a_design_of_one_centre_dummy_a_centre_leaves_nothing_undefined() {
    // Two centres, one of them fixed by its own column: its share of the propensity's score is 0.
    let cases: Vec<Case> = (0..200)
        .map(|i: u32| (i * 7 % 10 < 4, i * 3 % 13 < 4, u32::from(i < 120), f64::from(i % 17), false))
        .collect();
    let columns =
        [cases.iter().map(|c| f64::from(c.2)).collect::<Vec<f64>>(), cases.iter().map(|c| c.3).collect()];
    for target in TARGETS {
        let risks = adjusted(&cases, &columns, target).unwrap();
        let contrast = risks.difference.unwrap();
        assert!(numbers(contrast).iter().all(|v| v.is_finite()), "{contrast:?}");
    }
    let design = Design::new(cases.len(), &columns).unwrap();
    let arms: Vec<bool> = cases.iter().map(|c| c.0).collect();
    let propensity = logistic_propensity(LogisticCases::new(&design, &arms).unwrap()).unwrap();
    let report = positivity(&propensity, TargetPopulation::Whole, PropensityBounds::TENTH).unwrap();
    assert_eq!(report.first.cases + report.second.cases, 200);
    assert_eq!(report.first.by_class.iter().sum::<usize>(), report.first.cases);
}
